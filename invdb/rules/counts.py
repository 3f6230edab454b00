"""How likely each whole number is: probability mass functions that lose nothing at their end.

``Counts`` holds P(X = k) for k below the number of cells, exactly (to rounding, some 1e-15), and the mean of
all of X. What lies at or beyond the last cell is ``beyond``: it is carried, and never dropped. To convolve is
exact in every cell, since a cell of a sum depends on no later cell; so P(X > s) and E[(X - s)+] are exact
for every s below the number of cells, however much lies beyond.

All arrays may have leading axes (months, parts), which broadcast; the last axis is k.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike


# Sums of some hundred cells are right to this; a quantile must not turn on the last digit.
ROUNDING = 1e-12
# The logarithm of no chance at all: exp of it is 0, and unlike minus infinity it may be multiplied by 0.
NO_CHANCE = -1e9
# Multiplications from which on OpenBLAS, which numpy comes with, starts threads; parts of a block.
THREADED_MIN = 4 * 65_536
BLOCK_PARTS = 8


@dataclass(frozen=True, eq=False)
class Counts:
    """``cells[..., k]`` is P(X = k); ``mean[...]`` is E[X] of the whole of X, what lies beyond included."""

    cells: np.ndarray
    mean: np.ndarray

    @property
    def size(self) -> int:
        """How many cells there are: the first count that is not told apart from larger ones."""
        return int(self.cells.shape[-1])

    @property
    def beyond(self) -> np.ndarray:
        """P(X >= size), the mass that no cell holds."""
        left: np.ndarray = 1.0 - self.cells.sum(axis=-1)
        return left.clip(0.0, 1.0)

    def over(self) -> np.ndarray:
        """P(X > s) for each s below ``size``, on the last axis."""
        left: np.ndarray = 1.0 - self.cells.cumsum(axis=-1)
        return left.clip(0.0, 1.0)

    def excess(self) -> np.ndarray:
        """E[(X - s)+] for each s below ``size``: the mean less the sum of P(X > k) over k < s."""
        import numpy as np

        passed = np.zeros_like(self.cells)
        np.cumsum(self.over()[..., :-1], axis=-1, out=passed[..., 1:])
        excess: np.ndarray = self.mean[..., None] - passed
        return excess.clip(0.0)

    def at(self, index: int | tuple[int, ...]) -> Counts:
        """The counts at one place of the leading axes."""
        return Counts(self.cells[index], self.mean[index])


def certain(count: ArrayLike, size: int) -> Counts:
    """A count that is known; beyond the cells if it is ``size`` or more."""
    import numpy as np

    known = np.asarray(count)
    return Counts((np.arange(size) == known[..., None]).astype(float), known.astype(float))


def binomial(trials: int, chance: ArrayLike, size: int) -> Counts:
    """How many of so many independent trials come out, each with this chance."""
    import numpy as np
    from scipy.special import gammaln

    chances = np.asarray(chance, float)[..., None]
    k = np.arange(min(trials + 1, size))
    with np.errstate(divide="ignore"):
        hits, misses = (np.maximum(np.log(each), NO_CHANCE) for each in (chances, 1 - chances))
    logs = gammaln(trials + 1) - gammaln(k + 1) - gammaln(trials - k + 1) + k * hits + (trials - k) * misses
    return Counts(_to_size(np.exp(logs), size), trials * chances[..., 0])


def beta_binomial(trials: int, alpha: ArrayLike, beta: ArrayLike, size: int) -> Counts:
    """Of so many trials, how many come out where their chance is itself Beta(alpha, beta).

    P(k) = C(n, k) (alpha)_k (beta)_{n-k} / (alpha + beta)_n in rising factorials (Skellam 1948). alpha or
    beta may be 0, for a chance that is 0 or 1 for sure.
    """
    import numpy as np
    from scipy.special import gammaln

    a, b = np.broadcast_arrays(np.asarray(alpha, float), np.asarray(beta, float))
    k = np.arange(trials + 1)
    ways = gammaln(trials + 1) - gammaln(k + 1) - gammaln(trials - k + 1)
    logs = ways + _log_rising(a, trials) + _log_rising(b, trials)[..., ::-1]
    logs -= _log_rising(a + b, trials)[..., -1:]
    return Counts(_to_size(np.exp(logs), size), trials * a / (a + b))


def poisson(mean: ArrayLike, size: int) -> Counts:
    """Events that happen one by one at a rate that is known."""
    import numpy as np
    from scipy.special import gammaln, xlogy

    means = np.asarray(mean, float)
    k = np.arange(size)
    return Counts(np.exp(xlogy(k, means[..., None]) - gammaln(k + 1) - means[..., None]), means)


def negative_binomial(shape: ArrayLike, rate: ArrayLike, exposure: ArrayLike, size: int) -> Counts:
    """Events in ``exposure`` where their rate is itself Gamma, with this shape and this rate.

    The source is Greenwood and Yule 1920. ``rate`` and ``exposure`` are in the same unit (hours), finite, and
    the first above 0.
    """
    import numpy as np

    a, b, h = np.broadcast_arrays(*(np.asarray(each, float) for each in (shape, rate, exposure)))
    logs = np.empty((*a.shape, size))
    logs[..., 0] = -a * np.log1p(h / b)
    with np.errstate(divide="ignore"):
        share = np.log(h / (b + h))[..., None]
    k = np.arange(size - 1)
    logs[..., 1:] = share + np.log((a[..., None] + k) / (k + 1))
    return Counts(np.exp(np.cumsum(logs, axis=-1)), a * h / b)


def convolve(one: Counts, other: Counts, size: int | None = None) -> Counts:
    """The sum of two independent counts, in ``size`` cells, or as many as the longer of the two has.

    Cells that a shorter one lacks must be nothing (its ``beyond`` none): pass both at the same size unless
    the shorter one is whole.
    """
    import numpy as np

    size = size or max(one.size, other.size)
    a, b = (one.cells, other.cells) if one.size >= other.size else (other.cells, one.cells)
    leading = np.broadcast_shapes(a.shape[:-1], b.shape[:-1])
    cells = np.zeros((*leading, size))
    for k in range(min(b.shape[-1], size)):
        reach = min(a.shape[-1], size - k)
        cells[..., k : k + reach] += b[..., k, None] * a[..., :reach]
    return Counts(cells, one.mean + other.mean)


def mixture(weights: np.ndarray, parts: Counts) -> Counts:
    """The mixture over the first axis, by weights that sum to 1."""
    import numpy as np

    return Counts(
        np.tensordot(weights, parts.cells, axes=(0, 0)), np.tensordot(weights, parts.mean, axes=(0, 0))
    )


def weighted(weights: np.ndarray, values: np.ndarray) -> np.ndarray:
    """weights @ values, of shapes (parts, nodes) and (nodes, cells), in blocks that one thread does.

    A library of linear algebra sets several threads to a larger one, which on a busy machine wait for each
    other many times longer than they work.
    """
    import numpy as np

    mixed = np.empty((len(weights), values.shape[1]))
    cells = max(THREADED_MIN // (BLOCK_PARTS * max(len(values), 1)), 1)
    for part in range(0, len(weights), BLOCK_PARTS):
        block = weights[part : part + BLOCK_PARTS]
        for cell in range(0, values.shape[1], cells):
            mixed[part : part + BLOCK_PARTS, cell : cell + cells] = block @ values[:, cell : cell + cells]
    return mixed


def smallest_within(counts: Counts, chance: float) -> np.ndarray:
    """The least k with P(X <= k) >= chance; ``size`` where that lies beyond the cells."""
    import numpy as np

    reached: np.ndarray = np.asarray(counts.cells.cumsum(axis=-1) < chance - ROUNDING).sum(axis=-1)
    return reached


def central_range(counts: Counts, chance: float) -> tuple[np.ndarray, np.ndarray]:
    """The least and the most between which X lies with at least this chance.

    At most (1 - chance) / 2 lies below the least and at most as much above the most.
    """
    tail = (1.0 - chance) / 2
    return smallest_within(counts, tail), smallest_within(counts, 1.0 - tail)


def _to_size(cells: np.ndarray, size: int) -> np.ndarray:
    import numpy as np

    if cells.shape[-1] >= size:
        return cells[..., :size]
    return np.concatenate([cells, np.zeros((*cells.shape[:-1], size - cells.shape[-1]))], axis=-1)


def _log_rising(base: np.ndarray, steps: int) -> np.ndarray:
    """log of base (base + 1) ... (base + k - 1) for k from 0 to ``steps``, on a new last axis; -inf for 0."""
    import numpy as np

    logs = np.zeros((*base.shape, steps + 1))
    with np.errstate(divide="ignore"):
        np.cumsum(np.log(base[..., None] + np.arange(steps)), axis=-1, out=logs[..., 1:])
    return logs
