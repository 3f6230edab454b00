"""Why engines are not available: what is in doubt on them, or on anything inside them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date

from sqlalchemy import Subquery, select, union
from sqlalchemy.orm import Session, aliased

from invdb.acts.directive_lines import overdue_directives
from invdb.acts.event_doubts import events_on, pieces_not_cleared
from invdb.acts.numbers import Thing
from invdb.records.builds import Debt
from invdb.records.catalogue import Part
from invdb.records.doubts import EngineEvent, EventClearance
from invdb.records.engines import Engine, Position, Station
from invdb.records.life import Service
from invdb.records.stock import Batch, Hold, Holding, Piece, Place
from invdb.rules.events import event_words
from invdb.rules.quantities import quantity_words
from invdb.rules.told import listed
from invdb.terms import EngineEventKind, Measure


def engine_doubts(session: Session, engines: Collection[int]) -> dict[int, tuple[str, ...]]:
    """Every doubt that keeps each of these engines from being available, in clauses; none: it has no key.

    Holds on the engine, on what is inside it at first hand or inside another piece, and on the parts of that;
    events that no inspection has cleared, of the engine or of what is inside; what is owed to it; and overdue
    directives.
    """
    found: dict[int, list[str]] = defaultdict(list)
    wanted = sorted(set(engines))
    for engine, words in (
        *_own_holds(session, wanted),
        *_holds_inside(session, wanted),
        *_events(session, wanted),
        *_owed(session, wanted),
        *_overdue(session, wanted),
    ):
        if words not in found[engine]:
            found[engine].append(words)
    return {engine: tuple(found[engine]) for engine in wanted if found[engine]}


def _own_holds(session: Session, engines: Collection[int]) -> Iterator[tuple[int, str]]:
    rows = session.execute(
        select(Hold.engine_id, Hold.reason)
        .where(Hold.engine_id.in_(engines), Hold.cleared_on.is_(None))
        .order_by(Hold.id)
    )
    for engine, reason in rows:
        assert engine is not None
        yield engine, f"on hold: {reason}"


def _batches_inside(engines: Collection[int]) -> Subquery:
    """Every batch of which some is in an engine, at first hand or in a piece that is, with the engine.

    From the engines inward, since most of what a shop holds is in none.
    """
    own, seat = aliased(Place), aliased(Place)
    at_hand = (
        select(Place.engine_id, Holding.batch_id)
        .join(Holding, Holding.place_id == Place.id)
        .where(Place.engine_id.in_(engines), Holding.quantity > 0)
    )
    in_pieces = (
        select(Service.engine_id, Holding.batch_id)
        .join(own, own.piece_id == Service.piece_id)
        .where(Service.engine_id.in_(engines), Service.to_entry.is_(None), Holding.quantity > 0)
    )
    return union(
        at_hand,
        in_pieces.join(Holding, Holding.place_id == own.id),
        in_pieces.join(seat, seat.parent_id == own.id).join(Holding, Holding.place_id == seat.id),
    ).subquery()


def _holds_inside(session: Session, engines: Collection[int]) -> Iterator[tuple[int, str]]:
    """Holds on pieces and batches inside, and on their parts: each with the tags, a few by name."""
    in_service = (
        select(Service.engine_id, Piece.tag, Hold.reason, Hold.id)
        .join(Piece, Piece.id == Service.piece_id)
        .where(Service.engine_id.in_(engines), Service.to_entry.is_(None), Hold.cleared_on.is_(None))
    )
    inside = _batches_inside(engines)
    in_batches = (
        select(inside.c.engine_id, Batch.tag, Hold.reason, Hold.id)
        .join(Batch, Batch.id == inside.c.batch_id)
        .where(Hold.cleared_on.is_(None))
    )
    held: dict[tuple[int, str], set[str]] = defaultdict(set)
    for query in (
        in_service.join(Hold, Hold.piece_id == Piece.id),
        in_service.join(Hold, Hold.part_id == Piece.part_id),
        in_batches.join(Hold, Hold.batch_id == Batch.id),
        in_batches.join(Hold, Hold.part_id == Batch.part_id),
    ):
        for engine, tag, reason, _ in session.execute(query.order_by(Hold.id)):
            held[engine, reason].add(tag)
    for (engine, reason), tags in held.items():
        yield engine, f"{listed(sorted(tags))} in it on hold: {reason}"


def _events(session: Session, engines: Collection[int]) -> Iterator[tuple[int, str]]:
    """Events of the engines themselves that are not cleared, and those that taint what is inside."""
    cleared = select(EventClearance.id).where(
        EventClearance.event_id == EngineEvent.id, EventClearance.engine_id == EngineEvent.engine_id
    )
    rows = session.execute(
        select(EngineEvent.engine_id, EngineEvent.kind, Engine.name, EngineEvent.event_on)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .where(EngineEvent.engine_id.in_(engines), ~cleared.exists())
        .order_by(EngineEvent.event_on, EngineEvent.id)
    )
    for engine, kind, name, on in rows:
        yield engine, f"the {event_words(kind, name, on)} is not cleared for the engine itself"
    by_event: dict[tuple[int, str], list[str]] = defaultdict(list)
    for engine, tag, kind, name, on in (
        *_tainted_pieces(session, engines),
        *_tainted_batches(session, engines),
    ):
        by_event[engine, event_words(kind, name, on)].append(tag)
    for (engine, words), tags in by_event.items():
        yield engine, f"{listed(sorted(tags))} in it not cleared of the {words}"


_Tainted = tuple[int, str, EngineEventKind, str, date]


def _tainted_pieces(session: Session, engines: Collection[int]) -> Iterator[_Tainted]:
    """The pieces inside that an event taints: each engine, the tag, and what befell which engine when."""
    tainted = pieces_not_cleared().subquery()
    rows = session.execute(
        select(Service.engine_id, Piece.tag, EngineEvent.kind, Engine.name, EngineEvent.event_on)
        .select_from(tainted)
        .join(Service, (Service.piece_id == tainted.c.piece_id) & Service.to_entry.is_(None))
        .join(Piece, Piece.id == Service.piece_id)
        .join(EngineEvent, EngineEvent.id == tainted.c.event)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .where(Service.engine_id.in_(engines))
        .order_by(EngineEvent.event_on, EngineEvent.id)
    )
    yield from rows


def _tainted_batches(session: Session, engines: Collection[int]) -> Iterator[_Tainted]:
    if session.scalar(select(EngineEvent.id).limit(1)) is None:
        return
    inside = _batches_inside(engines)
    rows = session.execute(
        select(inside.c.engine_id, Batch.id, Batch.tag).join(Batch, Batch.id == inside.c.batch_id)
    ).all()
    tainted = events_on(session, {Thing(batch=row.id) for row in rows})
    for row in rows:
        for event in tainted.get(Thing(batch=row.id), ()):
            # What else of that batch is in another engine was not inside.
            if not event.fitted_only or event.engine == row.engine_id:
                yield row.engine_id, row.tag, event.kind, event.engine_name, event.on


def _owed(session: Session, engines: Collection[int]) -> Iterator[tuple[int, str]]:
    rows = session.execute(
        select(
            Debt.engine_id,
            Debt.quantity,
            Part.name,
            Part.house_number,
            Part.measure,
            Position.group_name,
            Position.name.label("position"),
            Station.name.label("station"),
        )
        .join(Part, Part.id == Debt.part_id)
        .join(Position, Position.id == Debt.position_id)
        .join(Station, Station.id == Debt.station_id)
        .where(Debt.engine_id.in_(engines), Debt.repaid_on.is_(None))
        .order_by(Debt.id)
    )
    for row in rows:
        single = row.measure is Measure.COUNT and row.quantity == 1
        what = f"{row.name} {row.house_number}"
        much = what if single else f"{quantity_words(row.quantity, row.measure)} of {what}"
        yield row.engine_id, f"incomplete: owed {much} at {row.group_name} {row.position}, {row.station}"


def _overdue(session: Session, engines: Collection[int]) -> Iterator[tuple[int, str]]:
    lines: dict[tuple[int, str], list[str]] = defaultdict(list)
    for line in overdue_directives(session, engines):
        lines[line.engine, line.words].append(line.tag)
    for (engine, words), tags in lines.items():
        on = listed(sorted(tag for tag in tags if tag))
        yield engine, f"overdue{f' on {on}' if on else ''}: {words}"
