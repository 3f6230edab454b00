"""How the needs of one throw are tied, as tables over the ways in which each can be filled.

Fits bar pairs of ways and weigh them, matched sets bar ways that would part them, balances give each
combination of ways its mass. Ties that neither bar nor weigh anything are none.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import prod
from typing import TYPE_CHECKING

from invdb.rules.kit_alike import Throw
from invdb.rules.kit_cliques import Clique, tree_of_cliques
from invdb.rules.kit_model import Balance, Key, KitRequest, Need
from invdb.rules.kit_sums import FITS, UNWEIGHED, Step
from invdb.rules.kit_ties import binds, could_count, positions_of
from invdb.rules.kit_ways import TooMany, Way, ways_of

if TYPE_CHECKING:
    import numpy as np

COMBINATIONS_MAX = 2_000_000
NOT_COUNTED = -1


def balances_that_tie(request: KitRequest, needs: Collection[Need]) -> dict[int, Balance]:
    """The balances, by place in the request, that hold these needs to anything."""
    by_key = {need.key: need for need in needs}
    return {
        index: balance
        for index, balance in enumerate(request.balances)
        if any(key in by_key for key in balance.needs) and binds(balance, by_key)
    }


@dataclass(frozen=True)
class _Pair:
    """Two needs that a pairing ties, by place: which ways are barred, and what each pair of ways weighs."""

    one: int
    other: int
    barred: np.ndarray
    tenths: np.ndarray


class Tying:
    """The ties of a throw, and the combinations of ways that they allow; raises TooMany."""

    def __init__(
        self,
        request: KitRequest,
        steps: Sequence[Step],
        throw: Throw,
        available: Mapping[Key, int],
        balances: Mapping[int, Balance],
        *,
        full: bool,
    ) -> None:
        self._steps = steps
        self._needs = throw.needs
        self._available = available
        self._full = full
        self._balances = balances
        self.ways: dict[int, list[Way]] = {}
        self._used: dict[int, np.ndarray] = {}
        place = {need.key: index for index, need in enumerate(throw.needs)}
        # What could count does so whatever a need was narrowed to.
        asked = {need.key: need for need in request.needs if need.key in place}
        self._pairs = self._tied_pairs(request, place)
        self._sets = _sets_within(request, throw.needs)
        # Of each balance, the needs that count at each position where they could.
        self.counted = [
            (index, tuple(place[need.key] for need in counted))
            for index, balance in balances.items()
            for counted in positions_of(balance, asked).values()
            if could_count(balance, counted)
        ]
        ties = [(pair.one, pair.other) for pair in self._pairs]
        for places in [*(places for _, places in self.counted), *(each for _, each in self._sets)]:
            ties += [(one, other) for one in places for other in places]
        self.tied = {place for tie in ties for place in tie}
        self.cliques = tree_of_cliques(self.tied, ties)
        for each in self.tied:
            self._list_ways(each)

    def _list_ways(self, place: int) -> list[Way]:
        if place not in self.ways:
            self.ways[place] = ways_of(self._needs[place], self._available, full=self._full)
        return self.ways[place]

    def _tied_pairs(self, request: KitRequest, place: Mapping[Key, int]) -> list[_Pair]:
        import numpy as np

        found = []
        for pairing in request.pairings:
            if pairing.need not in place:
                continue
            one, other = place[pairing.need], place[pairing.other]
            rows = {key: index for index, key in enumerate(self._needs[one].candidates)}
            columns = {key: index for index, key in enumerate(self._needs[other].candidates)}
            barred = np.zeros((len(rows), len(columns)), int)
            tenths = np.zeros((len(rows), len(columns)), int)
            for source, another in pairing.barred:
                if source in rows and another in columns:
                    barred[rows[source], columns[another]] = 1
            for (source, another), far in pairing.tenths.items():
                if source in rows and another in columns:
                    tenths[rows[source], columns[another]] = far
            if barred.any() or tenths.any():
                of_one, of_other = self._uses(one), self._uses(other)
                found.append(
                    _Pair(one, other, (of_one @ barred @ of_other.T) > 0, of_one @ tenths @ of_other.T)
                )
        return found

    def _uses(self, place: int) -> np.ndarray:
        """Which sources each way takes from, as a table of ways by candidates."""
        import numpy as np

        if place not in self._used:
            column = {key: index for index, key in enumerate(self._needs[place].candidates)}
            ways = self._list_ways(place)
            self._used[place] = np.zeros((len(ways), len(column)), int)
            for row, way in enumerate(ways):
                self._used[place][row, [column[key] for key in way.drawn]] = 1
        return self._used[place]

    def combinations(self, clique: Clique, filled: Collection[int]) -> np.ndarray:
        """The combinations of ways that no tie forbids, a row each, with all ``filled`` needs full."""
        import numpy as np

        members = clique.members
        shape = [len(self.ways[place]) for place in members]
        if prod(shape) > COMBINATIONS_MAX:
            raise TooMany
        good = np.ones(shape, bool)
        for place in members:
            if place in filled:
                full = np.array([way.full for way in self.ways[place]], bool)
                good &= self._spread(full, (place,), members)
        for pair in self._pairs:
            if pair.one in members and pair.other in members:
                good &= ~self._spread(pair.barred, (pair.one, pair.other), members)
        for keys, places in self._sets:
            if set(places) <= set(members):
                good &= self._whole(keys, places, members)
        return np.argwhere(good)

    def _spread(self, table: np.ndarray, places: tuple[int, ...], members: Sequence[int]) -> np.ndarray:
        """A table over some members of a clique, laid out over all of them."""
        if list(places) != sorted(places):
            table, places = table.T, places[::-1]
        return table.reshape([len(self.ways[each]) if each in places else 1 for each in members])

    def _whole(self, keys: Sequence[Key], places: Sequence[int], members: Sequence[int]) -> np.ndarray:
        """Where a matched set is taken whole or not at all."""
        import numpy as np

        taken = np.zeros([len(keys), *(len(self.ways[place]) for place in members)], int)
        for place in places:
            candidates = list(self._needs[place].candidates)
            for number, key in enumerate(keys):
                if key in candidates:
                    uses = self._uses(place)[:, candidates.index(key)]
                    taken[number] += self._spread(uses, (place,), members)
        whole: np.ndarray = (taken == taken[0]).all(axis=0)
        return whole

    def weights(self, index: int, ways: np.ndarray) -> np.ndarray:
        """What each combination of a clique adds to each sum, as a table of steps by combinations.

        A need or a pair that lies in several cliques counts in the first of them.
        """
        import numpy as np

        members = self.cliques[index].members
        table = np.zeros((len(self._steps), len(ways)), np.int64)
        for column, place in enumerate(members):
            if self.first_of((place,)) == index:
                need = self._needs[place]
                own = [[way.weigh(step, need) for way in self.ways[place]] for step in self._steps]
                table += np.array(own, np.int64)[:, ways[:, column]]
        fits = [row for row, step in enumerate(self._steps) if step.name == FITS]
        for pair in self._pairs:
            if self.first_of((pair.one, pair.other)) == index:
                one, other = members.index(pair.one), members.index(pair.other)
                table[fits] += pair.tenths[ways[:, one], ways[:, other]]
        unknown = [row for row, step in enumerate(self._steps) if step.name == UNWEIGHED]
        for balance, places in self.counted:
            if self.first_of(places) == index:
                table[unknown] += self._filled(places, members, ways) & (
                    self.masses(balance, places, index, ways) == NOT_COUNTED
                )
        return table

    def _filled(self, places: Sequence[int], members: Sequence[int], ways: np.ndarray) -> np.ndarray:
        """Which combinations fill all these needs."""
        import numpy as np

        filled = np.ones(len(ways), bool)
        for place in places:
            full = np.array([way.full for way in self.ways[place]], bool)
            filled &= full[ways[:, members.index(place)]]
        return filled

    def first_of(self, places: Collection[int]) -> int:
        """The first clique that holds all these needs."""
        return next(index for index, clique in enumerate(self.cliques) if set(places) <= set(clique.members))

    def masses(self, balance: int, places: Sequence[int], index: int, ways: np.ndarray) -> np.ndarray:
        """The mass in mg of each combination of a clique; NOT_COUNTED where it does not count."""
        import numpy as np

        total = np.zeros(len(ways), np.int64)
        counts = np.ones(len(ways), bool)
        for place in places:
            own = [way.mass(self._balances[balance].masses) for way in self.ways[place]]
            column = ways[:, self.cliques[index].members.index(place)]
            counts &= np.array([mass is not None for mass in own], bool)[column]
            total += np.array([mass or 0 for mass in own], np.int64)[column]
        return np.where(counts, total, NOT_COUNTED)


def _sets_within(request: KitRequest, needs: Sequence[Need]) -> list[tuple[tuple[Key, ...], tuple[int, ...]]]:
    """The matched sets of which anything could go into a throw, with the needs that it could go to."""
    places_by_source: dict[Key, list[int]] = {}
    for place, need in enumerate(needs):
        for key in need.candidates:
            places_by_source.setdefault(key, []).append(place)
    return [
        (members, tuple(places))
        for members in request.matched_sets
        if (places := sorted({place for key in members for place in places_by_source.get(key, ())}))
    ]
