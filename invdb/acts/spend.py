"""What a sum of money is best spent on, of what firms have quoted in its currency."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from sqlalchemy.orm import Session

from invdb.acts.enquiry_list import QuoteFacts
from invdb.acts.short_advice import WaysOut, arrival_month
from invdb.acts.short_cases import ShortCase, short_cases
from invdb.rules.money import MINOR_MAX, Money, money_words, price_of, read_currency
from invdb.rules.pooled import Pool, pools_at_end
from invdb.rules.quantities import quantity_words
from invdb.rules.spending import Offer, best_buys, curve
from invdb.rules.spending_plan import PlannedBuy, SpendingPlan
from invdb.rules.told import counted
from invdb.terms import FieldRefused, Measure, OrderKind

WEIGHED = "one short of a part that a flying engine needs weighs three, on the stand two, in store one"
# The curve goes on to twice the sum, to show what more would do.
CURVE_POINTS = 9


def spend(session: Session, money: int, currency: str, months: int | None = None) -> SpendingPlan:
    """The buys that lower the weighted expected shortage most for so much money, in minor units.

    Of the quotes that stand in that currency; those in others are kept apart and named, since no rate is
    known here. Refused for an unknown currency and an absurd sum.
    """
    currency = read_currency(currency)
    if not 0 < money <= MINOR_MAX:
        raise FieldRefused(
            "money",
            f"{money_words(Money(money, currency))} is no sum to spend.",
            f"Give more than nothing, up to {money_words(Money(MINOR_MAX, currency))}.",
        )
    cases = short_cases(session, months)
    ways_out = WaysOut(session, cases)
    offers: dict[str, tuple[Offer, QuoteFacts, ShortCase]] = {}
    others: Counter[str] = Counter()
    exchanges = 0
    for place, case in enumerate(case for own, _ in cases.pools for case in own):
        for quote in ways_out.quotes.get(case.plan.part.id, ()):
            if quote.currency != currency:
                others[quote.currency] += 1
            elif quote.kind is OrderKind.EXCHANGE:
                exchanges += 1
            else:
                month = arrival_month(quote, cases.suppliers)
                offers[str(quote.quote)] = (_offer(quote, place, case.unit, month), quote, case)
    pools = [pool for _, pool in cases.pools]
    weights = [_weight(case) for own, _ in cases.pools for case in own]
    told = [offer for offer, _, _ in offers.values()]
    best = best_buys(pools, told, money, cases.horizon, weights)
    budgets = {2 * money * step // (CURVE_POINTS - 1) for step in range(CURVE_POINTS)} | {money}
    bought: Counter[int] = Counter()
    for buy in best.buys:
        bought[offers[buy.key][0].part] += buy.quantity
    effects = _effects(pools, bought, cases.horizon)
    return SpendingPlan(
        money,
        currency,
        tuple(_buy(*offers[buy.key], buy.quantity, effects[offers[buy.key][0].part]) for buy in best.buys),
        best.spent,
        best.before,
        best.after,
        best.proven,
        curve(pools, told, budgets, cases.horizon, weights),
        WEIGHED,
        tuple(_apart(others, exchanges)),
    )


def _weight(case: ShortCase) -> float:
    """Of one lot: as many pieces as it has, but of what is cut to length or weighed out one lot is one."""
    weight = float(max((engine.use.rank for engine in case.plan.engines), default=1))
    return weight * case.unit if case.plan.part.measure is Measure.COUNT else weight


def _offer(quote: QuoteFacts, place: int, unit: int, month: int) -> Offer:
    """A quote as the rule takes it, in lots of so many smallest units: prices and quantities rounded up."""
    prices: dict[int, int] = {}
    for start, price in quote.prices:
        prices[max(-(-start // unit), 1)] = _lot_price(quote, price, unit)
    return Offer(
        str(quote.quote), place, max(-(-quote.minimum // unit), 1), tuple(sorted(prices.items())), month
    )


def _lot_price(quote: QuoteFacts, price: int, unit: int) -> int:
    return price_of(Money(price, quote.currency), unit, quote.measure).minor


def _effects(
    pools: Sequence[Pool], bought: Mapping[int, int], horizon: int
) -> dict[int, tuple[float, float]]:
    """Of each part of which something is bought, by its place, E[short] in lots without and with all buys."""
    import numpy as np

    touched: list[tuple[range, Pool]] = []
    first = 0
    for pool in pools:
        places = range(first, first + len(pool.cases))
        if any(place in bought for place in places):
            touched.append((places, pool))
        first += len(pool.cases)
    found: dict[int, tuple[float, float]] = {}
    for (places, _), at_end in zip(
        touched, pools_at_end([pool for _, pool in touched], horizon), strict=True
    ):
        without_and_with = np.array([[0] * len(places), [bought.get(place, 0) for place in places]])
        before, after = at_end.expected(without_and_with)
        for at, place in enumerate(places):
            found[place] = float(before[at]), float(after[at])
    return found


def _buy(
    offer: Offer, quote: QuoteFacts, case: ShortCase, lots: int, short: tuple[float, float]
) -> PlannedBuy:
    part, cost = case.plan.part, offer.cost(lots)
    quantity = lots * case.unit
    words = (
        f"{quantity_words(quantity, part.measure)} of {part.house_number} {part.name} from"
        f" {quote.firm_name}: {money_words(Money(cost, quote.currency))}"
    )
    return PlannedBuy(
        quote.quote,
        part.id,
        part.house_number,
        part.name,
        part.measure,
        quote.firm_name,
        quantity,
        cost,
        words,
        short[0] * case.unit,
        short[1] * case.unit,
    )


def _apart(others: Counter[str], exchanges: int) -> Iterator[str]:
    for currency, count in sorted(others.items()):
        yield f"{counted(count, 'quote', 'quotes')} in {currency} kept apart: no rate is known here"
    if exchanges:
        asked = counted(exchanges, "quote", "quotes")
        yield f"{asked} in exchange left out: each asks for an old piece of ours"
