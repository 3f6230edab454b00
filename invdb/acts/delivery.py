"""What comes in against a line of an order, and what goods that are booked in cost us."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.numbers import Thing
from invdb.acts.stand_in_graph import stand_in_graph
from invdb.acts.trading import TradedPart, refuse_day_before, traded_part
from invdb.records.buying import OrderLine, PurchaseOrder
from invdb.records.draft import Draft
from invdb.records.people import Firm
from invdb.rules.money import Money, exponent_of, refuse_absurd_price
from invdb.rules.quantities import quantity_words
from invdb.terms import Asked, FieldRefused


@dataclass(frozen=True)
class AwaitedLine:
    """A line of an order of which something may come still; quantities in the ordered part's unit."""

    order_line: int
    number: str
    firm: int
    firm_name: str
    part: TradedPart
    quantity: int
    received: int
    ordered_on: date
    closed_on: date | None
    price: Money | None

    @property
    def to_come(self) -> int:
        """How much is still to come; 0 where it is closed."""
        return 0 if self.closed_on is not None else max(self.quantity - self.received, 0)


def awaited_line(session: Session, order_line: int) -> AwaitedLine:
    """The line of this id; FieldRefused for none."""
    row = session.execute(
        select(
            OrderLine.part_id,
            OrderLine.quantity,
            OrderLine.received,
            OrderLine.closed_on,
            OrderLine.price,
            PurchaseOrder.number,
            PurchaseOrder.firm_id,
            PurchaseOrder.currency,
            PurchaseOrder.ordered_on,
            Firm.name,
        )
        .join(PurchaseOrder, PurchaseOrder.id == OrderLine.purchase_order_id)
        .join(Firm, Firm.id == PurchaseOrder.firm_id)
        .where(OrderLine.id == order_line)
    ).one_or_none()
    if row is None:
        raise FieldRefused("order_line", "There is no such line of an order.", "Look at the order again.")
    return AwaitedLine(
        order_line,
        row.number,
        row.firm_id,
        row.name,
        traded_part(session, row.part_id),
        row.quantity,
        row.received,
        row.ordered_on,
        row.closed_on,
        None if row.price is None else Money(row.price, row.currency),
    )


def refuse_not_awaited(
    session: Session,
    draft: Draft,
    line: AwaitedLine,
    firm: int | None,
    part: int | None,
    quantity: int,
    *,
    sure: bool,
) -> None:
    """Refuse what can't come against a line: closed, of another firm, before it was ordered, another part.

    ``part`` is None for one that the catalogue does not have yet.

    Asked about a stand-in for the part ordered, and about more than is still to come, unless ``sure``.
    """
    if line.closed_on is not None:
        raise FieldRefused(
            "order_line",
            f"That line of order {line.number} was closed on {line.closed_on.isoformat()}.",
            "Reverse the entry that closed it, if it has come after all.",
        )
    if firm not in {None, line.firm}:
        raise FieldRefused(
            "firm", f"Order {line.number} is with {line.firm_name}.", "Choose that firm, or another order."
        )
    refuse_day_before("happened_on", draft.happened_on, line.ordered_on, f"order {line.number} was placed")
    measure = line.part.measure
    if part is None:
        raise FieldRefused(
            "part",
            f"Order {line.number} is for {line.part.words}, which is in the catalogue.",
            "Choose it there, or book the new part in without the order.",
        )
    if part != line.part.part:
        came = traded_part(session, part)
        graph = stand_in_graph(session, line.part.part, draft.happened_on)
        if came.measure is not measure or part not in {node.part for node in graph.nodes if node.stands_in}:
            raise FieldRefused(
                "part",
                f"Order {line.number} is for {line.part.words}, and {came.words} may not stand in for it.",
                "Choose the line that was meant, or book it in without the order.",
            )
        if not sure:
            raise Asked(
                "part",
                f"Order {line.number} is for {line.part.words}, and {came.words} stands in for it.",
                "Check the label, and say that this is what came.",
            )
    if quantity > line.to_come and not sure:
        raise Asked(
            "quantity",
            f"{quantity_words(line.to_come, measure)} are still to come on that line of order"
            f" {line.number}, not {quantity_words(quantity, measure)}.",
            "Count again, or say that so much has come.",
        )


def draft_delivery(
    session: Session, draft: Draft, line: AwaitedLine, came: Sequence[tuple[Thing, int]]
) -> None:
    """Put into a draft that things, each with its quantity, came against a line of an order."""
    for thing, quantity in came:
        draft.new(
            session,
            "delivery",
            order_line_id=line.order_line,
            piece_id=thing.piece,
            batch_id=thing.batch,
            quantity=quantity,
            delivered_on=draft.happened_on,
        )


def draft_cost(session: Session, draft: Draft, things: Sequence[Thing], cost: Money, source: str) -> None:
    """Put into a draft what one piece, one metre or one kilogram of things cost us, and what says so."""
    exponent_of(cost.currency)
    refuse_absurd_price(cost.minor, cost.currency, "cost")
    for thing in things:
        draft.new(
            session,
            "cost",
            piece_id=thing.piece,
            batch_id=thing.batch,
            price=cost.minor,
            currency=cost.currency,
            source=source,
        )
