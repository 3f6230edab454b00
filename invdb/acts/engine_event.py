"""Record what befell an engine, and clear what was inside of it by an inspection named for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, Select, func, or_, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.batch_lines import gains_at
from invdb.acts.by import By, begin_draft, licence_of
from invdb.acts.event_doubts import Cleared, Taint, covers, engine_cleared, taints_on
from invdb.acts.hold import Subject
from invdb.acts.numbers import Thing
from invdb.acts.papers import refuse_unknown_document
from invdb.records.builds import Presumption, Stripping
from invdb.records.doubts import EngineEvent, EventClearance
from invdb.records.engines import Engine
from invdb.records.life import Service
from invdb.records.posting import post
from invdb.records.stock import Batch, Piece, Place
from invdb.rules.events import event_words, inside_since
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.points import end_of
from invdb.rules.told import listed
from invdb.terms import Asked, EngineEventKind, EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class NewEvent:
    """What befell an engine, on the day of the act."""

    engine: int
    kind: EngineEventKind
    note: str = ""


def record_event(session: Session, event: NewEvent, by: By, sure: bool = False) -> int:
    """Record an engine event; returns its id. From then on all that was inside then is in doubt.

    It comes after every entry of its day that stands already. Refused unless ``sure`` when something came out
    on that very day: whether that was inside depends on the hour.
    """
    draft = begin_draft(session, EntryKind.ENGINE_EVENT, by)
    name = session.scalar(select(Engine.name).where(Engine.id == event.engine))
    if name is None:
        raise FieldRefused("engine", "That engine is not in the store.", "Choose another.")
    on = draft.happened_on
    if not sure:
        _refuse_what_came_out_that_day(session, event.engine, name, on)
    event_id = draft.new(
        session, "engine_event", engine_id=event.engine, kind=event.kind, event_on=on, note=event.note
    )
    for batch in _batches_out_since(session, event.engine, on):
        draft.new(session, "event_taint", event_id=event_id, batch_id=batch)
    post(session, draft)
    return event_id


def _refuse_what_came_out_that_day(session: Session, engine: int, name: str, on: date) -> None:
    pieces = session.execute(
        select(Piece.tag, Service.to_entry)
        .join(Service, Service.piece_id == Piece.id)
        .where(Service.engine_id == engine, Service.to_on == on)
        .order_by(Service.to_entry, Piece.tag)
    )
    batches = session.execute(
        select(Batch.tag, Stripping.set_by)
        .join(Stripping, Stripping.batch_id == Batch.id)
        .where(Stripping.engine_id == engine, Stripping.stripped_on == on)
        .order_by(Stripping.set_by, Batch.tag)
    )
    out = [*pieces, *batches]
    if out:
        tags = listed([row[0] for row in out])
        raise Asked(
            "happened_on",
            f"{tags} came out of {name} on that very day, {on.isoformat()}, by entry {out[0][1]}.",
            f"If this was before, reverse entry {out[0][1]}, record this, and strip afresh; if it was after,"
            " say so.",
        )


def _batches_out_since(session: Session, engine: int, on: date) -> list[int]:
    """The batches that came out after a day, of what was inside the engine at its end."""
    around = aliased(Place)
    was_inside = select(Service.piece_id).where(Service.engine_id == engine, covers(Service, *end_of(on)))
    stripped = session.execute(
        select(
            Stripping.batch_id,
            Batch.parent_batch_id,
            Stripping.from_place_id,
            Stripping.stripped_on,
            Stripping.set_by,
        )
        .join(Batch, Batch.id == Stripping.batch_id)
        .join(Place, Place.id == Stripping.from_place_id)
        .outerjoin(around, around.id == Place.parent_id)
        .where(
            Stripping.stripped_on > on,
            Batch.parent_batch_id.is_not(None),
            or_(
                Place.engine_id == engine,
                func.coalesce(Place.piece_id, around.piece_id).in_(was_inside),
            ),
        )
    ).all()
    concerned = {each for row in stripped for each in row[:2] if each is not None}
    gains = gains_at(session.connection(), concerned)
    found = set()
    for row in stripped:
        out = (row.stripped_on, row.set_by)
        # What went to the scrap drum untagged stayed the batch that it was, whose rest lies in the stores.
        began = any(gain.at == out for gain in gains.get((row.batch_id, OUTSIDE_PLACE), ()))
        inside = gains.get((row.parent_batch_id, row.from_place_id), ())
        if began and inside_since(inside, end_of(on), out):
            found.add(row.batch_id)
    presumed = session.scalars(
        select(Presumption.batch_id).where(
            Presumption.engine_id == engine,
            Presumption.batch_id.is_not(None),
            Presumption.presumed_on <= on,
            Presumption.ended_on > on,
        )
    )
    found.update(batch for batch in presumed if batch is not None)
    return sorted(found)


def open_event_ids(session: Session, engine: int, on: date, presumed_on: date | None = None) -> list[int]:
    """The events of an engine until the end of a day; with ``presumed_on``, only those since that day.

    For what is stripped from a station that was presumed filled: the act that strips it names them in
    ``event_taint`` for the batch that comes out.
    """
    query = select(EngineEvent.id).where(EngineEvent.engine_id == engine, EngineEvent.event_on <= on)
    if presumed_on is not None:
        query = query.where(EngineEvent.event_on >= presumed_on)
    return list(session.scalars(query.order_by(EngineEvent.event_on, EngineEvent.id)))


def events_inside(session: Session, batch: int, place: int, on: date) -> list[int]:
    """The events that some of a batch at a station was inside for, and was not cleared of, until a day's end.

    For an act that strips it on that day, and names them in ``event_taint`` for the batch that comes out. The
    station may be an engine's, or in a piece that was in an engine then.
    """
    where = session.execute(_STATION.where(Place.id == place)).one_or_none()
    if where is None:
        return []
    query = _EVENTS_UNTIL.where(EngineEvent.event_on <= on)
    if where.engine_id is not None:
        query = query.where(EngineEvent.engine_id == where.engine_id)
    else:
        query = query.join(Service, Service.engine_id == EngineEvent.engine_id).where(
            Service.piece_id == where.holder, covers(Service, EngineEvent.event_on, EngineEvent.set_by)
        )
    rows = session.execute(query.order_by(EngineEvent.event_on, EngineEvent.id)).all()
    if not rows:
        return []
    gains = gains_at(session.connection(), [batch]).get((batch, place), ())
    cleared = set(
        session.scalars(
            select(EventClearance.event_id).where(
                EventClearance.batch_id == batch, EventClearance.cleared_on <= on
            )
        )
    )
    return [
        row.id
        for row in rows
        if row.id not in cleared and inside_since(gains, (row.event_on, row.set_by), end_of(on))
    ]


_AROUND = aliased(Place)
_STATION: Select[*tuple[Any, ...]] = select(
    Place.engine_id, func.coalesce(Place.piece_id, _AROUND.piece_id).label("holder")
).outerjoin(_AROUND, _AROUND.id == Place.parent_id)
_EVENTS_UNTIL: Select[*tuple[Any, ...]] = select(EngineEvent.id, EngineEvent.event_on, EngineEvent.set_by)


def clear_event(
    session: Session,
    event: int,
    subjects: Collection[Subject],
    inspection: str,
    by: By,
    document: int | None = None,
) -> int:
    """Clear pieces, batches or the engine itself of an event, by an inspection; returns the entry's number.

    It needs a person with a licence number, and the inspection that was done, by name. Refused for what was
    never inside, for what is cleared already, and for a day before the event.
    """
    draft = begin_draft(session, EntryKind.EVENT_CLEARED, by)
    row = _read_event(session, event)
    if licence_of(session, by.person) is None:
        raise Refused("Only a person with a licence number clears an engine event.", "Ask one who has.")
    if not inspection.strip():
        raise FieldRefused(
            "inspection", "The inspection is not named.", "Type what was done, and by what method."
        )
    if not subjects:
        raise Refused(
            "Nothing is named that would be cleared.", "Choose pieces, batches, or the engine itself."
        )
    if draft.happened_on < row.event_on:
        raise FieldRefused(
            "happened_on",
            f"The {event_words(row.kind, row.name, row.event_on)} was after {draft.happened_on.isoformat()}.",
            "Give a date on or after that day.",
        )
    refuse_unknown_document(session, document)
    things = [
        Thing(piece=subject.piece, batch=subject.batch)
        for subject in subjects
        if subject.piece is not None or subject.batch is not None
    ]
    taints = taints_on(session, things)
    for subject in dict.fromkeys(subjects):
        _refuse_unless_tainted(session, subject, row, taints)
        draft.new(
            session,
            "event_clearance",
            event_id=event,
            piece_id=subject.piece,
            batch_id=subject.batch,
            engine_id=subject.engine,
            cleared_on=draft.happened_on,
            cleared_by=by.person,
            inspection=inspection,
            document_id=document,
        )
    return post(session, draft).number


def _read_event(session: Session, event: int) -> Row[*tuple[Any, ...]]:
    row = session.execute(
        select(EngineEvent.id, EngineEvent.engine_id, EngineEvent.kind, EngineEvent.event_on, Engine.name)
        .join(Engine, Engine.id == EngineEvent.engine_id)
        .where(EngineEvent.id == event)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such engine event.", "Look again.")
    return row


def _refuse_unless_tainted(
    session: Session,
    subject: Subject,
    event: Row[*tuple[Any, ...]],
    taints: Mapping[Thing, tuple[Taint, ...]],
) -> None:
    words = event_words(event.kind, event.name, event.event_on)
    if subject.part is not None:
        raise Refused("A part as such was in no engine.", "Name the pieces or batches that were inspected.")
    if subject.engine is not None:
        if subject.engine != event.engine_id:
            raise Refused(f"The {words} did not befall that engine.", f"Choose {event.name}.")
        for cleared in engine_cleared(session.connection(), subject.engine).get(event.id, ()):
            raise _cleared_already(event.name, words, cleared)
        return
    thing = Thing(piece=subject.piece, batch=subject.batch)
    taint = next((each for each in taints.get(thing, ()) if each.event.event == event.id), None)
    if taint is not None and taint.cleared is None:
        return
    table: type[Piece] | type[Batch] = Piece if thing.piece is not None else Batch
    tag = session.scalar(select(table.tag).where(table.id == (thing.piece or thing.batch)))
    if tag is None:
        raise Refused("One of these is no longer in the store.", "Look again.")
    if taint is None or taint.cleared is None:
        raise Refused(f"{tag} was not inside at the {words}.", "There is nothing to clear it of.")
    raise _cleared_already(tag, words, taint.cleared)


def _cleared_already(what: str, words: str, cleared: Cleared) -> Refused:
    return Refused(
        f"{what} was cleared of the {words} on {cleared.on.isoformat()} by {cleared.by}.",
        "There is nothing to clear.",
    )
