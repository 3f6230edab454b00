"""What an authority orders: record it, issue it anew, withdraw it, and record that it was complied with."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, licence_of, refuse_before_it_came, refuse_odd_year
from invdb.acts.hold import Subject
from invdb.acts.life_limit import AMOUNT_MAX
from invdb.acts.papers import refuse_unknown_document
from invdb.records.catalogue import Part
from invdb.records.doubts import Directive
from invdb.records.draft import Draft
from invdb.records.engines import Engine, EngineType
from invdb.records.posting import post
from invdb.records.stock import Batch, Piece
from invdb.rules.directives import Applicability, engine_bar
from invdb.rules.effectivity import Effectivity
from invdb.rules.life_limits import amount_words
from invdb.terms import EntryKind, FieldRefused, LifeMeasure, Refused, Tracking


@dataclass(frozen=True)
class NewDirective:
    """A directive as its authority issued it; hours in hundredths.

    It is for engines of a type, or of a range of its serials; or for pieces of a part or things of a batch,
    and then only in such engines where a type is named. First due within so many hours or months of
    ``effective_on``, or by ``due_on``; with none of these, from ``effective_on`` on. With ``every_…`` it
    recurs.
    """

    reference: str
    title: str
    method: str
    effective_on: date
    issue: str = ""
    authority: str = ""
    engine_type: int | None = None
    serial_from: str | None = None
    serial_to: str | None = None
    part: int | None = None
    batch: int | None = None
    within_hours: int | None = None
    within_months: int | None = None
    due_on: date | None = None
    every_hours: int | None = None
    every_months: int | None = None
    document: int | None = None


def add_directive(session: Session, new: NewDirective, by: By) -> int:
    """Record a directive; returns its id.

    Refused without a reference, title or method, when the same issue of it stands already, when it is for
    nothing, and when it is due before it takes effect or after no time at all.
    """
    draft = begin_draft(session, EntryKind.DIRECTIVE, by)
    directive = _draft_directive(session, draft, new)
    post(session, draft)
    return directive


def reissue_directive(session: Session, directive: int, new: NewDirective, by: By) -> int:
    """Put a new issue in the place of a directive; returns the new one's id.

    The old one holds until the day of the act, or until the new one takes effect if that is later: there is
    no day on which neither does. What was done to the old issue does not count for the new one: where the
    new one accepts it, record so.
    """
    draft = begin_draft(session, EntryKind.DIRECTIVE, by)
    _draft_withdrawal(session, draft, directive, new.effective_on)
    issued = _draft_directive(session, draft, new)
    post(session, draft)
    return issued


def withdraw_directive(session: Session, directive: int, because: str, by: By) -> int:
    """Say that a directive holds no more from the day of the act on; returns the entry's number."""
    draft = begin_draft(session, EntryKind.DIRECTIVE, by)
    if not because.strip():
        raise FieldRefused("because", "It isn't said why it is withdrawn.", "Type it.")
    _draft_withdrawal(session, draft, directive)
    draft.remark(because)
    return post(session, draft).number


def comply(
    session: Session,
    directive: int,
    subjects: Collection[Subject],
    method: str,
    by: By,
    document: int | None = None,
) -> int:
    """Record that a directive was complied with, on engines or pieces; returns the entry's number.

    It needs a person with a licence number, and how it was done. Refused for what the directive is not for,
    and for a day before it took effect, before a piece came, or after it was withdrawn.
    """
    draft = begin_draft(session, EntryKind.COMPLIED, by)
    row = read_directive(session, directive)
    if licence_of(session, by.person) is None:
        raise Refused("Only a person with a licence number signs for a directive.", "Ask one who has.")
    if not method.strip():
        raise FieldRefused("method", "It isn't said how it was complied with.", "Type the method.")
    if not subjects:
        raise Refused("Nothing is named that it was complied with on.", "Choose engines or pieces.")
    on = draft.happened_on
    if on < row.effective_on:
        raise FieldRefused(
            "happened_on",
            f"Directive {row.reference} took effect on {row.effective_on.isoformat()}.",
            "Give the day on which it was found to be met, even if the work was done before.",
        )
    if row.withdrawn_on is not None and row.withdrawn_on <= on:
        raise FieldRefused(
            "happened_on",
            f"Directive {row.reference} was withdrawn on {row.withdrawn_on.isoformat()}.",
            "Give a date before that day, or choose what stands now.",
        )
    refuse_unknown_document(session, document)
    for subject in dict.fromkeys(subjects):
        _refuse_what_it_is_not_for(session, subject, row, on)
        draft.new(
            session,
            "compliance",
            directive_id=directive,
            engine_id=subject.engine,
            piece_id=subject.piece,
            complied_on=on,
            complied_by=by.person,
            method=method,
            document_id=document,
        )
    return post(session, draft).number


