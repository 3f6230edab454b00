"""Mass functions of counts agree with exact fractions and closed forms, and lose nothing at their end."""

from __future__ import annotations

from fractions import Fraction
from math import comb, exp, factorial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from invdb.rules.counts import (
    Counts,
    beta_binomial,
    binomial,
    central_range,
    certain,
    convolve,
    mixture,
    negative_binomial,
    poisson,
    smallest_within,
)

chances = st.floats(0, 1)


def floats(exact: list[Fraction]) -> list[float]:
    return [float(each) for each in exact]


def rising(base: Fraction, steps: int) -> Fraction:
    product = Fraction(1)
    for step in range(steps):
        product *= base + step
    return product


@given(st.integers(0, 40), st.integers(0, 20))
def test_a_binomial_is_that_of_exact_fractions(trials: int, twentieths: int) -> None:
    chance = Fraction(twentieths, 20)
    exact = [comb(trials, k) * chance**k * (1 - chance) ** (trials - k) for k in range(trials + 1)]
    counts = binomial(trials, float(chance), trials + 1)
    np.testing.assert_allclose(counts.cells, floats(exact), rtol=1e-11, atol=1e-14)
    assert counts.mean == pytest.approx(float(trials * chance))


@given(st.integers(0, 30), st.integers(0, 12), st.integers(1, 12))
def test_a_beta_binomial_is_that_of_exact_fractions(trials: int, fifths: int, thirds: int) -> None:
    alpha, beta = Fraction(fifths, 5), Fraction(thirds, 3)
    exact = [
        comb(trials, k) * rising(alpha, k) * rising(beta, trials - k) / rising(alpha + beta, trials)
        for k in range(trials + 1)
    ]
    counts = beta_binomial(trials, float(alpha), float(beta), trials + 1)
    np.testing.assert_allclose(counts.cells, floats(exact), rtol=1e-11, atol=1e-14)
    assert counts.mean == pytest.approx(float(trials * alpha / (alpha + beta)))


def test_sex_of_the_first_twelve_in_saxon_families_fits_the_published_beta_binomial() -> None:
    # Geissler 1889: 6,115 families, the first twelve of thirteen children (Sokal and Rohlf, Biometry, from
    # Lindsey); the fit by maximum likelihood, and the numbers of families that it expects.
    alpha, beta = 34.1350, 31.6085
    expected = 6115 * beta_binomial(12, alpha, beta, 13).cells
    published = [2.3, 22.6, 104.8, 310.9, 655.7, 1036.2, 1257.9, 1182.1, 853.6, 461.9, 177.9, 43.8, 5.2]
    np.testing.assert_allclose(expected, published, atol=0.2)


@given(st.integers(1, 8), st.integers(1, 30), st.integers(0, 30))
def test_a_negative_binomial_is_that_of_exact_fractions(shape: int, rate: int, hours: int) -> None:
    hit = Fraction(hours, rate + hours)
    exact = [comb(shape + k - 1, k) * (1 - hit) ** shape * hit**k for k in range(25)]
    counts = negative_binomial(shape, rate, hours, 25)
    np.testing.assert_allclose(counts.cells, floats(exact), rtol=1e-11, atol=1e-14)
    assert counts.mean == pytest.approx(shape * hours / rate)


@given(st.floats(0.05, 50), st.floats(0.5, 1e5), st.floats(0, 1e5))
def test_failures_agree_with_scipy(shape: float, rate: float, hours: float) -> None:
    counts = negative_binomial(shape, rate, hours, 40)
    np.testing.assert_allclose(
        counts.cells, stats.nbinom.pmf(np.arange(40), shape, rate / (rate + hours)), rtol=1e-7, atol=1e-12
    )


@given(st.integers(0, 60), chances)
def test_binomials_agree_with_scipy(trials: int, chance: float) -> None:
    cells = binomial(trials, chance, trials + 1).cells
    np.testing.assert_allclose(
        cells, stats.binom.pmf(np.arange(trials + 1), trials, chance), rtol=1e-8, atol=1e-12
    )


@given(st.integers(0, 60), st.floats(0.01, 40), st.floats(0.01, 40))
def test_beta_binomials_agree_with_scipy(trials: int, alpha: float, beta: float) -> None:
    cells = beta_binomial(trials, alpha, beta, trials + 1).cells
    exact = stats.betabinom.pmf(np.arange(trials + 1), trials, alpha, beta)
    np.testing.assert_allclose(cells, exact, rtol=1e-8, atol=1e-12)


