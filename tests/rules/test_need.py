"""What the plan asks for, month by month: rejects at overhauls, failures, lives run out and what is owed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from invdb.rules.counts import Counts, convolve, mixture
from invdb.rules.need import (
    BEYOND_MAX,
    FailureRecord,
    Need,
    Overhaul,
    RunningOut,
    enough,
    known_by_month,
    looks_by_month,
    need_by_month,
)
from invdb.rules.reject_rate import Inspected, RejectPrior, RejectRecord, grid, node_cells, node_weights
from invdb.terms import Refused

BARRELS = RejectRecord(RejectPrior(0.2, 10), (Inspected(7, 5), Inspected(7, 0)))
SPRINGS = FailureRecord(prior_failures=0.5, prior_hours=2_000, failures=2, hours=3_000)

overhauls = st.lists(
    st.builds(
        Overhaul,
        st.sampled_from(["Linnet 1", "Linnet 2", "Dabchick 1"]),
        st.integers(0, 8),
        st.integers(0, 9),
    ),
    max_size=5,
).map(tuple)
needs = st.builds(
    Need,
    overhauls,
    st.sampled_from([BARRELS, None]),
    st.lists(st.floats(0, 500), max_size=6).map(tuple),
    st.sampled_from([SPRINGS, None]),
    st.lists(
        st.builds(
            RunningOut, st.sampled_from(["Linnet 1", "Dabchick 1"]), st.integers(0, 8), st.integers(0, 2)
        ),
        max_size=3,
    ).map(tuple),
    st.integers(0, 3),
)


def test_one_overhaul_of_a_known_rate_is_beta_binomial() -> None:
    tied = RejectRecord(RejectPrior(0.2, 10_000, concentration=6.3, factor=1.01))
    need = need_by_month(Need((Overhaul("Linnet 1", 2, 7),), tied), 3)
    assert need.cells[1].tolist() == [1.0] + [0.0] * 7
    np.testing.assert_allclose(
        need.cells[2], stats.betabinom.pmf(np.arange(8), 7, 0.2 * 6.3, 0.8 * 6.3), atol=2e-3
    )
    np.testing.assert_allclose(need.cells[3], need.cells[2], atol=1e-15)
    assert need.mean[2] == pytest.approx(1.4)


def test_engines_that_share_a_rate_are_mixed_together_and_not_each_by_itself() -> None:
    """By hand: at each node the engines are independent, and the mixture is of their sums."""
    plan = (Overhaul("Linnet 1", 1, 7), Overhaul("Dabchick 1", 4, 4), Overhaul("Linnet 2", 4, 7))
    need = need_by_month(Need(plan, BARRELS), 6)
    weights = node_weights([BARRELS])[0]
    nodes = [Counts(node_cells(looked), looked * grid()[0]) for looked in (7, 4, 7)]
    by_hand = mixture(weights, convolve(convolve(nodes[0], nodes[1], 12), nodes[2], 19))
    np.testing.assert_allclose(need.cells[6], by_hand.cells, atol=1e-13)
    assert need.mean[6] == pytest.approx(float(by_hand.mean))
    each = [mixture(weights, node) for node in nodes]
    apart = convolve(convolve(each[0], each[1], 12), each[2], 19)
    k = np.arange(19)
    variance, variance_apart = (cells @ k**2 - (cells @ k) ** 2 for cells in (need.cells[6], apart.cells))
    assert variance > 1.2 * variance_apart, "one rate is behind all of them"


def test_failures_are_negative_binomial_in_the_hours_planned() -> None:
    need = need_by_month(Need(hours=(100.0, 0.0, 300.0), failures=SPRINGS), 4)
    for month, hours in enumerate((0, 100, 100, 400, 400)):
        exact = stats.nbinom.pmf(np.arange(need.size), 2.5, 5_000 / (5_000 + hours))
        np.testing.assert_allclose(need.cells[month], exact, atol=1e-13)


def test_a_part_renewed_always_is_asked_for_whole() -> None:
    gasket = Need((Overhaul("Linnet 1", 0, 7), Overhaul("Linnet 2", 2, 7)))
    assert known_by_month(gasket, 3) == (7, 7, 14, 14)
    need = need_by_month(gasket, 3)
    assert need.cells.argmax(axis=1).tolist() == [7, 7, 14, 14]
    assert need.cells.max(axis=1).tolist() == [1, 1, 1, 1]


def test_what_is_owed_is_needed_now_and_what_is_overdue_as_well() -> None:
    need = Need((Overhaul("Linnet 1", -3, 7),), running_out=(RunningOut("Linnet 2", -1),), owed=2)
    assert known_by_month(need, 1) == (10, 10)


def test_a_life_that_runs_out_is_counted_once_where_an_overhaul_replaces_the_piece() -> None:
    plan = (Overhaul("Linnet 1", 3, 7),)
    after = Need(plan, BARRELS, running_out=(RunningOut("Linnet 1", 5, 2),))
    assert known_by_month(after, 6) == (0, 0, 0, 2, 2, 2, 2)
    assert looks_by_month(after, 6)[3:] == (((5, 1),),) * 4
    before = Need(plan, BARRELS, running_out=(RunningOut("Linnet 1", 2, 2),))
    assert known_by_month(before, 6) == (0, 0, 2, 2, 2, 2, 2)
    assert looks_by_month(before, 6)[3:] == (((7, 1),),) * 4
    elsewhere = Need(plan, BARRELS, running_out=(RunningOut("Linnet 2", 5, 2),))
    assert known_by_month(elsewhere, 6) == (0, 0, 0, 0, 0, 2, 2)
    assert looks_by_month(elsewhere, 6)[3:] == (((7, 1),),) * 4


def test_a_life_that_runs_out_after_a_part_is_renewed_always_asks_for_nothing_more() -> None:
    plan = (Overhaul("Linnet 1", 3, 7),)
    assert known_by_month(Need(plan, running_out=(RunningOut("Linnet 1", 5),)), 6) == (0, 0, 0, 7, 7, 7, 7)
    assert known_by_month(Need(plan, running_out=(RunningOut("Linnet 1", 2),)), 6) == (0, 0, 1, 8, 8, 8, 8)


def test_a_piece_replaced_at_the_later_overhaul_is_looked_at_in_the_earlier_one_until_then() -> None:
    plan = (Overhaul("Linnet 1", 1, 7), Overhaul("Linnet 1", 4, 7))
    need = Need(plan, BARRELS, running_out=(RunningOut("Linnet 1", 5),))
    assert known_by_month(need, 5) == (0, 0, 0, 0, 1, 1)
    assert looks_by_month(need, 5) == ((), ((7, 1),), ((7, 1),), ((7, 1),), ((6, 2),), ((6, 2),))


def test_what_comes_after_the_horizon_is_not_asked_for() -> None:
    need = Need(
        (Overhaul("Linnet 1", 9, 7),), BARRELS, (0.0,) * 8 + (100.0,), SPRINGS, (RunningOut("Linnet 1", 9),)
    )
    assert need_by_month(need, 8).cells.tolist() == [[1.0]] * 9


def test_nothing_planned_is_nothing_needed_and_no_horizon_is_now() -> None:
    assert need_by_month(Need(), 2).cells.tolist() == [[1.0]] * 3
    assert need_by_month(Need((Overhaul("Linnet 1", 1, 7),), BARRELS, owed=1), 0).cells.tolist() == [
        [0.0, 1.0]
    ]


@settings(max_examples=40)
@given(needs, st.integers(0, 8))
def test_need_is_whole_and_grows_by_the_month(need: Need, horizon: int) -> None:
    counts = need_by_month(need, horizon)
    assert np.isfinite(counts.cells).all() and (counts.cells >= 0).all()
    np.testing.assert_allclose(counts.cells.sum(axis=1), 1, atol=1e-11)
    assert (counts.beyond <= BEYOND_MAX * 10).all()
    np.testing.assert_allclose(counts.cells @ np.arange(counts.size), counts.mean, atol=1e-8)
    assert (np.diff(counts.over(), axis=0) >= -1e-11).all(), "by a later month no less is needed"
    assert counts.size == enough([need], horizon)[0] + 1


@settings(max_examples=20)
@given(needs)
def test_need_by_a_month_does_not_hang_on_how_far_ahead_one_looks(need: Need) -> None:
    near, far = need_by_month(need, 3), need_by_month(need, 8)
    np.testing.assert_allclose(near.cells[:, : near.size], far.cells[:4, : near.size], atol=1e-11)


def test_need_agrees_with_simulation() -> None:
    draw = np.random.default_rng(1931)
    shops, plan = 40_000, (7, 7, 4)
    weights = node_weights([BARRELS])[0]
    nodes = draw.choice(len(weights), shops, p=weights)
    rates, concentrations = (each[nodes] for each in grid())
    total = np.zeros(shops)
    for looked in plan:
        heated = draw.beta(rates * concentrations + 1e-12, (1 - rates) * concentrations + 1e-12)
        total += draw.binomial(looked, heated)
    total += draw.poisson(draw.gamma(SPRINGS.shape, 400 / SPRINGS.rate, shops))
    overhauls = tuple(Overhaul(f"Linnet {i}", 1, looked) for i, looked in enumerate(plan))
    need = need_by_month(Need(overhauls, BARRELS, (400.0,), SPRINGS), 1).at(1)
    for stock in range(0, 10, 2):
        chance = need.over()[stock]
        error = np.sqrt(chance * (1 - chance) / shops)
        assert abs((total > stock).mean() - chance) < 4 * error
        short = np.maximum(total - stock, 0)
        assert abs(short.mean() - need.excess()[stock]) < 4 * short.std() / np.sqrt(shops)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (
            lambda: Need(tuple(Overhaul("Linnet 1", 1, 7) for _ in range(10_000)), BARRELS),
            "The plan has 10,000 overhauls for one part, more than 1,000.",
        ),
        (
            lambda: Need((Overhaul("Linnet 1", 1, 10_000),), BARRELS),
            "10,000 pieces in Linnet 1 are not between 0 and 500.",
        ),
        (
            lambda: Need(tuple(Overhaul("Linnet 1", 1, 400) for _ in range(100)), BARRELS),
            "The plan looks at 40,000 pieces of one part, more than 10,000.",
        ),
        (lambda: Need(owed=-1), "-1 pieces owed or running out of life are not between 0 and 10,000."),
        (
            lambda: Need(hours=(float("inf"),)),
            "inf planned hours in a month are not between 0 and 1,000,000.",
        ),
        (
            lambda: Need(hours=(float("nan"),)),
            "nan planned hours in a month are not between 0 and 1,000,000.",
        ),
        (
            lambda: Need(hours=(1e6,), failures=FailureRecord(100, 1)),
            "100,000,000 failures would be expected, more than 10,000.",
        ),
        (lambda: FailureRecord(0, 100), "A prior of 0 failures in 100 hours is out of range."),
        (lambda: FailureRecord(1, 100, -1), "-1 failures in 0 hours cannot be."),
        (lambda: need_by_month(Need(), -1), "A horizon of -1 months is not between 0 and 240."),
        (lambda: need_by_month(Need(), 10_000), "A horizon of 10000 months is not between 0 and 240."),
    ],
)
def test_an_absurd_plan_is_refused(make: Callable[[], object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        make()
    assert refused.value.reason == said
    assert refused.value.remedy


def test_the_greatest_plan_that_is_taken_is_reckoned_with() -> None:
    need = need_by_month(Need(tuple(Overhaul("Linnet 1", 1, 10) for _ in range(1_000)), BARRELS), 1)
    assert need.size == 10_001
    assert need.cells[1].sum() == pytest.approx(1)
    assert need.mean[1] == pytest.approx(need.cells[1] @ np.arange(need.size))
