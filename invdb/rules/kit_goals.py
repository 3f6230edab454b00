"""The sums of one group of needs, optimised one after another, each fixed before the next.

Neighbouring sums are merged into one objective while the product of their ranges stays under a million, where
the solver's tolerances cannot blur one into the next. What comes out is rounded and judged in whole numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite
from typing import TypeVar

from invdb.rules.kit_model import KitRequest, Need
from invdb.rules.kit_programme import ASIDE, Aside, Group, Infeasible, Programme, Row, programme_of
from invdb.rules.kit_sums import Column, Complete, Filled, Step, column_values, overdrawn, totals
from invdb.rules.kit_ties import (
    Choice,
    Paired,
    Quarters,
    Taken,
    Units,
    Unweighed,
    takes_most,
    unbalanced_needs,
)

MERGED_RANGE_MAX = 1_000_000
CUT_ROUNDS_MAX = 100
BOUND_SLACK = 1e-3


@dataclass(frozen=True)
class Pace:
    """How long the choice may go on: asked before every solve, so that a person may stop it."""

    seconds_left: Callable[[], float]
    stop: Callable[[], bool]

    def seconds(self) -> float:
        """What is left, 0 once it was stopped."""
        return 0.0 if self.stop() else max(0.0, self.seconds_left())


@dataclass(frozen=True)
class Answer:
    """The best choice found for a group, and what each step's sum cannot better."""

    choice: Choice
    bounds: list[int]


@dataclass
class Goal:
    """A step within a group: the range of its sum, and the bound known so far."""

    index: int
    step: Step
    low: int
    high: int

    def __post_init__(self) -> None:
        self.bound = self.at(0)

    @property
    def width(self) -> int:
        """How many values the sum may have."""
        return self.high - self.low + 1

    def distance(self, total: int) -> int:
        """How far a sum stays from the better end of the range."""
        return self.high - total if self.step.most else total - self.low

    def at(self, distance: int) -> int:
        """The sum at this distance from the better end."""
        return self.high - distance if self.step.most else self.low + distance


@dataclass
class _Weighed(Goal):
    """A goal with its weight in every column of a programme."""

    weights: list[int] = field(default_factory=list)

    def fixed(self) -> Row:
        """The row that keeps the sum at its bound, with half a unit of room for the solver's floats."""
        weights = {place: weight for place, weight in enumerate(self.weights) if weight}
        if self.step.most:
            return Row(weights, self.bound - 0.5, None)
        return Row(weights, None, self.bound + 0.5)


AnyGoal = TypeVar("AnyGoal", bound=Goal)


def solve_group(
    request: KitRequest, steps: Sequence[Step], group: Group, start: Choice | None, pace: Pace
) -> Answer | None:
    """Optimises each sum in turn and fixes it before the next.

    ``start`` is a choice known to be possible. Without one, None comes back if time ran out before any was
    found, and Infeasible is raised if a full group cannot be filled. When time runs out later the best choice
    so far comes back with the bounds known by then.
    """
    programme = programme_of(request, group)
    goals = [_goal(request, index, step, group, programme) for index, step in enumerate(steps)]
    blocks = blocks_of(goals)
    if start is None and not blocks:
        blocks = [[]]  # there is nothing to better, but something to find
    best = start

    def distances(choice: Choice) -> list[int]:
        reached = totals(steps, column_values(request, group.needs, group.undecided, choice))
        return [goal.distance(total) for goal, total in zip(goals, reached, strict=True)]

    for block in blocks:
        scale = scale_of(block)
        try:
            objective = _objective(block, scale, len(programme.columns))
            found, lower = _solve(request, programme, objective, pace)
        except Infeasible:
            if best is None:
                raise
            break  # the best so far shows that the solver erred: it stays, and stays unproven
        if found is not None and (best is None or distances(found) < distances(best)):
            best = found
        if best is None:
            return None
        reached = distances(best)
        lower += sum(factor * goal.distance(0) for goal, factor in zip(block, scale, strict=True))
        if not tighten(block, scale, [reached[goal.index] for goal in block], lower):
            break
        programme.rows += [goal.fixed() for goal in block]
    return None if best is None else Answer(best, [goal.bound for goal in goals])


def _goal(request: KitRequest, index: int, step: Step, group: Group, programme: Programme) -> _Weighed:
    weights = [0 if isinstance(column, ASIDE) else step.weigh(column) for column in programme.columns]
    low, high = _range(step, group, dict(zip(programme.columns, weights, strict=True)))
    high += _range_of_ties(request, step, group, programme)
    return _Weighed(index, step, low, high, weights)


