"""What inspections say of the rate at which pieces of a part are rejected, and of how alike one engine's are.

One overheated engine rejects five barrels together, so the rejects of one engine at one time are
beta-binomial: of n pieces looked at, k are rejected with n, alpha = rate x concentration and beta = (1 -
rate) x concentration, where a concentration of 1 says that they go together or not at all, nearly, and a
great one that each goes by itself. (Two pieces of one engine correlate by 1 / (concentration + 1).) Both are
unknown; what is known of them together is a weight at each node of one fixed grid, of which need is the
mixture. The grid is shared by all parts.

Rates lie at equal steps of the arc sine of the root, in which a proportion is known equally well everywhere.
Beyond some 6,000 pieces that go each by itself a rate is known more finely than the grid's step, and the
answer is then as fine as the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log
from typing import TYPE_CHECKING

from invdb.rules.counts import NO_CHANCE, beta_binomial, weighted
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

RATE_NODES = 80
CONCENTRATIONS = (1.0, 2.5, 6.3, 16.0, 40.0, 100.0, 250.0)
NODES = RATE_NODES * len(CONCENTRATIONS)
LOOKED_MAX = 500


@dataclass(frozen=True)
class Inspected:
    """So many pieces of a part were looked at in one engine at one time, and so many of them rejected."""

    looked: int
    rejected: int

    def __post_init__(self) -> None:
        if not 0 <= self.rejected <= self.looked:
            raise Refused(
                f"Of {self.looked} pieces looked at, {self.rejected} cannot have been rejected.",
                "Correct the inspection.",
            )
        if self.looked > LOOKED_MAX:
            raise Refused(
                f"{self.looked} pieces looked at in one engine at one time are more than {LOOKED_MAX}.",
                "Give them engine by engine.",
            )


@dataclass(frozen=True)
class RejectPrior:
    """What a class of parts is believed to do before any of our own inspections.

    ``mean`` is the rate, above 0 and below 1, and ``weight`` the number of pieces that the belief is worth
    (the rate is Beta(mean x weight, (1 - mean) x weight)). The concentration is lognormal with median
    ``concentration``, and a third of it lies further than ``factor`` times off.
    """

    mean: float
    weight: float
    concentration: float = 8.0
    factor: float = 3.0

    def __post_init__(self) -> None:
        if not 0.0001 <= self.mean <= 0.9999:
            raise Refused(
                f"A rate of {self.mean:g} rejected is not between 0.0001 and 0.9999.",
                "A part that is replaced at every overhaul is renewed always.",
            )
        if not 0.1 <= self.weight <= 10_000:
            raise Refused(
                f"A belief cannot be worth {self.weight:g} pieces.", "Give from 0.1 to 10,000 pieces."
            )
        if not 0.1 <= self.concentration <= 10_000 or not 1.01 <= self.factor <= 1_000:
            raise Refused(
                f"A concentration of {self.concentration:g}, within {self.factor:g} times, is out of range.",
                "Give a concentration from 0.1 to 10,000 and a factor from 1.01 to 1,000.",
            )


@dataclass(frozen=True)
class RejectRecord:
    """What is known of one part: the prior of its class, and each engine of which pieces were looked at."""

    prior: RejectPrior
    inspected: tuple[Inspected, ...] = ()

    @property
    def looked(self) -> int:
        """How many pieces the rate rests on."""
        return sum(each.looked for each in self.inspected)

    @property
    def rejected(self) -> int:
        """How many of them were rejected."""
        return sum(each.rejected for each in self.inspected)


@dataclass(frozen=True)
class RejectRate:
    """A rate as it is known now: its mean, and between what it lies with 80 % (to a step of the grid)."""

    mean: float
    low: float
    high: float


def grid() -> tuple[np.ndarray, np.ndarray]:
    """The rate and the concentration at each node, both of shape (NODES,); rates vary fastest."""
    import numpy as np

    rates = _rates()
    return np.tile(rates, len(CONCENTRATIONS)), np.repeat(np.array(CONCENTRATIONS), len(rates))


@lru_cache(maxsize=512)
def node_cells(looked: int) -> np.ndarray:
    """P(k rejected of so many looked at) at each node, shape (NODES, looked + 1)."""
    rates, concentrations = grid()
    cells = beta_binomial(looked, rates * concentrations, (1 - rates) * concentrations, looked + 1).cells
    cells.flags.writeable = False
    return cells


@lru_cache(maxsize=512)
def prior_weights(prior: RejectPrior) -> np.ndarray:
    """The weight of each node before any inspection, shape (NODES,); the mean is the prior's exactly."""
    import numpy as np

    rates = _rate_weights(prior)
    weights = np.outer(_concentration_weights(prior), rates).ravel()
    weights /= weights.sum()
    weights.flags.writeable = False
    return weights


