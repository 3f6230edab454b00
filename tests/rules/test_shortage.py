"""Which parts run short, when and how surely: exact sums over all that is needed and all that there is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from invdb.rules.lead_time import LeadPrior, LeadRecord, lead_time, month_ends
from invdb.rules.need import FailureRecord, Need, Overhaul, RunningOut
from invdb.rules.reject_rate import Inspected, RejectPrior, RejectRecord, grid, node_weights
from invdb.rules.shortage import (
    PartCase,
    Shortage,
    net_by_month,
    shortage,
    shortages,
    smallest_batch,
)
from invdb.rules.supply import InWork, OnOrder, Supply, YieldRecord
from invdb.terms import Refused

BARRELS = RejectRecord(RejectPrior(0.2, 10), (Inspected(7, 5), Inspected(7, 0)))
NO_HISTORY = RejectRecord(RejectPrior(0.3, 4))
SPRINGS = FailureRecord(prior_failures=0.5, prior_hours=2_000, failures=2, hours=3_000)
SAME_DAY = lead_time(LeadRecord(LeadPrior(0), (0,) * 20))
PLATER = lead_time(LeadRecord(LeadPrior(60), (50, 75, 62, 90), (40,)))
PLATING = YieldRecord(0.7, 4, good=5, failed=3)

needs = st.builds(
    Need,
    st.lists(
        st.builds(
            Overhaul, st.sampled_from(["Linnet 1", "Dabchick 1"]), st.integers(0, 6), st.integers(0, 7)
        ),
        max_size=4,
    ).map(tuple),
    st.sampled_from([BARRELS, NO_HISTORY, None]),
    st.lists(st.floats(0, 400), max_size=6).map(tuple),
    st.sampled_from([SPRINGS, None]),
    st.lists(st.builds(RunningOut, st.just("Linnet 1"), st.integers(0, 6)), max_size=2).map(tuple),
    st.integers(0, 3),
)
supplies = st.builds(
    Supply,
    st.integers(0, 12),
    st.lists(st.builds(InWork, st.integers(0, 3), st.just(PLATER), st.just(PLATING)), max_size=2).map(tuple),
    st.lists(st.builds(OnOrder, st.integers(0, 4), st.just(PLATER), st.just(40)), max_size=2).map(tuple),
)
cases = st.builds(PartCase, st.just("inlet valve"), needs, supplies)


def failing(record: FailureRecord, hours: float, stock: int) -> Shortage:
    return shortage(PartCase("valve spring", Need(hours=(hours,), failures=record), Supply(stock)), 1)


@pytest.mark.parametrize("mean", [0.25, 1, 3, 10])
@pytest.mark.parametrize("stock", [0, 1, 2, 5, 9, 14])
def test_poisson_need_against_a_stock_gives_the_expected_backorders_of_palm(mean: float, stock: int) -> None:
    """Sherbrooke 1968. A rate that is as good as known: worth 800,000 failures."""
    short = failing(FailureRecord(800_000, 800_000), mean, stock)
    k = np.arange(stock + 1, 120)
    backorders = ((k - stock) * stats.poisson.pmf(k, mean)).sum()
    assert short.expected[1] == pytest.approx(backorders, abs=1e-4)
    assert short.chance[1] == pytest.approx(stats.poisson.sf(stock, mean), abs=1e-5)


def test_backorders_for_one_in_the_pipeline_are_those_of_the_printed_tables() -> None:
    # Sherbrooke, Optimal Inventory Modeling of Systems: mean 1, stock 0 to 3.
    found = [failing(FailureRecord(800_000, 800_000), 1, stock).expected[1] for stock in range(4)]
    assert found == pytest.approx([1.000, 0.368, 0.104, 0.023], abs=6e-4)


@pytest.mark.parametrize("stock", [0, 1, 4, 10])
def test_failures_at_a_rate_learned_are_negative_binomial(stock: int) -> None:
    short = failing(SPRINGS, 4_000, stock)
    need = stats.nbinom(2.5, 5_000 / 9_000)
    assert short.chance[1] == pytest.approx(need.sf(stock), abs=1e-12)
    k = np.arange(stock + 1, 400)
    assert short.expected[1] == pytest.approx(((k - stock) * need.pmf(k)).sum(), abs=1e-10)


@pytest.mark.parametrize("stock", range(8))
def test_rejects_of_one_engine_are_beta_binomial_at_each_node_of_the_rate(stock: int) -> None:
    case = PartCase("barrel", Need((Overhaul("Linnet 1", 1, 7),), BARRELS), Supply(stock))
    short = shortage(case, 2)
    rates, concentrations = grid()
    inner = (rates > 0) & (rates < 1)
    k = np.arange(8)
    cells = np.zeros((len(rates), 8))
    cells[rates == 0, 0] = cells[rates == 1, 7] = 1
    alphas, betas = (rates * concentrations)[inner, None], ((1 - rates) * concentrations)[inner, None]
    cells[inner] = stats.betabinom.pmf(k, 7, alphas, betas)
    need = node_weights([BARRELS])[0] @ cells
    assert short.chance.tolist() == pytest.approx([0, *[need[stock + 1 :].sum()] * 2], abs=1e-12)
    assert short.expected[2] == pytest.approx(need @ np.maximum(k - stock, 0), abs=1e-12)


def test_rejects_that_each_go_by_themselves_at_a_known_rate_are_nearly_binomial() -> None:
    known = RejectRecord(RejectPrior(0.25, 10_000, concentration=250, factor=1.01))
    for stock in range(7):
        case = PartCase("barrel", Need((Overhaul("Linnet 1", 0, 7),), known), Supply(stock))
        assert shortage(case, 0).chance[0] == pytest.approx(stats.binom.sf(stock, 7, 0.25), abs=0.01)


def test_a_known_need_against_pieces_that_may_not_come_good() -> None:
    work = (InWork(6, SAME_DAY, PLATING),)
    short = shortage(PartCase("piston", Need(owed=4), Supply(1, work)), 1)
    good = stats.betabinom(6, PLATING.alpha, PLATING.beta)
    assert short.chance.tolist() == pytest.approx([1, good.cdf(2)], abs=1e-6)
    assert short.expected[0] == 3
    assert short.expected[1] == pytest.approx(sum((3 - k) * good.pmf(k) for k in range(3)), abs=1e-5)


def test_with_no_history_the_belief_of_the_class_speaks() -> None:
    """Beta(1.2, 2.8) of the rate, and the one piece looked at is rejected with its mean."""
    case = PartCase("rocker", Need((Overhaul("Linnet 1", 1, 1),), NO_HISTORY), Supply())
    assert shortage(case, 1).chance[1] == pytest.approx(0.3, abs=1e-9)
    assert shortage(case, 1).expected[1] == pytest.approx(0.3, abs=1e-9)


def test_with_no_lead_time_an_order_covers_the_next_month_but_not_today() -> None:
    case = PartCase("gasket", Need(owed=2), Supply(on_order=(OnOrder(2, SAME_DAY),)))
    assert shortage(case, 2).chance.tolist() == pytest.approx([1, 0, 0], abs=1e-6)


def test_a_part_that_nobody_needs_is_never_short() -> None:
    short = shortage(PartCase("clock", Need(), Supply()), 3)
    assert short.chance.tolist() == short.expected.tolist() == [0, 0, 0, 0]
    assert short.first_month(0.0) is None


def test_the_first_month_is_the_one_by_whose_end_the_threshold_is_passed() -> None:
    plan = (Overhaul("Linnet 1", 2, 7), Overhaul("Dabchick 1", 4, 7))
    short = shortage(PartCase("barrel", Need(plan, BARRELS), Supply(3)), 5)
    assert short.chance[1] == 0 < short.chance[2] < short.chance[4] == short.chance[5]
    assert short.first_month(0.0) == 2
    assert short.first_month(float(short.chance[2])) == 4
    assert short.first_month(float(short.chance[4])) is None


def test_nothing_to_reckon_is_nothing() -> None:
    assert shortages([], 12) == []


@settings(max_examples=25, deadline=None)
@given(st.lists(cases, min_size=1, max_size=6), st.integers(0, 7))
def test_parts_reckoned_together_are_as_each_by_itself_and_as_the_whole_difference(
    together: list[PartCase], horizon: int
) -> None:
    for case, short in zip(together, shortages(together, horizon), strict=True):
        alone = shortage(case, horizon)
        net, offset = net_by_month(case, horizon)
        above = np.maximum(np.arange(net.size) - offset, 0)
        for each in (short, alone):
            assert each.part == case.part
            np.testing.assert_allclose(each.chance, net.cells[:, offset + 1 :].sum(axis=1), atol=1e-10)
            np.testing.assert_allclose(each.expected, net.cells @ above, atol=1e-8)


@settings(max_examples=25, deadline=None)
@given(cases, st.integers(0, 7))
def test_one_more_on_the_shelf_helps_and_never_by_more_than_one(case: PartCase, horizon: int) -> None:
    supply = replace(case.supply, free=case.supply.free + 1)
    less, more = shortages([case, replace(case, supply=supply)], horizon)
    assert (more.chance <= less.chance + 1e-12).all()
    helped = less.expected - more.expected
    np.testing.assert_allclose(helped, less.chance, atol=1e-8)
    assert (less.chance >= 0).all() and (less.chance <= 1).all()


@settings(max_examples=25, deadline=None)
@given(cases, st.integers(0, 7), st.sampled_from([0.01, 0.05, 0.2, 0.5, 1.0]), st.integers(-1, 7))
def test_the_smallest_batch_is_the_first_of_all_that_will_do(
    case: PartCase, horizon: int, target: float, arrives: int
) -> None:
    batch = smallest_batch(case, horizon, target, arrives)
    if arrives > horizon:
        assert batch is None
        return
    assert batch is not None
    for more in (batch - 1, batch):
        if more < 0:
            continue
        supply = replace(case.supply, free=case.supply.free + more)
        chance = shortage(replace(case, supply=supply), horizon).chance[max(arrives, 0) :]
        assert (chance.max() <= target + 1e-11) == (more == batch)


def test_the_chance_of_a_shortage_agrees_with_simulation() -> None:
    draw, shops = np.random.default_rng(1936), 40_000
    weights = node_weights([BARRELS])[0]
    nodes = draw.choice(len(weights), shops, p=weights)
    rates, concentrations = (each[nodes] for each in grid())
    total = np.full(shops, 1.0)
    for looked in (7, 4):
        heated = draw.beta(rates * concentrations + 1e-12, (1 - rates) * concentrations + 1e-12)
        total += draw.binomial(looked, heated)
    total += draw.poisson(draw.gamma(SPRINGS.shape, 600 / SPRINGS.rate, shops))
    node = draw.choice(len(PLATER.weights), shops, p=PLATER.weights)
    here = PLATER.arrival_by_node(40, month_ends(2))[:, 2]
    total -= draw.binomial(draw.binomial(3, here[node]), draw.beta(PLATING.alpha, PLATING.beta, shops)) + 2
    short = np.maximum(total, 0)
    plan = (Overhaul("Linnet 1", 1, 7), Overhaul("Dabchick 1", 2, 4))
    case = PartCase(
        "barrel",
        Need(plan, BARRELS, (600.0,), SPRINGS, owed=1),
        Supply(2, (InWork(3, PLATER, PLATING, 40),)),
    )
    exact = shortage(case, 2)
    chance = exact.chance[2]
    assert 0.1 < chance < 0.9
    assert abs((short > 0).mean() - chance) < 4 * np.sqrt(chance * (1 - chance) / shops)
    assert abs(short.mean() - exact.expected[2]) < 4 * short.std() / np.sqrt(shops)


def test_stock_beyond_all_need_costs_nothing_to_reckon_with() -> None:
    case = PartCase("split pin", Need((Overhaul("Linnet 1", 1, 500),), BARRELS), Supply(1_000_000))
    assert shortage(case, 1).chance.tolist() == pytest.approx([0, 0], abs=1e-10)
    assert smallest_batch(case, 1, 0.05) == 0


@pytest.mark.parametrize(
    ("reckon", "said"),
    [
        (lambda case: shortage(case, -1), "A horizon of -1 months is not between 0 and 240."),
        (lambda case: shortages([case], 241), "A horizon of 241 months is not between 0 and 240."),
        (lambda case: smallest_batch(case, 999, 0.05), "A horizon of 999 months is not between 0 and 240."),
        (lambda case: smallest_batch(case, 12, 0), "A target of 0 is not between 1e-9 and 1."),
        (lambda case: smallest_batch(case, 12, 5), "A target of 5 is not between 1e-9 and 1."),
    ],
)
def test_an_absurd_question_is_refused(reckon: Callable[[PartCase], object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        reckon(PartCase("barrel", Need(owed=1), Supply()))
    assert refused.value.reason == said
