"""What inspections say of a rate: the prior speaks first, and pieces of one engine go together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from invdb.rules.reject_rate import (
    CONCENTRATIONS,
    NODES,
    RATE_NODES,
    Inspected,
    RejectPrior,
    RejectRecord,
    grid,
    node_cells,
    node_weights,
    prior_weights,
    reject_rate,
)
from invdb.terms import Refused

EXHAUST_VALVES = RejectPrior(mean=0.2, weight=10)


priors = st.builds(
    RejectPrior, st.floats(0.001, 0.999), st.floats(0.2, 500), st.floats(0.2, 500), st.floats(1.1, 20)
)
inspections = st.lists(
    st.integers(0, 30).flatmap(lambda n: st.builds(Inspected, st.just(n), st.integers(0, n))), max_size=12
).map(tuple)


@given(priors)
def test_with_no_history_the_prior_speaks(prior: RejectPrior) -> None:
    weights = node_weights([RejectRecord(prior)])[0]
    np.testing.assert_allclose(weights, prior_weights(prior), atol=1e-15)
    assert reject_rate(RejectRecord(prior)).mean == pytest.approx(prior.mean, rel=1e-9)


@given(priors, inspections)
def test_weights_sum_to_one_whatever_was_found(prior: RejectPrior, inspected: tuple[Inspected, ...]) -> None:
    weights = node_weights([RejectRecord(prior, inspected)])
    assert weights.shape == (1, NODES)
    assert np.isfinite(weights).all() and (weights >= 0).all()
    assert weights.sum() == pytest.approx(1)
    rate = reject_rate(RejectRecord(prior, inspected))
    assert 0 <= rate.low <= rate.high <= 1 and 0 <= rate.mean <= 1


@given(priors, inspections)
def test_the_order_of_inspections_does_not_matter(
    prior: RejectPrior, inspected: tuple[Inspected, ...]
) -> None:
    turned = node_weights([RejectRecord(prior, inspected), RejectRecord(prior, inspected[::-1])])
    np.testing.assert_allclose(turned[0], turned[1], atol=1e-12)


@given(priors, inspections)
def test_one_more_rejected_never_lowers_the_rate(
    prior: RejectPrior, inspected: tuple[Inspected, ...]
) -> None:
    good, bad = (reject_rate(RejectRecord(prior, (*inspected, Inspected(1, found)))).mean for found in (0, 1))
    assert good <= bad + 1e-12


@pytest.mark.parametrize(("looked", "rejected"), [(0, 0), (7, 0), (7, 7), (40, 9), (300, 40), (500, 3)])
def test_pieces_that_go_each_by_itself_teach_as_a_beta_does(looked: int, rejected: int) -> None:
    # One at a time, so that nothing is within one engine.
    found = (Inspected(1, 1),) * rejected + (Inspected(1, 0),) * (looked - rejected)
    rate = reject_rate(RejectRecord(EXHAUST_VALVES, found))
    exact = stats.beta(2 + rejected, 8 + looked - rejected)
    assert rate.mean == pytest.approx(exact.mean(), rel=0.01)
    assert rate.low == pytest.approx(exact.ppf(0.1), abs=0.021)
    assert rate.high == pytest.approx(exact.ppf(0.9), abs=0.021)


def test_what_is_learned_is_bayes_summed_by_hand() -> None:
    """The posterior mean of the rate by quadrature over the continuous prior, the concentration held."""
    tied = RejectPrior(mean=0.2, weight=10, concentration=6.3, factor=1.01)
    found = (Inspected(7, 5), Inspected(7, 0), Inspected(4, 1))

    def likelihood(rate: float) -> float:
        return float(
            np.prod(
                [
                    stats.betabinom.pmf(each.rejected, each.looked, rate * 6.3, (1 - rate) * 6.3)
                    for each in found
                ]
            )
        ) * stats.beta.pdf(rate, 2, 8)

    total = integrate.quad(likelihood, 0, 1)[0]
    mean = integrate.quad(lambda rate: rate * likelihood(rate), 0, 1)[0] / total
    assert reject_rate(RejectRecord(tied, found)).mean == pytest.approx(mean, rel=1e-3)


def test_five_barrels_of_one_overheated_engine_say_less_than_five_of_five_engines() -> None:
    together = reject_rate(RejectRecord(EXHAUST_VALVES, (Inspected(7, 5), *(Inspected(7, 0),) * 4)))
    apart = reject_rate(RejectRecord(EXHAUST_VALVES, (Inspected(7, 1),) * 5))
    assert together.high - together.low > apart.high - apart.low


def test_engines_that_reject_all_or_nothing_show_that_their_pieces_go_together() -> None:
    concentration = grid()[1]
    weights = node_weights(
        [
            RejectRecord(EXHAUST_VALVES, (Inspected(7, 7), Inspected(7, 0)) * 3),
            RejectRecord(EXHAUST_VALVES, (Inspected(7, 3), Inspected(7, 4)) * 3),
        ]
    )
    all_or_nothing, even = weights @ np.log(concentration)
    assert all_or_nothing < np.log(3) < even


def test_a_prior_that_inspections_contradict_gives_way() -> None:
    sure = RejectPrior(mean=0.01, weight=100, concentration=10_000, factor=1.01)
    rate = reject_rate(RejectRecord(sure, (Inspected(1, 1),) * 100))
    assert rate.mean == pytest.approx(101 / 200, abs=0.02)


def test_every_node_is_a_whole_beta_binomial() -> None:
    cells = node_cells(9)
    assert cells.shape == (RATE_NODES * len(CONCENTRATIONS), 10)
    np.testing.assert_allclose(cells.sum(axis=1), 1, atol=1e-12)
    np.testing.assert_allclose(cells @ np.arange(10), 9 * grid()[0], atol=1e-12)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Inspected(5, 6), "Of 5 pieces looked at, 6 cannot have been rejected."),
        (lambda: Inspected(5, -1), "Of 5 pieces looked at, -1 cannot have been rejected."),
        (lambda: Inspected(501, 0), "501 pieces looked at in one engine at one time are more than 500."),
        (lambda: RejectPrior(0, 10), "A rate of 0 rejected is not between 0.0001 and 0.9999."),
        (lambda: RejectPrior(float("nan"), 10), "A rate of nan rejected is not between 0.0001 and 0.9999."),
        (lambda: RejectPrior(0.5, 0), "A belief cannot be worth 0 pieces."),
    ],
)
def test_what_cannot_be_is_refused(make: type, said: str) -> None:
    with pytest.raises(Refused) as refused:
        make()
    assert refused.value.reason == said
