"""Engines with their logs begun in the small workshop of tests/shop.py, and things fitted in them."""

from __future__ import annotations

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.numbers import Thing, position_named
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.acts.strip import Strip, StripOrder, Stripped, strip
from invdb.records.engines import Engine, Station
from invdb.records.life import Service
from invdb.terms import Condition, HoursKnown, LifeControl, PriorLife, RunningUse
from tests.shop import BEGUN_ON, Shop

METER = 1_000_00
ENGINE_HOURS = PriorLife(HoursKnown.EXACT, 2_345_00, 2_345_00)


def begin(shop: Shop, *engines: int, reading: int | None = METER, on: date = BEGUN_ON) -> None:
    """Begin the logs of engines, of Linnet One unless others are named: 1,000 hours on the meter."""
    with shop.store.writing() as session:
        for engine in engines or (shop.engine,):
            begin_log(session, engine, LogBegin(reading, ENGINE_HOURS), shop.by(on))


def run(
    session: Session,
    shop: Shop,
    reading: int,
    *,
    engine: int | None = None,
    on: date | None = None,
    use: RunningUse = RunningUse.FLIGHT,
    starts: int = 0,
) -> int:
    """Log that an engine's meter reads so much; returns the entry's number."""
    return log_run(session, engine or shop.engine, Run(use, reading, starts=starts), shop.by(on), sure=True)


def served(shop: Shop, thing: Thing) -> list[tuple[int, int, int, bool]]:
    """The stretches of a piece in engines: engine, flight low, ground low, and whether it lasts."""
    with shop.store.reading() as session:
        rows = session.scalars(
            select(Service).where(Service.piece_id == thing.piece).order_by(Service.sequence)
        )
        return [(row.engine_id, row.flight_low, row.ground_low, row.to_entry is None) for row in rows]


def station(session: Session, engine: int, name: str) -> int:
    """A station of an engine's type by its name."""
    found = session.scalar(
        select(Station.id)
        .join(Engine, Engine.engine_type_id == Station.engine_type_id)
        .where(Engine.id == engine, Station.name == name)
    )
    assert found is not None
    return found


def fitted(
    session: Session,
    shop: Shop,
    thing: Thing,
    at: str,
    *,
    cylinder: str = "1",
    engine: int | None = None,
    reading: int | None = METER,
    quantity: int = 1,
    on: date | None = None,
    override: str = "",
) -> int:
    """Fit one thing at a station of a cylinder; returns the entry's number."""
    of = engine or shop.engine
    order = FitOrder(
        of,
        position_named(session, of, cylinder),
        (Fit(station(session, of, at), thing, quantity),),
        reading,
        RunningUse.FLIGHT,
        override,
        sure=True,
    )
    return fit(session, order, shop.by(on))


def stripped(
    session: Session,
    shop: Shop,
    thing: Thing,
    *,
    engine: int | None = None,
    reading: int | None = METER,
    on: date | None = None,
    condition: Condition = Condition.UNINSPECTED,
    **more: object,
) -> Stripped:
    """Strip one thing to the bench, found worn; a life-limited piece gets a tag."""
    each = Strip(thing, "worn", shop.bench, condition, control=LifeControl.TAG, **more)  # type: ignore[arg-type]
    order = StripOrder(engine or shop.engine, (each,), reading, RunningUse.FLIGHT, sure=True)
    return strip(session, order, shop.by(on))
