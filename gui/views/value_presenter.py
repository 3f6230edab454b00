"""What our stock cost, by currency, and what of it is on no kit list of an engine type kept here.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.sitting import Sitting
from gui.views.cost_form import cost_form
from gui.views.listing import ListDeed, Listing
from invdb.acts.stock_value import PartValue, StockValue, slow_stock, stock_value
from invdb.rules.money import money_words
from invdb.rules.quantities import quantity_words
from invdb.rules.told import counted

SLOW, OF_USE = "on no kit list", "of use"


class ValuePresenter(Listing):
    """Holds the value of the stock; knows no Tk. ``show_stock`` shows a part's stock, by id and number."""

    name = "stock value"
    heading = "Value of stock"
    one, many = "part", "parts"
    columns = (
        Column("part", "Part", 84),
        Column("name", "Name", 260),
        Column("quantity", "In stock", 84, right=True),
        Column("value", "Cost", 200, right=True),
        Column("uncosted", "Cost not known of", 130, right=True),
        Column("use", "Use", 220),
    )
    empty = Empty(
        "Nothing of ours is in stock.", "What is booked in with a cost, or against an order, stands here."
    )

    def __init__(self, sitting: Sitting, show_stock: Callable[[int, str], None]) -> None:
        self._sitting, self._show_stock = sitting, show_stock
        self.value = StockValue((), (), 0)
        self._slow: frozenset[int] = frozenset()

    def read(self, job: Job) -> tuple[StockValue, tuple[PartValue, ...]]:
        """What the stock cost, and what of it is slow."""
        with self._sitting.reading(job) as session:
            return stock_value(session), slow_stock(session)

    def take(self, read: tuple[StockValue, tuple[PartValue, ...]]) -> None:
        """Hold what was read."""
        self.value = read[0]
        self._slow = frozenset(each.part for each in read[1])

    def rows(self) -> list[Row]:
        """A row for each part, those without a use first."""
        return sorted((self._row(each) for each in self.value.parts), key=lambda row: row.sign != SLOW)

    def told(self) -> str:
        """The sum of each currency, what is in none of them, and how many parts are slow."""
        if not self.value.parts:
            return ""
        sums = ", ".join(map(money_words, self.value.values)) or "no known cost"
        unknown = counted(self.value.uncosted, "thing", "things")
        slow = counted(len(self._slow), "part is", "parts are")
        left_out = f"{unknown} of unknown cost left out"
        return f"At cost: {sums}; {left_out}. {slow} on no kit list of an engine type kept here."

    def said_of(self, key: int) -> str:
        """All that is to be said of one."""
        each = next((one for one in self.value.parts if one.part == key), None)
        if each is None:
            return ""
        use = (
            "No kit line of any engine of ours asks for it, nor for what it may stand in for."
            if key in self._slow
            else "An engine type of ours has a use for it."
        )
        return f"{each.part_number} {each.part_name}: {self._cost(each)}.\n{use}"

    def deeds(self, keys: Sequence[int]) -> list[ListDeed]:
        """Showing its stock, and giving what has no known cost one."""
        each = next((one for one in self.value.parts if [one.part] == list(keys)), None)
        if each is None:
            return []
        shown = ListDeed("Its stock", "Ctrl+S", "Show it in Stores",
                         run=lambda: self._show_stock(each.part, each.part_number))  # fmt: skip
        if not each.uncosted:
            return [shown]
        cost = ListDeed("Give its cost", "F4", "Record what that of unknown cost cost, by its invoice",
                        lambda _job: cost_form(self._sitting, each))  # fmt: skip
        return [shown, cost]

    def _row(self, each: PartValue) -> Row:
        slow = each.part in self._slow
        cells = (
            each.part_number,
            each.part_name,
            quantity_words(each.quantity, each.measure),
            ", ".join(map(money_words, each.values)),
            quantity_words(each.uncosted, each.measure) if each.uncosted else "",
            "on no kit list here" if slow else "",
        )
        return Row(each.part, cells, SLOW if slow else OF_USE)

    @staticmethod
    def _cost(each: PartValue) -> str:
        sums = ", ".join(map(money_words, each.values))
        unknown = f"{quantity_words(each.uncosted, each.measure)} of unknown cost" if each.uncosted else ""
        return " and ".join(part for part in (sums, unknown) if part)
