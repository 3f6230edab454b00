"""What is on order: a row for each line of which something is still to come or to go, overdue ones first.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.listing import ListDeed, Listing, ListPaper
from gui.views.purchase_forms import close_line_form, exchange_form, give_form, order_form
from gui.views.quote_form import usual_currency
from gui.views.sheet_ending import ending_of
from invdb.acts.numbers import Thing
from invdb.acts.order_sheet import order_sheet
from invdb.acts.purchase_list import FirmRecord, OrderFacts, OrderLineFacts, firm_records, purchase_orders
from invdb.acts.purchase_order import OrderMade
from invdb.acts.scrap import hazards_of
from invdb.acts.things import things_by_id
from invdb.rules.money import money_words, price_of, totals
from invdb.rules.quantities import quantity_words
from invdb.rules.told import counted

ON_ORDER, OVERDUE, TO_GIVE = "on order", "overdue", "to be given"


@dataclass(frozen=True)
class OnOrderKey:
    """A line of an order."""

    order: int
    line: int


class PurchasesPresenter(Listing):
    """Holds the open orders, and how each firm has kept its days; knows no Tk.

    ``book_in`` begins the booking in of what has come against a line.
    """

    name = "purchase orders"
    heading = "On order"
    one, many = "line", "lines"
    columns = (
        Column("order", "Order", 80),
        Column("due", "Due", 164),
        Column("firm", "Firm", 170),
        Column("kind", "To", 88),
        Column("part", "Part", 80),
        Column("name", "Name", 200),
        Column("to_come", "To come", 70, right=True),
        Column("ordered", "Ordered", 66, right=True),
        Column("price", "Price of one", 100, right=True),
        Column("on", "On", 84),
    )
    empty = Empty(
        "Nothing is on order.",
        "Order parts of a firm, freely or by its quote; what comes is booked in against the order.",
    )

    def __init__(self, sitting: Sitting, book_in: Callable[[int], None]) -> None:
        self._sitting, self._book_in = sitting, book_in
        self.orders: tuple[OrderFacts, ...] = ()
        self._records: dict[int, FirmRecord] = {}

    def read(self, job: Job) -> tuple[tuple[OrderFacts, ...], tuple[FirmRecord, ...]]:
        """The open orders, and the record of each firm."""
        with self._sitting.reading(job) as session:
            return purchase_orders(session), firm_records(session)

    def take(self, read: tuple[tuple[OrderFacts, ...], tuple[FirmRecord, ...]]) -> None:
        """Hold what was read."""
        self.orders = read[0]
        self._records = {each.firm: each for each in read[1]}

    def rows(self) -> list[Row]:
        """A row for each line that is open, those due first at the top."""
        return [
            _row(order, line) for order in self.orders for line in order.lines if line.to_come or line.to_give
        ]

    def told(self) -> str:
        """How many orders are open, how many of them overdue, and what they come to by currency."""
        if not self.orders:
            return ""
        late = sum(bool(order.days_over) for order in self.orders)
        due = totals(
            price_of(line.price, line.to_come, line.measure)
            for order in self.orders
            for line in order.lines
            if line.price is not None and line.to_come
        )
        sums = ", ".join(map(money_words, due))
        said = counted(len(self.orders), "open order", "open orders")
        return f"{said}; {late or 'none'} overdue{f'. What is still to come costs {sums}' if sums else ''}."

    def tab_words(self) -> str:
        """What its tab says beside its name: how many orders are overdue."""
        late = sum(bool(order.days_over) for order in self.orders)
        return f"{sign(OVERDUE).mark} {late} {OVERDUE}" if late else ""

    def said_of(self, key: OnOrderKey) -> str:
        """All that is to be said of one line."""
        found = self._find(key)
        if found is None:
            return ""
        order, line = found
        came = "; ".join(_came_words(line, day) for day in dict.fromkeys(_days_of(line)))
        given = ""
        if line.given_piece is not None:
            gone = f"went on {line.given_on.isoformat()}" if line.given_on else "is still to go"
            given = f" Our {line.given_tag} {gone}."
        reference = f", its {order.reference}" if order.reference else ""
        wanted = f" {line.wanted}." if line.wanted else ""
        return (
            f"Order {order.number} of {order.firm_name}{reference}, by {order.ordered_by}:"
            f" {quantity_words(line.quantity, line.measure)} of {line.part_number} {line.part_name}.{wanted}"
            f"{given}\n{came or 'Nothing of it has come yet'}.\n{self._record_words(order)} {order.note}"
        ).rstrip()

    def deeds(self, keys: Sequence[OnOrderKey]) -> list[ListDeed]:
        """What may be done with these, and ordering anew."""
        sitting = self._sitting
        order_anew = ListDeed("Order", "Ins", "Order parts of a firm", self._order_plan)
        exchange = ListDeed(
            "Exchange", "Ctrl+E", "Order a piece for which the firm gets one of ours", self._exchange_plan
        )
        found = self._find(keys[0]) if len(keys) == 1 else None
        if found is None:
            return [order_anew, exchange]
        order, line = found
        deeds: list[ListDeed] = []
        if line.to_come:
            deeds.append(
                ListDeed("Book in", "F4", "Book in what has come, against this order",
                         run=lambda: self._book_in(line.order_line))
            )  # fmt: skip
        if line.to_give:
            deeds.append(
                ListDeed("Give our piece", "Ctrl+G", "Say that our piece has gone to the firm",
                         self._giving(order, line))
            )  # fmt: skip
        deeds += [order_anew, exchange]
        if line.to_come:
            deeds.append(
                ListDeed("No more comes", "Del", "Close the line, and say why",
                         lambda _job: close_line_form(sitting, order, line))
            )  # fmt: skip
        return deeds

    def key_of(self, made: Any) -> Any:
        """The first row of an order that was placed."""
        return next(
            (row.key for row in self.rows() if isinstance(made, OrderMade) and row.key.order == made.order),
            None,
        )

    def papers(self, keys: Sequence[OnOrderKey]) -> list[ListPaper]:
        """The sheet of the order, as PDF or as workbook."""
        found = self._find(keys[0]) if len(keys) == 1 else None
        if found is None:
            return []
        order = found[0]
        return [
            ListPaper("Save the order", "Ctrl+P", "As PDF or workbook, to send it to the firm",
                      f"order {order.number}.pdf", self._writing(order.order))
        ]  # fmt: skip

    def _writing(self, order: int) -> Callable[[Job, Path], Path]:
        def write(job: Job, path: Path) -> Path:
            from invdb.paper.order_sheet import write_order_sheet_pdf, write_order_sheet_xlsx

            with self._sitting.reading(job) as session:
                sheet = order_sheet(session, order)
            write = write_order_sheet_pdf if ending_of(path) == ".pdf" else write_order_sheet_xlsx
            write(sheet, path)
            return path

        return write

    def _order_plan(self, job: Job) -> FormPlan:
        with self._sitting.reading(job) as session:
            return order_form(self._sitting, usual_currency(session))

    def _exchange_plan(self, job: Job) -> FormPlan:
        with self._sitting.reading(job) as session:
            return exchange_form(self._sitting, usual_currency(session))

    def _giving(self, order: OrderFacts, line: OrderLineFacts) -> Callable[[Job], FormPlan]:
        def plan(job: Job) -> FormPlan:
            thing = Thing(piece=line.given_piece)
            with self._sitting.reading(job) as session:
                piece = things_by_id(session, [thing])[thing]
                hazards = hazards_of(session, piece.part)
            return give_form(self._sitting, order, line, piece, hazards)

        return plan

    def _record_words(self, order: OrderFacts) -> str:
        record = self._records.get(order.firm)
        if record is None or not record.taken_days:
            return f"{order.firm_name} has delivered nothing whole yet."
        taken = sorted(record.taken_days)
        days = f"{taken[0]} to {taken[-1]} days" if len(taken) > 1 else f"{taken[0]} days"
        late = f"; {record.late_words}" if record.late_words else ""
        return f"{order.firm_name} took {days} for {counted(len(taken), 'line', 'lines')}{late}."

    def _find(self, key: OnOrderKey) -> tuple[OrderFacts, OrderLineFacts] | None:
        for order in self.orders:
            for line in order.lines:
                if line.order_line == key.line and (line.to_come or line.to_give):
                    return order, line
        return None


def _days_of(line: OrderLineFacts) -> list[date]:
    return [each.delivered_on for each in line.deliveries]


def _came_words(line: OrderLineFacts, day: date) -> str:
    """``10 off came on 2026-11-25 as T01245-A and 9 more``."""
    came = [each for each in line.deliveries if each.delivered_on == day]
    more = f" and {len(came) - 1} more" if len(came) > 1 else ""
    quantity = quantity_words(sum(each.quantity for each in came), line.measure)
    return f"{quantity} came on {day.isoformat()} as {came[0].tag}{more}"


def _row(order: OrderFacts, line: OrderLineFacts) -> Row:
    late = bool(order.days_over) and bool(line.to_come)
    state = OVERDUE if late else ON_ORDER if line.to_come else TO_GIVE
    due = order.due_words if line.to_come else f"{line.given_tag} is to go"
    cells = (
        order.number,
        f"{sign(OVERDUE).mark} {due}" if late else due or "no day given",
        order.firm_name,
        str(order.kind),
        line.part_number,
        line.part_name,
        quantity_words(line.to_come, line.measure) if line.to_come else "",
        quantity_words(line.quantity, line.measure),
        money_words(line.price) if line.price is not None else "",
        order.ordered_on.isoformat(),
    )
    return Row(OnOrderKey(order.order, line.order_line), cells, state)
