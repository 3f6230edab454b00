"""Ask several firms what some parts would cost and when they would come; a firm declines; all is answered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import next_number
from invdb.acts.trading import firm_name, refuse_absurd_quantity, refuse_day_before, traded_part
from invdb.records.buying import Enquiry, EnquiryFirm, EnquiryLine, Quote
from invdb.records.posting import post
from invdb.rules.numbering import TAG_LETTERS, NumberKind
from invdb.terms import EntryKind, FieldRefused, Refused

FIRMS_MAX = 50
LINES_MAX = 200


@dataclass(frozen=True)
class NewEnquiryLine:
    """One part asked for, how many in its smallest unit, and what the firms must know of it besides."""

    part: int
    quantity: int
    wanted: str = ""


@dataclass(frozen=True)
class NewEnquiry:
    """Whom is asked for what, by when they are to answer, and what the letter says besides."""

    firms: tuple[int, ...]
    lines: tuple[NewEnquiryLine, ...]
    answer_by: date | None = None
    wording: str = ""


@dataclass(frozen=True)
class EnquiryMade:
    """An enquiry that stands: its id and its number."""

    enquiry: int
    number: str


def add_enquiry(session: Session, enquiry: NewEnquiry, by: By) -> EnquiryMade:
    """Ask firms for parts under one number.

    FieldRefused without a firm or a part, for one named twice, an absurd quantity, or a day to answer by
    that is before the enquiry.
    """
    draft = begin_draft(session, EntryKind.ENQUIRY, by)
    if not enquiry.firms:
        raise FieldRefused("firms", "No firm is named that would be asked.", "Choose one or several.")
    if len(enquiry.firms) > FIRMS_MAX or len(enquiry.lines) > LINES_MAX:
        raise FieldRefused(
            "lines",
            f"{len(enquiry.firms)} firms and {len(enquiry.lines)} parts are more than one enquiry takes.",
            f"Ask at most {FIRMS_MAX} firms for at most {LINES_MAX} parts at a time.",
        )
    names = [firm_name(session, firm) for firm in enquiry.firms]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise FieldRefused("firms", f"{twice} is named twice.", "Name it once.")
    if not enquiry.lines:
        raise FieldRefused("lines", "No part is named that would be asked for.", "Choose one or several.")
    refuse_day_before("answer_by", enquiry.answer_by, draft.happened_on, "they are asked")
    number = next_number(session, draft, "enquiry", "number", TAG_LETTERS[NumberKind.ENQUIRY])
    made = draft.new(
        session,
        "enquiry",
        number=number,
        asked_on=draft.happened_on,
        asked_by=draft.who,
        answer_by=enquiry.answer_by,
        wording=enquiry.wording,
    )
    named: set[int] = set()
    for sequence, line in enumerate(enquiry.lines, start=1):
        part = traded_part(session, line.part)
        if line.part in named:
            raise FieldRefused(
                "lines", f"{part.words} is named twice.", "Name it once with the whole quantity."
            )
        named.add(line.part)
        refuse_absurd_quantity(line.quantity, part.measure)
        draft.new(
            session,
            "enquiry_line",
            enquiry_id=made,
            sequence=sequence,
            part_id=line.part,
            quantity=line.quantity,
            wanted=line.wanted,
        )
    for firm in enquiry.firms:
        draft.new(session, "enquiry_firm", enquiry_id=made, firm_id=firm)
    post(session, draft)
    return EnquiryMade(made, number)


def decline_enquiry(session: Session, enquiry: int, firm: int, by: By) -> int:
    """Record that a firm asked has said no; returns the entry's number.

    Refused for a firm that was not asked, has said so already, or has a quote that stands.
    """
    draft = begin_draft(session, EntryKind.ENQUIRY, by)
    row = _enquiry(session, enquiry)
    name = firm_name(session, firm)
    asked = session.execute(
        select(EnquiryFirm.id, EnquiryFirm.declined_on).where(
            EnquiryFirm.enquiry_id == enquiry, EnquiryFirm.firm_id == firm
        )
    ).one_or_none()
    if asked is None:
        raise FieldRefused("firm", f"{name} was not asked in enquiry {row.number}.", "Choose one that was.")
    if asked.declined_on is not None:
        raise FieldRefused(
            "firm", f"{name} declined on {asked.declined_on.isoformat()} already.", "There is nothing to do."
        )
    quoted = session.scalar(
        select(Quote.id)
        .join(EnquiryLine, EnquiryLine.id == Quote.enquiry_line_id)
        .where(EnquiryLine.enquiry_id == enquiry, Quote.firm_id == firm, Quote.withdrawn_on.is_(None))
        .limit(1)
    )
    if quoted is not None:
        raise FieldRefused(
            "firm",
            f"{name} has quoted in enquiry {row.number}.",
            "Withdraw its quote if it no longer stands by it.",
        )
    refuse_day_before("happened_on", draft.happened_on, row.asked_on, f"enquiry {row.number} was made")
    draft.set("enquiry_firm", asked.id, declined_on=draft.happened_on)
    return post(session, draft).number


def close_enquiry(session: Session, enquiry: int, by: By) -> int:
    """Close an enquiry, answered or not; returns the entry's number. Refused when it is closed already."""
    draft = begin_draft(session, EntryKind.ENQUIRY, by)
    row = _enquiry(session, enquiry)
    if row.closed_on is not None:
        raise Refused(
            f"Enquiry {row.number} was closed on {row.closed_on.isoformat()}.", "There is nothing to close."
        )
    refuse_day_before("happened_on", draft.happened_on, row.asked_on, f"enquiry {row.number} was made")
    draft.set("enquiry", enquiry, closed_on=draft.happened_on)
    return post(session, draft).number


def _enquiry(session: Session, enquiry: int) -> Enquiry:
    row = session.get(Enquiry, enquiry, populate_existing=True)
    if row is None:
        raise Refused("There is no such enquiry.", "Look at its number again.")
    return row
