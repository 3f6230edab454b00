"""What there is of a part, as its page lists it."""

from __future__ import annotations

from dataclasses import replace

from gui.job import Job
from gui.shown import Empty, Page, Row, Sort
from gui.sitting import Sitting
from gui.views.part_reading import PartRead
from gui.views.stores_presenter import COLUMNS, SORTED_BY, row_of
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import stock_count, stock_rows
from invdb.acts.stock_sort import StockSort

SHOWN = ("tag", "condition", "place", "quantity", "scope", "serial", "hours", "reserved", "owner")
WIDTHS = {"condition": 150, "place": 136, "scope": 84}
STOCK_COLUMNS = tuple(
    replace(column, width=WIDTHS.get(name, column.width))
    for name in SHOWN
    for column in COLUMNS
    if column.name == name
)
NO_STOCK = Empty(
    "There is none of it here.", "What is booked in stands here, with its condition and its place."
)
_PLACES = [[column.name for column in COLUMNS].index(name) for name in SHOWN]


def fetch_stock(
    sitting: Sitting, job: Job, part: int | None, offset: int, limit: int, sort: Sort | None, words: str
) -> Page:
    """Some of the pieces and batches of a part; to be called on a worker."""
    if part is None:
        return Page((), 0, 0)
    own = StockFilter(part=part)
    by = StockSort() if sort is None else StockSort(SORTED_BY[sort.column], sort.descending)
    with sitting.reading(job) as session:
        found = stock_rows(session, StockFilter(part=part, text=words), by, offset, limit)
        every = stock_count(session, own) if words else found.total
    return Page(tuple(_shown(row_of(row)) for row in found.rows), found.total, every)


def _shown(row: Row) -> Row:
    """The same without the columns that say which part it is."""
    return Row(row.key, tuple(row.cells[at] for at in _PLACES), row.sign)


def told_of_stock(read: PartRead) -> str:
    """How much there is in each condition, how much of it is on the shelf, and what is out for work."""
    page = read.page
    if not page.stock:
        return ""
    said = ", ".join(f"{each.words} {each.condition}" for each in page.stock)
    shelf = read.shelf.get(page.part, "")
    said += f". On the shelf and serviceable: {shelf or 'none'}."
    if page.work:
        orders = ", ".join(order.number for order in page.work)
        said += f" Out for work: {orders}."
    return said
