"""How many of each part are needed by the end of the horizon alone, for many parts at once.

The last month of ``needs_by_month``, without the work of all the months before it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING

from invdb.rules.counts import Counts, negative_binomial
from invdb.rules.need import (
    Looks,
    Need,
    checked_horizon,
    enough,
    hours_by_month,
    known_by_month,
    looks_by_month,
    reject_counts,
)
from invdb.rules.reject_rate import node_weights

if TYPE_CHECKING:
    import numpy as np

# Parts whose rates are mixed together: so many as keep the weights within some megabytes.
PARTS_TOGETHER = 256


def needs_at_end(needs: Sequence[Need], horizon: int) -> list[Counts]:
    """The need of each by the end of the horizon, shape (cells), but for ``BEYOND_MAX`` at most."""
    import numpy as np

    if not needs:
        return []
    sizes = [int(most) + 1 for most in enough(needs, checked_horizon(horizon))]
    rejects = _rejects(needs, sizes, horizon)
    counts = []
    for i, (need, size) in enumerate(zip(needs, sizes, strict=True)):
        cells, mean = rejects.get(i, (np.ones(1), 0.0))
        hours = float(hours_by_month(need, horizon)[-1])
        if need.failures is not None and hours:
            failures = negative_binomial(need.failures.shape, need.failures.rate, hours, size)
            cells = np.convolve(cells, failures.cells)[:size]
            mean += float(failures.mean)
        known = known_by_month(need, horizon)[-1]
        shifted = np.zeros(size)
        reach = min(size - known, len(cells))
        shifted[known : known + reach] = cells[:reach]
        counts.append(Counts(shifted, np.array(mean + known)))
    return counts


def _rejects(
    needs: Sequence[Need], sizes: Sequence[int], horizon: int
) -> dict[int, tuple[np.ndarray, float]]:
    """Rejects of those of which any are judged, by place: the cells and the mean."""
    alike: dict[Looks, list[int]] = defaultdict(list)
    for i, need in enumerate(needs):
        if need.rejects is not None and (looks := looks_by_month(need, horizon)[-1]):
            alike[looks].append(i)
    found: dict[int, tuple[np.ndarray, float]] = {}
    for looks, rows in alike.items():
        for start in range(0, len(rows), PARTS_TOGETHER):
            some = rows[start : start + PARTS_TOGETHER]
            weights = node_weights([record for i in some if (record := needs[i].rejects) is not None])
            together = reject_counts((looks,), weights, max(sizes[i] for i in some))
            for row, i in enumerate(some):
                found[i] = (together.cells[row, 0, : sizes[i]], float(together.mean[row, 0]))
    return found
