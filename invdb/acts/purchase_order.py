"""Order parts of a firm, freely or by its quote, and close a line of which no more will come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import next_number
from invdb.acts.trading import (
    TradedPart,
    firm_name,
    refuse_absurd_quantity,
    refuse_day_before,
    traded_part,
)
from invdb.records.buying import Delivery, OrderLine, PurchaseOrder, Quote, QuotePrice
from invdb.records.draft import Draft
from invdb.records.people import Owner
from invdb.records.posting import post
from invdb.records.stock import Piece, Place
from invdb.rules.money import Money, money_words, price_at, price_words, read_currency, refuse_absurd_price
from invdb.rules.numbering import TAG_LETTERS, NumberKind
from invdb.rules.quantities import quantity_words
from invdb.terms import Asked, EntryKind, FieldRefused, OrderKind, PlaceKind, Refused

LINES_MAX = 200
# More than so many times the largest quantity that a quote speaks of is asked about.
MANY_TIMES = 20


@dataclass(frozen=True)
class NewOrderLine:
    """One part ordered; ``quantity`` in its smallest unit, ``price`` in minor units for one, metre or kg.

    With a ``quote`` and no price, the quote's price at that quantity. ``given_piece`` is the piece of ours
    that an exchange gives for it.
    """

    part: int
    quantity: int
    price: int | None = None
    quote: int | None = None
    wanted: str = ""
    given_piece: int | None = None


@dataclass(frozen=True)
class NewOrder:
    """What is ordered of whom. Without ``due_on``, the day by which the slowest quote would have it here.

    ``reference`` is the firm's own, if it has given one. ``sure`` says that what was asked about is meant.
    """

    firm: int
    currency: str
    lines: tuple[NewOrderLine, ...]
    kind: OrderKind = OrderKind.BUY
    due_on: date | None = None
    reference: str = ""
    note: str = ""
    sure: bool = False


@dataclass(frozen=True)
class OrderMade:
    """An order that stands: its id and its number."""

    order: int
    number: str


def place_order(session: Session, order: NewOrder, by: By) -> OrderMade:
    """Order parts of a firm under one number.

    Refused for a quote of another firm, part, kind or currency, or one that was withdrawn. Asked about a
    quantity below the quote's minimum, a price that is not the quote's, and a quote that no longer holds.
    An exchange gives one piece of ours for each piece; FieldRefused where it does not, or gives it twice.
    """
    draft = begin_draft(session, EntryKind.ORDERED, by)
    firm_name(session, order.firm)
    currency = read_currency(order.currency)
    if not order.lines:
        raise FieldRefused("lines", "No part is named that would be ordered.", "Choose one or several.")
    if len(order.lines) > LINES_MAX:
        raise FieldRefused(
            "lines",
            f"{len(order.lines)} parts are more than one order takes.",
            f"Order at most {LINES_MAX} at a time.",
        )
    refuse_day_before("due_on", order.due_on, draft.happened_on, "it is ordered")
    rows: list[dict[str, object]] = []
    leads: list[int] = []
    for line in order.lines:
        part = traded_part(session, line.part)
        refuse_absurd_quantity(line.quantity, part.measure)
        price = line.price
        if line.quote is not None:
            price, lead = _quoted(session, draft, order, currency, line, part)
            leads += [lead] if lead is not None else []
        if price is not None:
            refuse_absurd_price(price, currency)
        _check_given(session, order, line, part)
        rows.append(
            {
                "part_id": line.part,
                "quantity": line.quantity,
                "price": price,
                "quote_id": line.quote,
                "given_piece_id": line.given_piece,
                "wanted": line.wanted,
            }
        )
    due_on = order.due_on
    if due_on is None and leads:
        due_on = draft.happened_on + timedelta(days=max(leads))
    number = next_number(session, draft, "purchase_order", "number", TAG_LETTERS[NumberKind.ORDER])
    made = draft.new(
        session,
        "purchase_order",
        number=number,
        firm_id=order.firm,
        kind=order.kind,
        ordered_on=draft.happened_on,
        ordered_by=draft.who,
        due_on=due_on,
        currency=currency,
        reference=order.reference,
        note=order.note,
    )
    for sequence, row in enumerate(rows, start=1):
        draft.new(session, "order_line", purchase_order_id=made, sequence=sequence, **row)
    post(session, draft)
    return OrderMade(made, number)


def _quoted(
    session: Session, draft: Draft, order: NewOrder, currency: str, line: NewOrderLine, part: TradedPart
) -> tuple[int, int | None]:
    """The price of one by the line's quote, or by the line where that is meant; and the quote's lead days."""
    quote = session.get(Quote, line.quote, populate_existing=True)
    if quote is None:
        raise FieldRefused("quote", "There is no such quote.", "Look again.")
    told = f"The quote of {quote.quoted_on.isoformat()}{f' ({quote.reference})' if quote.reference else ''}"
    for is_so, ours, theirs in (
        (quote.firm_id == order.firm, "this firm", firm_name(session, quote.firm_id)),
        (quote.part_id == line.part, part.words, traded_part(session, quote.part_id).words),
        (quote.currency == currency, currency, quote.currency),
        (quote.kind is order.kind, str(order.kind), str(quote.kind)),
    ):
        if not is_so:
            raise FieldRefused(
                "quote", f"{told} is for {theirs}, not for {ours}.", "Choose the quote that was meant."
            )
    refuse_day_before("happened_on", draft.happened_on, quote.quoted_on, "it was quoted")
    if quote.withdrawn_on is not None and quote.withdrawn_on <= draft.happened_on:
        raise FieldRefused(
            "quote", f"{told} was withdrawn on {quote.withdrawn_on.isoformat()}.", "Ask for another."
        )
    if quote.valid_until is not None and quote.valid_until < draft.happened_on and not order.sure:
        raise Asked(
            "quote",
            f"{told} held until {quote.valid_until.isoformat()}.",
            "Ask for another, or say that the firm stands by it.",
        )
    if line.quantity < quote.minimum and not order.sure:
        raise Asked(
            "quantity",
            f"{quantity_words(line.quantity, part.measure)} is below the minimum of"
            f" {quantity_words(quote.minimum, part.measure)}.",
            "Order that many, or say that the firm sells fewer.",
        )
    stated = _prices_of(session, quote)
    most = MANY_TIMES * max(quote.minimum, stated[-1][0])
    if line.quantity > most and not order.sure:
        raise Asked(
            "quantity",
            f"{quantity_words(line.quantity, part.measure)} is more than {MANY_TIMES} times what"
            f" {told[0].lower()}{told[1:]} speaks of.",
            "Check the figure and its unit, or say that it is meant.",
        )
    at_it = price_at(stated, line.quantity)
    quoted = at_it if at_it is not None else stated[0][1]
    if line.price is not None and line.price != quoted and not order.sure:
        offered, agreed = (Money(each, currency) for each in (quoted, line.price))
        raise Asked(
            "price",
            f"{told} says {price_words(offered, part.measure)}, not {money_words(agreed)}.",
            "Correct it, or say that this was agreed.",
        )
    return (quoted if line.price is None else line.price), quote.lead_days


def _prices_of(session: Session, quote: Quote) -> list[tuple[int, int]]:
    rows = session.execute(
        select(QuotePrice.from_quantity, QuotePrice.price)
        .where(QuotePrice.quote_id == quote.id)
        .order_by(QuotePrice.from_quantity)
    )
    return [(row.from_quantity, row.price) for row in rows]


def _check_given(session: Session, order: NewOrder, line: NewOrderLine, part: TradedPart) -> None:
    """That an exchange names a piece of ours, not promised already, and that nothing else names one."""
    if order.kind is not OrderKind.EXCHANGE:
        if line.given_piece is not None:
            raise FieldRefused(
                "given_piece",
                "Only an exchange gives a piece of ours.",
                "Leave it out, or order an exchange.",
            )
        return
    if line.given_piece is None:
        raise FieldRefused(
            "given_piece", f"It isn't said which piece is given for {part.words}.", "Choose the piece."
        )
    if line.quantity != 1:
        raise FieldRefused(
            "quantity",
            "An exchange gives one piece of ours for one of theirs.",
            "Give a line to each piece.",
        )
    piece = session.execute(
        select(Piece.tag, Owner.is_workshop, Owner.name, Place.kind)
        .join(Owner, Owner.id == Piece.owner_id)
        .join(Place, Place.id == Piece.place_id)
        .where(Piece.id == line.given_piece)
    ).one_or_none()
    if piece is None:
        raise FieldRefused("given_piece", "There is no such piece.", "Look at its tag again.")
    if not piece.is_workshop:
        raise FieldRefused(
            "given_piece", f"{piece.tag} is not ours to give; it is {piece.name}'s.", "Choose one of ours."
        )
    if piece.kind in {PlaceKind.OUTSIDE, PlaceKind.SCRAP}:
        raise FieldRefused("given_piece", f"{piece.tag} is no longer here.", "Choose another piece.")
    promised = session.scalar(
        select(PurchaseOrder.number)
        .join(OrderLine, OrderLine.purchase_order_id == PurchaseOrder.id)
        .where(
            OrderLine.given_piece_id == line.given_piece,
            OrderLine.given_on.is_(None),
            OrderLine.closed_on.is_(None),
        )
    )
    named = [each.given_piece for each in order.lines].count(line.given_piece)
    if promised is not None or named > 1:
        to = f"on order {promised}" if promised is not None else "twice"
        raise FieldRefused("given_piece", f"{piece.tag} is promised {to} already.", "Choose another piece.")


def close_order_line(session: Session, order_line: int, because: str, by: By) -> int:
    """Close a line of which no more will come, and say why; returns the entry's number.

    Refused when all of it has come, when it is closed already, and on a day before its last delivery.
    """
    draft = begin_draft(session, EntryKind.ORDER_CLOSED, by)
    row = session.execute(
        select(
            OrderLine.quantity,
            OrderLine.received,
            OrderLine.closed_on,
            PurchaseOrder.number,
            PurchaseOrder.ordered_on,
        )
        .join(PurchaseOrder, PurchaseOrder.id == OrderLine.purchase_order_id)
        .where(OrderLine.id == order_line)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such line of an order.", "Look at the order again.")
    if row.closed_on is not None:
        raise Refused(
            f"That line of order {row.number} was closed on {row.closed_on.isoformat()}.",
            "There is nothing to close.",
        )
    if row.received >= row.quantity:
        raise Refused(f"All of that line of order {row.number} has come.", "There is nothing to close.")
    if not because.strip():
        raise FieldRefused("because", "It isn't said why no more will come.", "Type it.")
    refuse_day_before("happened_on", draft.happened_on, row.ordered_on, f"order {row.number} was placed")
    last = session.scalar(select(func.max(Delivery.delivered_on)).where(Delivery.order_line_id == order_line))
    if last is not None:
        refuse_day_before("happened_on", draft.happened_on, last, "some of it came")
    draft.set("order_line", order_line, closed_on=draft.happened_on, closed_because=because)
    return post(session, draft).number
