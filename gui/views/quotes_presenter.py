"""What firms offer: a row for each quote that stands.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.sitting import Sitting
from gui.views.listing import ListDeed, Listing
from gui.views.purchase_forms import order_by_quote_form
from gui.views.quote_form import quote_form, withdraw_quote_form
from invdb.acts.enquiry_list import QuoteFacts, quotes
from invdb.rules.money import Money, money_words, price_words
from invdb.rules.quantities import quantity_words

STANDS = "stands"


class QuotesPresenter(Listing):
    """Holds the quotes that stand; knows no Tk."""

    name = "quotes"
    heading = "Quotes"
    one, many = "quote", "quotes"
    columns = (
        Column("part", "Part", 80),
        Column("name", "Name", 170),
        Column("firm", "Firm", 180),
        Column("kind", "To", 88),
        Column("prices", "Price of one", 250),
        Column("minimum", "No fewer than", 90, right=True),
        Column("lead", "In", 60, right=True),
        Column("until", "Stands until", 88),
        Column("quoted", "Quoted", 88),
    )
    empty = Empty(
        "No quote stands.",
        "Record what a firm offers; the board says by it what to buy, and an order takes its price.",
    )

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.quotes: tuple[QuoteFacts, ...] = ()

    def read(self, job: Job) -> tuple[QuoteFacts, ...]:
        """The quotes that stand today."""
        with self._sitting.reading(job) as session:
            return quotes(session)

    def take(self, read: tuple[QuoteFacts, ...]) -> None:
        """Hold what was read."""
        self.quotes = read

    def rows(self) -> list[Row]:
        """A row for each."""
        return [_row(each) for each in self.quotes]

    def told(self) -> str:
        """Of how many parts and firms there are quotes."""
        if not self.quotes:
            return ""
        parts, firms = ({getattr(each, of) for each in self.quotes} for of in ("part", "firm"))
        return f"For {len(parts)} parts, by {len(firms)} firms. Each stands in its own currency."

    def said_of(self, key: int) -> str:
        """All that is to be said of one."""
        each = self._find(key)
        if each is None:
            return ""
        lead = f"in {each.lead_days} days" if each.lead_days is not None else "in a time that it does not say"
        answers = f", to enquiry {each.enquiry}" if each.enquiry else ""
        reference = f", its {each.reference}" if each.reference else ""
        return (
            f"{each.firm_name} offers {each.part_number} {each.part_name} to {each.kind}, {lead},"
            f" no fewer than {quantity_words(each.minimum, each.measure)}{answers}{reference}.\n"
            f"{prices_words(each)}.\n{each.note}"
        ).rstrip()

    def deeds(self, keys: Sequence[int]) -> list[ListDeed]:
        """What may be done with these, and recording another."""
        sitting = self._sitting
        another = ListDeed(
            "A quote", "Ins", "Record what a firm offers, without an enquiry",
            lambda job: quote_form(sitting, job),
        )  # fmt: skip
        chosen = self._find(keys[0]) if len(keys) == 1 else None
        if chosen is None:
            return [another]
        return [
            ListDeed("Order", "F4", "Order by this quote",
                     lambda _job: order_by_quote_form(sitting, chosen)),
            another,
            ListDeed("Withdraw", "Del", "Say that the firm no longer stands by it",
                     lambda _job: withdraw_quote_form(sitting, chosen)),
        ]  # fmt: skip

    def key_of(self, made: Any) -> Any:
        """The row of a quote that was recorded."""
        return made if self._find(made) is not None else None

    def _find(self, key: int) -> QuoteFacts | None:
        return next((each for each in self.quotes if each.quote == key), None)


def prices_words(quote: QuoteFacts) -> str:
    """``84.00 GBP each, from 24 off 72.00 GBP each``."""
    said = []
    for at, (start, price) in enumerate(quote.prices):
        words = price_words(Money(price, quote.currency), quote.measure)
        said.append(words if at == 0 else f"from {quantity_words(start, quote.measure)} {words}")
    return ", ".join(said)


def _row(each: QuoteFacts) -> Row:
    first = money_words(Money(each.prices[0][1], each.currency))
    last_from, last = each.prices[-1]
    steps = (
        f"{first}; from {quantity_words(last_from, each.measure)} {money_words(Money(last, each.currency))}"
    )
    cells = (
        each.part_number,
        each.part_name,
        each.firm_name,
        str(each.kind),
        first if len(each.prices) == 1 else steps,
        quantity_words(each.minimum, each.measure),
        f"{each.lead_days} d" if each.lead_days is not None else "",
        each.valid_until.isoformat() if each.valid_until is not None else "",
        each.quoted_on.isoformat(),
    )
    return Row(each.quote, cells, STANDS)
