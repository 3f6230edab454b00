"""The sums a kit choice is judged by, in their order, reckoned in whole numbers.

Each sum weighs the columns of a choice: a position complete, a line filled, units of an option, pieces taken.
The same weights make the integer programme and judge what comes out of it. A new sum is one more ``Step``.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from invdb.rules.kit_model import (
    Allocation,
    Key,
    Kit,
    KitRequest,
    LineFill,
    Need,
    PositionFill,
    Source,
    StepSum,
)
from invdb.rules.kit_ties import Paired, Quarters, Taken, Units, Unweighed, broken_ties, tied_values

FITS = "fits"
UNWEIGHED = "positions of unknown mass"
MASSES = "mass spread"


@dataclass(frozen=True, slots=True)
class Filled:
    """1 where a need is filled entirely."""

    need: Key


@dataclass(frozen=True, slots=True)
class Complete:
    """1 where every need of a position is filled."""

    position: Key


Column = Taken | Units | Filled | Complete | Paired | Quarters | Unweighed


@dataclass(frozen=True)
class Step:
    """A sum over columns, to be made as great as can be (``most``) or as small. Weights are 0 or more."""

    name: str
    most: bool
    weigh: Callable[[Column], int]


def steps_of(request: KitRequest) -> tuple[Step, ...]:
    """The sums in the order in which each is optimised and fixed before the next."""
    priority = {position.key: position.priority for position in request.positions}
    source_by_key = {source.key: source for source in request.sources}
    need_by_key = {need.key: need for need in request.needs}

    def complete_at(level: int) -> Callable[[Column], int]:
        return lambda column: int(isinstance(column, Complete) and priority[column.position] == level)

    def per_piece(weight: Callable[[Source], int]) -> Callable[[Column], int]:
        return lambda column: weight(source_by_key[column.source]) if isinstance(column, Taken) else 0

    def home(column: Column) -> int:
        return int(isinstance(column, Taken) and source_by_key[column.source].home_line == column.need)

    def tenths(column: Column) -> int:
        if not isinstance(column, Paired):
            return 0
        return request.pairings[column.pairing].tenths.get((column.source, column.other), 0)

    def preference(column: Column) -> int:
        if not isinstance(column, Units):
            return 0
        return need_by_key[column.need].options[column.option].preference

    levels = sorted(set(priority.values()), reverse=True)
    return (
        *(Step(f"complete positions of priority {level}", True, complete_at(level)) for level in levels),
        Step("lines filled", True, lambda column: int(isinstance(column, Filled))),
        Step("units filled", True, lambda column: int(isinstance(column, Units))),
        Step("mates back to their own station", True, home),
        Step("preferred part before alternate", False, preference),
        *([Step(FITS, False, tenths)] if request.pairings else []),
        *(
            [
                Step(UNWEIGHED, False, lambda column: int(isinstance(column, Unweighed))),
                Step(MASSES, False, lambda column: int(isinstance(column, Quarters))),
            ]
            if request.balances
            else []
        ),
        Step("use up what least else could use", False, per_piece(lambda source: source.other_uses)),
        Step("earliest shelf expiry", False, per_piece(lambda source: source.shelf_expiry_rank)),
        Step("oldest receipt", False, per_piece(lambda source: source.receipt_rank)),
    )


def units_taken(need: Need, choice: Mapping[Taken, int]) -> list[int]:
    """Units filled by each option of a need; every component of a set must stand at the same number."""
    units = []
    for option_index, option in enumerate(need.options):
        by_component = []
        for component_index, component in enumerate(option.components):
            each = 1 if need.whole else component.quantity_each
            taken = sum(
                choice.get(Taken(need.key, option_index, component_index, source), 0)
                for source in component.candidates
            )
            assert taken % each == 0, f"need {need.key}: {taken} taken is no multiple of {each}"
            by_component.append(taken // each)
        assert len(set(by_component)) == 1, f"need {need.key}: a set of {by_component} is not whole"
        units.append(by_component[0])
    assert sum(units) <= need.units, f"need {need.key}: {units} units are more than asked for"
    return units


def column_values(
    request: KitRequest, needs: Collection[Need], positions: Iterable[Key], choice: Mapping[Taken, int]
) -> dict[Column, int]:
    """The value of every column that is not zero; a position is complete if none of these needs is short."""
    values: dict[Column, int] = {}
    short: set[Key] = set()
    for need in needs:
        units = units_taken(need, choice)
        values.update((Units(need.key, index), count) for index, count in enumerate(units) if count)
        if sum(units) == need.units:
            values[Filled(need.key)] = 1
        else:
            short.add(need.position)
    values.update((Complete(position), 1) for position in positions if position not in short)
    values.update((taken, quantity) for taken, quantity in choice.items() if quantity)
    if request.pairings or request.balances:
        values.update(tied_values(request, needs, choice))
    return values


def totals(steps: Iterable[Step], values: Mapping[Column, int]) -> list[int]:
    """The sum of each step."""
    return [sum(step.weigh(column) * value for column, value in values.items()) for step in steps]


def amount(need: Need, taken: Taken, quantity: int) -> int:
    """What is drawn from the source, in the need's measure."""
    if not need.whole:
        return quantity
    return quantity * need.quantity * need.options[taken.option].components[taken.component].quantity_each


