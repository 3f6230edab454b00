"""What a sum of money is best spent on: against every other way to spend it, and within the sum."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from invdb.rules.need import FailureRecord, Need, Overhaul
from invdb.rules.pooled import Pool, pooled_shortages
from invdb.rules.reject_rate import RejectPrior, RejectRecord
from invdb.rules.shortage import PartCase, shortage
from invdb.rules.spending import Buy, Offer, Spending, best_buys, curve
from invdb.rules.supply import Supply
from invdb.terms import Refused

VALVES = RejectRecord(RejectPrior(0.4, 5))
SPRINGS = FailureRecord(0.5, 500)
POUND = 100


def part(name: str, looked: int, free: int = 0, owed: int = 0, hours: float = 0.0) -> PartCase:
    plan = (Overhaul("Linnet 1", 2, looked),)
    return PartCase(name, Need(plan, VALVES, (hours,), SPRINGS, owed=owed), Supply(free))


BARREL, VALVE, SPRING = part("barrel", 7, 1), part("valve", 4, 1), part("spring", 0, 0, 1, 300.0)


def each(price: int) -> tuple[tuple[int, int], ...]:
    return ((1, price),)


def left_by(
    pools: Sequence[Pool], offers: Sequence[Offer], quantities: Sequence[int], weights: Sequence[float]
) -> float:
    """The weighted shortage at month 3 with so many of each offer laid on the shelf, if they come by then."""
    added = [0] * len(weights)
    for offer, quantity in zip(offers, quantities, strict=True):
        if offer.arrives_month <= 3:
            added[offer.part] += quantity
    more = iter(added)
    with_them = [
        replace(
            pool,
            cases=tuple(replace(case, supply=Supply(case.supply.free + next(more))) for case in pool.cases),
        )
        for pool in pools
    ]
    shorts = [short for found in pooled_shortages(with_them, 3) for short in found.shortages]
    return sum(weight * short.expected[-1] for weight, short in zip(weights, shorts, strict=True))


def enumerated(
    pools: Sequence[Pool], offers: Sequence[Offer], money: int, weights: Sequence[float], most: int = 7
) -> float:
    """The least weighted shortage over every quantity of every offer that the money buys."""
    best = float("inf")
    choices = [
        [(0, 0)]
        + [
            (number, offer.cost(number))
            for number in range(offer.fewest, (most if offer.most is None else offer.most) + 1)
            if offer.cost(number) <= money
        ]
        for offer in offers
    ]
    for together in product(*choices):
        if sum(cost for _, cost in together) <= money:
            best = min(best, left_by(pools, offers, [number for number, _ in together], weights))
    return best


def check(spending: Spending, offers: Sequence[Offer], money: int) -> None:
    """What is bought can be bought, once, for what it says, and within the money."""
    by_key = {offer.key: offer for offer in offers}
    assert len({buy.key for buy in spending.buys}) == len(spending.buys)
    for buy in spending.buys:
        offer = by_key[buy.key]
        assert offer.fewest <= buy.quantity <= (offer.most or 10_000)
        assert buy.cost == offer.cost(buy.quantity)
    assert spending.spent == sum(buy.cost for buy in spending.buys) <= money
    assert spending.after <= spending.before


offers_strategy = st.lists(
    st.builds(
        lambda part, minimum, price, breaks, late, most: Offer(
            "", part, minimum, ((1, price), *breaks), late, max(most, minimum)
        ),
        st.integers(0, 2),
        st.integers(1, 3),
        st.integers(1, 20),
        st.sampled_from([(), ((3, 4),), ((4, 1),)]),
        st.sampled_from([0, 3, 4]),
        st.integers(1, 5),
    ),
    min_size=2,
    max_size=3,
).map(lambda offers: tuple(replace(offer, key=f"offer {i}") for i, offer in enumerate(offers)))


@pytest.mark.parametrize(
    "pools",
    [
        (Pool((BARREL,)), Pool((VALVE,)), Pool((SPRING,))),
        (Pool((BARREL, VALVE), frozenset({(1, 0)})), Pool((SPRING,))),
        (Pool((BARREL, VALVE, SPRING), frozenset({(0, 1), (1, 0), (0, 2), (1, 2)})),),
    ],
)
@settings(max_examples=25, deadline=None)
@given(
    offers_strategy, st.integers(0, 100), st.sampled_from([(1.0, 1.0, 1.0), (1.0, 5.0, 0.5), (0.0, 1.0, 2.0)])
)
def test_no_other_way_to_spend_the_money_leaves_less_short(
    pools: tuple[Pool, ...], offers: tuple[Offer, ...], money: int, weights: tuple[float, ...]
) -> None:
    spending = best_buys(pools, offers, money, 3, weights)
    check(spending, offers, money)
    assert spending.proven
    bought = {buy.key: buy.quantity for buy in spending.buys}
    quantities = [bought.get(offer.key, 0) for offer in offers]
    assert spending.after == pytest.approx(left_by(pools, offers, quantities, weights), abs=1e-6)
    assert spending.after == pytest.approx(enumerated(pools, offers, money, weights), abs=1e-5)


def test_a_minimum_is_where_taking_the_best_piece_after_piece_goes_wrong() -> None:
    """The best single piece leaves too little for a batch that does more in all."""
    offers = (Offer("barrels", 0, 4, each(20 * POUND), 1), Offer("valves", 1, 1, each(15 * POUND), 1))
    spending = best_buys([BARREL, VALVE], offers, 85 * POUND, 3)
    assert spending.buys == (Buy("barrels", 4, 80 * POUND),)
    assert spending.proven


def test_a_greater_quantity_is_bought_where_it_costs_less() -> None:
    offer = Offer("gaskets", 0, 1, ((1, 100), (10, 30)), 0)
    spending = best_buys([part("gasket", 0, owed=4)], [offer], 350, 0)
    assert spending.buys == (Buy("gaskets", 10, 300),)
    assert spending.after == 0


def test_two_offers_of_one_part_add_up() -> None:
    offers = (Offer("dealer", 0, 1, each(10), 0, 2), Offer("maker", 0, 3, each(15), 0))
    spending = best_buys([part("gasket", 0, owed=5)], offers, 65, 0)
    assert spending.buys == (Buy("dealer", 2, 20), Buy("maker", 3, 45))
    assert spending.after == 0


def test_an_offer_beside_a_cheap_lot_of_another_fills_up_what_is_missing() -> None:
    offers = (
        Offer("barrels", 0, 1, ((1, 16), (5, 9)), 0, 5),
        Offer("barrels in fours", 0, 1, ((1, 7), (4, 1)), 0, 4),
        Offer("springs", 2, 4, ((1, 23), (5, 9)), 0, 6),
    )
    spending = best_buys([BARREL, VALVE, SPRING], offers, 95, 3, (0.5, 1.0, 1.0))
    assert [buy.quantity for buy in spending.buys] == [2, 4, 6]


def test_what_comes_too_late_or_costs_too_much_is_not_bought() -> None:
    offers = (Offer("late", 0, 1, each(1), 4), Offer("dear", 1, 1, each(5_000), 0))
    spending = best_buys([BARREL, VALVE], offers, 4_999, 3)
    assert spending.buys == () and spending.spent == 0 and spending.proven
    assert spending.after == spending.before > 0


def test_with_no_money_only_what_is_given_away_is_had() -> None:
    offers = (Offer("given", 0, 1, each(0), 0, 2), Offer("sold", 1, 1, each(1), 0))
    assert best_buys([BARREL, VALVE], offers, 0, 3).buys == (Buy("given", 2, 0),)


def test_what_nobody_is_short_of_is_not_bought() -> None:
    spending = best_buys([part("cowl", 1, 50)], [Offer("cowls", 0, 1, each(1), 0)], 100, 3)
    assert spending.buys == () and spending.spent == 0


def test_a_piece_that_serves_two_parts_is_bought_before_one_that_serves_one() -> None:
    pool = Pool((part("std", 5), part("+0.1", 5)), frozenset({(1, 0)}))
    offers = (Offer("std", 0, 1, each(10), 0), Offer("+0.1", 1, 1, each(10), 0))
    assert best_buys([pool], offers, 10, 3).buys == (Buy("+0.1", 1, 10),)


def test_parts_that_cannot_be_bought_count_in_what_is_left() -> None:
    offers = (Offer("valves", 1, 1, each(1), 0),)
    spending = best_buys([BARREL, VALVE, SPRING], offers, 1_000, 3, (1.0, 1.0, 2.0))
    never = shortage(BARREL, 3).expected[-1] + 2 * shortage(SPRING, 3).expected[-1]
    assert spending.after == pytest.approx(never, abs=1e-5)
    assert spending.before == pytest.approx(never + shortage(VALVE, 3).expected[-1], abs=1e-9)


def test_the_curve_falls_with_the_money_and_is_the_best_for_each_sum() -> None:
    cases = (BARREL, VALVE, SPRING)
    offers = (
        Offer("barrels", 0, 2, ((2, 70), (4, 50)), 1),
        Offer("valves", 1, 1, each(20), 1),
        Offer("springs", 2, 3, each(3), 1),
    )
    points = curve(cases, offers, (400, 0, 50, 100, 50, 200), 3)
    assert [money for money, _ in points] == [0, 50, 100, 200, 400]
    shorts = [short for _, short in points]
    assert shorts == sorted(shorts, reverse=True)
    for money, short in points:
        assert short == pytest.approx(best_buys(cases, offers, money, 3).after, abs=1e-12)
    assert curve(cases, offers, (), 3) == ()


def test_a_shop_with_many_parts_is_proven() -> None:
    cases = [part(f"part {i}", 1 + i % 9, i % 3) for i in range(60)]
    offers = [Offer(f"offer {i}", i, 1 + i % 4, ((1, 900 + 37 * i), (5, 700 + 31 * i)), 1) for i in range(60)]
    spending = best_buys(cases, offers, 100_000, 3)
    check(spending, offers, 100_000)
    assert spending.proven
    assert spending.spent > 98_000


def test_a_need_of_thousands_is_bought_whole() -> None:
    offers = (Offer("pins", 0, 500, ((1, 3), (1_000, 2)), 0, 6_000), Offer("more pins", 0, 1, each(4), 0))
    spending = best_buys([part("split pin", 0, owed=7_000)], offers, 20_000, 3)
    assert spending.buys == (Buy("pins", 6_000, 12_000), Buy("more pins", 1_000, 4_000))
    assert spending.after == 0 and spending.proven


def test_more_ways_than_can_be_looked_at_are_not_called_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("invdb.rules.spending.CHOICES_MAX", 6)
    pool = Pool((part("std", 5), part("+0.1", 5)), frozenset({(1, 0)}))
    offers = (Offer("std", 0, 1, each(10), 0), Offer("+0.1", 1, 1, each(10), 0))
    spending = best_buys([pool], offers, 100, 3)
    check(spending, offers, 100)
    assert not spending.proven and spending.after < spending.before


def test_nothing_on_offer_is_nothing_bought() -> None:
    spending = best_buys([BARREL], [], 1_000, 3)
    assert spending == Spending((), 0, spending.before, spending.before, True)
    assert best_buys([], [], 0, 3) == Spending((), 0, 0.0, 0.0, True)


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda: best_buys([BARREL], [], -1, 3), "A sum of -1 is not between 0 and 10,000,000,000,000."),
        (lambda: best_buys([BARREL], [], 1, -3), "A horizon of -3 months is not between 0 and 240."),
        (
            lambda: best_buys([BARREL], [], 1, 3, (1.0, 2.0)),
            "2 weights for 1 parts do not give each part one from 0 on.",
        ),
        (
            lambda: best_buys([BARREL], [], 1, 3, (-1.0,)),
            "1 weights for 1 parts do not give each part one from 0 on.",
        ),
        (lambda: best_buys([BARREL], [Offer("a", 1, 1, each(1), 0)], 1, 3), "a is for part 1 of 1."),
        (lambda: best_buys([BARREL], [Offer("a", 0, 1, each(1), 0)] * 2, 1, 3), "There are two offers a."),
        (
            lambda: Offer("a", 0, 0, each(1), 0),
            "A minimum of 0 of a, from 1, in month 0 is out of range.",
        ),
        (
            lambda: Offer("a", 0, 1, ((5, 10), (1, 12)), 0),
            "The prices of a are not ascending by quantity, or one is below nothing.",
        ),
        (
            lambda: Offer("a", 0, 1, (), 0),
            "The prices of a are not ascending by quantity, or one is below nothing.",
        ),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(ask: Callable[[], object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        ask()
    assert refused.value.reason == said
