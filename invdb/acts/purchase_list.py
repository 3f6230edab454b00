"""The orders with what is still to come of each, and each firm's record of how long it takes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from invdb.acts.numbers import Thing
from invdb.acts.trading import days_over, due_words
from invdb.records.buying import Delivery, OrderLine, PurchaseOrder
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.people import Firm, Person
from invdb.records.stock import Batch, Piece
from invdb.rules.money import Money, price_of
from invdb.terms import Measure, OrderKind


@dataclass(frozen=True)
class DeliveryFacts:
    """What came against a line, and when; the quantity in the part's smallest unit."""

    thing: Thing
    tag: str
    quantity: int
    delivered_on: date


@dataclass(frozen=True)
class OrderLineFacts:
    """One part of an order; quantities in its smallest unit, ``price`` of one, a metre or a kilogram.

    ``given_piece`` is the piece of ours that an exchange gives, with its tag and the day it went, if it has.
    """

    order_line: int
    sequence: int
    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    price: Money | None
    quote: int | None
    wanted: str
    closed_on: date | None
    closed_because: str
    given_piece: int | None
    given_tag: str
    given_on: date | None
    deliveries: tuple[DeliveryFacts, ...]

    @property
    def received(self) -> int:
        """How much has come."""
        return sum(each.quantity for each in self.deliveries)

    @property
    def to_come(self) -> int:
        """How much is still to come; 0 once it is closed."""
        return 0 if self.closed_on is not None else max(self.quantity - self.received, 0)

    @property
    def to_give(self) -> bool:
        """Whether a piece of ours is still to go for it."""
        return self.given_piece is not None and self.given_on is None and self.closed_on is None

    @property
    def value(self) -> Money | None:
        """What the whole line costs; None where no price was agreed."""
        return None if self.price is None else price_of(self.price, self.quantity, self.measure)


@dataclass(frozen=True)
class OrderFacts:
    """An order with its lines; ``days_over`` how long it has been overdue, 0 while it is not."""

    order: int
    number: str
    firm: int
    firm_name: str
    kind: OrderKind
    ordered_on: date
    ordered_by: str
    due_on: date | None
    currency: str
    reference: str
    note: str
    lines: tuple[OrderLineFacts, ...]
    days_over: int

    @property
    def open(self) -> bool:
        """Whether something is still to come on it, or to be given for it."""
        return any(line.to_come or line.to_give for line in self.lines)

    @property
    def awaited(self) -> bool:
        """Whether something is still to come on it."""
        return any(line.to_come for line in self.lines)

    @property
    def due_words(self) -> str:
        """``due 2026-03-01``, ``overdue by 12 days``, '' without a day or once all has come."""
        return due_words(self.due_on, self.days_over) if self.awaited else ""

    @property
    def value(self) -> Money:
        """What its lines with a price cost together; see ``unpriced`` for the others."""
        return Money(sum(line.value.minor for line in self.lines if line.value), self.currency)

    @property
    def unpriced(self) -> int:
        """How many lines have no price."""
        return sum(line.price is None for line in self.lines)


@dataclass(frozen=True)
class FirmRecord:
    """How a firm has kept its orders; days from order to delivery.

    ``taken_days`` are of the lines of which all came, up to the last of it; ``open_days`` those for which the
    others have been open, or had been when they were closed. ``late`` of ``due`` lines with a day due came
    after it or are overdue; those that are not due yet are not counted.
    """

    firm: int
    firm_name: str
    orders: int
    lines: int
    taken_days: tuple[int, ...]
    open_days: tuple[int, ...]
    late: int
    due: int

    @property
    def late_words(self) -> str:
        """``2 of 5 late``; '' where nothing was due yet."""
        return f"{self.late} of {self.due} late" if self.due else ""


def purchase_orders(
    session: Session,
    *,
    only_open: bool = True,
    order: int | None = None,
    firm: int | None = None,
    part: int | None = None,
) -> tuple[OrderFacts, ...]:
    """The orders, those due first at the top and those without a day last: open ones unless all are asked
    for; the one named, those of one firm, or with one part on them.
    """
    query = (
        select(PurchaseOrder, Firm.name, Person.name)
        .join(Firm, Firm.id == PurchaseOrder.firm_id)
        .join(Person, Person.id == PurchaseOrder.ordered_by)
        .order_by(PurchaseOrder.id)
        .execution_options(populate_existing=True)
    )
    if order is not None:
        query = query.where(PurchaseOrder.id == order)
    if firm is not None:
        query = query.where(PurchaseOrder.firm_id == firm)
    if part is not None:
        query = query.where(
            PurchaseOrder.id.in_(select(OrderLine.purchase_order_id).where(OrderLine.part_id == part))
        )
    if only_open and order is None:
        to_come = OrderLine.received < OrderLine.quantity
        to_give = OrderLine.given_piece_id.is_not(None) & OrderLine.given_on.is_(None)
        query = query.where(
            PurchaseOrder.id.in_(
                select(OrderLine.purchase_order_id).where(
                    OrderLine.closed_on.is_(None), or_(to_come, to_give)
                )
            )
        )
    rows = session.execute(query).all()
    lines = _lines(session, {each.id: each.currency for each, _, _ in rows})
    now = today(session)
    orders = []
    for each, firm_name, ordered_by in rows:
        own = tuple(lines[each.id])
        awaited = any(line.to_come for line in own)
        orders.append(
            OrderFacts(
                each.id,
                each.number,
                each.firm_id,
                firm_name,
                each.kind,
                each.ordered_on,
                ordered_by,
                each.due_on,
                each.currency,
                each.reference,
                each.note,
                own,
                days_over(each.due_on, now) if awaited else 0,
            )
        )
    return tuple(sorted(orders, key=lambda one: (one.due_on is None, one.due_on or now, one.order)))