def node_weights(records: Sequence[RejectRecord]) -> np.ndarray:
    """The weight of each node after each record's inspections (Bayes), shape (records, NODES)."""
    import numpy as np

    kinds: dict[Inspected, int] = {}
    for record in records:
        for inspected in record.inspected:
            kinds.setdefault(inspected, len(kinds))
    times = np.zeros((len(records), len(kinds)))
    logs = np.empty((len(records), NODES))
    for row, record in enumerate(records):
        logs[row] = _log_prior(record.prior)
        for inspected in record.inspected:
            times[row, kinds[inspected]] += 1
    if kinds:
        with np.errstate(divide="ignore"):
            chances = np.log([node_cells(each.looked)[:, each.rejected] for each in kinds])
        logs += weighted(times, np.maximum(chances, NO_CHANCE))
    logs -= logs.max(axis=1, keepdims=True)
    weights: np.ndarray = np.exp(logs, out=logs)
    weights /= weights.sum(axis=1, keepdims=True)
    return weights


def reject_rate(record: RejectRecord) -> RejectRate:
    """The rate as it is known after the inspections, or as the prior has it if there are none."""
    weights = node_weights([record])[0].reshape(len(CONCENTRATIONS), RATE_NODES).sum(axis=0)
    rates = _rates()
    passed = weights.cumsum()
    low, high = ((passed < chance).sum() for chance in (0.1, 0.9))
    return RejectRate(float(weights @ rates), float(rates[low]), float(rates[min(high, RATE_NODES - 1)]))


def _rates() -> np.ndarray:
    import numpy as np

    rates: np.ndarray = np.sin(np.linspace(0, np.pi / 2, RATE_NODES)) ** 2
    return rates


def _rate_weights(prior: RejectPrior) -> np.ndarray:
    """The Beta mass between each two nodes, shared between them so that its mean stays where it is."""
    import numpy as np
    from scipy.special import betainc, betaincc

    alpha, beta = prior.mean * prior.weight, (1 - prior.mean) * prior.weight
    rates = _rates()

    def between(a: float, b: float) -> np.ndarray:
        # Differences of the smaller tail: a mass of 1e-50 counts once the inspections contradict the prior.
        below, above = betainc(a, b, rates), betaincc(a, b, rates)
        masses: np.ndarray = np.where(below[1:] < above[:-1], np.diff(below), -np.diff(above))
        return masses

    masses = between(alpha, beta)
    moments = prior.mean * between(alpha + 1, beta)
    upper = ((moments - rates[:-1] * masses) / np.diff(rates)).clip(0, masses)
    weights = np.zeros(RATE_NODES)
    weights[:-1] += masses - upper
    weights[1:] += upper
    return weights


def _concentration_weights(prior: RejectPrior) -> np.ndarray:
    """The lognormal mass nearest to each node on the scale of logarithms; the ends take all beyond them."""
    import numpy as np
    from scipy.special import ndtr

    nodes = np.log(CONCENTRATIONS)
    edges = np.concatenate([[-np.inf], (nodes[:-1] + nodes[1:]) / 2, [np.inf]])
    edges = (edges - log(prior.concentration)) / log(prior.factor)
    masses: np.ndarray = np.where(edges[:-1] > 0, -np.diff(ndtr(-edges)), np.diff(ndtr(edges)))
    return masses


@lru_cache(maxsize=512)
def _log_prior(prior: RejectPrior) -> np.ndarray:
    import numpy as np

    with np.errstate(divide="ignore"):
        logs: np.ndarray = np.maximum(np.log(prior_weights(prior)), NO_CHANCE)
    return logs
