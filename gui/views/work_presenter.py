"""What is out for work: orders and their lines, those overdue first, and the form to book some back.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.work_forms import back_form
from gui.views.work_words import bare_place
from invdb.acts.offers import places_to_put
from invdb.acts.work_list import WorkLineFacts, WorkOrderFacts, work_orders
from invdb.rules.quantities import quantity_words
from invdb.terms import PlaceKind, Refused

OUT, OVERDUE = "out for work", "overdue"
COLUMNS = (
    Column("order", "Order", 84),
    Column("due", "Due back", 160),
    Column("tag", "Tag", 80),
    Column("name", "Name", 130),
    Column("place", "At", 112),
    Column("kind", "For", 84),
    Column("quantity", "Qty", 44, right=True),
    Column("sent", "Sent", 92),
    Column("wanted", "What is wanted", 240),
)
NOTHING_OUT = Empty(
    "Nothing is out for work.",
    "Choose pieces in the Stores and press Ctrl+Shift+S to send them to a firm or to our own bench.",
)


@dataclass(frozen=True)
class OutKey:
    """A line that is out: its order and its own id."""

    order: int
    line: int


class WorkPresenter:
    """Holds the orders as they were read; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.orders: tuple[WorkOrderFacts, ...] = ()

    def read(self, job: Job) -> tuple[WorkOrderFacts, ...]:
        """The orders on which something is out."""
        with self._sitting.reading(job) as session:
            return work_orders(session)

    def rows(self) -> list[Row]:
        """A row for each thing that is out, what is due first at the top."""
        return [row_of(order, line) for order in self.orders for line in order.lines if line.out]

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the rows, as far as they fit the words."""
        every = self.rows()
        wanted = words.casefold().split()
        fitting = [row for row in every if all(word in " ".join(row.cells).casefold() for word in wanted)]
        if sort is not None:
            at = [column.name for column in COLUMNS].index(sort.column)
            fitting.sort(key=lambda row: row.cells[at].casefold(), reverse=sort.descending)
        return Page(tuple(fitting[offset : offset + limit]), len(fitting), len(every))

    def late(self) -> int:
        """How many things are overdue."""
        return sum(bool(line.out) for order in self.orders if order.days_over for line in order.lines)

    def tab_words(self) -> str:
        """What the page's own tab says beside its name: how many are overdue, if any."""
        return f"{sign(OVERDUE).mark} {self.late()} {OVERDUE}" if self.late() else ""

    def told(self) -> str:
        """How much is out, and how much of it is overdue."""
        count = len(self.rows())
        if not count:
            return ""
        orders = "one order" if len(self.orders) == 1 else f"{len(self.orders)} orders"
        late = f"; {self.late()} overdue" if self.late() else "; nothing is overdue"
        return f"{count} out on {orders}{late}."

    def said_of(self, key: OutKey) -> str:
        """All that is to be said of one that is out; "" where it is back by now."""
        order = next((each for each in self.orders if each.order == key.order), None)
        lines = order.lines if order is not None else ()
        line = next((each for each in lines if each.work_line == key.line and each.out), None)
        if order is None or line is None:
            return ""
        due = due_words(order)
        others = sum(bool(each.out) for each in order.lines) - 1
        besides = f" {others} more out on this order." if others else ""
        return (
            f"{line.tag} {line.part_number} {line.part_name}: {order.wanted}\n"
            f"Order {order.number}, for {order.kind} at {bare_place(order.place_name)}, sent"
            f" {order.sent_on.isoformat()}; {due}.{besides}"
        )

    def back_plan(self, job: Job, keys: Sequence[OutKey]) -> FormPlan:
        """The form to book these back; Refused where they are out on several orders, or back already."""
        if not keys:
            raise Refused("Nothing is chosen.", "Choose what has come back.")
        if len({key.order for key in keys}) > 1:
            raise Refused("They are not all out on one order.", "Book each order back by itself.")
        with self._sitting.reading(job) as session:
            order = next((each for each in work_orders(session) if each.order == keys[0].order), None)
            drums = places_to_put(session, {PlaceKind.SCRAP})
        lines = _still_out(order, {key.line for key in keys}) if order is not None else []
        if order is None or not lines:
            raise Refused("All of that is back already.", "Read the list again.")
        return back_form(self._sitting, order, lines, drums)


def _still_out(order: WorkOrderFacts, wanted: Collection[int]) -> list[int]:
    return [line.work_line for line in order.lines if line.out and line.work_line in wanted]


def row_of(order: WorkOrderFacts, line: WorkLineFacts) -> Row:
    """One thing that is out."""
    state = OVERDUE if order.days_over else OUT
    quantity = "1" if line.thing.piece is not None else quantity_words(line.out, line.measure)
    cells = (
        order.number,
        due_words(order),
        line.tag,
        line.part_name,
        bare_place(order.place_name),
        str(order.kind),
        quantity,
        order.sent_on.isoformat(),
        order.wanted,
    )
    return Row(OutKey(order.order, line.work_line), cells, state)


def due_words(order: WorkOrderFacts) -> str:
    """``! overdue by 26 days``, ``due 2026-12-11``, or that no day was given."""
    mark = f"{sign(OVERDUE).mark} " if order.days_over else ""
    return f"{mark}{order.due_words or 'no day given'}"
