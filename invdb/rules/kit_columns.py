"""Columns and rows of a programme as arrays, many at a time, and their solution by HiGHS.

Of the columns some may be left out of a solve; the relaxation, in which columns need not be whole, takes a
few milliseconds for some thousand columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from scipy.sparse import csc_array

WHOLE_WITHIN = 1e-6

_OPTIMAL = 0
_INFEASIBLE = 2


@dataclass(frozen=True)
class Solved:
    """What a solve found: the values of all columns, None if none, and a lower bound; infinite
    where nothing is possible."""

    values: np.ndarray | None
    bound: float

    @property
    def whole(self) -> bool:
        """Whether every value found is whole."""
        import numpy as np

        return self.values is not None and bool(
            (np.abs(self.values - np.rint(self.values)) <= WHOLE_WITHIN).all()
        )


class Columns:
    """Columns from 0 to an upper bound, with their weight in each of some sums, and rows between them."""

    def __init__(self, sums: int) -> None:
        self._sums = sums
        self._upper: list[np.ndarray] = []
        self._weights: list[np.ndarray] = []
        self._entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        self._low: list[float] = []
        self._high: list[float] = []
        self._matrix: csc_array | None = None
        self.size = 0

    def add(self, upper: Sequence[int] | np.ndarray, weights: Sequence[Sequence[int]] | np.ndarray) -> int:
        """New columns with weights as a table of sums by columns; the place of the first."""
        import numpy as np

        first = self.size
        self._upper.append(np.asarray(upper, float))
        self._weights.append(np.asarray(weights, np.int64).reshape(self._sums, len(upper)))
        self.size += len(upper)
        self._matrix = None
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
        self._matrix = None

    @property
    def weights(self) -> np.ndarray:
        """Sums by columns."""
        import numpy as np

        if not self._weights:
            return np.zeros((self._sums, 0), np.int64)
        return np.concatenate(self._weights, axis=1)

    def solve(
        self, objective: np.ndarray, among: np.ndarray, seconds: float, *, whole: bool, best: bool = True
    ) -> Solved:
        """The least of the objective over the columns marked in ``among``, the others being 0.

        ``whole`` asks for whole values; then not ``best`` is content with the first that are found.
        """
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp

        places = np.flatnonzero(among)
        if not len(places):
            possible = all(low <= 0 <= high for low, high in zip(self._low, self._high, strict=True))
            return Solved(np.zeros(self.size), 0.0) if possible else Solved(None, inf)
        result = milp(
            objective[places],
            integrality=np.full(len(places), int(whole)),
            bounds=Bounds(0, np.concatenate(self._upper)[places]),
            constraints=LinearConstraint(self._rows()[:, places], np.array(self._low), np.array(self._high)),
            options={"time_limit": seconds, "mip_rel_gap": 0.0 if best else inf},
        )
        if result.status == _INFEASIBLE:
            return Solved(None, inf)
        values = None
        if result.x is not None:
            values = np.zeros(self.size)
            values[places] = np.rint(result.x) if whole else result.x
        relaxed = result.fun if result.status == _OPTIMAL else None
        bound = result.mip_dual_bound if whole else relaxed
        return Solved(values, float(bound) if bound is not None and isfinite(bound) else -inf)

    def _rows(self) -> csc_array:
        import numpy as np
        from scipy.sparse import csc_array

        if self._matrix is None:
            rows = np.concatenate([np.zeros(0, int), *(entry[0] for entry in self._entries)])
            places = np.concatenate([np.zeros(0, int), *(entry[1] for entry in self._entries)])
            weights = np.concatenate([np.zeros(0), *(entry[2] for entry in self._entries)])
            self._matrix = csc_array((weights, (rows, places)), shape=(len(self._low), self.size))
        return self._matrix
