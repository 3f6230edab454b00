"""What is said of need holds as often as it says, over shops whose true rates are drawn from the prior.

Each of 200 shops has five parts, each with rates of its own: a history of inspections and of running is
simulated from them, then need is reckoned from that history and the prior alone, and then what the shop truly
comes to need is simulated from the same rates.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy import stats

from invdb.rules.counts import Counts, central_range
from invdb.rules.need import FailureRecord, Need, Overhaul, needs_by_month
from invdb.rules.reject_rate import Inspected, RejectPrior, RejectRecord

SHOPS = 200
# The prior of each part's class, its failures in 1,000 hours, how many an engine holds, and how many engines
# were looked at and how many hours run before.
PARTS = (
    (RejectPrior(0.15, 8), 0.5, 7, 12, 4_000.0),
    (RejectPrior(0.4, 4), 1.0, 7, 3, 500.0),
    (RejectPrior(0.05, 20), 2.0, 14, 8, 8_000.0),
    (RejectPrior(0.25, 6, concentration=3.0), 0.5, 12, 0, 0.0),
    (RejectPrior(0.6, 10, concentration=40.0, factor=2.0), 4.0, 4, 30, 10_000.0),
)
ENGINES, HOURS = 4, 800.0


def rejected(
    draw: np.random.Generator, rate: float, concentration: float, each: int, engines: int
) -> list[int]:
    """Of so many pieces in each engine, those rejected: alike in one engine."""
    alpha, beta = rate * concentration, (1 - rate) * concentration
    return [int(draw.binomial(each, draw.beta(max(alpha, 1e-9), max(beta, 1e-9)))) for _ in range(engines)]


@cache
def shops() -> tuple[list[Counts], np.ndarray, list[Counts]]:
    """Need as it is reckoned, as it turns out, and as one would have it who took each rate for known."""
    draw = np.random.default_rng(1938)
    needs, turned_out, taken_for_known = [], [], []
    for prior, failures, each, engines, hours in PARTS * SHOPS:
        rate = draw.beta(prior.mean * prior.weight, (1 - prior.mean) * prior.weight)
        concentration = prior.concentration * prior.factor ** draw.normal()
        a_thousand = draw.gamma(failures)
        found = rejected(draw, rate, concentration, each, engines)
        failed = int(draw.poisson(a_thousand * hours / 1_000))
        needs.append(
            Need(
                tuple(Overhaul(f"Linnet {i}", 1, each) for i in range(ENGINES)),
                RejectRecord(prior, tuple(Inspected(each, count) for count in found)),
                (HOURS,),
                FailureRecord(failures, 1_000, failed, hours),
            )
        )
        comes = sum(rejected(draw, rate, concentration, each, ENGINES))
        turned_out.append(comes + draw.poisson(a_thousand * HOURS / 1_000))
        guess = (sum(found) + prior.mean * prior.weight) / (each * engines + prior.weight)
        fails = (failures + failed) / (1_000 + hours) * HOURS
        sure = np.convolve(
            stats.binom.pmf(np.arange(ENGINES * each + 1), ENGINES * each, guess),
            stats.poisson.pmf(np.arange(60), fails),
        )
        taken_for_known.append(Counts(sure, sure @ np.arange(len(sure))))
    reckoned = [counts.at(1) for counts in needs_by_month(needs, 1)]
    return reckoned, np.array(turned_out), taken_for_known


def covered(counts: list[Counts], turned_out: np.ndarray, chance: float) -> float:
    """How often what turned out lies in the range stated."""
    ranges = [central_range(each, chance) for each in counts]
    inside = [low <= out <= high for (low, high), out in zip(ranges, turned_out, strict=True)]
    return float(np.mean(inside))


def transformed(counts: list[Counts], turned_out: np.ndarray) -> np.ndarray:
    """Where each outcome lies in what was said of it, at random within its own cell: uniform, if it is so."""
    draw = np.random.default_rng(1939)
    places = [
        each.cells[:out].sum() + draw.random() * each.cells[out]
        for each, out in zip(counts, turned_out, strict=True)
    ]
    return np.array(places)


@pytest.mark.parametrize("chance", [0.8, 0.95])
def test_the_range_that_is_stated_holds_at_least_so_often(chance: float) -> None:
    reckoned, turned_out, taken_for_known = shops()
    error = np.sqrt(chance * (1 - chance) / len(reckoned))
    assert covered(reckoned, turned_out, chance) >= chance - 3 * error
    # Nor is it so wide as to say nothing: whole counts alone make it hold somewhat more often.
    assert covered(reckoned, turned_out, chance) < (1 + chance) / 2 + 0.03
    assert covered(taken_for_known, turned_out, chance) < chance - 3 * error, "rates are not known"


@pytest.mark.parametrize("part", range(len(PARTS)))
def test_the_range_holds_for_each_kind_of_part(part: int) -> None:
    reckoned, turned_out, _ = shops()
    alike = slice(part, None, len(PARTS))
    for chance in (0.8, 0.95):
        error = np.sqrt(chance * (1 - chance) / SHOPS)
        assert covered(reckoned[alike], turned_out[alike], chance) >= chance - 3 * error


def test_outcomes_lie_evenly_in_what_was_said_of_them() -> None:
    reckoned, turned_out, taken_for_known = shops()
    assert stats.kstest(transformed(reckoned, turned_out), "uniform").pvalue > 0.05
    assert stats.kstest(transformed(taken_for_known, turned_out), "uniform").pvalue < 1e-3
