"""Kit choice: which pieces and batches go to which kit lines, over one position or over several engines.

Integer sums are optimised one after another, each fixed before the next (lexicographic goal programming):
complete positions by priority, lines filled, then units, mates back to their own station, the preferred part
before an alternate, how near fits are to their targets, how near masses are to one another, what least else
could use, the earliest shelf expiry, the oldest receipt.

Needs that share no stock and that no fit or mass ties are weighed apart. That loses nothing: a group that can
be filled entirely is filled entirely in every best choice, and of the rest those stay together which share a
position that may yet be complete. What is tied is put to the solver as assemblies for alike throws, what is
not as an assignment where it is one; what is too large for either by numbered positions.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from invdb.rules.first_come import first_come, first_come_choice
from invdb.rules.kit_assemblies import assemble
from invdb.rules.kit_assignment import assign_all, is_assignment
from invdb.rules.kit_goals import Answer, Pace, solve_group
from invdb.rules.kit_model import Key, Kit, KitRequest, Need, Source
from invdb.rules.kit_programme import Group, Infeasible
from invdb.rules.kit_sums import (
    Complete,
    Step,
    amount,
    column_values,
    kit_of,
    steps_of,
    totals,
    units_taken,
)
from invdb.rules.kit_ties import Choice, Taken, Units, tied_needs

SECONDS_MAX = 60.0

__all__ = ["choose_kit", "first_come"]


def choose_kit(
    request: KitRequest,
    *,
    seconds_left: Callable[[], float] = lambda: SECONDS_MAX,
    stop: Callable[[], bool] = lambda: False,
) -> Kit:
    """The best kit, or the best found in time: never worse than first come, and honest about what is proven.

    ``seconds_left`` and ``stop`` are asked before every solve (rules have no clock of their own); the seconds
    are also the limit of that solve. The same request gives the same kit unless time ran out.
    """
    pace = Pace(seconds_left, stop)
    steps = steps_of(request)
    source_by_key = {source.key: source for source in request.sources}
    in_sets = {key for members in request.matched_sets for key in members}
    tied = tied_needs(request)
    plain = first_come_choice(request)
    settled: list[Answer] = []
    short: list[tuple[Need, ...]] = []
    hopeless = {need.position for need in request.needs if _units_most(need, source_by_key) < need.units}
    for needs in _competing(request):
        if _stands_alone(needs, in_sets, tied):
            best = _take_best(steps, needs[0], source_by_key)
            settled.append(Answer(best, totals(steps, column_values(request, needs, (), best))))
            if not _all_filled(needs, best):
                hopeless.add(needs[0].position)
        elif answer := _fill_all(request, steps, needs, _within(needs, plain), pace):
            settled.append(answer)
        else:
            short.append(needs)
    groups = _joined(short, hopeless)
    for group in groups:
        start = _within(group.needs, plain)
        answer = assemble(request, steps, group, start, pace) or solve_group(
            request, steps, group, start, pace
        )
        assert answer is not None, "a choice to start from was given"
        settled.append(answer)
    bounds = _decided_bounds(request, steps, hopeless, groups)
    choice: Choice = {}
    for answer in settled:
        choice.update(answer.choice)
        bounds = [bound + more for bound, more in zip(bounds, answer.bounds, strict=True)]
    return kit_of(request, choice, bounds)


def _fill_all(
    request: KitRequest, steps: Sequence[Step], needs: tuple[Need, ...], plain: Choice, pace: Pace
) -> Answer | None:
    """The best choice that fills all these needs, or None if there is none or none was found in time."""
    source_by_key = {source.key: source for source in request.sources}
    in_sets = {key for members in request.matched_sets for key in members}
    start = plain if _all_filled(needs, plain) else None
    if start is None and not _may_be_filled(needs, source_by_key):
        return None
    try:
        assigned = is_assignment(needs, in_sets, tied_needs(request))
        if pace.seconds() and assigned and (answer := assign_all(request, steps, needs)):
            return answer
        group = Group(needs, full=True)
        if pace.seconds() and (answer := assemble(request, steps, group, start, pace)):
            return answer
        return solve_group(request, steps, group, start, pace)
    except Infeasible:
        return None


def _competing(request: KitRequest) -> list[tuple[Need, ...]]:
    """The needs in groups that share sources, matched sets or ties, each group in the order given."""
    leader = list(range(len(request.needs)))

    def lead(index: int) -> int:
        while leader[index] != index:
            leader[index] = leader[leader[index]]
            index = leader[index]
        return index

    needs_by_source: dict[Key, list[int]] = {}
    for index, need in enumerate(request.needs):
        for key in need.candidates:
            needs_by_source.setdefault(key, []).append(index)
    sharing: list[Iterable[int]] = list(needs_by_source.values())
    sharing += [
        [index for key in members for index in needs_by_source.get(key, ())]
        for members in request.matched_sets
    ]
    place = {need.key: index for index, need in enumerate(request.needs)}
    sharing += [[place[pairing.need], place[pairing.other]] for pairing in request.pairings]
    sharing += [[place[need] for need in balance.needs] for balance in request.balances]
    for indices in sharing:
        for index in indices:
            leader[lead(index)] = lead(next(iter(indices)))
    groups: dict[int, list[Need]] = {}
    for index, need in enumerate(request.needs):
        groups.setdefault(lead(index), []).append(need)
    return [tuple(needs) for needs in groups.values()]


def _all_filled(needs: Iterable[Need], choice: Choice) -> bool:
    return all(sum(units_taken(need, choice)) == need.units for need in needs)


def _within(needs: Iterable[Need], choice: Choice) -> Choice:
    """The part of a choice that is for these needs."""
    keys = {need.key for need in needs}
    return {taken: quantity for taken, quantity in choice.items() if taken.need in keys}


def _stands_alone(needs: Sequence[Need], in_sets: Collection[Key], tied: Collection[Key]) -> bool:
    """Whether the needs are a single one whose every unit is filled by a single piece (or cut) of its own."""
    if len(needs) > 1 or needs[0].key in tied or any(key in in_sets for key in needs[0].candidates):
        return False
    need = needs[0]
    return all(
        len(option.components) == 1 and (need.whole or option.components[0].quantity_each == 1)
        for option in need.options
    )


def _take_best(steps: Sequence[Step], need: Need, source_by_key: Mapping[Key, Source]) -> Choice:
    """The best choice for a need that stands alone: piece by piece the one that weighs best.

    Each piece weighs for itself, so the best few make the best sum of every step in turn.
    """
    weighed: list[tuple[list[int], int, Taken]] = []
    for option_index, option in enumerate(need.options):
        units = Units(need.key, option_index)
        for source in option.components[0].candidates:
            taken = Taken(need.key, option_index, 0, source)
            weights = [step.weigh(units) + step.weigh(taken) for step in steps]
            signed = [-w if step.most else w for step, w in zip(steps, weights, strict=True)]
            weighed.append((signed, len(weighed), taken))
    choice: Choice = {}
    units_short = need.units
    left: dict[Key, int] = {}
    for _, _, taken in sorted(weighed):
        available = left.get(taken.source, source_by_key[taken.source].available)
        quantity = min(units_short, available // amount(need, taken, 1))
        if quantity:
            choice[taken] = quantity
            left[taken.source] = available - amount(need, taken, quantity)
            units_short -= quantity
    return choice


def _units_most(need: Need, source_by_key: Mapping[Key, Source]) -> int:
    """Units that could be filled with every other need left empty, or somewhat more."""
    units = 0
    for option_index, option in enumerate(need.options):
        by_component = []
        for component_index, component in enumerate(option.components):
            each = 1 if need.whole else component.quantity_each
            draws = amount(need, Taken(need.key, option_index, component_index, ""), 1)
            pieces = sum(source_by_key[key].available // draws for key in component.candidates)
            by_component.append(pieces // each)
        units += min(by_component)
    return min(units, need.units)


def _may_be_filled(needs: Sequence[Need], source_by_key: Mapping[Key, Source]) -> bool:
    """False where counting alone shows that the needs cannot all be filled."""
    if any(_units_most(need, source_by_key) < need.units for need in needs):
        return False
    counted = [need for need in needs if not need.whole]
    pieces = sum(source_by_key[key].available for key in {key for need in counted for key in need.candidates})
    wanted = sum(
        need.quantity * min(sum(c.quantity_each for c in option.components) for option in need.options)
        for need in counted
    )
    return wanted <= pieces


def _joined(short: Sequence[tuple[Need, ...]], hopeless: set[Key]) -> list[Group]:
    """Groups that cannot be filled entirely, joined where they share a position that may yet be complete."""
    joined: list[tuple[list[Need], set[Key]]] = []
    for needs in short:
        open_positions = {need.position for need in needs} - hopeless
        apart = []
        together = list(needs)
        for other_needs, other_positions in joined:
            if other_positions & open_positions:
                together = other_needs + together
                open_positions |= other_positions
            else:
                apart.append((other_needs, other_positions))
        joined = [*apart, (together, open_positions)]
    return [
        Group(tuple(needs), tuple(dict.fromkeys(n.position for n in needs if n.position in undecided)))
        for needs, undecided in joined
    ]


def _decided_bounds(
    request: KitRequest, steps: Sequence[Step], hopeless: set[Key], groups: Iterable[Group]
) -> list[int]:
    """What the decided positions add to each sum, being complete in every best choice or in none."""
    undecided = {position for group in groups for position in group.undecided}
    sure = [
        Complete(position.key)
        for position in request.positions
        if position.key not in undecided and position.key not in hopeless
    ]
    return [sum(step.weigh(column) for column in sure) for step in steps]
