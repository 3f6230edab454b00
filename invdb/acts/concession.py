"""What an authority allows beyond a limit, for one piece in one engine: grant it, and withdraw it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came, refuse_odd_year
from invdb.acts.life_limit import AMOUNT_MAX
from invdb.records.documents import Document
from invdb.records.doubts import Concession
from invdb.records.engines import Engine, Position
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.rules.life import hours_words
from invdb.terms import ConcessionOver, EntryKind, FieldRefused, LifeMeasure, Refused


@dataclass(frozen=True)
class NewConcession:
    """What is allowed, by whom, on which document, and till when; hours in hundredths.

    ``position`` None holds for the piece wherever it is in that engine; ``from_on`` None from the day of the
    act. ``life_limit_hours`` stands instead of the part's own limit by hours since new.
    """

    reference: str
    authority: str
    over: ConcessionOver
    allows: str
    document: int
    piece: int
    engine: int
    position: int | None = None
    from_on: date | None = None
    until_on: date | None = None
    hours_allowed: int | None = None
    life_limit_hours: int | None = None


def grant_concession(session: Session, new: NewConcession, by: By) -> int:
    """Record a concession; returns its id.

    Refused without an authority, a document that is here, an end by date or hours, or words for what it
    allows; for a position of another engine type; and when it would end before it begins.
    """
    draft = begin_draft(session, EntryKind.CONCESSION, by)
    from_on = new.from_on or draft.happened_on
    for field, value, what in (
        ("reference", new.reference, "reference"),
        ("authority", new.authority, "authority"),
        ("allows", new.allows, "word of what it allows"),
    ):
        if not value.strip():
            raise FieldRefused(field, f"The concession has no {what}.", "Type it as the document has it.")
    if session.scalar(select(Document.id).where(Document.id == new.document)) is None:
        raise FieldRefused(
            "document", "A concession needs its document, and that one is not here.", "Take it in first."
        )
    _refuse_subject(session, new, draft.happened_on, from_on)
    if new.until_on is None and new.hours_allowed is None:
        raise FieldRefused(
            "until_on",
            "A concession has an end, and none is given.",
            "Give its last day, its hours, or both.",
        )
    refuse_odd_year("from_on", from_on)
    refuse_odd_year("until_on", new.until_on)
    if new.until_on is not None and new.until_on < from_on:
        raise FieldRefused(
            "until_on",
            f"It would end on {new.until_on.isoformat()}, before it begins on {from_on.isoformat()}.",
            "Check both dates.",
        )
    for field, hours in (("hours_allowed", new.hours_allowed), ("life_limit_hours", new.life_limit_hours)):
        if hours is not None and not 0 < hours <= AMOUNT_MAX[LifeMeasure.HOURS]:
            raise FieldRefused(
                field,
                f"{hours_words(hours)} are no hours to allow.",
                f"Give more than none, and at most {hours_words(AMOUNT_MAX[LifeMeasure.HOURS])}.",
            )
    if new.life_limit_hours is not None and new.over is not ConcessionOver.LIFE_LIMIT:
        raise FieldRefused(
            "life_limit_hours",
            f"A concession over the {new.over} sets no life limit.",
            "Leave it empty, or say that it is over the life limit.",
        )
    concession = draft.new(
        session,
        "concession",
        reference=new.reference,
        authority=new.authority,
        over=new.over,
        allows=new.allows,
        document_id=new.document,
        piece_id=new.piece,
        engine_id=new.engine,
        position_id=new.position,
        from_on=from_on,
        until_on=new.until_on,
        hours_allowed=new.hours_allowed,
        life_limit_hours=new.life_limit_hours,
    )
    post(session, draft)
    return concession


def _refuse_subject(session: Session, new: NewConcession, on: date, from_on: date) -> None:
    piece = session.execute(select(Piece.tag, Piece.received_on).where(Piece.id == new.piece)).one_or_none()
    if piece is None:
        raise FieldRefused("piece", "That piece is not in the store.", "Choose another.")
    refuse_before_it_came(piece.tag, piece.received_on, on)
    refuse_before_it_came(piece.tag, piece.received_on, from_on, "from_on")
    engine = session.execute(
        select(Engine.name, Engine.engine_type_id).where(Engine.id == new.engine)
    ).one_or_none()
    if engine is None:
        raise FieldRefused("engine", "That engine is not in the store.", "Choose another.")
    if new.position is not None:
        of_type = session.scalar(select(Position.engine_type_id).where(Position.id == new.position))
        if of_type != engine.engine_type_id:
            raise FieldRefused(
                "position", f"{engine.name} has no such position.", "Choose one of its own, or none."
            )


def withdraw_concession(session: Session, concession: int, because: str, by: By) -> int:
    """Say that a concession holds no more from the day of the act on; returns the entry's number."""
    draft = begin_draft(session, EntryKind.CONCESSION, by)
    row = session.execute(
        select(Concession.reference, Concession.from_on, Concession.withdrawn_on).where(
            Concession.id == concession
        )
    ).one_or_none()
    if row is None:
        raise Refused("There is no such concession.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"Concession {row.reference} was withdrawn on {row.withdrawn_on.isoformat()}.",
            "There is nothing to withdraw.",
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why it is withdrawn.", "Type it.")
    if draft.happened_on < row.from_on:
        raise FieldRefused(
            "happened_on",
            f"Concession {row.reference} began on {row.from_on.isoformat()}.",
            "Give a date on or after that day, or reverse its entry.",
        )
    draft.remark(because)
    draft.set("concession", concession, withdrawn_on=draft.happened_on)
    return post(session, draft).number
