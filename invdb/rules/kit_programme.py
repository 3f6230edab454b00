"""One group of needs as an integer programme, its sums optimised one after another by HiGHS.

Neighbouring sums are merged into one objective while the product of their ranges stays under a million, where
the solver's tolerances cannot blur one into the next. What comes out is rounded and judged in whole numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, gcd, isfinite
from typing import NamedTuple

from invdb.rules.kit_model import Key, KitRequest, Need, Source
from invdb.rules.kit_sums import (
    Choice,
    Column,
    Complete,
    Filled,
    Step,
    Taken,
    Units,
    amount,
    column_values,
    overdrawn,
    totals,
)

MERGED_RANGE_MAX = 1_000_000
CUT_ROUNDS_MAX = 100


@dataclass(frozen=True)
class Pace:
    """How long the choice may go on: asked before every solve, so that a person may stop it."""

    seconds_left: Callable[[], float]
    stop: Callable[[], bool]

    def seconds(self) -> float:
        """What is left, 0 once it was stopped."""
        return 0.0 if self.stop() else max(0.0, self.seconds_left())


@dataclass(frozen=True)
class Group:
    """Needs that compete with one another and with no others.

    ``undecided`` are the positions of which it is open whether they can be complete, all their open needs
    lying in this group. ``full`` groups fill every need.
    """

    needs: tuple[Need, ...]
    undecided: tuple[Key, ...] = ()
    full: bool = False


@dataclass(frozen=True)
class Answer:
    """The best choice found for a group, and what each step's sum cannot better."""

    choice: Choice
    bounds: list[int]


class Infeasible(Exception):
    """The group cannot be filled entirely."""


class _Together(NamedTuple):
    """1 where a matched set goes, whole, into a position."""

    matched_set: int
    position: Key
    is_set: bool = True


class _Row(NamedTuple):
    """low <= the weighted sum of the columns <= high; None for no bound."""

    weights: dict[int, int]
    low: int | None
    high: int | None