def blocks_of(goals: Sequence[AnyGoal]) -> list[list[AnyGoal]]:
    """Neighbouring goals merged while the product of their ranges stays small; settled ones are left out."""
    blocks: list[list[AnyGoal]] = []
    product = MERGED_RANGE_MAX
    for goal in goals:
        if goal.width == 1:
            continue
        product *= goal.width
        if product < MERGED_RANGE_MAX:
            blocks[-1].append(goal)
        else:
            blocks.append([goal])
            product = goal.width
    return blocks


def scale_of(block: Sequence[Goal]) -> list[int]:
    """The factor of each merged sum, so that all later sums together cannot outweigh one of an earlier."""
    scale: list[int] = []
    product = 1
    for goal in reversed(block):
        scale.append(product)
        product *= goal.width
    return scale[::-1]


def _objective(block: Sequence[_Weighed], scale: Sequence[int], columns: int) -> list[int]:
    """The merged sum's weight in every column, to be made small."""
    objective = [0] * columns
    for goal, factor in zip(block, scale, strict=True):
        sign = -factor if goal.step.most else factor
        objective = [total + sign * weight for total, weight in zip(objective, goal.weights, strict=True)]
    return objective


def tighten(block: Sequence[Goal], scale: Sequence[int], reached: Sequence[int], lower: float) -> bool:
    """Reads each goal's bound out of the merged lower bound; True if every goal of the block meets its own.

    ``reached`` are distances from the better ends, and ``lower`` bounds their merged sum.
    """
    if not isfinite(lower):
        return False
    # The merged sum is whole, so a bound between two whole numbers means the upper.
    rest = max(0, ceil(lower - BOUND_SLACK))
    for goal, factor, distance in zip(block, scale, reached, strict=True):
        bound, rest = divmod(rest, factor)
        goal.bound = goal.at(bound)
        if bound != distance:
            return False
    return True


def _solve(
    request: KitRequest, programme: Programme, objective: Sequence[int], pace: Pace
) -> tuple[Choice | None, float]:
    """The best choice found, if any, and a lower bound of the objective.

    Where measured needs share a source its row may be a rounded one: a choice that overdraws the source is
    left out by a row of its own, and the solver asked again.
    """
    lower = float("-inf")
    for _ in range(CUT_ROUNDS_MAX):
        seconds = pace.seconds()
        if not seconds:
            break
        values, bound = programme.minimise(objective, seconds)
        lower = max(lower, bound)
        if values is None:
            break
        choice: Choice = {column: value for column, value in values.items() if isinstance(column, Taken)}
        overdrawn_sources = overdrawn(request, choice)
        unbalanced = unbalanced_needs(request, choice)
        if not overdrawn_sources and not unbalanced:
            return choice, lower
        too_far = [
            {taken: quantity for taken, quantity in choice.items() if taken.need in needs}
            for needs in unbalanced
        ]
        if not all(programme.leave_out_choice(each) for each in too_far):
            break
        for source in request.sources:
            if source.key in overdrawn_sources:
                programme.leave_out(source, choice)
    return None, lower


def _range(step: Step, group: Group, weight: Mapping[Column | Aside, int]) -> tuple[int, int]:
    """A least and a greatest value the sum can have within the group."""
    low = high = 0
    for need in group.needs:
        per_unit = [
            ends
            for option_index in range(len(need.options))
            if (ends := _range_of_unit(need, option_index, weight)) is not None
        ]
        filled = step.weigh(Filled(need.key))
        high += filled + need.units * max((most for _, most in per_unit), default=0)
        if group.full:
            low += filled + need.units * min((least for least, _ in per_unit), default=0)
    high += sum(step.weigh(Complete(position)) for position in group.undecided)
    return low, high


def _range_of_ties(request: KitRequest, step: Step, group: Group, programme: Programme) -> int:
    """What pairs and masses add to the sum at most."""
    needs = {need.key: need for need in group.needs}
    weights: dict[int, list[int]] = {}
    high = 0
    for place, column in enumerate(programme.columns):
        if isinstance(column, (Quarters, Unweighed)):
            high += step.weigh(column) * programme.upper[place]
        elif isinstance(column, Paired):
            weights.setdefault(column.pairing, []).append(step.weigh(column))
    for index, each in weights.items():
        pairing = request.pairings[index]
        pairs = takes_most(needs[pairing.need]) * takes_most(needs[pairing.other])
        high += min(sum(each), max(each) * pairs)
    return high


def _range_of_unit(
    need: Need, option_index: int, weight: Mapping[Column | Aside, int]
) -> tuple[int, int] | None:
    """What one unit of an option adds to the sum, at least and at most; None if it can't be fitted."""
    least = most = weight[Units(need.key, option_index)]
    for component_index, component in enumerate(need.options[option_index].components):
        takes = (Taken(need.key, option_index, component_index, source) for source in component.candidates)
        weights = [weight[taken] for taken in takes if taken in weight]
        if not weights:
            return None
        each = 1 if need.whole else component.quantity_each
        least += each * min(weights)
        most += each * max(weights)
    return least, most
