"""Which engine events taint which pieces and batches, and which inspections cleared them of those.

A piece was inside when it happened if it served in the engine then; or if it came out of a station that was
presumed filled then. A batch was inside if it came out of the engine since (`EventTaint`), or was split off
from one that had; or if some of it still lies where some of it lay then.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    CompoundSelect,
    Connection,
    Row,
    Select,
    bindparam,
    func,
    literal,
    or_,
    select,
    union,
    union_all,
)
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from invdb.acts.batch_lines import gains_at
from invdb.acts.numbers import Thing
from invdb.records.builds import Presumption
from invdb.records.chunks import chunks
from invdb.records.doubts import EngineEvent, EventClearance, EventTaint
from invdb.records.engines import Engine
from invdb.records.ledger import Entry, EntryFact
from invdb.records.life import Service
from invdb.records.people import Person
from invdb.records.stock import Batch, Holding, Place
from invdb.rules.events import doubt_words, event_words, inside_since
from invdb.rules.points import END, Point
from invdb.terms import EngineEventKind


@dataclass(frozen=True)
class OpenEvent:
    """An engine event; it happened at the point (``on``, ``entry``) of the ledger.

    ``fitted_only``: of the batch asked about, only what is still inside the engine was inside then.
    """

    event: int
    kind: EngineEventKind
    engine: int
    engine_name: str
    on: date
    entry: int
    note: str
    fitted_only: bool = False

    @property
    def words(self) -> str:
        """What happened, to which engine, and when."""
        return event_words(self.kind, self.engine_name, self.on)

    @property
    def doubt(self) -> str:
        """Why a thing that it taints may not be used, in one clause."""
        return doubt_words(self.kind, self.engine_name, self.on)


@dataclass(frozen=True)
class Cleared:
    """The inspection that cleared a thing of an event."""

    on: date
    by: str
    inspection: str
    entry: int
    document: int | None


@dataclass(frozen=True)
class Taint:
    """That an event tainted a thing, and what cleared it if anything has."""

    event: OpenEvent
    cleared: Cleared | None


_EVENT = (
    EngineEvent.id.label("event"),
    EngineEvent.kind,
    EngineEvent.engine_id,
    Engine.name.label("engine_name"),
    EngineEvent.event_on,
    EngineEvent.set_by.label("event_entry"),
    EngineEvent.note,
)
_IDS: Any = bindparam("ids", expanding=True)


def after(on: Any, number: Any, than_on: Any, than_number: Any) -> ColumnElement[bool]:
    """That one point of the ledger comes after another."""
    return or_(on > than_on, (on == than_on) & (number > than_number))


def covers(
    service: type[Service], on: InstrumentedAttribute[date] | date, number: InstrumentedAttribute[int] | int
) -> ColumnElement[bool]:
    """That a time in an engine takes in a point of the ledger."""
    return ~after(service.from_on, service.from_entry, on, number) & or_(
        service.to_entry.is_(None), after(service.to_on, service.to_entry, on, number)
    )


def presumed_then() -> ColumnElement[bool]:
    """That what has come out of a station since was presumed there at an event of its engine."""
    return (Presumption.presumed_on <= EngineEvent.event_on) & after(
        Presumption.ended_on, Presumption.set_by, EngineEvent.event_on, EngineEvent.set_by
    )


def pieces_inside(ids: BindParameter[Any] | None = None) -> CompoundSelect[*tuple[Any, ...]]:
    """Each piece (of those given, or any) with each event that it was inside for: ``piece_id``, ``event``."""
    served = (
        select(Service.piece_id, EngineEvent.id.label("event"))
        .join(EngineEvent, EngineEvent.engine_id == Service.engine_id)
        .where(covers(Service, EngineEvent.event_on, EngineEvent.set_by))
    )
    presumed = (
        select(Presumption.piece_id, EngineEvent.id)
        .join(EngineEvent, EngineEvent.engine_id == Presumption.engine_id)
        .where(Presumption.piece_id.is_not(None), presumed_then())
    )
    if ids is not None:
        served = served.where(Service.piece_id.in_(ids))
        presumed = presumed.where(Presumption.piece_id.in_(ids))
    return union(served, presumed)


def pieces_not_cleared() -> Select[*tuple[Any, ...]]:
    """The same of any piece, without what an inspection has cleared: events are few, and pieces many."""
    inside = pieces_inside().subquery()
    cleared = select(EventClearance.id).where(
        EventClearance.event_id == inside.c.event, EventClearance.piece_id == inside.c.piece_id
    )
    return select(inside.c.piece_id, inside.c.event).where(~cleared.exists())


def _pieces() -> Select[*tuple[Any, ...]]:
    inside = pieces_inside(_IDS).subquery()
    return (
        select(inside.c.piece_id.label("thing"), *_EVENT)
        .join(EngineEvent, EngineEvent.id == inside.c.event)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .order_by(inside.c.piece_id, EngineEvent.event_on, EngineEvent.id)
    )


def _kin() -> Any:
    """Each batch asked about with itself and every batch that it was split off from, and its parent."""
    kin = (
        select(Batch.id.label("thing"), Batch.id.label("of"), Batch.parent_batch_id.label("parent"))
        .where(Batch.id.in_(_IDS))
        .cte("kin", recursive=True)
    )
    return kin.union(select(kin.c.thing, Batch.id, Batch.parent_batch_id).join(kin, Batch.id == kin.c.parent))


def _batches() -> Select[*tuple[Any, ...]]:
    kin = _kin()
    return (
        select(kin.c.thing, kin.c.of, *_EVENT)
        .join(EventTaint, EventTaint.batch_id == kin.c.of)
        .join(EngineEvent, EngineEvent.id == EventTaint.event_id)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .order_by(kin.c.thing, EngineEvent.event_on, EngineEvent.id)
    )


def _fitted() -> Select[*tuple[Any, ...]]:
    """Where batches lie in engines, or in pieces that were in one, each with the events that befell it."""
    around = aliased(Place)
    at_hand = (
        select(Holding.batch_id.label("thing"), Place.id.label("place"), EngineEvent.id.label("event"))
        .join(Place, Place.id == Holding.place_id)
        .join(EngineEvent, EngineEvent.engine_id == Place.engine_id)
        .where(Holding.batch_id.in_(_IDS), Holding.quantity > 0)
    )
    nested = (
        select(Holding.batch_id, Place.id, EngineEvent.id)
        .join(Place, Place.id == Holding.place_id)
        .outerjoin(around, around.id == Place.parent_id)
        .join(Service, Service.piece_id == func.coalesce(Place.piece_id, around.piece_id))
        .join(EngineEvent, EngineEvent.engine_id == Service.engine_id)
        .where(
            Holding.batch_id.in_(_IDS),
            Holding.quantity > 0,
            Place.engine_id.is_(None),
            covers(Service, EngineEvent.event_on, EngineEvent.set_by),
        )
    )
    inside = union_all(at_hand, nested).subquery()
    return (
        select(inside.c.thing, inside.c.place, *_EVENT)
        .join(EngineEvent, EngineEvent.id == inside.c.event)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .order_by(inside.c.thing, EngineEvent.event_on, EngineEvent.id)
    )


def _clearances(of: InstrumentedAttribute[int | None]) -> Select[*tuple[Any, ...]]:
    return (
        select(
            of.label("thing"),
            EventClearance.event_id,
            EventClearance.cleared_on,
            Person.name,
            EventClearance.inspection,
            EventClearance.set_by,
            EventClearance.document_id,
        )
        .join(Person, Person.id == EventClearance.cleared_by)
        .where(of.in_(_IDS))
        .order_by(EventClearance.cleared_on, EventClearance.set_by)
    )


# Made once: putting a statement together costs more than executing it.
_PIECES = _pieces()
_BATCHES = _batches()
_FITTED = _fitted()
_PARENTS = select(_kin())
_CLEARED_PIECES = _clearances(EventClearance.piece_id)
_CLEARED_BATCHES = _clearances(EventClearance.batch_id)
_CLEARED_ENGINES = _clearances(EventClearance.engine_id)
_BORN = (
    select(EntryFact.record_id, Entry.happened_on, Entry.number)
    .join(Entry, Entry.number == EntryFact.entry_number)
    .where(EntryFact.record == literal("batch"), EntryFact.record_id.in_(_IDS))
    .order_by(Entry.number.desc())
)


def events_on(session: Session, things: Collection[Thing]) -> dict[Thing, tuple[OpenEvent, ...]]:
    """The events that taint these things and that no inspection has cleared them of, the oldest first.

    A thing that nothing taints has no key. Of a batch, also what only its fitted quantity was inside for.
    """
    found = taints_on(session, things)
    return _still_open(found)


def doubts_on(connection: Connection, things: Collection[Thing]) -> dict[Thing, tuple[str, ...]]:
    """In words, what taints these things wherever they are; see `events_on`.

    Of a batch, what only its fitted quantity was inside for is left out: the rest may be used.
    """
    open_events = _still_open(_follow(connection, things))
    return {thing: tuple(event.doubt for event in events) for thing, events in open_events.items()}


def taints_on(session: Session, things: Collection[Thing]) -> dict[Thing, tuple[Taint, ...]]:
    """Every event that these things were inside for, cleared or not, the oldest first."""
    connection = session.connection()
    found = _follow(connection, things)
    for batch, events in _fitted_since(connection, [each.batch for each in things if each.batch]).items():
        thing = Thing(batch=batch)
        known = {taint.event.event for taint in found.get(thing, ())}
        fresh = tuple(taint for taint in events if taint.event.event not in known)
        if fresh:
            found[thing] = (*found.get(thing, ()), *fresh)
    return found


def _still_open(found: Mapping[Thing, tuple[Taint, ...]]) -> dict[Thing, tuple[OpenEvent, ...]]:
    still = {
        thing: tuple(taint.event for taint in taints if taint.cleared is None)
        for thing, taints in found.items()
    }
    return {thing: events for thing, events in still.items() if events}


def _event(row: Row[*tuple[Any, ...]], fitted_only: bool = False) -> OpenEvent:
    return OpenEvent(
        row.event,
        row.kind,
        row.engine_id,
        row.engine_name,
        row.event_on,
        row.event_entry,
        row.note,
        fitted_only,
    )


def _follow(connection: Connection, things: Collection[Thing]) -> dict[Thing, tuple[Taint, ...]]:
    """The events that follow things wherever they go."""
    found: dict[Thing, list[Taint]] = defaultdict(list)
    for some in chunks(thing.piece for thing in things):
        rows = connection.execute(_PIECES, {"ids": some}).all()
        if not rows:
            continue
        cleared = _read_cleared(connection, _CLEARED_PIECES, {row.thing for row in rows})
        for row in rows:
            last = next(iter(cleared.get((row.thing, row.event), ())), None)
            found[Thing(piece=row.thing)].append(Taint(_event(row), last))
    for some in chunks(thing.batch for thing in things):
        rows = connection.execute(_BATCHES, {"ids": some}).all()
        if rows:
            kin = _Kin(connection, {row.thing for row in rows})
            for row in rows:
                if kin.came_after(row.thing, row.of, (row.event_on, row.event_entry)):
                    taint = Taint(_event(row), kin.cleared(row.thing, row.of, row.event))
                    if all(each.event.event != row.event for each in found[Thing(batch=row.thing)]):
                        found[Thing(batch=row.thing)].append(taint)
    return {thing: tuple(taints) for thing, taints in found.items() if taints}


def engine_cleared(connection: Connection, engine: int) -> dict[int, list[Cleared]]:
    """What cleared an engine itself of events, by event, the first of each first."""
    cleared = _read_cleared(connection, _CLEARED_ENGINES, [engine])
    return {event: each for (_, event), each in cleared.items()}


def _read_cleared(
    connection: Connection, clearances: Select[*tuple[Any, ...]], ids: Collection[int]
) -> dict[tuple[int, int], list[Cleared]]:
    """Clearances by thing and event, the first of each first."""
    found: dict[tuple[int, int], list[Cleared]] = defaultdict(list)
    for some in chunks(ids):
        for thing, event, on, by, inspection, entry, document in connection.execute(
            clearances, {"ids": some}
        ):
            found[thing, event].append(Cleared(on, by, inspection, entry, document))
    return found


class _Kin:
    """Tainted batches with those that they were split off from, when each began, and what cleared each."""

    def __init__(self, connection: Connection, batches: Collection[int]) -> None:
        self._parents: dict[int, int | None] = {}
        for some in chunks(batches):
            for _, of, parent in connection.execute(_PARENTS, {"ids": some}):
                self._parents[of] = parent
        self._born: dict[int, Point] = {}
        for some in chunks(self._parents):
            for batch, on, number in connection.execute(_BORN, {"ids": some}):
                self._born[batch] = (on, number)
        self._cleared = _read_cleared(connection, _CLEARED_BATCHES, self._parents)

    def _line(self, batch: int, of: int) -> list[int]:
        """The batch, its parent and so on, up to ``of``."""
        line = [batch]
        while line[-1] != of:
            parent = self._parents[line[-1]]
            assert parent is not None
            line.append(parent)
        return line

    def came_after(self, batch: int, of: int, event: Point) -> bool:
        """Whether a batch was split off from what came out of the engine, and not before it went in."""
        return all(self._born[each] > event for each in self._line(batch, of)[:-1])

    def cleared(self, batch: int, of: int, event: int) -> Cleared | None:
        """What cleared a batch of an event: its own inspection, or one of its parent before it was split."""
        until = END
        for each in self._line(batch, of):
            for cleared in self._cleared.get((each, event), ()):
                if (cleared.on, cleared.entry) < until:
                    return cleared
            until = min(until, self._born[each])
        return None


def _fitted_since(connection: Connection, batches: Collection[int]) -> dict[int, list[Taint]]:
    """Events that batches were inside for with what of them is inside still."""
    rows = [row for some in chunks(batches) for row in connection.execute(_FITTED, {"ids": some})]
    if not rows:
        return {}
    gains = gains_at(connection, {row.thing for row in rows})
    cleared = _read_cleared(connection, _CLEARED_BATCHES, {row.thing for row in rows})
    found: dict[int, list[Taint]] = defaultdict(list)
    for row in rows:
        known = {taint.event.event for taint in found[row.thing]}
        at = gains.get((row.thing, row.place), ())
        if row.event not in known and inside_since(at, (row.event_on, row.event_entry)):
            last = next(iter(cleared.get((row.thing, row.event), ())), None)
            found[row.thing].append(Taint(_event(row, fitted_only=True), last))
    return found