def overdrawn(request: KitRequest, choice: Mapping[Taken, int]) -> set[Key]:
    """Sources of which more is drawn than there is."""
    need_by_key = {need.key: need for need in request.needs}
    left = {source.key: source.available for source in request.sources}
    for taken, quantity in choice.items():
        left[taken.source] -= amount(need_by_key[taken.need], taken, quantity)
    return {key for key, rest in left.items() if rest < 0}


def parted(request: KitRequest, choice: Mapping[Taken, int]) -> list[tuple[Key, ...]]:
    """Matched sets of which some are taken and not all, or not all for the same throw."""
    throws = request.throws
    throw_by_need = {need.key: throws[need.position] for need in request.needs}
    went_to: dict[Key, Key] = {
        taken.source: throw_by_need[taken.need] for taken, quantity in choice.items() if quantity
    }
    broken = []
    for members in request.matched_sets:
        used = [went_to[key] for key in members if key in went_to]
        if used and (len(used) < len(members) or len(set(used)) > 1):
            broken.append(tuple(members))
    return broken


def kit_of(request: KitRequest, choice: Mapping[Taken, int], bounds: Sequence[int] | None) -> Kit:
    """The choice as a kit, with every sum reckoned afresh and every hard rule asserted."""
    assert not overdrawn(request, choice), f"more is taken than there is of {overdrawn(request, choice)}"
    assert not parted(request, choice), f"matched sets are parted: {parted(request, choice)}"
    assert not broken_ties(request, choice), f"these may not go together: {broken_ties(request, choice)}"
    steps = steps_of(request)
    values = column_values(request, request.needs, [position.key for position in request.positions], choice)
    reached = totals(steps, values)
    sought: Sequence[int | None] = bounds if bounds is not None else [None] * len(steps)
    allocations, lines = [], []
    for need in request.needs:
        units = 0
        for option_index, option in enumerate(need.options):
            units += values.get(Units(need.key, option_index), 0)
            for component_index, component in enumerate(option.components):
                for source in component.candidates:
                    taken = Taken(need.key, option_index, component_index, source)
                    if quantity := choice.get(taken, 0):
                        allocations.append(Allocation(*taken, amount(need, taken, quantity)))
        filled = units * need.quantity if need.whole else units
        lines.append(LineFill(need.key, filled, need.quantity - filled))
    return Kit(
        tuple(allocations),
        tuple(lines),
        tuple(PositionFill(p.key, Complete(p.key) in values) for p in request.positions),
        tuple(
            StepSum(step.name, step.most, total, bound)
            for step, total, bound in zip(steps, reached, sought, strict=True)
        ),
    )
