"""What a firm offers a part for: prices by quantity, the fewest that it sells, in how long, and till when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.papers import NewPaper, draft_paper, refuse_unknown_document
from invdb.acts.trading import (
    TradedPart,
    firm_name,
    refuse_absurd_quantity,
    refuse_day_before,
    traded_part,
)
from invdb.records.buying import Enquiry, EnquiryFirm, EnquiryLine, Quote
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.rules.lead_time import DAYS_MAX
from invdb.rules.money import read_currency, refuse_absurd_price
from invdb.rules.quantities import quantity_words
from invdb.terms import Asked, EntryKind, FieldRefused, OrderKind, Refused

PRICES_MAX = 20


@dataclass(frozen=True)
class NewQuote:
    """A firm's offer for one part, to a line of an enquiry or free; it was made on the day of the entry.

    ``prices`` are pairs of a quantity from which a price holds (smallest unit) and the price in minor units
    for one piece, metre or kilogram. ``minimum`` is the fewest that the firm sells at all. ``lead_days`` None
    where it doesn't say. ``paper`` takes its document in; ``document`` names one that is here. ``sure``
    says that what was asked about is meant.
    """

    firm: int
    currency: str
    prices: tuple[tuple[int, int], ...]
    part: int | None = None
    enquiry_line: int | None = None
    kind: OrderKind = OrderKind.BUY
    minimum: int = 1
    lead_days: int | None = None
    valid_until: date | None = None
    reference: str = ""
    document: int | None = None
    paper: NewPaper | None = None
    note: str = ""
    sure: bool = False


def add_quote(session: Session, quote: NewQuote, by: By) -> int:
    """Record a firm's quote; returns its id.

    FieldRefused for a part other than the enquiry asks for, a firm that was not asked or declined, prices out
    of order or that don't reach down to the minimum, an unknown currency, and days that can't be. Asked about
    a price of nothing, and a quote of the same firm, part and day that stands already.
    """
    draft = begin_draft(session, EntryKind.QUOTED, by)
    name = firm_name(session, quote.firm)
    part = _part_of(session, draft, quote, name)
    currency = read_currency(quote.currency)
    refuse_absurd_quantity(quote.minimum, part.measure, "minimum")
    _check_prices(quote, part, currency)
    if quote.lead_days is not None and not 0 <= quote.lead_days <= DAYS_MAX:
        raise FieldRefused(
            "lead_days", f"{quote.lead_days} days are not between 0 and {DAYS_MAX:,}.", "Check the figure."
        )
    refuse_day_before("valid_until", quote.valid_until, draft.happened_on, "it was quoted")
    if not quote.sure:
        _ask(session, draft, quote, part, name)
    refuse_unknown_document(session, quote.document)
    document = quote.document if quote.paper is None else draft_paper(session, draft, quote.paper)
    made = draft.new(
        session,
        "quote",
        firm_id=quote.firm,
        part_id=part.part,
        enquiry_line_id=quote.enquiry_line,
        kind=quote.kind,
        quoted_on=draft.happened_on,
        valid_until=quote.valid_until,
        reference=quote.reference,
        currency=currency,
        minimum=quote.minimum,
        lead_days=quote.lead_days,
        document_id=document,
        note=quote.note,
    )
    for from_quantity, price in quote.prices:
        draft.new(session, "quote_price", quote_id=made, from_quantity=from_quantity, price=price)
    post(session, draft)
    return made


def _ask(session: Session, draft: Draft, quote: NewQuote, part: TradedPart, firm: str) -> None:
    if any(price == 0 for _, price in quote.prices):
        raise Asked("prices", "A price is nothing at all.", "Correct it, or say that it is free.")
    standing = session.scalar(
        select(Quote.id).where(
            Quote.firm_id == quote.firm,
            Quote.part_id == part.part,
            Quote.kind == quote.kind,
            Quote.currency == read_currency(quote.currency),
            Quote.quoted_on == draft.happened_on,
            Quote.withdrawn_on.is_(None),
        )
    )
    if standing is not None:
        raise Asked(
            "firm",
            f"A quote of {firm} for {part.words} of {draft.happened_on.isoformat()} stands already.",
            "Withdraw that one, or say that this is another.",
        )


def _part_of(session: Session, draft: Draft, quote: NewQuote, firm: str) -> TradedPart:
    """The part quoted for, and that its enquiry asked this firm for it."""
    if quote.enquiry_line is None:
        if quote.part is None:
            raise FieldRefused("part", "No part is named.", "Choose the part that is quoted for.")
        return traded_part(session, quote.part)
    row = session.execute(
        select(EnquiryLine.part_id, Enquiry.number, Enquiry.asked_on, EnquiryFirm.id, EnquiryFirm.declined_on)
        .join(Enquiry, Enquiry.id == EnquiryLine.enquiry_id)
        .outerjoin(EnquiryFirm, (EnquiryFirm.enquiry_id == Enquiry.id) & (EnquiryFirm.firm_id == quote.firm))
        .where(EnquiryLine.id == quote.enquiry_line)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such line of an enquiry.", "Look at the enquiry again.")
    part = traded_part(session, row.part_id)
    if quote.part not in {None, row.part_id}:
        raise FieldRefused(
            "part",
            f"Enquiry {row.number} asks for {part.words} there.",
            "Record an offer of another part as a quote of its own.",
        )
    if row.id is None:
        raise FieldRefused(
            "firm",
            f"{firm} was not asked in enquiry {row.number}.",
            "Record it as a quote of its own.",
        )
    if row.declined_on is not None:
        raise FieldRefused(
            "firm",
            f"{firm} declined on {row.declined_on.isoformat()}.",
            "Reverse the entry that says so, if it quotes after all.",
        )
    refuse_day_before("happened_on", draft.happened_on, row.asked_on, f"enquiry {row.number} was made")
    return part


def _check_prices(quote: NewQuote, part: TradedPart, currency: str) -> None:
    if not quote.prices:
        raise FieldRefused("prices", "No price is given.", "Give the price from the least quantity on.")
    if len(quote.prices) > PRICES_MAX:
        raise FieldRefused(
            "prices",
            f"{len(quote.prices)} prices are more than one quote takes.",
            f"Give at most {PRICES_MAX}.",
        )
    starts = [start for start, _ in quote.prices]
    for start, price in quote.prices:
        refuse_absurd_quantity(start, part.measure, "prices")
        refuse_absurd_price(price, currency, "prices")
    if any(later <= earlier for earlier, later in zip(starts, starts[1:], strict=False)):
        raise FieldRefused(
            "prices", "The quantities of the prices don't rise.", "Give each quantity once, the least first."
        )
    if starts[0] > quote.minimum:
        least, first = (quantity_words(each, part.measure) for each in (quote.minimum, starts[0]))
        raise FieldRefused(
            "prices",
            f"The firm sells {least}, and the first price holds from {first} on.",
            "Give the price of the least quantity too, or a larger minimum.",
        )


def withdraw_quote(session: Session, quote: int, because: str, by: By) -> int:
    """Say that a quote stands no longer from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.QUOTED, by)
    row = session.get(Quote, quote, populate_existing=True)
    if row is None:
        raise Refused("There is no such quote.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That quote was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why it is withdrawn.", "Type it.")
    refuse_day_before("happened_on", draft.happened_on, row.quoted_on, "it was quoted")
    draft.remark(because)
    draft.set("quote", quote, withdrawn_on=draft.happened_on)
    return post(session, draft).number