@dataclass
class _Programme:
    """Columns with their upper bounds, and the rows between them; every column is a whole number from 0."""

    columns: list[Column | _Together] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[_Row] = field(default_factory=list)

    def add(self, column: Column | _Together, upper: int) -> int:
        self.columns.append(column)
        self.upper.append(upper)
        return len(self.columns) - 1

    def minimise(self, weights: Sequence[int], seconds: float) -> tuple[dict[Column, int] | None, float]:
        """The best columns found, if any, and a lower bound of the weighted sum; raises Infeasible."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        starts = np.cumsum([0, *(len(row.weights) for row in self.rows)])
        places = np.fromiter((i for row in self.rows for i in row.weights), int, int(starts[-1]))
        entries = np.fromiter((w for row in self.rows for w in row.weights.values()), float, int(starts[-1]))
        matrix = csr_array((entries, places, starts), shape=(len(self.rows), len(self.columns)))
        low = np.array([-np.inf if row.low is None else row.low for row in self.rows])
        high = np.array([np.inf if row.high is None else row.high for row in self.rows])
        result = milp(
            np.array(weights, float),
            integrality=np.ones(len(self.columns), int),
            bounds=Bounds(0, np.array(self.upper, float)),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 0.0, "time_limit": seconds},
        )
        if result.status == _INFEASIBLE:
            raise Infeasible
        bound = result.mip_dual_bound
        lower = float(bound) if bound is not None and isfinite(bound) else float("-inf")
        if result.x is None:
            return None, lower
        values = np.rint(result.x).astype(int)
        found = {
            column: int(value)
            for column, value in zip(self.columns, values, strict=True)
            if value and not isinstance(column, _Together)
        }
        return found, lower


_INFEASIBLE = 2


def solve_group(
    request: KitRequest, steps: Sequence[Step], group: Group, start: Choice | None, pace: Pace
) -> Answer | None:
    """Optimises each sum in turn and fixes it before the next.

    ``start`` is a choice known to be possible. Without one, None comes back if time ran out before any was
    found, and Infeasible is raised if a full group cannot be filled. When time runs out later the best choice
    so far comes back with the bounds known by then.
    """
    programme = _programme(request, group)
    weights = [
        [step.weigh(column) if not isinstance(column, _Together) else 0 for column in programme.columns]
        for step in steps
    ]
    ranges = [_range(step, group, programme) for step in steps]
    bounds = [high if step.most else low for step, (low, high) in zip(steps, ranges, strict=True)]
    best = start

    def distances(choice: Choice) -> list[int]:
        """How far each sum stays from the better end of its range."""
        reached = totals(steps, column_values(group.needs, group.undecided, choice))
        return [
            high - total if step.most else total - low
            for step, total, (low, high) in zip(steps, reached, ranges, strict=True)
        ]

    for block in _blocks(ranges):
        seconds = pace.seconds()
        if not seconds:
            break
        scale = _scales([ranges[k] for k in block])
        objective = [0] * len(programme.columns)
        for k, factor in zip(block, scale, strict=True):
            sign = -factor if steps[k].most else factor
            objective = [total + sign * weight for total, weight in zip(objective, weights[k], strict=True)]
        offset = sum(
            factor * (ranges[k][1] if steps[k].most else -ranges[k][0])
            for k, factor in zip(block, scale, strict=True)
        )
        found, lower = _solve(request, programme, objective, pace)
        if found is not None and (best is None or distances(found) < distances(best)):
            best = found
        if best is None:
            return None
        reached = distances(best)
        proven = _tighten(bounds, steps, ranges, block, scale, reached, lower + offset)
        if not proven:
            break
        for k in block:
            total = ranges[k][1] - reached[k] if steps[k].most else ranges[k][0] + reached[k]
            row = {i: weight for i, weight in enumerate(weights[k]) if weight}
            programme.rows.append(_Row(row, total, total))
    return None if best is None else Answer(best, bounds)


def _solve(
    request: KitRequest, programme: _Programme, objective: list[int], pace: Pace
) -> tuple[Choice | None, float]:
    """Solves, and solves again if the choice overdraws a source, leaving that choice out.

    Lengths in micrometres can be so large that an overdraft of one falls within the solver's tolerance.
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
        short_sources = overdrawn(request, choice)
        if not short_sources:
            return choice, lower
        for source in sorted(short_sources, key=str):
            cover = {
                i: 1
                for i, column in enumerate(programme.columns)
                if isinstance(column, Taken) and column.source == source and column in choice
            }
            programme.rows.append(_Row(cover, None, len(cover) - 1))
    return None, lower


