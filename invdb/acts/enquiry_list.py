"""The enquiries that stand with who has answered, and the quotes with their prices."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.trading import days_over
from invdb.records.buying import Enquiry, EnquiryFirm, EnquiryLine, Quote, QuotePrice
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.people import Firm, Person
from invdb.rules.money import Money, price_at
from invdb.terms import Measure, OrderKind


@dataclass(frozen=True)
class EnquiryLineFacts:
    """One part asked for; the quantity in its smallest unit."""

    enquiry_line: int
    sequence: int
    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    wanted: str


@dataclass(frozen=True)
class EnquiryFirmFacts:
    """A firm that was asked, the day it declined, and how many quotes of it stand for this enquiry."""

    firm: int
    firm_name: str
    town: str
    declined_on: date | None
    quotes: int

    @property
    def waits(self) -> bool:
        """Whether it has neither quoted nor declined."""
        return self.declined_on is None and not self.quotes


@dataclass(frozen=True)
class EnquiryFacts:
    """An enquiry with its parts and firms; ``days_over`` how long an answer is overdue, 0 while none is."""

    enquiry: int
    number: str
    asked_on: date
    asked_by: str
    answer_by: date | None
    wording: str
    closed_on: date | None
    lines: tuple[EnquiryLineFacts, ...]
    firms: tuple[EnquiryFirmFacts, ...]
    days_over: int

    @property
    def open(self) -> bool:
        """Whether it is not closed."""
        return self.closed_on is None


@dataclass(frozen=True)
class QuoteFacts:
    """A firm's quote; ``prices`` as (from quantity, minor units for one, metre or kilogram), least first.

    ``enquiry`` is the number of the enquiry that it answers, '' for none. ``standing``: neither withdrawn nor
    past its last day today.
    """

    quote: int
    firm: int
    firm_name: str
    part: int
    part_number: str
    part_name: str
    measure: Measure
    kind: OrderKind
    quoted_on: date
    valid_until: date | None
    reference: str
    currency: str
    minimum: int
    lead_days: int | None
    prices: tuple[tuple[int, int], ...]
    enquiry: str
    enquiry_line: int | None
    document: int | None
    note: str
    withdrawn_on: date | None
    standing: bool

    def price(self, quantity: int) -> Money:
        """The price of one at a quantity; below the first step, that of the first."""
        found = price_at(self.prices, quantity)
        return Money(self.prices[0][1] if found is None else found, self.currency)


def enquiries(
    session: Session, *, only_open: bool = True, enquiry: int | None = None
) -> tuple[EnquiryFacts, ...]:
    """The enquiries, the latest first: open ones unless all are asked for, or the one named."""
    query = (
        select(Enquiry, Person.name)
        .join(Person, Person.id == Enquiry.asked_by)
        .order_by(Enquiry.asked_on.desc(), Enquiry.id.desc())
        .execution_options(populate_existing=True)
    )
    if enquiry is not None:
        query = query.where(Enquiry.id == enquiry)
    elif only_open:
        query = query.where(Enquiry.closed_on.is_(None))
    rows = session.execute(query).all()
    ids = [each.id for each, _ in rows]
    lines, firms = _lines(session, ids), _firms(session, ids)
    now = today(session)
    found = []
    for each, asked_by in rows:
        asked = tuple(firms[each.id])
        waits = each.closed_on is None and any(firm.waits for firm in asked)
        found.append(
            EnquiryFacts(
                each.id,
                each.number,
                each.asked_on,
                asked_by,
                each.answer_by,
                each.wording,
                each.closed_on,
                tuple(lines[each.id]),
                asked,
                days_over(each.answer_by, now) if waits else 0,
            )
        )
    return tuple(found)


def _lines(session: Session, ids: Collection[int]) -> dict[int, list[EnquiryLineFacts]]:
    found: dict[int, list[EnquiryLineFacts]] = defaultdict(list)
    for some in chunks(ids):
        rows = session.execute(
            select(EnquiryLine, Part.house_number, Part.name, Part.measure)
            .join(Part, Part.id == EnquiryLine.part_id)
            .where(EnquiryLine.enquiry_id.in_(some))
            .order_by(EnquiryLine.enquiry_id, EnquiryLine.sequence)
        )
        for line, house_number, name, measure in rows:
            found[line.enquiry_id].append(
                EnquiryLineFacts(
                    line.id,
                    line.sequence,
                    line.part_id,
                    house_number,
                    name,
                    measure,
                    line.quantity,
                    line.wanted,
                )
            )
    return found


def _firms(session: Session, ids: Collection[int]) -> dict[int, list[EnquiryFirmFacts]]:
    quotes: dict[tuple[int, int], int] = defaultdict(int)
    found: dict[int, list[EnquiryFirmFacts]] = defaultdict(list)
    for some in chunks(ids):
        answered = session.execute(
            select(EnquiryLine.enquiry_id, Quote.firm_id)
            .join(EnquiryLine, EnquiryLine.id == Quote.enquiry_line_id)
            .where(EnquiryLine.enquiry_id.in_(some), Quote.withdrawn_on.is_(None))
        )
        for enquiry, firm in answered:
            quotes[enquiry, firm] += 1
        rows = session.execute(
            select(EnquiryFirm.enquiry_id, EnquiryFirm.firm_id, Firm.name, Firm.town, EnquiryFirm.declined_on)
            .join(Firm, Firm.id == EnquiryFirm.firm_id)
            .where(EnquiryFirm.enquiry_id.in_(some))
            .order_by(EnquiryFirm.id)
        )
        for enquiry, firm, name, town, declined_on in rows:
            found[enquiry].append(EnquiryFirmFacts(firm, name, town, declined_on, quotes[enquiry, firm]))
    return found


def quotes(
    session: Session,
    *,
    only_standing: bool = True,
    parts: Collection[int] | None = None,
    firm: int | None = None,
    enquiry: int | None = None,
) -> tuple[QuoteFacts, ...]:
    """The quotes by part, the latest first: those that stand today unless all are asked for."""
    query = (
        select(Quote, Firm.name, Part.house_number, Part.name, Part.measure, Enquiry.number)
        .join(Firm, Firm.id == Quote.firm_id)
        .join(Part, Part.id == Quote.part_id)
        .outerjoin(EnquiryLine, EnquiryLine.id == Quote.enquiry_line_id)
        .outerjoin(Enquiry, Enquiry.id == EnquiryLine.enquiry_id)
        .order_by(Part.house_number, Quote.quoted_on.desc(), Quote.id.desc())
        .execution_options(populate_existing=True)
    )
    now = today(session)
    if only_standing:
        query = query.where(
            Quote.withdrawn_on.is_(None), (Quote.valid_until.is_(None)) | (Quote.valid_until >= now)
        )
    if parts is not None:
        query = query.where(Quote.part_id.in_(parts))
    if firm is not None:
        query = query.where(Quote.firm_id == firm)
    if enquiry is not None:
        query = query.where(EnquiryLine.enquiry_id == enquiry)
    rows = session.execute(query).all()
    prices: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for some in chunks([row[0].id for row in rows]):
        steps = session.execute(
            select(QuotePrice.quote_id, QuotePrice.from_quantity, QuotePrice.price)
            .where(QuotePrice.quote_id.in_(some))
            .order_by(QuotePrice.quote_id, QuotePrice.from_quantity)
        )
        for quote, from_quantity, price in steps:
            prices[quote].append((from_quantity, price))
    return tuple(
        QuoteFacts(
            each.id,
            each.firm_id,
            firm_name,
            each.part_id,
            house_number,
            part_name,
            measure,
            each.kind,
            each.quoted_on,
            each.valid_until,
            each.reference,
            each.currency,
            each.minimum,
            each.lead_days,
            tuple(prices[each.id]),
            number or "",
            each.enquiry_line_id,
            each.document_id,
            each.note,
            each.withdrawn_on,
            each.withdrawn_on is None and (each.valid_until is None or each.valid_until >= now),
        )
        for each, firm_name, house_number, part_name, measure, number in rows
    )


def enquiry_by_number(session: Session, number: str) -> int | None:
    """The enquiry of this number, by its id; None where there is none."""
    return session.scalar(select(Enquiry.id).where(Enquiry.number == number.strip().upper()))
