"""The acts of the tables about buying: asked for, quoted, ordered, given in exchange, closed short."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.enquiry import NewEnquiry, NewEnquiryLine, add_enquiry, close_enquiry, decline_enquiry
from invdb.acts.exchange import GivenInExchange, give_in_exchange
from invdb.acts.numbers import Thing
from invdb.acts.purchase_order import NewOrder, NewOrderLine, close_order_line, place_order
from invdb.acts.quote import NewQuote, add_quote
from invdb.intake.booked import Booking, Turn, booked, booked_on_day, singly
from invdb.intake.purchases import (
    AskedFirmRow,
    BoughtRow,
    EnquiryRow,
    OrderLineRow,
    PurchaseRow,
    Purchases,
    QuoteRow,
)
from invdb.intake.set_up import Ids
from invdb.records.buying import EnquiryLine, OrderLine
from invdb.terms import Refused


class Purchasing:
    """Does these acts in one session; ``things`` is what goods in made."""

    def __init__(self, session: Session, purchases: Purchases, ids: Ids, things: dict[str, Thing]) -> None:
        self._session = session
        self._purchases = purchases
        self._ids = ids
        self._things = things
        self._enquiries: dict[str, int] = {}
        self._quotes: dict[tuple[str, str], int] = {}
        self._orders: dict[str, int] = {}
        self._bought = {(row.goods_in, row.house_number): row for row in purchases.bought}

    def bookings(self) -> list[Booking]:
        """Every act of these tables but the deliveries, which come by goods in."""
        purchases = self._purchases
        declined = [
            firm for enquiry in purchases.enquiries for firm in enquiry.firms if firm.declined_on is not None
        ]
        closed = [(row.closed_on, row) for row in purchases.enquiries if row.closed_on is not None]
        lines = [line for order in purchases.orders for line in order.lines]
        given = [(line.given_on, line) for line in lines if line.given_on is not None]
        short = [(line.closed_on, line) for line in lines if line.closed_on is not None]
        return [
            *booked("enquiries.csv", Turn.ENQUIRED, singly(purchases.enquiries), self._enquire),
            *booked("enquiry_firms.csv", Turn.DECLINED, singly(declined), self._decline),
            *booked("quotes.csv", Turn.QUOTED, singly(purchases.quotes), self._quote),
            *booked("purchase_orders.csv", Turn.ORDERED, singly(purchases.orders), self._order),
            *booked_on_day("enquiries.csv", Turn.ENQUIRY_CLOSED, closed, self._close_enquiry),
            *booked_on_day("order_lines.csv", Turn.GIVEN, given, self._give),
            *booked_on_day("order_lines.csv", Turn.ORDER_CLOSED, short, self._close_line),
        ]

    def bought(self, goods_in: str, house_number: str) -> BoughtRow | None:
        """How the goods of a part on a goods-in note were bought, where the tables say."""
        return self._bought.get((goods_in, house_number))

    def line_of(self, bought: BoughtRow | None) -> int | None:
        """The id of the order's line that goods come against."""
        if bought is None or bought.order is None:
            return None
        return self._line(bought.order, bought.house_number)

    def _line(self, order: str, house_number: str) -> int:
        found: int = self._session.scalars(
            select(OrderLine.id).where(
                OrderLine.purchase_order_id == self._orders[order],
                OrderLine.part_id == self._ids.parts[house_number],
            )
        ).one()
        return found

    def _enquire(self, rows: tuple[EnquiryRow, ...]) -> None:
        (row,) = rows
        made = add_enquiry(
            self._session,
            NewEnquiry(
                tuple(self._ids.firms[each.firm] for each in row.firms),
                tuple(
                    NewEnquiryLine(self._ids.parts[each.house_number], each.quantity, each.wanted)
                    for each in row.lines
                ),
                row.answer_by,
                row.wording,
            ),
            self._by(row.who),
        )
        _refuse_other_number("enquiry", made.number, row.number)
        self._enquiries[row.number] = made.enquiry

    def _decline(self, rows: tuple[AskedFirmRow, ...]) -> None:
        (row,) = rows
        firm = self._ids.firms[row.firm]
        decline_enquiry(self._session, self._enquiries[row.enquiry], firm, self._by(row.who))

    def _close_enquiry(self, row: EnquiryRow) -> None:
        close_enquiry(self._session, self._enquiries[row.number], self._by(row.who))

    def _quote(self, rows: tuple[QuoteRow, ...]) -> None:
        (row,) = rows
        part = self._ids.parts[row.house_number]
        line = None
        if row.enquiry is not None:
            line = self._session.scalars(
                select(EnquiryLine.id).where(
                    EnquiryLine.enquiry_id == self._enquiries[row.enquiry], EnquiryLine.part_id == part
                )
            ).one()
        quote = NewQuote(
            firm=self._ids.firms[row.firm],
            currency=row.currency,
            prices=row.prices,
            part=part,
            enquiry_line=line,
            kind=row.kind,
            minimum=row.minimum,
            lead_days=row.lead_days,
            valid_until=row.valid_until,
            reference=row.reference,
            note=row.note,
        )
        self._quotes[row.reference, row.house_number] = add_quote(self._session, quote, self._by(row.who))

    def _order(self, rows: tuple[PurchaseRow, ...]) -> None:
        (row,) = rows
        order = NewOrder(
            self._ids.firms[row.firm],
            row.currency,
            tuple(
                NewOrderLine(
                    self._ids.parts[line.house_number],
                    line.quantity,
                    line.price,
                    None if line.quote is None else self._quotes[line.quote, line.house_number],
                    line.wanted,
                    None if line.given is None else self._things[line.given].piece,
                )
                for line in row.lines
            ),
            row.kind,
            row.due_on,
            row.reference,
            row.note,
        )
        made = place_order(self._session, order, self._by(row.who))
        _refuse_other_number("order", made.number, row.number)
        self._orders[row.number] = made.order

    def _give(self, row: OrderLineRow) -> None:
        given = GivenInExchange(self._line(row.number, row.house_number), hazards_seen=True)
        give_in_exchange(self._session, given, self._by(row.who))

    def _close_line(self, row: OrderLineRow) -> None:
        line = self._line(row.number, row.house_number)
        close_order_line(self._session, line, row.closed_because, self._by(row.who))

    def _by(self, name: str) -> By:
        return By(self._ids.people[name])


def _refuse_other_number(what: str, made: str, written: str) -> None:
    if made != written:
        raise Refused(f"the {what}'s number is {made}, not {written}.", "Put that in its place.")
