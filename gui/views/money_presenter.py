"""What the page of money shows: what a sum is best spent on, what each buy does, and the curve.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.shown_need import MoneyCurve, MoneyPoint
from gui.sitting import Sitting
from gui.views.part_tables import page_of
from gui.views.quote_form import usual_currency
from invdb.acts.spend import spend
from invdb.paper.short_words import rounded, unit_of
from invdb.rules.money import Money, money_words, read_currency, read_money
from invdb.rules.quantities import quantity_words
from invdb.rules.spending_plan import PlannedBuy, SpendingPlan
from invdb.rules.told import stopped
from invdb.terms import Asked, Measure, Refused

# A shortage on average below this is told in hundredths.
SMALL = 0.1

COLUMNS = (
    Column("part", "Part", 88),
    Column("name", "Name", 150),
    Column("quantity", "Buy", 60, right=True),
    Column("firm", "From", 140),
    Column("cost", "Cost", 100, right=True),
    Column("does", "Short on average", 132, right=True),
)
NOT_ASKED = Empty(
    "Here stands what a sum of money is best spent on.",
    "Type the sum and its currency above and press Enter: every quote that stands in it is weighed.",
)


class MoneyPresenter:
    """Holds the answer that was worked out last; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.plan: SpendingPlan | None = None

    def read_currency(self, job: Job) -> str:
        """The currency to be offered: that of the last quote or order, "" while there is none."""
        with self._sitting.reading(job) as session:
            return usual_currency(session)

    def work_out(self, job: Job, sum_typed: str, currency_typed: str) -> SpendingPlan:
        """What the sum is best spent on; Refused for what is no sum or no currency."""
        currency = read_currency(currency_typed)
        try:
            money = read_money(sum_typed, currency, field="money")
        except Asked as asked:
            raise Refused(
                asked.reason,
                "Type the figure without marks between thousands, and with a point for decimals.",
            ) from asked
        with self._sitting.reading(job) as session:
            return spend(session, money.minor, currency)

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the buys, as far as they fit the words."""
        buys = self.plan.buys if self.plan is not None else ()
        return page_of((self._row(buy) for buy in buys), COLUMNS, offset, limit, sort, words)

    def empty(self) -> Empty:
        """What is said where there is no buy."""
        if self.plan is None:
            return NOT_ASKED
        if self.plan.before <= 0:
            return Empty("Nothing is likely to be short of what firms have quoted for.", "Keep the money.")
        return Empty(
            f"Nothing that is quoted in {self.plan.currency} lowers the shortage for that sum.",
            "Ask more firms, or try a larger sum: minimum quantities count.",
        )

    def told(self) -> str:
        """What is spent, and the expected shortage before and after."""
        plan = self.plan
        if plan is None:
            return ""
        if not plan.buys:
            return f"Nothing is worth buying for {money_words(Money(plan.money, plan.currency))}."
        spent, whole = (money_words(Money(each, plan.currency)) for each in (plan.spent, plan.money))
        best = "the best there is" if plan.proven else "the best found; another set may be better still"
        return (
            f"{spent} of {whole}: shortage, weighed, from {plan.before:.2f} down to {plan.after:.2f}, {best}."
        )

    def told_besides(self) -> str:
        """How parts are weighed, and what is left out."""
        plan = self.plan
        return " ".join(_capital(stopped(each)) for each in (plan.weighed, *plan.apart)) if plan else ""

    def said_of(self, quote: int) -> str:
        """What one buy is and does."""
        buy = next((each for each in self._buys() if each.quote == quote), None)
        if buy is None:
            return ""
        unit = unit_of(buy.measure)
        before, after = _short(buy)
        return (
            f"{stopped(buy.words)} Short of it on average: {before} {unit} without, {after} {unit} with it."
        )

    def curve(self) -> MoneyCurve | None:
        """The shortage that is left for each sum, the one asked about marked."""
        plan = self.plan
        if plan is None or not plan.curve:
            return None
        most = max(money for money, _left in plan.curve) or 1
        points = []
        for money, left in plan.curve:
            words = money_words(Money(money, plan.currency))
            told = (
                f"With {words} spent best, {left:.2f} of the shortage of {plan.before:.2f}, weighed, is left."
            )
            points.append(MoneyPoint(money / most, left, words, told))
        asked = next((at for at, (money, _left) in enumerate(plan.curve) if money == plan.money), None)
        return MoneyCurve(tuple(points), asked)

    def _buys(self) -> tuple[PlannedBuy, ...]:
        return self.plan.buys if self.plan is not None else ()

    def _row(self, buy: PlannedBuy) -> Row:
        assert self.plan is not None, "a buy belongs to an answer"
        cells = (
            buy.house_number,
            buy.name,
            quantity_words(buy.quantity, buy.measure),
            buy.firm,
            money_words(Money(buy.cost, self.plan.currency)),
            _does(buy),
        )
        return Row(buy.quote, cells)


def _does(buy: PlannedBuy) -> str:
    """``2.1 → 0.3 off``."""
    return f"{' → '.join(_short(buy))} {unit_of(buy.measure)}"


def _short(buy: PlannedBuy) -> tuple[str, str]:
    return _figure(buy.short_before, buy.measure), _figure(buy.short_after, buy.measure)


def _figure(short: float, measure: Measure) -> str:
    """``2.1``, or ``0.03`` where a tenth of a piece would say that nothing is gained."""
    if measure is Measure.COUNT and 0 < short < SMALL:
        return f"{short:.2f}" if short >= 0.005 else "<0.01"
    return f"{rounded(short, measure):f}"


def _capital(sentence: str) -> str:
    return f"{sentence[:1].upper()}{sentence[1:]}"
