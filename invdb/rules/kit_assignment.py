"""Groups in which every unit is one piece: an assignment, all its sums optimised at once.

Where single pieces fill single units and nothing ties them together, the sums merge into one whole number per
pair. scipy's shortest augmenting path method (Crouse 2016, after Jonker and Volgenant 1987) finds the best
assignment of them, exactly, as long as no total passes what a float holds to the last digit.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import inf

from invdb.rules.kit_goals import Answer
from invdb.rules.kit_model import Key, KitRequest, Need
from invdb.rules.kit_programme import Infeasible
from invdb.rules.kit_sums import Step, column_values, totals
from invdb.rules.kit_ties import Choice, Taken, Units

EXACT_MAX = 2**53
PAIRS_MAX = 250_000


def is_assignment(needs: Sequence[Need], in_sets: Collection[Key], tied: Collection[Key]) -> bool:
    """Whether every unit of these needs is filled by one piece alone, outside any matched set, and untied."""
    return all(
        need.key not in tied
        and not need.whole
        and all(len(option.components) == 1 for option in need.options)
        and all(option.components[0].quantity_each == 1 for option in need.options)
        and not any(key in in_sets for key in need.candidates)
        for need in needs
    )


def assign_all(request: KitRequest, steps: Sequence[Step], needs: Sequence[Need]) -> Answer | None:
    """The best choice that fills all these needs; raises Infeasible if there is none.

    None comes back where the group is too large, or its sums too wide, to be exact this way.
    """
    source_keys = list(dict.fromkeys(key for need in needs for key in need.candidates))
    units = sum(need.units for need in needs)
    available = {source.key: min(source.available, units) for source in request.sources}
    pieces = sum(available[key] for key in source_keys)
    if pieces < units:
        raise Infeasible
    if units * pieces > PAIRS_MAX:
        return None
    distances = [_distances(steps, need) for need in needs]
    factors = _factors(steps, needs, distances)
    if factors is None:
        return None
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    chosen: list[dict[Key, Taken]] = []
    costs = np.full((len(needs), len(source_keys)), inf)
    place = {key: index for index, key in enumerate(source_keys)}
    for need_index, by_take in enumerate(distances):
        chosen.append({})
        for taken, apart in by_take.items():
            cost = sum(factor * distance for factor, distance in zip(factors, apart, strict=True))
            if cost < costs[need_index, place[taken.source]]:
                costs[need_index, place[taken.source]] = cost
                chosen[-1][taken.source] = taken
    need_of_unit = np.repeat(np.arange(len(needs)), [need.units for need in needs])
    source_of_piece = np.repeat(np.arange(len(source_keys)), [available[key] for key in source_keys])
    try:
        unit_places, piece_places = linear_sum_assignment(costs[np.ix_(need_of_unit, source_of_piece)])
    except ValueError as error:
        if "infeasible" not in str(error):
            raise
        raise Infeasible from error
    choice: Choice = {}
    for unit, piece in zip(unit_places, piece_places, strict=True):
        taken = chosen[need_of_unit[unit]][source_keys[source_of_piece[piece]]]
        choice[taken] = choice.get(taken, 0) + 1
    return Answer(choice, totals(steps, column_values(request, needs, (), choice)))


def _distances(steps: Sequence[Step], need: Need) -> dict[Taken, list[int]]:
    """How far each take stays, step by step, from the best that any take of this need could weigh."""
    weights = {
        taken: [step.weigh(Units(need.key, option_index)) + step.weigh(taken) for step in steps]
        for option_index, option in enumerate(need.options)
        for source in option.components[0].candidates
        for taken in [Taken(need.key, option_index, 0, source)]
    }
    best = [
        max(column) if step.most else min(column)
        for step, column in zip(steps, zip(*weights.values(), strict=True), strict=False)
    ]
    return {
        taken: [abs(weight - end) for weight, end in zip(row, best, strict=True)]
        for taken, row in weights.items()
    }


def _factors(
    steps: Sequence[Step], needs: Sequence[Need], distances: Sequence[dict[Taken, list[int]]]
) -> list[int] | None:
    """The factor of each step in the merged sum, or None where the sum would pass what is exact."""
    factors: list[int] = []
    product = 1
    for index in reversed(range(len(steps))):
        factors.append(product)
        product *= 1 + sum(
            need.units * max((apart[index] for apart in by_take.values()), default=0)
            for need, by_take in zip(needs, distances, strict=True)
        )
    return factors[::-1] if product <= EXACT_MAX else None