@pytest.mark.parametrize("mean", [0, Fraction(1, 2), 1, 3, 10])
@pytest.mark.parametrize("stock", [0, 1, 2, 5, 9])
def test_expected_backorders_of_poisson_need_are_the_sum_of_palm(mean: Fraction, stock: int) -> None:
    # The terms after 200 come to nothing that a float could hold.
    terms = [(k - stock) * mean**k / Fraction(factorial(k)) for k in range(stock + 1, 200)]
    backorders = poisson(float(mean), 10).excess()[stock]
    assert backorders == pytest.approx(exp(-mean) * float(sum(terms)), abs=1e-13)


def test_the_tail_of_poisson_is_that_of_the_tables() -> None:
    # P(X <= 4) with mean 2 is 0.947, P(X <= 10) with mean 5 is 0.986: any printed table of Poisson sums.
    assert 1 - poisson(2, 8).over()[4] == pytest.approx(0.947, abs=5e-4)
    assert 1 - poisson(5, 12).over()[10] == pytest.approx(0.986, abs=5e-4)


def test_a_sure_binomial_has_all_its_mass_in_one_cell() -> None:
    cells = binomial(7, [0.0, 1.0], 8).cells
    assert cells.tolist() == [[1.0] + [0.0] * 7, [0.0] * 7 + [1.0]]
    assert beta_binomial(7, [0.0, 5.0], [5.0, 0.0], 8).cells.tolist() == cells.tolist()


@given(st.floats(0, 30), st.integers(1, 40))
def test_what_no_cell_holds_is_carried(mean: float, size: int) -> None:
    counts = poisson(mean, size)
    assert counts.beyond == pytest.approx(stats.poisson.sf(size - 1, mean), abs=1e-13)
    assert counts.cells.sum() + counts.beyond == pytest.approx(1, abs=1e-13)


@given(st.floats(0, 20), st.floats(0, 20), st.integers(1, 30))
def test_cells_of_a_sum_are_exact_however_much_lies_beyond(one: float, other: float, size: int) -> None:
    total = convolve(poisson(one, size), poisson(other, size))
    np.testing.assert_allclose(total.cells, poisson(one + other, size).cells, rtol=1e-9, atol=1e-14)
    np.testing.assert_allclose(total.excess(), poisson(one + other, 80).excess()[:size], atol=1e-10)


@given(st.integers(0, 12), chances, st.integers(0, 12), chances)
def test_sums_do_not_mind_their_order(trials: int, chance: float, others: int, other_chance: float) -> None:
    one, other = binomial(trials, chance, trials + 1), binomial(others, other_chance, others + 1)
    both, turned = (convolve(*pair, trials + others + 1) for pair in ((one, other), (other, one)))
    np.testing.assert_allclose(both.cells, turned.cells, atol=1e-15)
    assert both.cells.sum() == pytest.approx(1)
    assert both.cells @ np.arange(both.size) == pytest.approx(both.mean)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12).filter(lambda each: sum(each) > 0.01))
def test_the_chance_of_more_and_what_is_expected_over_fall_with_every_piece(masses: list[float]) -> None:
    cells = np.array(masses) / sum(masses)
    counts = Counts(cells, cells @ np.arange(len(cells)))
    over, excess = counts.over(), counts.excess()
    assert (np.diff(over) <= 1e-15).all() and (np.diff(excess) <= 1e-12).all()
    direct = [sum(cells[k] * (k - s) for k in range(s, len(cells))) for s in range(len(cells))]
    np.testing.assert_allclose(excess, direct, atol=1e-12)


def test_a_known_count_beyond_the_cells_is_beyond() -> None:
    counts = certain(np.array([0, 2, 3]), 3)
    assert counts.cells.tolist() == [[1, 0, 0], [0, 0, 1], [0, 0, 0]]
    assert counts.beyond.tolist() == [0, 0, 1]
    assert counts.at(2).excess().tolist() == [3, 2, 1]


def test_a_mixture_weighs_cells_and_means() -> None:
    mixed = mixture(np.array([0.25, 0.75]), certain(np.array([0, 2]), 3))
    assert mixed.cells.tolist() == [0.25, 0, 0.75]
    assert mixed.mean == 1.5


def test_a_range_leaves_no_more_than_half_the_rest_at_each_end() -> None:
    counts = binomial(20, 0.5, 21)
    low, high = central_range(counts, 0.8)
    assert (int(low), int(high)) == (7, 13)
    assert stats.binom.cdf(6, 20, 0.5) <= 0.1 <= stats.binom.cdf(7, 20, 0.5)
    assert stats.binom.sf(13, 20, 0.5) <= 0.1 <= stats.binom.sf(12, 20, 0.5)
    assert smallest_within(poisson(50.0, 3), 0.9) == 3, "beyond the cells"