def _lines(session: Session, currencies: dict[int, str]) -> dict[int, list[OrderLineFacts]]:
    found: dict[int, list[OrderLineFacts]] = defaultdict(list)
    for some in chunks(currencies):
        deliveries = _deliveries(session, some)
        rows = session.execute(
            select(
                OrderLine.id,
                OrderLine.purchase_order_id,
                OrderLine.sequence,
                OrderLine.part_id,
                Part.house_number,
                Part.name,
                Part.measure,
                OrderLine.quantity,
                OrderLine.price,
                OrderLine.quote_id,
                OrderLine.wanted,
                OrderLine.closed_on,
                OrderLine.closed_because,
                OrderLine.given_piece_id,
                Piece.tag,
                OrderLine.given_on,
            )
            .join(Part, Part.id == OrderLine.part_id)
            .outerjoin(Piece, Piece.id == OrderLine.given_piece_id)
            .where(OrderLine.purchase_order_id.in_(some))
            .order_by(OrderLine.purchase_order_id, OrderLine.sequence)
        )
        for row in rows:
            order = row.purchase_order_id
            found[order].append(
                OrderLineFacts(
                    row.id,
                    row.sequence,
                    row.part_id,
                    row.house_number,
                    row.name,
                    row.measure,
                    row.quantity,
                    None if row.price is None else Money(row.price, currencies[order]),
                    row.quote_id,
                    row.wanted,
                    row.closed_on,
                    row.closed_because,
                    row.given_piece_id,
                    row.tag or "",
                    row.given_on,
                    tuple(deliveries[row.id]),
                )
            )
    return found


def _deliveries(session: Session, orders: Collection[int]) -> dict[int, list[DeliveryFacts]]:
    found: dict[int, list[DeliveryFacts]] = defaultdict(list)
    rows = session.execute(
        select(
            Delivery.order_line_id,
            Delivery.piece_id,
            Delivery.batch_id,
            func.coalesce(Piece.tag, Batch.tag).label("tag"),
            Delivery.quantity,
            Delivery.delivered_on,
        )
        .join(OrderLine, OrderLine.id == Delivery.order_line_id)
        .outerjoin(Piece, Piece.id == Delivery.piece_id)
        .outerjoin(Batch, Batch.id == Delivery.batch_id)
        .where(OrderLine.purchase_order_id.in_(orders))
        .order_by(Delivery.delivered_on, Delivery.id)
    )
    for row in rows:
        found[row.order_line_id].append(
            DeliveryFacts(Thing(row.piece_id, row.batch_id), row.tag, row.quantity, row.delivered_on)
        )
    return found


def firm_records(session: Session) -> tuple[FirmRecord, ...]:
    """The record of every firm that anything was ordered of, by name."""
    of_firm: dict[tuple[str, int], list[OrderFacts]] = defaultdict(list)
    for order in purchase_orders(session, only_open=False):
        of_firm[order.firm_name, order.firm].append(order)
    now = today(session)
    return tuple(_record(firm, name, orders, now) for (name, firm), orders in sorted(of_firm.items()))


def _record(firm: int, name: str, orders: list[OrderFacts], now: date) -> FirmRecord:
    taken: list[int] = []
    waited: list[int] = []
    late = due = 0
    for order in orders:
        for line in order.lines:
            came = line.deliveries[-1].delivered_on if line.received >= line.quantity else None
            until = came or line.closed_on or now
            (waited if came is None else taken).append((until - order.ordered_on).days)
            if order.due_on is not None and (came is not None or order.due_on < until):
                due += 1
                late += until > order.due_on
    return FirmRecord(
        firm,
        name,
        len(orders),
        sum(len(order.lines) for order in orders),
        tuple(taken),
        tuple(waited),
        late,
        due,
    )


def order_by_number(session: Session, number: str) -> int | None:
    """The order of this number, by its id; None where there is none."""
    return session.scalar(select(PurchaseOrder.id).where(PurchaseOrder.number == number.strip().upper()))
