"""The rows that hold fits and masses in the integer programme of a kit choice.

A fit between two needs of one unit each is held by a column for every pair that may go together: what is
taken for the one need goes with exactly one of what is taken for the other (the products of an assignment,
linearised as by Adams and Johnson 1994, which leaves the relaxation tight). Where a need takes several, each
pair is held by itself. Masses are bounded by two edges, the lightest and the heaviest of the positions that
count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import gcd
from typing import TYPE_CHECKING, NamedTuple

from invdb.rules.kit_model import Balance, Key, KitRequest, Need, Pairing
from invdb.rules.kit_ties import (
    QUARTERS_MAX,
    Paired,
    Quarters,
    Taken,
    Units,
    Unweighed,
    binds,
    could_count,
    positions_of,
    takes_one,
    takes_singly,
)

if TYPE_CHECKING:
    from invdb.rules.kit_programme import Programme


@dataclass(frozen=True, slots=True)
class Used:
    """1 where anything of a source is taken for a need."""

    need: Key
    source: Key


@dataclass(frozen=True, slots=True)
class Edge:
    """The lightest or the heaviest mass that counts in a balance, above a base."""

    balance: int
    heaviest: bool


@dataclass(frozen=True, slots=True)
class Counts:
    """1 where a position counts in a balance, its every need being filled by weighed sources."""

    balance: int
    position: Key


class _Scale(NamedTuple):
    """The base and the unit in which masses are reckoned, and the greatest of them so."""

    base: int
    unit: int
    room: int

    def at(self, mass: int) -> int:
        """A mass on this scale."""
        return (mass - self.base) // self.unit


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
        self._units: dict[Key, list[int]] = defaultdict(list)
        for place, column in enumerate(programme.columns):
            if isinstance(column, Taken):
                self._takes[column.need, column.source].append(place)
            elif isinstance(column, Units):
                self._units[column.need].append(place)
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
            if any(need in self._needs for need in balance.needs) and binds(balance, self._needs):
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
                if takes_one(self._needs[need]):
                    # Used without being taken, it could be paired off against what is barred.
                    self._row({**dict.fromkeys(takes, 1), used: -1}, 0, 0)
                    return used
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
        """Holds the masses of the positions that count between two edges.

        Figures are kept small, for the solver's tolerances: masses are reckoned from a base, in the largest
        unit that measures all of them.
        """
        positions = positions_of(balance, self._needs)
        least: dict[Key, int] = {}
        for (key, _), mass in balance.masses.items():
            # What makes up a unit of several pieces has no least of its own.
            least[key] = min(least.get(key, mass), mass) if takes_singly(self._needs[key]) else 0
        own = {
            position: sum(least[need.key] * need.units for need in needs)
            for position, needs in positions.items()
        }
        above = {
            position: {
                take: balance.masses[need.key, source] - least[need.key]
                for need in needs
                for source in self._sources[need.key]
                if (need.key, source) in balance.masses
                for take in self._takes[need.key, source]
            }
            for position, needs in positions.items()
        }
        most = [
            own[position] + sum(mass * self._programme.upper[take] for take, mass in masses.items())
            for position, masses in above.items()
        ]
        aim = [] if balance.target is None else [balance.target]
        base = min([*own.values(), *balance.fixed, *(target - balance.spread for target in aim)])
        top = max([*most, *balance.fixed, *(target + balance.spread for target in aim)])
        figures = [*own.values(), *balance.fixed, *aim, top]
        masses_above = [mass for masses in above.values() for mass in masses.values()]
        unit = gcd(balance.spread, *masses_above, *(figure - base for figure in figures)) or 1
        scale = _Scale(base, unit, (top - base) // unit)
        counts = {
            position: self._counting(index, balance, position, needs) for position, needs in positions.items()
        }
        low, high = self._add_edges(index, balance, scale, list(counts.values()))
        for position, masses in above.items():
            weights = {take: mass // unit for take, mass in masses.items() if mass}
            start = scale.at(own[position])
            counting = counts[position]
            if counting is None:
                self._row({**weights, high: -1}, None, -start)
                self._row({**weights, low: -1}, -start, None)
            else:
                self._row({**weights, high: -1, counting: scale.room}, None, scale.room - start)
                self._row({**weights, low: -1, counting: -scale.room}, -start - scale.room, None)

    def _add_edges(
        self, index: int, balance: Balance, scale: _Scale, counting: Sequence[int | None]
    ) -> tuple[int, int]:
        """The lightest and the heaviest mass, as far apart as the balance allows."""
        low = self._programme.add(Edge(index, False), scale.room)
        high = self._programme.add(Edge(index, True), scale.room)
        quarters = self._programme.add(Quarters(index), QUARTERS_MAX)
        spread = balance.spread // scale.unit
        if balance.target is None:
            self._row({high: 4, low: -4, quarters: -spread}, None, 0)
        else:
            target = scale.at(balance.target)
            self._row({high: 4, quarters: -spread}, None, 4 * target)
            self._row({low: 4, quarters: spread}, 4 * target, None)
        for each in counting if balance.fixed else ():
            # What stays as it is binds nothing unless some position counts.
            lightest, heaviest = scale.at(min(balance.fixed)), scale.at(max(balance.fixed))
            if each is None:
                self._row({high: 1}, heaviest, None)
                self._row({low: 1}, None, lightest)
            else:
                self._row({high: 1, each: -scale.room}, heaviest - scale.room, None)
                self._row({low: 1, each: scale.room}, None, lightest + scale.room)
        return low, high

    def _counting(self, index: int, balance: Balance, position: Key, needs: list[Need]) -> int | None:
        """The column that tells whether a position counts; None where it does in any case."""
        unweighed = [
            take
            for need in needs
            for source in self._sources[need.key]
            if (need.key, source) not in balance.masses
            for take in self._takes[need.key, source]
        ]
        if self._full and not unweighed:
            return None
        had = {unit: 1 for need in needs for unit in self._units[need.key]}
        counts = self._programme.add(Counts(index, position), 1)
        short = {**had, counts: -1}
        if unweighed and could_count(balance, needs):
            unknown = self._programme.add(Unweighed(index, position), 1)
            short[unknown] = -1
            self._row({unknown: 1, **dict.fromkeys(unweighed, -1)}, None, 0)
            for take in unweighed:
                self._row({take: 1, counts: self._programme.upper[take]}, None, self._programme.upper[take])
        else:
            short |= dict.fromkeys(unweighed, -1)
        self._row(short, None, sum(need.units for need in needs) - 1)
        return counts