def read_directive(session: Session, directive: int) -> Row[*tuple[Any, ...]]:
    """A directive's row, with its engine type's name and how its part is held; Refused if there is none."""
    row = session.execute(
        select(
            *Directive.__table__.columns.values(),
            EngineType.name.label("type_name"),
            Part.house_number,
            Part.tracking,
        )
        .outerjoin(EngineType, EngineType.id == Directive.engine_type_id)
        .outerjoin(Part, Part.id == Directive.part_id)
        .where(Directive.id == directive)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such directive.", "Look again.")
    return row


def applicability_of(row: Row[*tuple[Any, ...]]) -> Applicability:
    """What a directive is for, from its row with the engine type's name."""
    return Applicability(row.type_name, row.serial_from, row.serial_to, row.part_id, row.batch_id)


def _draft_withdrawal(session: Session, draft: Draft, directive: int, not_before: date = date.min) -> None:
    row = read_directive(session, directive)
    if row.withdrawn_on is not None:
        raise Refused(
            f"Directive {row.reference} was withdrawn on {row.withdrawn_on.isoformat()}.",
            "There is nothing to withdraw.",
        )
    if draft.happened_on < row.effective_on:
        raise FieldRefused(
            "happened_on",
            f"Directive {row.reference} takes effect on {row.effective_on.isoformat()}.",
            "Give a date on or after that day, or reverse its entry.",
        )
    draft.set("directive", directive, withdrawn_on=max(draft.happened_on, not_before))


def _draft_directive(session: Session, draft: Draft, new: NewDirective) -> int:
    for field, value in (("reference", new.reference), ("title", new.title), ("method", new.method)):
        if not value.strip():
            raise FieldRefused(field, f"The directive has no {field}.", "Type it as the directive has it.")
    _refuse_what_is_there(session, draft, new)
    _refuse_subject(session, new)
    for field, figure, measure in (
        ("within_hours", new.within_hours, LifeMeasure.HOURS),
        ("within_months", new.within_months, LifeMeasure.MONTHS),
        ("every_hours", new.every_hours, LifeMeasure.HOURS),
        ("every_months", new.every_months, LifeMeasure.MONTHS),
    ):
        _check_interval(field, figure, measure)
    refuse_odd_year("effective_on", new.effective_on)
    refuse_odd_year("due_on", new.due_on)
    if new.due_on is not None and new.due_on < new.effective_on:
        raise FieldRefused(
            "due_on",
            f"It would be due on {new.due_on.isoformat()}, before it takes effect on"
            f" {new.effective_on.isoformat()}.",
            "Check both dates.",
        )
    refuse_unknown_document(session, new.document)
    return draft.new(
        session,
        "directive",
        reference=new.reference,
        issue=new.issue,
        title=new.title,
        authority=new.authority,
        engine_type_id=new.engine_type,
        serial_from=new.serial_from or None,
        serial_to=new.serial_to or None,
        part_id=new.part,
        batch_id=new.batch,
        effective_on=new.effective_on,
        within_hours=new.within_hours,
        within_months=new.within_months,
        due_on=new.due_on,
        every_hours=new.every_hours,
        every_months=new.every_months,
        method=new.method,
        document_id=new.document,
    )


def _check_interval(field: str, figure: int | None, measure: LifeMeasure) -> None:
    if figure is None:
        return
    if figure <= 0:
        raise FieldRefused(field, "That leaves no time at all.", "Give more than none, or leave it empty.")
    most = AMOUNT_MAX[measure]
    if figure > most:
        raise FieldRefused(
            field,
            f"{amount_words(figure, measure)} is longer than any directive leaves.",
            f"Give at most {amount_words(most, measure)}.",
        )


def _refuse_what_is_there(session: Session, draft: Draft, new: NewDirective) -> None:
    withdrawn = {fact.record_id for fact in draft.facts if fact.record == "directive"}
    standing = session.execute(
        select(Directive.id, Directive.reference, Directive.issue).where(Directive.withdrawn_on.is_(None))
    )
    wanted = (new.reference.strip().casefold(), new.issue.strip().casefold())
    for row in standing:
        if row.id not in withdrawn and (row.reference.casefold(), row.issue.casefold()) == wanted:
            issue = f" issue {row.issue}" if row.issue else ""
            raise FieldRefused(
                "reference",
                f"Directive {row.reference}{issue} stands already.",
                "Withdraw it or issue it anew, or check the number.",
            )


def _refuse_subject(session: Session, new: NewDirective) -> None:
    if new.engine_type is None and new.part is None and new.batch is None:
        raise FieldRefused(
            "engine_type",
            "It isn't said what the directive is for.",
            "Name an engine type, a part or a batch.",
        )
    if (new.serial_from or new.serial_to) and new.engine_type is None:
        raise FieldRefused(
            "serial_from", "A range of engine serials needs its engine type.", "Name the type as well."
        )
    # Raises for a range that is empty or that nothing could be in.
    Effectivity(serial_from=new.serial_from or None, serial_to=new.serial_to or None)
    for field, table, record_id in (
        ("engine_type", EngineType, new.engine_type),
        ("part", Part, new.part),
        ("batch", Batch, new.batch),
    ):
        known = record_id is None or session.scalar(select(table.id).where(table.id == record_id))
        if known is None:
            raise FieldRefused(
                field, f"That {field.replace('_', ' ')} is not in the store.", "Choose another."
            )


def _refuse_what_it_is_not_for(
    session: Session, subject: Subject, directive: Row[*tuple[Any, ...]], on: date
) -> None:
    applicability = applicability_of(directive)
    if subject.piece is not None:
        piece = session.execute(
            select(Piece.tag, Piece.part_id, Piece.received_on, Part.house_number)
            .join(Part, Part.id == Piece.part_id)
            .where(Piece.id == subject.piece)
        ).one_or_none()
        if piece is None:
            raise Refused("One of these is no longer in the store.", "Look again.")
        if piece.part_id != applicability.part:
            raise Refused(
                f"Directive {directive.reference} is not for {piece.tag}, a piece of {piece.house_number}.",
                "Choose what it is for.",
            )
        refuse_before_it_came(piece.tag, piece.received_on, on)
        return
    if subject.engine is None:
        raise Refused("A directive is complied with on engines and pieces.", "Choose engines or pieces.")
    engine = session.execute(
        select(Engine.name, Engine.serial, EngineType.name.label("type_name"))
        .join(EngineType, EngineType.id == Engine.engine_type_id)
        .where(Engine.id == subject.engine)
    ).one_or_none()
    if engine is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    why = engine_bar(applicability, engine.type_name, engine.serial, on)
    if why is not None:
        raise Refused(
            f"Directive {directive.reference} is not for {engine.name}: {why}.", "Choose what it is for."
        )
    if applicability.batch is None and directive.tracking is Tracking.PIECE:
        raise Refused(
            f"Directive {directive.reference} is for each piece of {directive.house_number}.",
            "Name the pieces on which it was complied with.",
        )
