"""Engines with their logs begun in the small workshop of tests/shop.py, and things fitted in them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept
from invdb.acts.as_fitted import as_fitted
from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, receive
from invdb.acts.numbers import Thing, position_named
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.pull import issue
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.acts.strip import Strip, StripOrder, Stripped, strip
from invdb.records.engines import Engine, Station
from invdb.records.ledger import Entry
from invdb.records.life import Service
from invdb.terms import (
    ConcessionOver,
    Condition,
    HoursKnown,
    LifeControl,
    Origin,
    PaperKind,
    PriorLife,
    RunningUse,
    Scope,
)
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import CHECKS, PAPER, reserved, state_of
from tests.shop import BEGUN_ON, TODAY, Shop

METER = 1_000_00
LONG_AGO = TODAY - timedelta(days=100)
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


def came(
    session: Session,
    shop: Shop,
    part: int,
    *,
    quantity: int = 0,
    on: date = LONG_AGO,
    scope: Scope = Scope.FLIGHT,
    **goods: object,
) -> Thing:
    """A piece, or a batch, of a part that came and was accepted on a day, and lies in the bin A-01-01."""
    booked = GoodsIn(
        Origin.NEW,
        shop.bin_a,
        part=part,
        pieces=() if quantity else (NewPiece(),),
        batch=NewBatch(quantity) if quantity else None,
        papers=(PAPER,),
    )
    thing = receive(session, replace(booked, **goods), shop.by(on)).things[0][0]  # type: ignore[arg-type]
    accept(session, Acceptance((thing,), scope, CHECKS), shop.by(on))
    return thing


def barrel_with_valve(session: Session, shop: Shop, on: date = LONG_AGO) -> tuple[Thing, Thing]:
    """A barrel with an exhaust valve in it, on the shelf, and a station for it."""
    add_barrel_station(shop, session)
    barrel, valve = came(session, shop, shop.barrel), came(session, shop, shop.valve)
    assert barrel.piece is not None and valve.piece is not None
    seat = station(session, shop.engine, "exhaust valve")
    fit_inside(session, (InsideFit(barrel.piece, valve.piece, seat),), shop.by(on))
    return barrel, valve


def conceded(
    session: Session, shop: Shop, thing: Thing, over: ConcessionOver, on: date = LONG_AGO, **terms: object
) -> int:
    """Have the authority allow something for a piece in Linnet One till the end of the year; its id."""
    letter = add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), shop.by(on))
    assert thing.piece is not None
    new = NewConcession(
        "C 12", "Air Board", over, "as it is", letter, thing.piece, shop.engine, until_on=date(2026, 12, 31)
    )
    return grant_concession(session, replace(new, **terms), shop.by(on))  # type: ignore[arg-type]


def sound(shop: Shop) -> bool:
    """Whether the check finds nothing."""
    return check_store(shop.store).differences == ()


def note_of(shop: Shop, number: int) -> str:
    """The remark of an entry."""
    with shop.store.reading() as session:
        return session.scalars(select(Entry.note).where(Entry.number == number)).one()


def last_entry(session: Session) -> int:
    """The last entry's number."""
    return session.scalars(select(Entry.number).order_by(Entry.number.desc()).limit(1)).one()


def sitting_at(
    shop: Shop, name: str, *, engine: int | None = None, cylinder: str = "1", on: date | None = None
) -> dict[str, int]:
    """What sits at a station of a cylinder: tags with how much."""
    with shop.store.reading() as session:
        build = as_fitted(session, engine or shop.engine, on)
    position = next(each for each in build.positions if each.name == cylinder)
    found = next(each for each in position.stations if each.name == name)
    return {thing.tag: thing.quantity for thing in found.filling}


def tag_of(shop: Shop, thing: Thing) -> str:
    """The tag of a piece or a batch."""
    return state_of(shop, thing).tag


def issued(shop: Shop) -> int:
    """The kit of cylinder 1 of Linnet One, reserved and issued; returns the pull."""
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        issue(session, pull.pull, By(shop.keeper))
    return pull.pull


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
