"""Raise a doubt on a part, a piece, a batch or an engine, and clear it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.numbers import Thing, engine_named, part_by_number, thing_by_tag
from invdb.records.draft import Draft
from invdb.records.engines import Engine
from invdb.records.posting import post
from invdb.records.stock import Batch, Hold, Piece
from invdb.rules.numbering import NumberKind, read_number
from invdb.terms import EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class Subject:
    """What a hold is on, by its id; exactly one is set."""

    part: int | None = None
    piece: int | None = None
    batch: int | None = None
    engine: int | None = None

    def __post_init__(self) -> None:
        assert sum(each is not None for each in (self.part, self.piece, self.batch, self.engine)) == 1


def raise_hold(session: Session, subjects: tuple[Subject, ...], reason: str, by: By) -> tuple[int, ...]:
    """Put subjects on hold for one reason, in one entry; returns the holds' ids.

    What is reserved stays reserved, but is not issued until the hold is cleared.
    """
    draft = begin_draft(session, EntryKind.HOLD_RAISED, by)
    if not reason.strip():
        raise FieldRefused("reason", "No reason is given.", "Say what the doubt is.")
    if not subjects:
        raise Refused("Nothing is named that would be put on hold.", "Choose a part, a piece or a batch.")
    for subject in subjects:
        _refuse_before_it_came(session, subject, draft.happened_on)
    holds = tuple(draft_hold(session, draft, subject, reason) for subject in subjects)
    post(session, draft)
    return holds


def draft_hold(session: Session, draft: Draft, subject: Subject, reason: str) -> int:
    """Put into a draft that a subject is on hold from its day on; returns the hold's id."""
    return draft.new(
        session,
        "hold",
        part_id=subject.part,
        piece_id=subject.piece,
        batch_id=subject.batch,
        engine_id=subject.engine,
        reason=reason,
        raised_on=draft.happened_on,
        raised_by=draft.who,
    )


def _refuse_before_it_came(session: Session, subject: Subject, on: date) -> None:
    table: type[Piece] | type[Batch] = Piece if subject.piece is not None else Batch
    row = session.execute(
        select(table.tag, table.received_on).where(table.id == (subject.piece or subject.batch))
    ).one_or_none()
    if row is not None:
        refuse_before_it_came(row.tag, row.received_on, on)


def clear_hold(session: Session, hold: int, because: str, by: By) -> int:
    """Clear a hold, saying what settled the doubt; returns the entry's number."""
    draft = begin_draft(session, EntryKind.HOLD_CLEARED, by)
    if not because.strip():
        raise FieldRefused("because", "It isn't said what settled the doubt.", "Type it.")
    row = session.execute(select(Hold.cleared_on, Hold.raised_on).where(Hold.id == hold)).one_or_none()
    if row is None:
        raise Refused("There is no such hold.", "Look again.")
    if row.cleared_on is not None:
        raise Refused(f"That hold was cleared on {row.cleared_on.isoformat()}.", "There is nothing to clear.")
    if draft.happened_on < row.raised_on:
        raise FieldRefused(
            "happened_on",
            f"The hold was raised on {row.raised_on.isoformat()}.",
            "Give a date on or after that day.",
        )
    draft.set("hold", hold, cleared_on=draft.happened_on, cleared_by=by.person, cleared_because=because)
    return post(session, draft).number


@dataclass(frozen=True)
class OpenHold:
    """A hold that is not cleared: what the doubt is, since when, and whether it is on the part as a whole."""

    id: int
    reason: str
    raised_on: date
    on_part: bool


def holds_on(session: Session, thing: Thing) -> tuple[OpenHold, ...]:
    """The holds that stand against a piece or a batch, its part's among them, the oldest first."""
    table: type[Piece] | type[Batch] = Piece if thing.piece is not None else Batch
    own = Hold.piece_id == thing.piece if thing.piece is not None else Hold.batch_id == thing.batch
    part = select(table.part_id).where(table.id == (thing.piece or thing.batch)).scalar_subquery()
    rows = session.execute(
        select(Hold.id, Hold.reason, Hold.raised_on, Hold.part_id)
        .where(or_(own, Hold.part_id == part), Hold.cleared_on.is_(None))
        .order_by(Hold.raised_on, Hold.id)
    )
    return tuple(OpenHold(row.id, row.reason, row.raised_on, row.part_id is not None) for row in rows)


def holds_on_engine(session: Session, engine: int) -> tuple[OpenHold, ...]:
    """The holds that stand against an engine itself, the oldest first."""
    rows = session.execute(
        select(Hold.id, Hold.reason, Hold.raised_on)
        .where(Hold.engine_id == engine, Hold.cleared_on.is_(None))
        .order_by(Hold.raised_on, Hold.id)
    )
    return tuple(OpenHold(row.id, row.reason, row.raised_on, False) for row in rows)


def subject_named(session: Session, text: str) -> Subject:
    """What a person named: a piece or batch by its tag, a part by a number, an engine by its name."""
    reading = read_number(text)
    if reading.kind in {NumberKind.PIECE, NumberKind.BATCH}:
        thing = thing_by_tag(session, text)
        return Subject(piece=thing.piece, batch=thing.batch)
    names = {text.strip().casefold()}
    engines = session.execute(select(Engine.id, Engine.name, Engine.serial)).all()
    if any(names & {row.name.casefold(), row.serial.casefold()} for row in engines):
        return Subject(engine=engine_named(session, text))
    return Subject(part=part_by_number(session, text))
