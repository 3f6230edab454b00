"""Engines with something in them, built by plain entries: stations, things fitted and stripped, and logs."""

from __future__ import annotations

from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.engine_event import events_inside
from invdb.acts.numbers import Thing
from invdb.records.engines import Position, Station
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import Condition, EntryKind, PlaceKind, RunningUse, Scope
from tests.acts.test_trace import FROM_ALDERMOOR
from tests.shop import TODAY, Shop

CAME = TODAY - timedelta(days=90)
FITTED = TODAY - timedelta(days=60)


def station(session: Session, shop: Shop, name: str, position: str = "5", engine: int | None = None) -> int:
    """The place of a station on an engine, made when it is first asked for."""
    engine = engine or shop.engine
    position_id, station_id = (
        session.scalars(select(table.id).where(table.name == wanted)).one()
        for table, wanted in ((Position, position), (Station, name))
    )
    standing = session.scalar(
        select(Place.id).where(
            Place.engine_id == engine, Place.position_id == position_id, Place.station_id == station_id
        )
    )
    if standing is not None:
        return standing
    around = session.scalars(
        select(Place.id).where(Place.engine_id == engine, Place.kind == PlaceKind.ENGINE)
    )
    draft = shop.draft(CAME, EntryKind.PLACES)
    place = draft.new(
        session,
        "place",
        kind=PlaceKind.STATION,
        name=f"{engine} {position} {name}",
        parent_id=around.one(),
        engine_id=engine,
        position_id=position_id,
        station_id=station_id,
    )
    post(session, draft)
    return place


def inside(session: Session, shop: Shop, holder: int) -> int:
    """The place that a piece is for others that lie in it."""
    draft = shop.draft(CAME, EntryKind.PLACES)
    place = draft.new(session, "place", kind=PlaceKind.PIECE, name=f"In piece {holder}", piece_id=holder)
    post(session, draft)
    return place


def shift(
    session: Session,
    shop: Shop,
    thing: Thing,
    begin: int,
    end: int,
    on: date,
    quantity: int = 1,
    engine: int | None = None,
) -> int:
    """Move a thing into or out of an engine on a day; returns the entry's number."""
    draft = shop.draft(on, EntryKind.FITTED)
    draft.move(
        begin,
        end,
        piece=thing.piece,
        batch=thing.batch,
        quantity=quantity,
        engine=engine or shop.engine,
    )
    return post(session, draft).number


def strip_some(session: Session, shop: Shop, batch: int, place: int, on: date, quantity: int = 2) -> int:
    """Strip some of a batch as the act of stripping does; returns the batch that comes out."""
    draft = shop.draft(on, EntryKind.STRIPPED)
    changed = {"condition": Condition.UNINSPECTED, "scope": None, "accepted_by": None, "accepted_on": None}
    child, _ = draft_child(session, draft, read_parent(session, batch), changed)
    draft.move(place, OUTSIDE_PLACE, batch=batch, quantity=quantity, engine=shop.engine)
    draft.move(OUTSIDE_PLACE, shop.bench, batch=child, quantity=quantity)
    draft.new(
        session,
        "stripping",
        batch_id=child,
        engine_id=shop.engine,
        from_place_id=place,
        stripped_on=on,
        found="worn",
    )
    for tainting in events_inside(session, batch, place, on):
        draft.new(session, "event_taint", event_id=tainting, batch_id=child)
    post(session, draft)
    return child


def valve(session: Session, shop: Shop) -> Thing:
    """A new exhaust valve, accepted for flight, in A-01-01."""
    thing, _ = shop.book_in(session, shop.valve, pieces=1, goods=FROM_ALDERMOOR, on=CAME).things[0]
    accept(session, Acceptance((thing,), Scope.FLIGHT), shop.by(CAME))
    return thing


def springs(session: Session, shop: Shop) -> int:
    """Forty springs accepted for flight, in A-01-01."""
    thing, _ = shop.book_in(session, shop.spring, quantity=40, goods=FROM_ALDERMOOR, on=CAME).things[0]
    accept(session, Acceptance((thing,), Scope.FLIGHT), shop.by(CAME))
    assert thing.batch is not None
    return thing.batch


def begin_log(session: Session, shop: Shop, on: date, engine: int | None = None) -> None:
    """Begin the log of an engine that is logged by hand."""
    draft = shop.draft(on, EntryKind.LOG_BEGUN)
    draft.set("engine", engine or shop.engine, log_begun_on=on)
    post(session, draft)


def run(session: Session, shop: Shop, hours: int, on: date, engine: int | None = None) -> int:
    """Log so many hundredths of an hour of flight; returns the entry's number."""
    draft = shop.draft(on, EntryKind.RUNNING_LOGGED)
    draft.new(
        session,
        "running",
        engine_id=engine or shop.engine,
        ran_on=on,
        use=RunningUse.FLIGHT,
        hours_low=hours,
        hours_high=hours,
    )
    return post(session, draft).number
