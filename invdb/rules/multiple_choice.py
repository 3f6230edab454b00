"""One choice of each group, or none, with the greatest gain that a sum of money buys.

At a price of money (so much gain for each unit spent) every group has a best choice by itself, and what all
these gain bounds what the sum can (Lagrange). A choice that falls short of its group's best by more than the
bound lies above the best found so far cannot be part of anything better (Sinha and Zoltners 1979). What is
left is combined group by group, and of two combinations the one that costs no less and gains no more is
dropped (Nemhauser and Ullmann 1969). Costs are whole numbers throughout, so a sum is never passed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

# Combinations carried from one group to the next; beyond it those that promise least are dropped.
COMBINATIONS_MAX = 100_000
# Of the bound: by how much something better must gain more to be looked for.
SLACK = 1e-10
HALVINGS = 64


@dataclass(frozen=True)
class Chosen:
    """The place of the choice in each group (None for nothing), and whether none gains more."""

    places: tuple[int | None, ...]
    proven: bool


@dataclass(frozen=True, eq=False)
class _Step:
    """A group joined to the combinations before it: which of them, and which choice of the group."""

    group: int
    before: np.ndarray
    choice: np.ndarray


def best_within(groups: Sequence[Sequence[tuple[int, float]]], money: int) -> Chosen:
    """The choices, each (cost, gain) with neither below 0, that gain most for ``money`` at most."""
    import numpy as np

    if not groups:
        return Chosen((), True)
    costs, gains = _tables(groups)
    rows = np.arange(len(groups))
    price = _price(costs, gains, money)
    worth = gains - price * costs
    picks = worth.argmax(axis=1)
    losses = worth.max(axis=1, keepdims=True) - worth
    bound = price * money + float(worth.max(axis=1).sum())
    spent, best = int(costs[rows, picks].sum()), float(gains[rows, picks].sum())
    slack = SLACK * max(bound, 1e-30)
    proven = True

    # Joined in this order, the groups that are nearest to another choice come first.
    others = losses.copy()
    others[rows, picks] = np.inf
    nearest = others.min(axis=1)
    order = [int(row) for row in nearest.argsort(kind="stable") if nearest[row] < bound - best]
    cost, gain, lost = np.array([spent]), np.array([best]), np.zeros(1)
    steps: list[_Step] = []
    found: tuple[int, int] | None = None
    to_come = np.cumsum(costs[order, picks[order]][::-1])[::-1] if order else np.zeros(0, int)
    for place, group in enumerate(order):
        open_to = (losses[group] < bound - best - slack).nonzero()[0]
        before, choice = (each.ravel() for each in np.indices((len(cost), len(open_to))))
        choice = open_to[choice]
        pick = picks[group]
        cost = cost[before] + costs[group][choice] - costs[group][pick]
        gain = gain[before] + gains[group][choice] - gains[group][pick]
        lost = lost[before] + losses[group][choice]
        # The groups still to come may at most give back all that their picks cost.
        rest = int(to_come[place + 1]) if place + 1 < len(order) else 0
        kept = _undominated(cost, gain, (lost < bound - best - slack) & (cost - rest <= money))
        if len(kept) > COMBINATIONS_MAX:
            kept, proven = np.sort(kept[lost[kept].argsort(kind="stable")[:COMBINATIONS_MAX]]), False
        cost, gain, lost = cost[kept], gain[kept], lost[kept]
        steps.append(_Step(group, before[kept], choice[kept]))
        affordable = np.where(cost <= money, gain, -np.inf)
        if len(kept) and affordable.max() > best:
            best, found = float(affordable.max()), (len(steps), int(affordable.argmax()))
        if not len(kept):
            break
    places = picks.tolist() if found is None else _traced(picks.tolist(), steps, *found)
    return Chosen(tuple(place - 1 if place else None for place in places), proven)


def _tables(groups: Sequence[Sequence[tuple[int, float]]]) -> tuple[np.ndarray, np.ndarray]:
    """Costs and gains, a row for each group: first of nothing, and past its choices ones that gain less."""
    import numpy as np

    width = 1 + max(len(group) for group in groups)
    costs, gains = np.zeros((len(groups), width), int), np.full((len(groups), width), -np.inf)
    gains[:, 0] = 0.0
    for row, group in enumerate(groups):
        for place, (cost, gain) in enumerate(group, start=1):
            costs[row, place], gains[row, place] = cost, gain
    return costs, gains


def _price(costs: np.ndarray, gains: np.ndarray, money: int) -> float:
    """The least gain for each unit of money, to rounding, at which the best choices cost no more than it."""
    import numpy as np

    rows = np.arange(len(costs))

    def spent(price: float) -> int:
        return int(costs[rows, (gains - price * costs).argmax(axis=1)].sum())

    if spent(0.0) <= money:
        return 0.0
    paid = costs > 0
    low, high = 0.0, 2 * float((gains[paid] / costs[paid]).max())
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if spent(middle) <= money:
            high = middle
        else:
            low = middle
    return high


def _undominated(cost: np.ndarray, gain: np.ndarray, admitted: np.ndarray) -> np.ndarray:
    """The places of those admitted that gain more than all that cost no more, the cheapest first."""
    import numpy as np

    places = admitted.nonzero()[0]
    places = places[np.lexsort((-gain[places], cost[places]))]
    most = np.maximum.accumulate(gain[places])
    first = np.ones(len(places), bool)
    first[1:] = gain[places][1:] > most[:-1]
    kept: np.ndarray = places[first]
    return kept


def _traced(picks: Sequence[int], steps: Sequence[_Step], length: int, place: int) -> list[int]:
    """The choice of each group in one combination of the first so many steps."""
    traced = list(picks)
    for step in reversed(steps[:length]):
        traced[step.group] = int(step.choice[place])
        place = int(step.before[place])
    return traced
