"""What was asked for, quoted and ordered, and what of the goods in came against which order, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable
from typing import TypeVar

from invdb.intake.catalogue import PartRow
from invdb.intake.stock import GoodsInRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.money import Money, read_currency, read_money
from invdb.rules.numbering import NumberKind
from invdb.terms import OrderKind, Refused, Tracking

T = TypeVar("T")


@dataclass(frozen=True)
class AskedRow:
    """One part of an enquiry; ``quantity`` in its smallest unit."""

    house_number: str
    quantity: int
    wanted: str


@dataclass(frozen=True)
class AskedFirmRow:
    """A firm that was asked, and the day on which it declined if it did."""

    line: int
    enquiry: str
    firm: str
    declined_on: date | None
    who: str

    @property
    def booked_on(self) -> date:
        """The day on which it declined."""
        assert self.declined_on is not None
        return self.declined_on


@dataclass(frozen=True)
class EnquiryRow:
    """An enquiry under the number that the store gives it; ``closed_on`` None while it is open."""

    line: int
    number: str
    booked_on: date
    who: str
    answer_by: date | None
    wording: str
    closed_on: date | None
    lines: tuple[AskedRow, ...]
    firms: tuple[AskedFirmRow, ...]


@dataclass(frozen=True)
class QuoteRow:
    """A firm's offer for one part, named by the firm's reference and the part.

    ``prices`` are pairs of a quantity and the price of one from there on, in minor units.
    """

    line: int
    reference: str
    firm: str
    house_number: str
    enquiry: str | None
    kind: OrderKind
    booked_on: date
    who: str
    currency: str
    prices: tuple[tuple[int, int], ...]
    minimum: int
    lead_days: int | None
    valid_until: date | None
    note: str


@dataclass(frozen=True)
class OrderLineRow:
    """One part of an order, given up or closed short where the days say so.

    ``quote`` is a firm's reference; ``given`` the tag of our piece that an exchange gives, which lay in
    ``from_place``.
    """

    line: int
    number: str
    house_number: str
    quantity: int
    price: int | None
    quote: str | None
    wanted: str
    given: str | None
    from_place: str | None
    given_on: date | None
    closed_on: date | None
    closed_because: str
    who: str


@dataclass(frozen=True)
class PurchaseRow:
    """An order under the number that the store gives it."""

    line: int
    number: str
    booked_on: date
    who: str
    firm: str
    kind: OrderKind
    due_on: date | None
    currency: str
    reference: str
    note: str
    lines: tuple[OrderLineRow, ...]


@dataclass(frozen=True)
class BoughtRow:
    """Of which order the goods of one part on a goods-in note were, or what one of them cost without one."""

    line: int
    goods_in: str
    house_number: str
    order: str | None
    cost: Money | None


@dataclass(frozen=True)
class Purchases:
    """All of these tables."""

    enquiries: tuple[EnquiryRow, ...] = ()
    quotes: tuple[QuoteRow, ...] = ()
    orders: tuple[PurchaseRow, ...] = ()
    bought: tuple[BoughtRow, ...] = ()

    @property
    def given(self) -> tuple[OrderLineRow, ...]:
        """The lines whose piece of ours went to the firm."""
        return tuple(line for order in self.orders for line in order.lines if line.given_on is not None)


@dataclass(frozen=True)
class PurchaseNames:
    """What these tables may name; ``came`` holds the goods-in note and the part of everything that came."""

    part_of_tag: Mapping[str, PartRow]
    parts: Mapping[str, PartRow]
    people: Collection[str]
    places: Collection[str]
    firms: Collection[str]
    notes: Mapping[str, GoodsInRow]
    came: Collection[tuple[str, str]]


def read_purchases(folder: Traversable, names: PurchaseNames) -> Purchases:
    """The tables; every enquiry and order has its lines, and what came of an order came from its firm."""
    enquiries = _enquiries(folder, names)
    quotes = _quotes(folder, {enquiry.number: enquiry for enquiry in enquiries}, names)
    orders = _orders(folder, {(quote.reference, quote.house_number) for quote in quotes}, names)
    bought = _bought(folder, {order.number: order for order in orders}, names)
    return Purchases(enquiries, quotes, orders, bought)


def _enquiries(folder: Traversable, names: PurchaseNames) -> tuple[EnquiryRow, ...]:
    columns = ("Enquiry", "Date", "Who", "Answer by", "Wording", "Closed on")
    rows = list(read_table(folder, "enquiries.csv", columns))
    unique([(row, row.needed("Enquiry")) for row in rows], "Enquiry", "enquiry")
    whose = {
        row.number("Enquiry", NumberKind.ENQUIRY): row.name_of("Who", names.people, "person") for row in rows
    }
    lines: dict[str, list[AskedRow]] = {number: [] for number in whose}
    for row in read_table(folder, "enquiry_lines.csv", ("Enquiry", "House number", "Quantity", "Wanted")):
        part = row.one_of("House number", names.parts, "part")
        own = row.one_of("Enquiry", lines, "enquiry")
        own.append(AskedRow(part.house_number, row.quantity("Quantity", part.measure), row.text("Wanted")))
    firms: dict[str, list[AskedFirmRow]] = {number: [] for number in whose}
    for row in read_table(folder, "enquiry_firms.csv", ("Enquiry", "Firm", "Declined on")):
        number = row.name_of("Enquiry", firms, "enquiry")
        firm = row.name_of("Firm", names.firms, "firm")
        asked = AskedFirmRow(row.line, number, firm, row.day_or_none("Declined on"), whose[number])
        firms[number].append(asked)
    read = []
    for row in rows:
        number = row.text("Enquiry")
        if not lines[number] or not firms[number]:
            raise row.refuse("Enquiry", "asks for nothing, or nobody", "Add its lines and its firms.")
        read.append(
            EnquiryRow(
                row.line,
                number,
                row.day("Date"),
                whose[number],
                row.day_or_none("Answer by"),
                row.text("Wording"),
                row.day_or_none("Closed on"),
                tuple(lines[number]),
                tuple(firms[number]),
            )
        )
    return tuple(read)


def _quotes(
    folder: Traversable, enquiries: Mapping[str, EnquiryRow], names: PurchaseNames
) -> tuple[QuoteRow, ...]:
    columns = ("Reference", "Firm", "House number", "Enquiry", "For", "Date", "Who", "Currency", "Prices",
               "Minimum", "Lead days", "Valid until", "Note")  # fmt: skip
    rows = list(read_table(folder, "quotes.csv", columns))
    keys = [(row, f"{row.needed('Reference')} {row.text('House number')}") for row in rows]
    unique(keys, "House number", "part of a quote")
    read = []
    for row in rows:
        part = row.one_of("House number", names.parts, "part")
        enquiry = row.name_or_none("Enquiry", enquiries, "enquiry")
        if enquiry is not None:
            asked = {line.house_number for line in enquiries[enquiry].lines}
            row.name_of("House number", asked, f"part of enquiry {enquiry}")
        currency = _currency(row)
        read.append(
            QuoteRow(
                row.line,
                row.text("Reference"),
                row.name_of("Firm", names.firms, "firm"),
                part.house_number,
                enquiry,
                row.word("For", OrderKind),
                row.day("Date"),
                row.name_of("Who", names.people, "person"),
                currency,
                _prices(row, part, currency),
                row.quantity("Minimum", part.measure),
                row.whole_or_none("Lead days"),
                row.day_or_none("Valid until"),
                row.text("Note"),
            )
        )
    return tuple(read)


def _orders(
    folder: Traversable, quotes: Collection[tuple[str, str]], names: PurchaseNames
) -> tuple[PurchaseRow, ...]:
    columns = ("Order", "Date", "Who", "Firm", "For", "Due", "Currency", "Reference", "Note")
    rows = list(read_table(folder, "purchase_orders.csv", columns))
    unique([(row, row.needed("Order")) for row in rows], "Order", "order")
    orders = {row.text("Order"): row for row in rows}
    lines = _lines(folder, orders, quotes, names)
    read = []
    for row in rows:
        order = PurchaseRow(
            row.line,
            row.number("Order", NumberKind.ORDER),
            row.day("Date"),
            row.name_of("Who", names.people, "person"),
            row.name_of("Firm", names.firms, "firm"),
            row.word("For", OrderKind),
            row.day_or_none("Due"),
            _currency(row),
            row.text("Reference"),
            row.text("Note"),
            tuple(lines[row.text("Order")]),
        )
        if not order.lines:
            raise row.refuse("Order", "orders nothing", "Add its lines to order_lines.csv.")
        read.append(order)
    return tuple(read)


def _lines(
    folder: Traversable,
    orders: Mapping[str, Row],
    quotes: Collection[tuple[str, str]],
    names: PurchaseNames,
) -> dict[str, list[OrderLineRow]]:
    """The lines by order; no order names a part twice."""
    columns = ("Order", "House number", "Quantity", "Price", "Quote", "Wanted", "Given", "From", "Given on",
               "Closed on", "Closed because")  # fmt: skip
    rows = list(read_table(folder, "order_lines.csv", columns))
    keys = [(row, f"{row.text('Order')} {row.text('House number')}") for row in rows]
    unique(keys, "House number", "part of an order")
    lines: dict[str, list[OrderLineRow]] = {number: [] for number in orders}
    for row in rows:
        order = row.one_of("Order", orders, "order")
        part = row.one_of("House number", names.parts, "part")
        quote = row.maybe("Quote")
        if quote is not None and (quote, part.house_number) not in quotes:
            raise row.refuse("Quote", f"is no quote for {part.house_number}", "Look at quotes.csv.")
        given = row.name_or_none("Given", names.part_of_tag, "piece")
        if given is not None and names.part_of_tag[given].tracking is not Tracking.PIECE:
            raise row.refuse("Given", "is a batch, and an exchange gives a piece", "Name a piece.")
        line = OrderLineRow(
            row.line,
            order.text("Order"),
            part.house_number,
            row.quantity("Quantity", part.measure),
            _money(row, "Price", _currency(order)).minor if row.text("Price") else None,
            quote,
            row.text("Wanted"),
            given,
            row.name_or_none("From", names.places, "place"),
            row.day_or_none("Given on"),
            row.day_or_none("Closed on"),
            row.text("Closed because"),
            order.text("Who"),
        )
        if len({given is None, line.from_place is None, line.given_on is None}) > 1:
            raise row.refuse("Given", "does not go with From and Given on", "Give all three, or none.")
        if (line.closed_on is None) != (not line.closed_because):
            raise row.refuse("Closed on", "does not go with its reason", "Give both, or neither.")
        lines[line.number].append(line)
    return lines


def _bought(
    folder: Traversable, orders: Mapping[str, PurchaseRow], names: PurchaseNames
) -> tuple[BoughtRow, ...]:
    rows = list(
        read_table(folder, "bought.csv", ("Goods-in note", "House number", "Order", "Price", "Currency"))
    )
    keys = [(row, f"{row.text('Goods-in note')} {row.text('House number')}") for row in rows]
    unique(keys, "House number", "part of a goods-in note")
    read = []
    for row in rows:
        note = row.one_of("Goods-in note", names.notes, "goods-in note")
        part = row.one_of("House number", names.parts, "part")
        if (note.number, part.house_number) not in names.came:
            raise row.refuse("House number", f"did not come on {note.number}", "Look at the note again.")
        order = row.name_or_none("Order", orders, "order")
        if order is not None:
            if note.firm != orders[order].firm:
                raise row.refuse("Order", f"is with {orders[order].firm}", "Look at the note again.")
            row_of_order = {line.house_number for line in orders[order].lines}
            row.name_of("House number", row_of_order, f"part of order {order}")
        if (order is None) == (not row.text("Price")):
            raise row.refuse("Price", "does not go with the order", "Name the order, or the price paid.")
        cost = None if order is not None else _money(row, "Price", _currency(row))
        read.append(BoughtRow(row.line, note.number, part.house_number, order, cost))
    return tuple(read)


def _prices(row: Row, part: PartRow, currency: str) -> tuple[tuple[int, int], ...]:
    """``12: 184.00; 24: 156.00``."""
    prices = []
    for each in row.needed("Prices").split(";"):
        quantity, _, price = each.partition(":")
        cut = Row(row.file, row.line, {**row.cells, "Prices": quantity.strip()})
        priced = Row(row.file, row.line, {**row.cells, "Prices": price.strip()})
        prices.append((cut.quantity("Prices", part.measure), _money(priced, "Prices", currency).minor))
    return tuple(prices)


def _currency(row: Row) -> str:
    try:
        return read_currency(row.needed("Currency"))
    except Refused as error:
        raise row.refuse("Currency", "is no currency of ISO 4217", error.remedy) from error


def _money(row: Row, column: str, currency: str) -> Money:
    try:
        return read_money(row.needed(column), currency)
    except Refused as error:
        raise row.refuse(column, f"is no amount of {currency}", error.remedy) from error