def _blocks(ranges: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Neighbouring steps merged while the product of their ranges stays small; settled ones are left out."""
    blocks: list[list[int]] = []
    product = MERGED_RANGE_MAX
    for k, (low, high) in enumerate(ranges):
        width = high - low + 1
        if width == 1:
            continue
        if product * width < MERGED_RANGE_MAX:
            blocks[-1].append(k)
            product *= width
        else:
            blocks.append([k])
            product = width
    return blocks


def _scales(ranges: Sequence[tuple[int, int]]) -> list[int]:
    """The factor of each merged sum, so that no later sum can outweigh one of an earlier."""
    scales = [1]
    for low, high in reversed(ranges[1:]):
        scales.append(scales[-1] * (high - low + 1))
    return scales[::-1]


def _tighten(
    bounds: list[int],
    steps: Sequence[Step],
    ranges: Sequence[tuple[int, int]],
    block: Sequence[int],
    scale: Sequence[int],
    reached: Sequence[int],
    lower: float,
) -> bool:
    """Reads each step's bound out of the merged lower bound; True if every sum of the block meets its own."""
    if not isfinite(lower):
        return False
    # The merged sum is whole, so anything above the whole number below it lifts the bound to the next.
    rest = max(0, ceil(lower - 1e-3))
    for k, factor in zip(block, scale, strict=True):
        distance, rest = divmod(rest, factor)
        low, high = ranges[k]
        bounds[k] = high - distance if steps[k].most else low + distance
        if distance != reached[k]:
            return False
    return True


def _range(step: Step, group: Group, programme: _Programme) -> tuple[int, int]:
    """A least and a greatest value the sum can have within the group."""
    weight = {column: step.weigh(column) for column in programme.columns if not isinstance(column, _Together)}
    low = high = 0
    for need in group.needs:
        by_option = []
        for option_index, option in enumerate(need.options):
            least = most = weight[Units(need.key, option_index)]
            for component_index, component in enumerate(option.components):
                each = 1 if need.whole else component.quantity_each
                found = [
                    weight[taken]
                    for source in component.candidates
                    if (taken := Taken(need.key, option_index, component_index, source)) in weight
                ]
                if not found:
                    break
                least += each * min(found)
                most += each * max(found)
            else:
                by_option.append((least, most))
        if by_option:
            low += need.units * min(least for least, _ in by_option) if group.full else 0
            high += need.units * max(most for _, most in by_option)
        filled = step.weigh(Filled(need.key))
        low += filled if group.full else 0
        high += filled
    high += sum(step.weigh(Complete(position)) for position in group.undecided)
    return low, high


def _programme(request: KitRequest, group: Group) -> _Programme:
    """The hard rules of the group's needs."""
    programme = _Programme()
    source_by_key = {source.key: source for source in request.sources}
    drawn: dict[Key, list[tuple[int, Need, int]]] = {}
    filled_by_position: dict[Key, list[int]] = {}
    for need in group.needs:
        units = _add_options(programme, need, source_by_key, drawn)
        least = need.units if group.full else 0
        programme.rows.append(_Row(dict.fromkeys(units, 1), least, need.units))
        if not group.full:
            filled = programme.add(Filled(need.key), 1)
            programme.rows.append(_Row({**dict.fromkeys(units, 1), filled: -need.units}, 0, None))
            filled_by_position.setdefault(need.position, []).append(filled)
    for position in group.undecided:
        complete = programme.add(Complete(position), 1)
        for filled in filled_by_position[position]:
            programme.rows.append(_Row({filled: 1, complete: -1}, 0, None))
    for source, takes in drawn.items():
        _add_capacity(programme, source_by_key[source].available, takes)
    _add_matched_sets(programme, request, drawn)
    return programme


def _add_options(
    programme: _Programme,
    need: Need,
    source_by_key: Mapping[Key, Source],
    drawn: dict[Key, list[tuple[int, Need, int]]],
) -> list[int]:
    """Adds the need's units and takes, tied together; gives the columns of its units."""
    units = []
    for option_index, option in enumerate(need.options):
        unit = programme.add(Units(need.key, option_index), need.units)
        units.append(unit)
        for component_index, component in enumerate(option.components):
            each = 1 if need.whole else component.quantity_each
            weights = {unit: -each}
            for source in component.candidates:
                taken = Taken(need.key, option_index, component_index, source)
                draws = amount(need, taken, 1)
                upper = min(each * need.units, source_by_key[source].available // draws)
                if upper:
                    place = programme.add(taken, upper)
                    weights[place] = 1
                    drawn.setdefault(source, []).append((place, need, draws))
            programme.rows.append(_Row(weights, 0, 0))
    return units


def _add_capacity(programme: _Programme, available: int, takes: Sequence[tuple[int, Need, int]]) -> None:
    """No more is drawn than there is, in the largest unit that measures every draw."""
    unit = gcd(*(draws for _, _, draws in takes))
    weights = {place: draws // unit for place, _, draws in takes}
    if sum(weight * programme.upper[place] for place, weight in weights.items()) > available // unit:
        programme.rows.append(_Row(weights, None, available // unit))


def _add_matched_sets(
    programme: _Programme, request: KitRequest, drawn: Mapping[Key, Sequence[tuple[int, Need, int]]]
) -> None:
    """Each set goes whole into one position or stays out."""
    for set_index, members in enumerate(request.matched_sets):
        places = {key: drawn.get(key, ()) for key in members}
        positions = dict.fromkeys(need.position for takes in places.values() for _, need, _ in takes)
        together = {p: programme.add(_Together(set_index, p), 1) for p in positions}
        for position, column in together.items():
            for takes in places.values():
                weights = {place: 1 for place, need, _ in takes if need.position == position}
                programme.rows.append(_Row({**weights, column: -1}, 0, 0))
        if len(together) > 1:
            programme.rows.append(_Row(dict.fromkeys(together.values(), 1), None, 1))
