"""A tree of cliques: needs that are tied, gathered so that what suits clique by clique suits altogether.

Ties are made chordal by eliminating, one by one, the need whose neighbours lack the fewest ties among
themselves; the cliques that arise are joined along their largest overlaps into trees with the running
intersection property (Lauritzen and Spiegelhalter 1988). Choices that agree on the overlaps make a whole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import combinations
from typing import NamedTuple


class Clique(NamedTuple):
    """Needs by their places; the clique it hangs on, earlier in the list, and the needs it shares with it."""

    members: tuple[int, ...]
    parent: int | None
    shared: tuple[int, ...]


def tree_of_cliques(places: Collection[int], ties: Iterable[tuple[int, int]]) -> list[Clique]:
    """The cliques of a graph of needs, each after the one it hangs on; what is tied to nothing else too."""
    near: dict[int, set[int]] = {place: set() for place in places}
    for one, other in ties:
        if one != other:
            near[one].add(other)
            near[other].add(one)
    found: list[frozenset[int]] = []
    while near:
        place = min(near, key=lambda each: (_lacking(near, each), len(near[each]), each))
        around = near.pop(place)
        clique = frozenset({place, *around})
        if not any(clique <= each for each in found):
            found.append(clique)
        for one, other in combinations(around, 2):
            near[one].add(other)
            near[other].add(one)
        for other in around:
            near[other].discard(place)
    return _hung(found)


def _lacking(near: dict[int, set[int]], place: int) -> int:
    """How many ties the neighbours of a need lack among themselves."""
    return sum(other not in near[one] for one, other in combinations(near[place], 2))


def _hung(cliques: list[frozenset[int]]) -> list[Clique]:
    """The cliques along a tree of largest overlaps (Prim 1957)."""
    left = sorted(cliques, key=sorted)
    hung: list[Clique] = []
    while left:
        overlap, _, index, parent = max(
            (
                (len(clique & set(other.members)), -index, index, parent)
                for index, clique in enumerate(left)
                for parent, other in enumerate(hung)
            ),
            default=(0, 0, 0, 0),
        )
        clique = left.pop(index)
        shared = tuple(sorted(clique & set(hung[parent].members))) if overlap else ()
        hung.append(Clique(tuple(sorted(clique)), parent if overlap else None, shared))
    return hung
