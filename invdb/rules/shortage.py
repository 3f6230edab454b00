"""Which parts will be short, when, and how surely: what is needed against what there is, month by month.

By the end of each month P(short) = P(R > S) and expected short = E[(R - S)+], where R is all that is needed
up to then and S all that there is by then: exact sums over both mass functions (with Poisson need and a known
stock the expected backorders of Palm; Sherbrooke 1968, METRIC). Month 0 is now: what is owed against what is
free.

Many parts are reckoned at once. Those whose engines are opened alike share the mass functions at the nodes
of the rate and differ in the weights; those with about as much stock share arrays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from invdb.rules.counts import Counts, convolve, negative_binomial
from invdb.rules.need import (
    Need,
    checked_horizon,
    enough,
    failures_enough,
    hours_by_month,
    known_by_month,
    need_by_month,
    rejects_together,
)
from invdb.rules.supply import Supply, supply_by_month
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

SIZE_MIN = 8
# Cells of parts taken together: so many that the arrays still fit a processor's cache.
TOGETHER = 100_000


@dataclass(frozen=True)
class PartCase:
    """One part with what the plan asks of it and what there is and will be of it."""

    part: str
    need: Need
    supply: Supply


@dataclass(frozen=True, eq=False)
class Shortage:
    """One part by each month from 0 to the horizon: ``chance`` is P(R > S), ``expected`` E[(R - S)+]."""

    part: str
    chance: np.ndarray
    expected: np.ndarray

    def first_month(self, threshold: float) -> int | None:
        """The first month by whose end P(short) has passed the threshold; None if it does not."""
        passed = (self.chance > threshold).nonzero()[0]
        return int(passed[0]) if len(passed) else None


def shortages(cases: Sequence[PartCase], horizon: int) -> list[Shortage]:
    """Each part's shortage by each month from 0 to the horizon, in the order given."""
    import numpy as np

    checked_horizon(horizon)
    if not cases:
        return []
    needs = [case.need for case in cases]
    caps, failing = enough(needs, horizon), failures_enough(needs, horizon)
    chance = np.empty((len(cases), horizon + 1))
    expected = np.empty_like(chance)
    sizes = [
        _power_of_two(min(int(cap), case.supply.most) + 1) for cap, case in zip(caps, cases, strict=True)
    ]
    rejects = rejects_together(needs, sizes, horizon)
    for size in set(sizes):
        alike = sorted((i for i, each in enumerate(sizes) if each == size), key=lambda i: failing[i])
        together = max(TOGETHER // (size * (horizon + 1)), 1)
        for start in range(0, len(alike), together):
            rows = alike[start : start + together]
            chosen = [cases[i] for i in rows]
            total = _uncertain(chosen, [rejects[i] for i in rows], horizon, size, failing[rows[-1]] + 1)
            chance[rows], expected[rows] = _against(chosen, caps[rows], total, horizon)
    return [Shortage(case.part, chance[i], expected[i]) for i, case in enumerate(cases)]


def shortage(case: PartCase, horizon: int) -> Shortage:
    """One part's shortage by each month from 0 to the horizon."""
    return shortages([case], horizon)[0]


def smallest_batch(case: PartCase, horizon: int, target: float, arrives_month: int = 0) -> int | None:
    """The fewest pieces which, had by the end of a month, keep P(short) at or under the target from then on.

    None if the month lies beyond the horizon. A target under 1e-9 is refused: rounding may hide it.
    """
    if not 1e-9 <= target <= 1:
        raise Refused(f"A target of {target:g} is not between 1e-9 and 1.", "Give a chance, such as 0.05.")
    checked_horizon(horizon)
    if arrives_month > horizon:
        return None
    return int(_batches(case, horizon, target)[max(arrives_month, 0) :].max())


def net_by_month(case: PartCase, horizon: int) -> tuple[Counts, int]:
    """What is needed less what there is, by each month; a cell k is P(R - S = k - offset), with that offset.

    All of R is there but what ``need_by_month`` leaves beyond. Supply beyond all need counts as just enough.
    """
    need = need_by_month(case.need, horizon)
    supply = supply_by_month(case.supply, horizon, need.size - 1)
    turned = Counts(supply.cells[:, ::-1], supply.size - 1 - supply.mean)
    net = convolve(need, turned, need.size + supply.size - 1)
    return net, supply.size - 1


def _batches(case: PartCase, horizon: int, target: float) -> np.ndarray:
    """By each month, the fewest pieces more with which P(short) would be at or under the target."""
    import numpy as np

    net, offset = net_by_month(case, horizon)
    # Summed from the far end, so that a small chance is not the difference of two great ones.
    over = net.cells[:, ::-1].cumsum(axis=-1)[:, ::-1]
    more = over[:, offset + 1 :]
    batches: np.ndarray = np.asarray(more > target).sum(axis=-1)
    return batches


def _uncertain(
    cases: Sequence[PartCase], rejects: Sequence[Counts | None], horizon: int, size: int, failing_size: int
) -> Counts:
    """Rejects and failures of each part by month, shape (parts, months, size).

    Of failures so many cells are taken; what lies past them, ``BEYOND_MAX`` at most, is left beyond.
    """
    import numpy as np

    cells = np.zeros((len(cases), horizon + 1, size))
    cells[:, :, 0] = 1.0
    means = np.zeros((len(cases), horizon + 1))
    for row, each in enumerate(rejects):
        if each is not None:
            cells[row, :, : each.size] = each.cells
            means[row] = each.mean
    total = Counts(cells, means)
    failing = [row for row, case in enumerate(cases) if case.need.failures is not None]
    if not failing:
        return total
    records = [record for case in cases if (record := case.need.failures) is not None]
    failures = negative_binomial(
        np.array([record.shape for record in records])[:, None],
        np.array([record.rate for record in records])[:, None],
        np.array([hours_by_month(cases[row].need, horizon) for row in failing]),
        min(size, failing_size),
    )
    both = convolve(Counts(cells[failing], means[failing]), failures, size)
    cells[failing], means[failing] = both.cells, both.mean
    return total


def _against(
    cases: Sequence[PartCase], caps: np.ndarray, total: Counts, horizon: int
) -> tuple[np.ndarray, np.ndarray]:
    """P(short) and expected short of each part by month, shape (parts, months)."""
    import numpy as np

    known = np.array([known_by_month(case.need, horizon) for case in cases])
    over, excess = total.over(), total.excess()
    chance, expected = np.empty(known.shape), np.empty(known.shape)
    sure = [row for row, case in enumerate(cases) if case.supply.is_certain]
    if sure:
        stock = np.minimum([cases[row].supply.free for row in sure], caps[sure])[:, None]
        chance[sure], expected[sure] = _at(over[sure], excess[sure], total.mean[sure], stock - known[sure])
    for row, case in enumerate(cases):
        if case.supply.is_certain:
            continue
        supply = supply_by_month(case.supply, horizon, int(caps[row])).cells
        left = np.arange(supply.shape[-1]) - known[row][:, None]
        short, by = _at(over[row], excess[row], total.mean[row], left)
        chance[row], expected[row] = (supply * short).sum(axis=-1), (supply * by).sum(axis=-1)
    return chance, expected


def _at(
    over: np.ndarray, excess: np.ndarray, mean: np.ndarray, left: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """P(X > left) and E[(X - left)+]; what is left once the known need is met may be less than nothing."""
    import numpy as np

    narrow = left.ndim < over.ndim
    places = np.maximum(left, 0)
    if narrow:
        places = places[..., None]
    short, by = np.take_along_axis(over, places, -1), np.take_along_axis(excess, places, -1)
    if narrow:
        short, by = short[..., 0], by[..., 0]
    else:
        mean = mean[..., None]
    lacking = left < 0
    return np.where(lacking, 1.0, short), np.where(lacking, mean - left, by)


def _power_of_two(size: int) -> int:
    return max(SIZE_MIN, 1 << (size - 1).bit_length())
