"""Which masses may go together: a search over the windows in which the masses of each balance lie.

That masses lie within a spread of one another is no row a relaxation could make much of. But once it is known
where the lightest lies, every combination too light or too heavy for it is left out, and what remains is as
tight as before. So the lightest mass is bracketed: a bracket allows whatever lies between its lower end and
its upper end plus the spread, which bounds what any choice with its lightest mass there can reach. Where the
best of that has masses too far apart, the bracket is parted between them, and each part rules one of the
two out (branch and bound, Land and Doig 1960, over the window in place of the columns).
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import ceil, inf, isfinite
from typing import TYPE_CHECKING

from invdb.rules.kit_assembled import Assembled, Weighed
from invdb.rules.kit_columns import Solved
from invdb.rules.kit_model import Balance
from invdb.rules.kit_ties import QUARTERS_MAX

if TYPE_CHECKING:
    import numpy as np

BOUND_SLACK = 1e-3
TAKEN_MIN = 1e-6
NEAR_COLUMNS = 1_500
NEAR_TIMES = (1, 3)
# How much of the time that is left may go into finding something to begin with.
SHARE_TO_BEGIN = 0.25


@dataclass(frozen=True, eq=False)
class Window:
    """Brackets of the lightest mass, one for each balance, and the width that its masses may take up.

    ``left_out`` marks columns that nothing as good as was reached can have here. ``priced`` is what the
    window, or the one it was parted from, was last found to come to.
    """

    brackets: tuple[tuple[int, int], ...]
    widths: tuple[int, ...]
    left_out: np.ndarray
    priced: Solved | None = None

    def too_dear(self, most: float) -> np.ndarray:
        """The columns left out, with those that would make the objective more than it may be."""
        if self.priced is None or self.priced.costs is None:
            return self.left_out
        return self.left_out | (self.priced.costs > most - self.priced.bound + BOUND_SLACK)


class Scales:
    """One balance within a programme: which columns a window lets in, and how far apart masses are."""

    def __init__(self, balance: Balance, weighed: Weighed) -> None:
        self._balance = balance
        self._places = weighed.places
        self._masses = weighed.masses

    @property
    def bracket(self) -> tuple[int, int]:
        """Where the lightest mass may lie at all."""
        if not len(self._masses):
            return 0, 0
        return int(self._masses.min()), int(self._masses.max())

    def width(self, quarters: int) -> int:
        """How far apart masses may be to weigh so many quarters of the spread."""
        return quarters * self._balance.spread // 4

    def shut_out(self, bracket: tuple[int, int], width: int) -> np.ndarray:
        """The columns that no choice can have whose lightest mass lies in the bracket."""
        fixed, target = self._balance.fixed, self._balance.target
        if target is None:
            low = max([bracket[0], *(mass - width for mass in fixed)])
            high = min([bracket[1] + width, *(mass + width for mass in fixed)])
            if fixed and max(fixed) - min(fixed) > width:
                high = low - 1
        else:
            low, high = target - width, target + width
            if any(abs(mass - target) > width for mass in fixed):
                high = low - 1
        return self._places[(self._masses < low) | (self._masses > high)]

    def add_distance(self, objective: np.ndarray, middle: float) -> None:
        """Adds to an objective how far each mass is from the middle, as part of the spread."""
        objective[self._places] += abs(self._masses - middle) / max(self._balance.spread, 1)

    def thick_of(self, values: np.ndarray, bracket: tuple[int, int], width: int) -> tuple[int, int]:
        """The bracket of one lightest mass with which most of what is taken would lie within the width."""
        import numpy as np

        if self._balance.target is not None or not len(self._masses):
            return bracket
        order = np.argsort(self._masses, kind="stable")
        masses = self._masses[order]
        up_to = np.concatenate([[0.0], np.cumsum(values[self._places][order])])
        within = up_to[np.searchsorted(masses, masses + width, side="right")] - up_to[:-1]
        at = int(masses[np.argmax(within)])
        return at, at

    def ends(self, values: np.ndarray) -> tuple[int, int] | None:
        """The lightest and the heaviest mass of which anything is taken."""
        taken = self._masses[values[self._places] > TAKEN_MIN]
        return (int(taken.min()), int(taken.max())) if len(taken) else None

    def parting(self, values: np.ndarray, width: int) -> tuple[int, int] | None:
        """How much too far apart the masses are, and where to part their bracket; None where they agree."""
        ends = self.ends(values)
        if self._balance.target is not None or ends is None or ends[1] - ends[0] <= width:
            return None
        over = ends[1] - ends[0] - width
        return over, ends[0] + (over - 1) // 2


class Search:
    """Finds the best within windows, and keeps those in which what was reached may be reached again.

    ``seconds`` says how much time is left, 0 for none.
    """

    def __init__(self, programme: Assembled, scales: Sequence[Scales], seconds: Callable[[], float]) -> None:
        import numpy as np

        self._programme = programme
        self._scales = scales
        self._seconds = seconds
        self.windows = [
            Window(
                tuple(each.bracket for each in scales),
                self._widths([QUARTERS_MAX] * len(scales)),
                np.zeros(programme.columns.size, bool),
            )
        ]

    def least(
        self, objective: np.ndarray, constant: int, reached: Callable[[np.ndarray], int], best: float
    ) -> float:
        """Makes a whole-numbered objective, plus a constant, as small as can be; gives a bound of that.

        ``reached`` takes the whole values of a choice that agrees with all balances, and gives what it
        really comes to; ``best`` is the least that is known already. No window is left where nothing as
        good was found to be possible.
        """
        best = self._where_most_lies(objective, constant, reached, best)
        whole = self.windows
        for limit in self._limits(objective, constant, best):
            bound, best = self._branch(objective, constant, reached, best, limit)
            if best <= limit:
                return bound
            self.windows = whole
        return self._branch(objective, constant, reached, best, best)[0]

    def _where_most_lies(
        self, objective: np.ndarray, constant: int, reached: Callable[[np.ndarray], int], best: float
    ) -> float:
        """The least that is known once a choice was looked for among the masses that most would have.

        Where masses weigh nothing in the objective, that is often as good as can be, and what follows has
        but to prove it.
        """
        seconds = self._seconds()
        if len(self.windows) > 1 or not seconds:
            return best
        window, solved = self._solve(self.windows[0], objective, best - constant, seconds)
        values = solved.values
        if values is None or not self._parted(window, values):
            return best
        brackets = tuple(
            scales.thick_of(values, bracket, width)
            for scales, bracket, width in zip(self._scales, window.brackets, window.widths, strict=True)
        )
        seconds = self._seconds() * SHARE_TO_BEGIN
        thick = replace(window, brackets=brackets)
        _, solved = self._solve(thick, objective, best - constant, seconds)
        if solved.values is None or not solved.whole:
            return best
        return min(best, reached(solved.values))

    def _limits(self, objective: np.ndarray, constant: int, best: float) -> list[float]:
        """Limits under which few columns are left, the lowest first: the least may well lie under one."""
        import numpy as np

        seconds = self._seconds()
        if len(self.windows) > 1 or self._programme.columns.size <= 2 * NEAR_COLUMNS or not seconds:
            return []
        window, solved = self._solve(self.windows[0], objective, best - constant, seconds)
        if solved.costs is None:
            return []
        costs = np.sort(solved.costs[~window.left_out])
        bound = _whole_above(solved.bound) + constant
        sizes = [NEAR_COLUMNS * times for times in NEAR_TIMES]
        limits = [bound + float(costs[size]) for size in sizes if 2 * size < len(costs)]
        return [limit for limit in limits if limit < best]

    def _branch(
        self,
        objective: np.ndarray,
        constant: int,
        reached: Callable[[np.ndarray], int],
        best: float,
        limit: float,
    ) -> tuple[float, float]:
        """Looks for the least up to a limit; gives a bound, and the least that is known then."""
        order = count()
        waiting = [(-inf, next(order), window) for window in self.windows]
        kept: list[tuple[float, Window]] = []
        while waiting and waiting[0][0] < best and (seconds := self._seconds()):
            bound, _, window = heapq.heappop(waiting)
            window, solved = self._solve(window, objective, limit - constant, seconds)
            bound = max(bound, _whole_above(solved.bound) + constant)
            if bound > limit:
                continue
            parts = [] if solved.values is None else self._parted(window, solved.values)
            for part in parts:
                # Of equal bounds the later goes first, so that some choice is found soon.
                heapq.heappush(waiting, (bound, -next(order), part))
            if not parts:
                kept.append((bound, window))
                if solved.values is not None and solved.whole:
                    best = min(best, reached(solved.values))
                    limit = min(limit, best)
        left = [
            (bound, window)
            for bound, window in (*kept, *((bound, window) for bound, _, window in waiting))
            if bound <= limit
        ]
        self.windows = [
            replace(window, left_out=window.too_dear(limit - constant), priced=None) for _, window in left
        ]
        return min((bound for bound, _ in left), default=inf), best

    def bring_together(
        self, shares: Sequence[int], take: Callable[[np.ndarray], Sequence[int]]
    ) -> tuple[int, bool]:
        """Brings down how many quarters of their spreads the masses of all balances take up.

        ``shares`` are those of the best choice, balance by balance; ``take`` takes the whole values of a
        choice and gives its shares. Gives a bound of their sum, and whether that was reached; if so all
        choices in the windows reach it from then on.
        """
        floors = [0] * len(self._scales)
        for index in range(len(floors)):
            alone = shares[index]
            while alone:
                wide = [QUARTERS_MAX] * len(floors)
                wide[index] = alone - 1
                values, sure = self._within(wide)
                if values is None:
                    if not sure:
                        return sum(floors), False
                    break
                found = take(values)
                alone = found[index]
                shares = min(shares, found, key=sum)
            floors[index] = alone
        while sum(shares) > sum(floors):
            values, sure = self._within_any(_shared_out(sum(shares) - 1, floors))
            if not sure:
                return sum(floors), False
            if values is None:
                break
            shares = take(values)
        self.windows = [
            replace(window, widths=self._widths(each))
            for each in _shared_out(sum(shares), floors)
            for window in self.windows
        ]
        return sum(shares), True

    def _within_any(self, every: Iterable[Sequence[int]]) -> tuple[np.ndarray | None, bool]:
        """Whole values of a choice within one of these shares; without one, whether there is none."""
        for shares in every:
            values, sure = self._within(shares)
            if values is not None or not sure:
                return values, sure
        return None, True

    def _within(self, shares: Sequence[int]) -> tuple[np.ndarray | None, bool]:
        """Whole values of a choice within these shares; without one, whether there is none."""
        import numpy as np

        waiting = [replace(window, widths=self._widths(shares)) for window in self.windows]
        while waiting:
            seconds = self._seconds()
            if not seconds:
                return None, False
            window = waiting.pop()
            window, solved = self._solve(window, self._to_middle(window), inf, seconds, best=False)
            if solved.bound == inf:
                continue
            if solved.values is None:
                return None, False
            parts = self._parted(window, solved.values)
            if not parts:
                return np.rint(solved.values), True
            waiting += parts
        return None, True

    def _widths(self, shares: Sequence[int]) -> tuple[int, ...]:
        return tuple(each.width(share) for each, share in zip(self._scales, shares, strict=True))

    def _solve(
        self, window: Window, objective: np.ndarray, most: float, seconds: float, *, best: bool = True
    ) -> tuple[Window, Solved]:
        """The least within a window, priced: relaxed as long as its masses are too far apart, then whole."""
        among = ~window.too_dear(most)
        for scales, bracket, width in zip(self._scales, window.brackets, window.widths, strict=True):
            among[scales.shut_out(bracket, width)] = False
        relaxed = self._programme.columns.relaxed(objective, among, seconds)
        window = replace(window, left_out=~among, priced=relaxed)
        if relaxed.values is None or relaxed.whole or _whole_above(relaxed.bound) >= most:
            return window, relaxed
        if self._parted(window, relaxed.values):
            return window, relaxed
        return window, self._whole(window, relaxed, objective, most, seconds, best)

    def _whole(
        self,
        window: Window,
        relaxed: Solved,
        objective: np.ndarray,
        most: float,
        seconds: float,
        best: bool,
    ) -> Solved:
        """The least in whole values: first of the columns that cost little, then of all that may yet do.

        What has another column costs at least as much more than the relaxed solution as that column.
        """
        import numpy as np

        columns, among = self._programme.columns, ~window.left_out
        assert relaxed.costs is not None
        costs = relaxed.costs[among]
        if len(costs) > NEAR_COLUMNS:
            dear = float(np.partition(costs, NEAR_COLUMNS)[NEAR_COLUMNS])
            near = columns.whole(objective, among & (relaxed.costs <= dear), seconds, best=best)
            if near.values is not None:
                reached = float(objective @ near.values)
                if not best or reached <= relaxed.bound + dear:
                    return Solved(near.values, min(near.bound, reached))
                most = min(most, reached)
        return columns.whole(objective, ~window.too_dear(most), self._seconds(), best=best)

    def _parted(self, window: Window, values: np.ndarray) -> list[Window]:
        """The window in two parts, neither of which allows these values; none if their masses agree."""
        over = [
            (parting[0], index, parting[1])
            for index, (scales, width) in enumerate(zip(self._scales, window.widths, strict=True))
            if (parting := scales.parting(values, width)) is not None
        ]
        if not over:
            return []
        _, index, at = max(over)
        low, high = window.brackets[index]
        return [
            replace(window, brackets=(*window.brackets[:index], bracket, *window.brackets[index + 1 :]))
            for bracket in ((low, at), (at + 1, high))
        ]

    def _to_middle(self, window: Window) -> np.ndarray:
        """An objective that draws masses to the middle of what a window allows."""
        import numpy as np

        objective = np.zeros(self._programme.columns.size)
        for scales, bracket, width in zip(self._scales, window.brackets, window.widths, strict=True):
            scales.add_distance(objective, (bracket[0] + bracket[1] + width) / 2)
        return objective


def _whole_above(bound: float) -> float:
    """The least whole number that a bound allows."""
    return ceil(bound - BOUND_SLACK) if isfinite(bound) else bound


def _shared_out(quarters: int, floors: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way to share out quarters among balances, of which each needs so many at least."""
    if not floors:
        if not quarters:
            yield ()
        return
    for share in range(floors[0], min(QUARTERS_MAX, quarters - sum(floors[1:])) + 1):
        for rest in _shared_out(quarters - share, floors[1:]):
            yield (share, *rest)
