"""The rows that hold fits and masses in the integer programme of a kit choice.

A fit between two needs of one unit each is held by a column for every pair that may go together: what is
taken for the one need goes with exactly one of what is taken for the other (the products of an assignment,
linearised as by Adams and Johnson 1994, which leaves the relaxation tight). Where a need takes several, each
pair is held by itself. Masses are bounded by two edges, the lightest and the heaviest of the positions that
count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import reduce
from math import gcd
from typing import TYPE_CHECKING, NamedTuple

from invdb.rules.kit_model import Balance, Key, KitRequest, Need, Pairing
from invdb.rules.kit_ties import QUARTERS_MAX, Paired, Quarters, Taken, takes_one

if TYPE_CHECKING:
    from invdb.rules.kit_programme import Programme


class Used(NamedTuple):
    """1 where anything of a source is taken for a need."""

    need: Key
    source: Key
    is_used: bool = True


class Edge(NamedTuple):
    """The lightest or the heaviest mass that counts in a balance, above a base."""

    balance: int
    heaviest: bool


class Mass(NamedTuple):
    """What lies beyond a pair of sources weighs, above the least, where the pair is taken; else nothing."""

    balance: int
    need: Key
    source: Key
    other: Key


class Counts(NamedTuple):
    """1 where a position counts in a balance, its every need being filled by weighed sources."""

    balance: int
    position: Key
    counts: bool = True


class TiedRows:
    """Adds the ties among some needs to a programme; ``full`` where every need is filled."""

    def __init__(
        self, programme: Programme, request: KitRequest, needs: Mapping[Key, Need], full: bool
    ) -> None:
        self._programme = programme
        self._request = request
        self._needs = needs
        self._full = full
        self._takes: dict[tuple[Key, Key], list[int]] = defaultdict(list)
        for place, column in enumerate(programme.columns):
            if isinstance(column, Taken):
                self._takes[column.need, column.source].append(place)
        self._sources: dict[Key, list[Key]] = defaultdict(list)
        for need, source in self._takes:
            self._sources[need].append(source)
        self._used: dict[tuple[Key, Key], int] = {}

    def add(self) -> None:
        """Add every tie whose needs are there."""
        for index, pairing in enumerate(self._request.pairings):
            if pairing.need in self._needs:
                self._add_pairing(index, pairing)
        for index, balance in enumerate(self._request.balances):
            if any(need in self._needs for need in balance.needs):
                self._add_balance(index, balance)

    def _row(self, weights: dict[int, int], low: float | None, high: float | None) -> None:
        from invdb.rules.kit_programme import Row

        self._programme.rows.append(Row(weights, low, high))

    def _use(self, need: Key, source: Key) -> int:
        """The column that is 1 where a source is taken for a need."""
        key = (need, source)
        if key not in self._used:
            takes = self._takes[key]
            if len(takes) == 1 and self._programme.upper[takes[0]] == 1:
                self._used[key] = takes[0]
            else:
                used = self._used[key] = self._programme.add(Used(need, source), 1)
                for take in takes:
                    self._row({take: 1, used: -self._programme.upper[take]}, None, 0)
        return self._used[key]

    def _add_pairing(self, index: int, pairing: Pairing) -> None:
        need, other = pairing.need, pairing.other
        single = takes_one(self._needs[need]) and takes_one(self._needs[other])
        weighed = any(pair not in pairing.barred for pair in pairing.tenths)
        if single and weighed:
            self._add_products(index, pairing)
            if self._full:
                return
        barred: dict[Key, list[Key]] = defaultdict(list)
        for source, another in pairing.barred:
            if (need, source) in self._takes and (other, another) in self._takes:
                barred[source].append(another)
        for source, others in barred.items():
            use = self._use(need, source)
            if single:
                self._row({use: 1, **{self._use(other, each): 1 for each in others}}, None, 1)
            else:
                for each in others:
                    self._row({use: 1, self._use(other, each): 1}, None, 1)
        if weighed and not single:
            for (source, another), tenths in pairing.tenths.items():
                if tenths and (need, source) in self._takes and (other, another) in self._takes:
                    pair = self._programme.add(Paired(index, source, another), 1)
                    self._row({self._use(need, source): 1, self._use(other, another): 1, pair: -1}, None, 1)

    def _add_products(self, index: int, pairing: Pairing) -> None:
        """A column for each pair that may go together; what is taken goes with one of the others."""
        by_source: dict[Key, dict[int, int]] = defaultdict(dict)
        by_other: dict[Key, dict[int, int]] = defaultdict(dict)
        for source in self._sources[pairing.need]:
            for another in self._sources[pairing.other]:
                if (source, another) not in pairing.barred:
                    pair = self._programme.add(Paired(index, source, another), 1)
                    by_source[source][pair] = 1
                    by_other[another][pair] = 1
        for ours, own, theirs, their_need in (
            (by_source, pairing.need, self._sources[pairing.other], pairing.other),
            (by_other, pairing.other, self._sources[pairing.need], pairing.need),
        ):
            every = {self._use(their_need, source): 1 for source in theirs}
            for source in self._sources[own]:
                use = self._use(own, source)
                pairs = ours.get(source, {})
                if self._full:
                    self._row({**pairs, use: -1}, 0, 0)
                else:
                    self._row({**pairs, use: -1}, None, 0)
                    self._row({**{pair: -1 for pair in pairs}, use: 1, **every}, None, 1)

    def _add_balance(self, index: int, balance: Balance) -> None:
        positions: dict[Key, list[Need]] = defaultdict(list)
        for key in balance.needs:
            positions[self._needs[key].position].append(self._needs[key])
        least: dict[Key, int] = {}
        for (key, _), weight in balance.masses.items():
            least[key] = min(least.get(key, weight), weight)
        bases = {
            position: sum(least[need.key] * need.units for need in needs)
            for position, needs in positions.items()
        }
        above: dict[Key, dict[int, int]] = {}
        for position, needs in positions.items():
            weights: dict[int, int] = {}
            for need in needs:
                for source in self._sources[need.key]:
                    mass = balance.masses.get((need.key, source))
                    if mass is not None:
                        weights |= {take: mass - least[need.key] for take in self._takes[need.key, source]}
            above[position] = weights
        ends = [*bases.values(), *balance.fixed]
        ends += [balance.target - balance.spread, balance.target] if balance.target is not None else []
        base = min(ends)
        most = {
            position: bases[position]
            + sum(weight * self._programme.upper[take] for take, weight in weights.items())
            for position, weights in above.items()
        }
        top = max([*most.values(), *balance.fixed, *([balance.target] if balance.target is not None else [])])
        unit = reduce(
            gcd,
            (
                *(weight for weights in above.values() for weight in weights.values()),
                *(end - base for end in ends),
                top - base,
                balance.spread,
            ),
        )
        self._add_edges(index, balance, positions, above, bases, base, top, max(unit, 1))

    def _add_edges(
        self,
        index: int,
        balance: Balance,
        positions: Mapping[Key, list[Need]],
        above: Mapping[Key, dict[int, int]],
        bases: Mapping[Key, int],
        base: int,
        top: int,
        unit: int,
    ) -> None:
        room = (top - base) // unit
        low = self._programme.add(Edge(index, False), room)
        high = self._programme.add(Edge(index, True), room)
        quarters = self._programme.add(Quarters(index), QUARTERS_MAX)
        spread = balance.spread // unit
        if balance.target is None:
            self._row({high: 4, low: -4, quarters: -spread}, None, 0)
        else:
            target = (balance.target - base) // unit
            self._row({high: 4, quarters: -spread}, None, 4 * target)
            self._row({low: 4, quarters: spread}, 4 * target, None)
        for fixed in balance.fixed:
            mass = (fixed - base) // unit
            self._row({high: 1}, mass, None)
            self._row({low: 1}, None, mass)
        for position, needs in positions.items():
            weights = {take: weight // unit for take, weight in above[position].items() if weight}
            own = (bases[position] - base) // unit
            counts = self._counting(index, balance, position, needs)
            if counts is None:
                self._row({**weights, high: -1}, None, -own)
                self._row({**weights, low: -1}, -own, None)
            else:
                self._row({**weights, high: -1, counts: room}, None, room - own)
                self._row({**weights, low: -1, counts: -room}, -own - room, None)

    def _counting(self, index: int, balance: Balance, position: Key, needs: list[Need]) -> int | None:
        """The column that tells whether a position counts; None where it does in any case."""
        weighed: dict[int, int] = {}
        sure = self._full
        for need in needs:
            for source in self._sources[need.key]:
                if (need.key, source) in balance.masses:
                    weighed |= dict.fromkeys(self._takes[need.key, source], 1)
                else:
                    sure = False
        if sure:
            return None
        counts = self._programme.add(Counts(index, position), 1)
        wanted = sum(need.units for need in needs)
        self._row({**weighed, counts: -1}, None, wanted - 1)
        return counts
