"""How long a firm takes is learned from what it delivered and from what it still owes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from invdb.rules.lead_time import LeadPrior, LeadRecord, lead_time, month_ends
from invdb.terms import Refused

SIX_WEEKS = LeadPrior(42)

days = st.lists(st.integers(0, 20_000), max_size=8).map(tuple)
records = st.builds(
    LeadRecord,
    st.builds(LeadPrior, st.floats(0, 20_000), st.floats(1.01, 50), st.floats(0.01, 5)),
    days,
    days,
)


def test_with_no_record_a_firm_takes_about_what_is_usual() -> None:
    assert lead_time(LeadRecord(SIX_WEEKS)).days_until(0.5) == pytest.approx(42, abs=2)


def test_a_firm_that_takes_twice_what_it_quotes_is_learned() -> None:
    late = lead_time(LeadRecord(SIX_WEEKS, (84, 90, 80, 95, 79, 88, 85, 91)))
    assert late.days_until(0.5) == pytest.approx(85, abs=5)


def test_one_delivery_moves_a_belief_as_bayes_says() -> None:
    """By quadrature over the median, for a spread that the prior holds at one node of the grid."""
    prior = LeadPrior(42, factor=1.5, spread=0.5)
    found = lead_time(LeadRecord(prior, (120, 100, 110, 150, 90)))
    taken = np.log(np.array([120, 100, 110, 150, 90]) + 0.5)
    spreads = np.array([0.12, 0.25, 0.5, 1.0])
    spread_prior = stats.norm.pdf(np.log(spreads), np.log(0.5), np.log(2))

    def joint(median: float) -> np.ndarray:
        likelihoods = np.array([stats.norm.pdf(taken, median, spread).prod() for spread in spreads])
        return np.asarray(likelihoods * spread_prior * stats.norm.pdf(median, np.log(42), np.log(1.5)))

    medians = np.linspace(2, 7, 2001)
    weights = np.array([joint(median) for median in medians])
    longer = stats.norm.sf((np.log(100) - medians[:, None]) / spreads)
    exact = 1 - integrate.trapezoid((weights * longer).sum(axis=1), medians) / integrate.trapezoid(
        weights.sum(axis=1), medians
    )
    assert found.arrival(0, np.array([100]))[0] == pytest.approx(exact, abs=0.003)


def test_what_is_still_owed_makes_a_firm_slower_than_what_it_delivered() -> None:
    delivered = (20, 22, 25, 19)
    quick = lead_time(LeadRecord(SIX_WEEKS, delivered))
    owing = lead_time(LeadRecord(SIX_WEEKS, delivered, (200, 250, 300, 180)))
    fresh = lead_time(LeadRecord(SIX_WEEKS, delivered, (0, 1, 2)))
    assert owing.days_until(0.5) > 1.5 * quick.days_until(0.5)
    assert fresh.days_until(0.5) == pytest.approx(quick.days_until(0.5), abs=1)


def test_the_longer_a_thing_is_out_the_longer_it_is_likely_to_be() -> None:
    delivered = (40, 45, 39, 60)
    left = [
        lead_time(LeadRecord(SIX_WEEKS, delivered, (elapsed,))).days_until(0.5, elapsed)
        for elapsed in (0, 20, 60, 200)
    ]
    assert left[1] < left[0], "some of it has passed"
    assert left[3] > 2 * left[2], "it is no ordinary case by then"


@given(records, st.integers(0, 2_000), st.integers(1, 2_000))
def test_a_thing_among_what_is_open_is_here_as_the_firm_takes_so_long_and_no_longer(
    record: LeadRecord, elapsed: int, ahead: int
) -> None:
    """P(here in so many days | not yet) is what any thing of that firm has of both, by definition."""
    before = lead_time(record)
    by_now, by_then = before.arrival(0, np.array([elapsed, elapsed + ahead]))
    assume(by_now < 0.999)
    late = lead_time(replace(record, open_days=(*record.open_days, elapsed)))
    exact = (by_then - by_now) / (1 - by_now)
    assert late.arrival(elapsed, np.array([ahead]))[0] == pytest.approx(exact, abs=1e-9)


def test_a_firm_that_delivers_the_same_day_has_no_lead_time() -> None:
    shop_next_door = lead_time(LeadRecord(LeadPrior(0), (0,) * 10))
    assert shop_next_door.days_until(0.95) <= 1
    chances = shop_next_door.arrival(0, month_ends(2))
    assert chances[0] == 0 and chances[1] > 0.999


@given(records, st.integers(0, 20_000))
def test_chances_are_chances_and_grow_by_the_day(record: LeadRecord, elapsed: int) -> None:
    firm = lead_time(record)
    assert firm.weights.sum() == pytest.approx(1)
    chances = firm.arrival(elapsed, np.array([-5, 0, 1, 10, 100, 1_000, 10_000, 100_000]))
    assert np.isfinite(chances).all()
    assert (chances >= 0).all() and (chances <= 1 + 1e-12).all()
    assert (np.diff(chances) >= -1e-12).all()
    assert chances[1] == 0
    assert chances[0] == 0


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: LeadPrior(-1), "A usual time of -1 days is not between 0 and 20,000."),
        (lambda: LeadPrior(10, factor=1), "A factor of 1 and a spread of 0.35 are out of range."),
        (
            lambda: LeadRecord(SIX_WEEKS, (-4,)),
            "-4 days from order to delivery are not between 0 and 20,000.",
        ),
    ],
)
def test_dates_that_cannot_be_are_refused(make: Callable[[], object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        make()
    assert refused.value.reason == said
