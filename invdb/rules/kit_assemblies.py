"""The sums of a group whose needs are tied, optimised one after another over assemblies for alike throws.

The same sums in the same order as over numbered positions, each fixed before the next, and proven as there:
a sum is the best if its bound meets it. How far masses are apart is no sum of columns; it is brought down
quarter by quarter until nothing less is possible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from invdb.rules.kit_assembled import Assembled
from invdb.rules.kit_goals import Answer, Goal, Pace, blocks_of, scale_of, tighten
from invdb.rules.kit_model import Key, KitRequest, Need, NeedOption
from invdb.rules.kit_programme import Group, Infeasible
from invdb.rules.kit_sums import MASSES, Step, column_values, totals
from invdb.rules.kit_ties import QUARTERS_MAX, Choice, position_masses, takes_singly, tied_needs
from invdb.rules.kit_ways import TooMany
from invdb.rules.kit_windows import Scales, Search

if TYPE_CHECKING:
    import numpy as np


def assemble(
    request: KitRequest, steps: Sequence[Step], group: Group, start: Choice | None, pace: Pace
) -> Answer | None:
    """The best choice for a group whose needs are tied; None where that is too large to be put this way.

    ``start`` is a choice known to be possible. Without one None also means that time ran out before any was
    found, and Infeasible is raised if a full group cannot be filled.
    """
    tied = tied_needs(request)
    if not any(need.key in tied for need in group.needs):
        return None
    try:
        return (
            _all_at_home(request, steps, group, start, pace)
            or _Run(request, steps, group, group, start, pace).answer()
        )
    except TooMany:
        return None


def _all_at_home(
    request: KitRequest, steps: Sequence[Step], group: Group, start: Choice | None, pace: Pace
) -> Answer | None:
    """The best choice that sends back every mate that could go, if there is such a choice."""
    at_home = _at_home(request, group)
    if at_home is None:
        return None
    open_to = {(need.key, key) for need in at_home.needs for key in need.candidates}
    if start is not None and any((taken.need, taken.source) not in open_to for taken in start):
        start = None
    try:
        return _Run(request, steps, group, at_home, start, pace).answer()
    except Infeasible:
        return None


class _Run:
    """One group being optimised; ``open_to`` is the group with what may be considered for it."""

    def __init__(
        self,
        request: KitRequest,
        steps: Sequence[Step],
        group: Group,
        open_to: Group,
        start: Choice | None,
        pace: Pace,
    ) -> None:
        self._request = request
        self._steps = steps
        self._group = group
        self._best = start
        self._programme = Assembled(request, steps, open_to)
        self._balances = [request.balances[index] for index in self._programme.weighed]
        scales = [
            Scales(balance, weighed)
            for balance, weighed in zip(self._balances, self._programme.weighed.values(), strict=True)
        ]
        self._search = Search(self._programme, scales, pace.seconds)
        self._goals = [
            Goal(index, step, low, high + (QUARTERS_MAX * len(scales) if step.name == MASSES else 0))
            for index, (step, (low, high)) in enumerate(zip(steps, self._programme.ranges, strict=True))
        ]

    def answer(self) -> Answer | None:
        """The best found with its bounds; None if none was found in time."""
        at = next((goal.index for goal in self._goals if goal.step.name == MASSES), len(self._goals))
        before, spread, after = self._goals[:at], self._goals[at : at + 1], self._goals[at + 1 :]
        blocks = blocks_of(before)
        if self._best is None and not blocks:
            blocks = [[]]  # there is nothing to better, but something to find
        going = all(self._settle(block) for block in blocks)
        going = going and all(self._bring_together(goal) for goal in spread if goal.width > 1)
        if going:
            all(self._settle(block) for block in blocks_of(after))
        if self._best is None:
            return None
        return Answer(self._best, [goal.bound for goal in self._goals])

    def _distances(self, choice: Choice) -> list[int]:
        reached = totals(
            self._steps, column_values(self._request, self._group.needs, self._group.undecided, choice)
        )
        return [goal.distance(total) for goal, total in zip(self._goals, reached, strict=True)]

    def _take(self, values: np.ndarray) -> list[int]:
        """Takes a choice if it is the best so far; gives how far each sum is from its better end."""
        choice = self._programme.choice_of(values)
        distances = self._distances(choice)
        if self._best is None or distances < self._distances(self._best):
            self._best = choice
        return distances

    def _settle(self, block: Sequence[Goal]) -> bool:
        """Optimises merged sums and fixes them; True if what was reached is proven the best."""
        import numpy as np

        scale = scale_of(block)
        columns, constants = self._programme.columns, self._programme.constants
        weights = columns.weights
        objective = np.zeros(columns.size)
        constant = 0
        for goal, factor in zip(block, scale, strict=True):
            sign = -factor if goal.step.most else factor
            objective += sign * weights[goal.index]
            constant += sign * constants[goal.index] + factor * goal.distance(0)

        def merged(distances: Sequence[int]) -> int:
            return sum(factor * distances[goal.index] for goal, factor in zip(block, scale, strict=True))

        best = inf if self._best is None else merged(self._distances(self._best))
        bound = self._search.least(objective, constant, lambda values: merged(self._take(values)), best)
        if self._best is None:
            if bound == inf:
                raise Infeasible
            return False
        reached = self._distances(self._best)
        if not tighten(block, scale, [reached[goal.index] for goal in block], bound):
            return False
        for goal in block:
            total = goal.bound - constants[goal.index]
            row = {
                int(place): float(weights[goal.index, place]) for place in np.flatnonzero(weights[goal.index])
            }
            columns.add_row(row, *((total, inf) if goal.step.most else (-inf, total)))
        return True

    def _bring_together(self, goal: Goal) -> bool:
        """Brings the masses together, quarter by quarter; True if no less is proven to be possible."""
        assert self._best is not None

        def take(values: np.ndarray) -> list[int]:
            self._take(values)
            return self._shares(self._programme.choice_of(values))

        total, proven = self._search.bring_together(self._shares(self._best), take)
        goal.bound = total
        return proven

    def _shares(self, choice: Choice) -> list[int]:
        """How many quarters of its spread each balance takes up."""
        needs = {need.key: need for need in self._group.needs}
        return [
            balance.quarters(masses)
            if (masses := list(position_masses(balance, needs, choice).values()))
            else 0
            for balance in self._balances
        ]


def _at_home(request: KitRequest, group: Group) -> Group | None:
    """The group with each need that mates could go back to open to such mates alone.

    If all needs can be filled so, no choice has more mates at their own stations. None if no mate could go
    back, or if it isn't plain that each need would have the most it can.
    """
    homes: dict[Key, set[Key]] = {}
    available = {source.key: source.available for source in request.sources}
    for source in request.sources:
        if source.home_line is not None:
            homes.setdefault(source.home_line, set()).add(source.key)
    needs = []
    for need in group.needs:
        at_home = [key for key in need.candidates if key in homes.get(need.key, ())]
        narrowed = need
        if at_home:
            if not takes_singly(need) or sum(available[key] for key in at_home) < need.units:
                return None
            narrowed = _narrowed(need, set(at_home))
        needs.append(narrowed)
    if not group.full or all(one is other for one, other in zip(needs, group.needs, strict=True)):
        return None
    return replace(group, needs=tuple(needs))


def _narrowed(need: Need, keys: set[Key]) -> Need:
    """The need open to these sources alone."""
    return replace(
        need,
        options=tuple(
            NeedOption(
                option.preference,
                tuple(
                    replace(component, candidates=tuple(key for key in component.candidates if key in keys))
                    for component in option.components
                ),
            )
            for option in need.options
        ),
    )
