"""Throws of a kit choice that are alike: what is good for one is good for each, so only how many matters.

A throw is a position, or the positions that share one where a matched set may lie across them. Throws are
alike if their needs, one by one, ask for the same from the same sources, with the same fits and masses, and
if no source is at home in one of them more than in another.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

from invdb.rules.kit_model import Key, KitRequest, Need
from invdb.rules.kit_programme import Group


@dataclass(frozen=True)
class Throw:
    """Positions that go together, and their needs in the order of the request."""

    positions: tuple[Key, ...]
    needs: tuple[Need, ...]


@dataclass(frozen=True)
class Alike:
    """Throws that are alike; whatever goes into one of them could go into each, need by need."""

    throws: tuple[Throw, ...]

    @property
    def first(self) -> Throw:
        """The one that stands for all."""
        return self.throws[0]


def alike_throws(request: KitRequest, group: Group) -> list[Alike]:
    """The throws of a group, those that are alike together, in the order of the request."""
    throws = _throws(request, group)
    homes: dict[Key, list[Key]] = defaultdict(list)
    for source in request.sources:
        if source.home_line is not None:
            homes[source.home_line].append(source.key)
    priority = {position.key: position.priority for position in request.positions}
    place = {
        need.key: (index, number)
        for index, throw in enumerate(throws)
        for number, need in enumerate(throw.needs)
    }
    ties = _ties(request, place, len(throws))
    found: dict[Hashable, list[Throw]] = defaultdict(list)
    for throw, tied in zip(throws, ties, strict=True):
        looks = (
            tuple((key in group.undecided, priority[key]) for key in throw.positions),
            tuple(
                (
                    throw.positions.index(need.position),
                    need.quantity,
                    need.measure,
                    need.options,
                    tuple(key for key in homes.get(need.key, ()) if key in need.candidates),
                )
                for need in throw.needs
            ),
            frozenset(Counter(tied).items()),
        )
        found[looks].append(throw)
    return [Alike(tuple(throws)) for throws in found.values()]


def _throws(request: KitRequest, group: Group) -> list[Throw]:
    """The positions of a group, joined where a matched set may lie across those of one throw."""
    throw_by_position = request.throws
    positions_by_source: dict[Key, set[Key]] = defaultdict(set)
    for need in group.needs:
        for key in need.candidates:
            positions_by_source[key].add(need.position)
    joined: set[Key] = set()
    for members in request.matched_sets:
        reached = {position for key in members for position in positions_by_source.get(key, ())}
        by_throw: dict[Key, set[Key]] = defaultdict(set)
        for position in reached:
            by_throw[throw_by_position[position]].add(position)
        joined |= {throw for throw, positions in by_throw.items() if len(positions) > 1}
    needs: dict[tuple[bool, Key], list[Need]] = defaultdict(list)
    for need in group.needs:
        throw = throw_by_position[need.position]
        needs[(True, throw) if throw in joined else (False, need.position)].append(need)
    return [
        Throw(tuple(dict.fromkeys(need.position for need in each)), tuple(each)) for each in needs.values()
    ]


def _ties(request: KitRequest, place: Mapping[Key, tuple[int, int]], throws: int) -> Iterable[list[Hashable]]:
    """What ties the needs of each throw, by their places within it."""
    found: list[list[Hashable]] = [[] for _ in range(throws)]
    for pairing in request.pairings:
        if pairing.need in place:
            throw, number = place[pairing.need]
            weighed = frozenset(pairing.tenths.items())
            found[throw].append((number, place[pairing.other][1], pairing.barred, weighed))
    for index, balance in enumerate(request.balances):
        masses: dict[Key, list[tuple[Key, int]]] = defaultdict(list)
        for (need, source), mass in balance.masses.items():
            masses[need].append((source, mass))
        for need, each in masses.items():
            if need in place:
                throw, number = place[need]
                found[throw].append((index, number, frozenset(each)))
    return found
