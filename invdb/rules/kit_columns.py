"""Columns and rows of a programme as arrays, many at a time, and their solution by HiGHS.

Of the columns some may be left out of a solve; the relaxation, in which columns need not be whole, takes a
few milliseconds for some thousand columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from scipy.sparse import csc_array

WHOLE_WITHIN = 1e-6

_OPTIMAL = 0
_INFEASIBLE = 2


@dataclass(frozen=True)
class Solved:
    """What a solve found: the values of all columns, None if none, and a lower bound; infinite
    where nothing is possible.

    ``costs`` are by how much a relaxed solution is at least worsened by one more of each column.
    """

    values: np.ndarray | None
    bound: float
    costs: np.ndarray | None = None

    @property
    def whole(self) -> bool:
        """Whether every value found is whole."""
        import numpy as np

        return self.values is not None and bool(
            (np.abs(self.values - np.rint(self.values)) <= WHOLE_WITHIN).all()
        )


class _Rows(NamedTuple):
    """Rows that must come to a figure, and rows that may come to one at most."""

    equal: csc_array
    equal_ends: np.ndarray
    most: csc_array
    most_ends: np.ndarray


class Columns:
    """Columns from 0 to an upper bound, with their weight in each of some sums, and rows between them."""

    def __init__(self, sums: int) -> None:
        self._sums = sums
        self._upper: list[np.ndarray] = []
        self._weights: list[np.ndarray] = []
        self._entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._low: list[float] = []
        self._high: list[float] = []
        self._laid_out: _Rows | None = None
        self.size = 0

    def add(self, upper: Sequence[int] | np.ndarray, weights: Sequence[Sequence[int]] | np.ndarray) -> int:
        """New columns with weights as a table of sums by columns; the place of the first."""
        import numpy as np

        first = self.size
        self._upper.append(np.asarray(upper, float))
        self._weights.append(np.asarray(weights, np.int64).reshape(self._sums, len(upper)))
        self.size += len(upper)
        self._laid_out = None
        return first

    def add_row(self, weights: Mapping[int, float], low: float, high: float) -> None:
        """A row by the weights of columns."""
        import numpy as np

        self.add_rows(
            np.zeros(len(weights), int),
            np.fromiter(weights, int, len(weights)),
            np.fromiter(weights.values(), float, len(weights)),
            [(low, high)],
        )

    def add_rows(
        self,
        rows: np.ndarray,
        places: np.ndarray,
        weights: np.ndarray,
        ends: Sequence[tuple[float, float]],
    ) -> None:
        """Rows with these ends; each entry by its row (from 0 among them), its column, and its weight."""
        self._entries.append((rows + len(self._low), places, weights))
        self._low += [low for low, _ in ends]
        self._high += [high for _, high in ends]
        self._laid_out = None

    @property
    def weights(self) -> np.ndarray:
        """Sums by columns."""
        import numpy as np

        if not self._weights:
            return np.zeros((self._sums, 0), np.int64)
        return np.concatenate(self._weights, axis=1)

    def relaxed(self, objective: np.ndarray, among: np.ndarray, seconds: float) -> Solved:
        """The least of the objective over the columns marked in ``among``, the others being 0, in parts."""
        import numpy as np
        from scipy.optimize import linprog

        places = np.flatnonzero(among)
        if not len(places):
            return self._nothing()
        rows = self._rows()
        # Sparse rows and bounds as an array are taken, though the stubs of scipy don't say so.
        most: Any = rows.most[:, places]
        equal: Any = rows.equal[:, places]
        bounds: Any = np.stack([np.zeros(len(places)), np.concatenate(self._upper)[places]], axis=1)
        result = linprog(
            objective[places],
            A_ub=most,
            b_ub=rows.most_ends,
            A_eq=equal,
            b_eq=rows.equal_ends,
            bounds=bounds,
            # So many columns of so few rows are solved before they would have been looked through.
            method="highs-ds",
            options={"presolve": False, "time_limit": seconds},
        )
        if result.status == _INFEASIBLE:
            return Solved(None, inf)
        if result.status != _OPTIMAL or result.fun is None:
            return Solved(None, -inf)
        values, costs = np.zeros(self.size), np.zeros(self.size)
        values[places], costs[places] = result.x, result.lower.marginals
        return Solved(values, float(result.fun), costs)

    def whole(self, objective: np.ndarray, among: np.ndarray, seconds: float, *, best: bool = True) -> Solved:
        """The same in whole values; not ``best`` is content with the first that are found."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        places = np.flatnonzero(among)
        if not len(places):
            return self._nothing()
        rows = self._rows()
        result = milp(
            objective[places],
            integrality=np.ones(len(places), int),
            bounds=Bounds(0, np.concatenate(self._upper)[places]),
            constraints=[
                LinearConstraint(rows.most[:, places], -np.inf, rows.most_ends),
                LinearConstraint(rows.equal[:, places], rows.equal_ends, rows.equal_ends),
            ],
            options={"time_limit": seconds, "mip_rel_gap": 0.0 if best else inf},
        )
        if result.status == _INFEASIBLE:
            return Solved(None, inf)
        bound = result.mip_dual_bound
        lower = float(bound) if bound is not None and isfinite(bound) else -inf
        if result.x is None:
            return Solved(None, lower)
        values = np.zeros(self.size)
        values[places] = np.rint(result.x)
        return Solved(values, lower)

    def _nothing(self) -> Solved:
        """What comes of no column at all."""
        import numpy as np

        possible = all(low <= 0 <= high for low, high in zip(self._low, self._high, strict=True))
        return Solved(np.zeros(self.size), 0.0, np.zeros(self.size)) if possible else Solved(None, inf)

    def _rows(self) -> _Rows:
        import numpy as np
        from scipy.sparse import csr_array, vstack

        if self._laid_out is None:
            rows = np.concatenate([np.zeros(0, int), *(entry[0] for entry in self._entries)])
            places = np.concatenate([np.zeros(0, int), *(entry[1] for entry in self._entries)])
            weights = np.concatenate([np.zeros(0), *(entry[2] for entry in self._entries)])
            low, high = np.array(self._low, float), np.array(self._high, float)
            every = csr_array((weights, (rows, places)), shape=(len(low), self.size))
            equal, above, below = low == high, (low < high) & (high < inf), (low < high) & (low > -inf)
            self._laid_out = _Rows(
                every[equal].tocsc(),
                high[equal],
                vstack([every[above], -every[below]]).tocsc(),
                np.concatenate([high[above], -low[below]]),
            )
        return self._laid_out
