"""Throws that are alike, filled as assemblies: what goes together counts, before which throw it goes into.

For each kind of throw the programme counts how often every combination of ways is taken, clique by clique of
the needs that are tied, where neighbouring cliques agree on what they share. What so agrees parts into whole
assemblies, one a throw. That is free of the symmetry of numbered throws, and its relaxation is tight: along
a chain of ties it is a flow. What a combination weighs in each sum, what it draws, and its mass are then mere
figures of a column, and a combination that a rule forbids has no column at all.

Needs that nothing ties are counted by their takes alone, over all throws of a kind.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import gcd, inf
from typing import TYPE_CHECKING

from invdb.rules.kit_alike import Alike, alike_throws
from invdb.rules.kit_cliques import Clique
from invdb.rules.kit_columns import Columns
from invdb.rules.kit_kinds import Kind, Loose, Part
from invdb.rules.kit_model import Key, KitRequest, Need, NeedOption
from invdb.rules.kit_programme import CAPACITY_WEIGHT_MAX, Group
from invdb.rules.kit_sums import Complete, Filled, Step, amount
from invdb.rules.kit_ties import Choice, Taken, Units
from invdb.rules.kit_tying import NOT_COUNTED, Tying, balances_that_tie
from invdb.rules.kit_ways import TooMany, Way

if TYPE_CHECKING:
    import numpy as np

COLUMNS_MAX = 200_000
UNDECIDED_MAX = 3


@dataclass(frozen=True)
class Weighed:
    """The columns that have a mass in a balance, and their masses in mg."""

    places: np.ndarray
    masses: np.ndarray


class Assembled:
    """The programme of a group, and the way back to a choice; raises TooMany where it would be too large.

    ``ranges`` are the least and the greatest value of each sum, masses apart, and ``constants`` what it has
    in any case; ``weighed`` is by the place of each balance in the request.
    """

    def __init__(self, request: KitRequest, steps: Sequence[Step], group: Group) -> None:
        self._steps = steps
        self._group = group
        self._available = {source.key: source.available for source in request.sources}
        self._draws: dict[Key, list[tuple[np.ndarray, np.ndarray]]] = defaultdict(list)
        self._masses: dict[int, list[tuple[np.ndarray, np.ndarray]]] = defaultdict(list)
        # Of needs that nothing ties and that ask for the same: the columns of how many are filled.
        self._filled: dict[tuple[tuple[NeedOption, ...], int], list[tuple[Need, int]]] = defaultdict(list)
        self.columns = Columns(len(steps))
        self.constants = [0] * len(steps)
        self.ranges = [(0, 0)] * len(steps)
        balances = balances_that_tie(request, group.needs)
        self.kinds = [
            Kind(
                alike,
                Tying(request, steps, alike.first, self._available, balances, full=group.full),
                _modes(alike, group),
            )
            for alike in alike_throws(request, group)
        ]
        for kind in self.kinds:
            self._add_modes(kind)
            kind.parts = [self._add_parts(kind, mode) for mode in range(len(kind.modes))]
            self._widen_by_parts(kind)
            for place in range(len(kind.needs)):
                if place not in kind.tying.tied:
                    kind.loose[place] = self._add_loose(kind, place)
        self._add_capacities()
        self._add_whole_lines()
        self.weighed = {index: self._weighed(index) for index in balances}

    def _weighed(self, balance: int) -> Weighed:
        import numpy as np

        parts = self._masses[balance]
        if not parts:
            return Weighed(np.zeros(0, int), np.zeros(0, np.int64))
        return Weighed(
            np.concatenate([places for places, _ in parts]), np.concatenate([mass for _, mass in parts])
        )

    def _widen(self, low: Sequence[int], high: Sequence[int]) -> None:
        """Something more adds so much to each sum, at least and at most."""
        self.ranges = [
            (least + more, most + yet)
            for (least, most), more, yet in zip(self.ranges, low, high, strict=True)
        ]

    def _add_modes(self, kind: Kind) -> None:
        if len(kind.modes) == 1 and not kind.modes[0]:
            return
        weights = [
            [sum(step.weigh(Complete(position)) for position in mode) for mode in kind.modes]
            for step in self._steps
        ]
        first = self.columns.add([kind.size] * len(kind.modes), weights)
        kind.counts = list(range(first, first + len(kind.modes)))
        self.columns.add_row(dict.fromkeys(kind.counts, 1), kind.size, kind.size)
        self._widen([kind.size * min(each) for each in weights], [kind.size * max(each) for each in weights])

    def _add_parts(self, kind: Kind, mode: int) -> list[Part]:
        """The combinations of each clique in one mode, which agree on what neighbouring cliques share."""

        tying = kind.tying
        filled = {
            place
            for place, need in enumerate(kind.needs)
            if self._group.full or need.position in kind.modes[mode]
        }
        parts: list[Part] = []
        for index, clique in enumerate(tying.cliques):
            ways = tying.combinations(clique, filled)
            if self.columns.size + len(ways) > COLUMNS_MAX:
                raise TooMany
            weights = tying.weights(index, ways)
            part = Part(clique, ways, self.columns.add(self._most(kind, clique, ways), weights), weights)
            parts.append(part)
            if clique.parent is None:
                self._hold_count(kind, mode, part)
            else:
                self._agree(parts[clique.parent], part)
            for column, place in enumerate(clique.members):
                if tying.first_of((place,)) == index:
                    self._draw(tying.ways[place], ways[:, column], part.places)
            for balance, counted in tying.counted:
                if tying.first_of(counted) == index:
                    masses = tying.masses(balance, counted, index, ways)
                    counts = masses != NOT_COUNTED
                    self._masses[balance].append((part.places[counts], masses[counts]))
        return parts

    def _widen_by_parts(self, kind: Kind) -> None:
        import numpy as np

        found = [
            (sum(part.weights.min(axis=1) for part in parts), sum(part.weights.max(axis=1) for part in parts))
            for parts in kind.parts
            if parts and all(len(part.ways) for part in parts)
        ]
        if found:
            low = np.min([least for least, _ in found], axis=0) * kind.size
            high = np.max([most for _, most in found], axis=0) * kind.size
            self._widen([int(each) for each in low], [int(each) for each in high])

    def _most(self, kind: Kind, clique: Clique, ways: np.ndarray) -> np.ndarray:
        """How often each combination could be taken, by what its ways draw one by one."""
        import numpy as np

        most = np.full(len(ways), kind.size)
        for column, place in enumerate(clique.members):
            own = [
                min((self._available[key] // drawn for key, drawn in way.drawn.items()), default=kind.size)
                for way in kind.tying.ways[place]
            ]
            most = np.minimum(most, np.array(own, int)[ways[:, column]])
        return most

    def _hold_count(self, kind: Kind, mode: int, part: Part) -> None:
        """As many combinations are taken as there are throws in the mode."""
        weights = dict.fromkeys((int(place) for place in part.places), 1)
        if kind.counts:
            self.columns.add_row({**weights, kind.counts[mode]: -1}, 0, 0)
        else:
            self.columns.add_row(weights, kind.size, kind.size)

    def _agree(self, parent: Part, part: Part) -> None:
        """What two cliques share is taken as often in the one as in the other."""
        import numpy as np

        shared = part.clique.shared
        of_parent = parent.ways[:, [parent.clique.members.index(place) for place in shared]]
        of_part = part.ways[:, [part.clique.members.index(place) for place in shared]]
        _, rows = np.unique(np.concatenate([of_parent, of_part]), axis=0, return_inverse=True)
        rows = rows.ravel()
        self.columns.add_rows(
            rows,
            np.concatenate([parent.places, part.places]),
            np.concatenate([np.ones(len(of_parent)), -np.ones(len(of_part))]),
            [(0, 0)] * (int(rows.max()) + 1 if len(rows) else 0),
        )

    def _draw(self, ways: Sequence[Way], chosen: np.ndarray, places: np.ndarray) -> None:
        """Notes what each column draws of each source, by its way of a need."""
        import numpy as np

        by_source: dict[Key, dict[int, int]] = defaultdict(dict)
        for number, way in enumerate(ways):
            for key, drawn in way.drawn.items():
                by_source[key][number] = drawn
        for key, by_way in by_source.items():
            drawn_by_way = np.zeros(len(ways))
            drawn_by_way[list(by_way)] = list(by_way.values())
            drawn_here = drawn_by_way[chosen]
            draws = np.flatnonzero(drawn_here)
            self._draws[key].append((places[draws], drawn_here[draws]))

    def _add_loose(self, kind: Kind, place: int) -> Loose:
        """A need that nothing ties, by what is taken for it over all throws."""
        import numpy as np

        need, loose = kind.needs[place], Loose()
        wanted = kind.size * need.units
        for index, option in enumerate(need.options):
            weights = [[step.weigh(Units(need.key, index))] for step in self._steps]
            loose.units.append(unit := self.columns.add([wanted], weights))
            for number, component in enumerate(option.components):
                each = 1 if need.whole else component.quantity_each
                row = {unit: -float(each)}
                for source in component.candidates:
                    taken = Taken(need.key, index, number, source)
                    drawn = amount(need, taken, 1)
                    most = min(each * wanted, self._available[source] // drawn)
                    if most:
                        weights = [[step.weigh(taken)] for step in self._steps]
                        loose.takes[taken] = column = self.columns.add([most], weights)
                        self._draws[source].append((np.array([column]), np.array([float(drawn)])))
                        row[column] = 1
                self.columns.add_row(row, 0, 0)
        self._fill_loose(kind, need, loose)
        return loose

    def _fill_loose(self, kind: Kind, need: Need, loose: Loose) -> None:
        """How many units are had; where not all have to be, how many throws have the need filled."""
        wanted = kind.size * need.units
        units = dict.fromkeys(loose.units, 1.0)
        self.columns.add_row(units, wanted if self._group.full else 0, wanted)
        weights = [step.weigh(Filled(need.key)) for step in self._steps]
        per_unit = [self._unit_range(need, loose, row) for row in range(len(self._steps))]
        if self._group.full:
            self.constants = [
                had + kind.size * weight for had, weight in zip(self.constants, weights, strict=True)
            ]
            self._widen(
                [kind.size * w + wanted * low for w, (low, _) in zip(weights, per_unit, strict=True)],
                [kind.size * w + wanted * high for w, (_, high) in zip(weights, per_unit, strict=True)],
            )
            return
        self._widen(
            [0] * len(weights),
            [kind.size * w + wanted * high for w, (_, high) in zip(weights, per_unit, strict=True)],
        )
        filled = self.columns.add([kind.size], [[weight] for weight in weights])
        self.columns.add_row({**units, filled: -float(need.units)}, 0, inf)
        self._filled[need.options, need.units].append((need, filled))
        complete = [
            column for column, mode in zip(kind.counts, kind.modes, strict=False) if need.position in mode
        ]
        if complete:
            self.columns.add_row({filled: 1, **dict.fromkeys(complete, -1.0)}, 0, inf)

    def _unit_range(self, need: Need, loose: Loose, row: int) -> tuple[int, int]:
        """What one unit adds to a sum, at least and at most."""
        step, ends = self._steps[row], []
        for index, option in enumerate(need.options):
            least = most = step.weigh(Units(need.key, index))
            for number, component in enumerate(option.components):
                each = 1 if need.whole else component.quantity_each
                takes = (Taken(need.key, index, number, source) for source in component.candidates)
                own = [step.weigh(taken) for taken in takes if taken in loose.takes]
                if not own:
                    break
                least, most = least + each * min(own), most + each * max(own)
            else:
                ends.append((least, most))
        return min((least for least, _ in ends), default=0), max((most for _, most in ends), default=0)

    def _add_capacities(self) -> None:
        """No more is drawn of a source than there is."""
        import numpy as np

        for key, draws in self._draws.items():
            places = np.concatenate([each for each, _ in draws])
            drawn = np.concatenate([each for _, each in draws])
            if not len(places):
                continue
            unit = gcd(*(int(each) for each in np.unique(drawn)))
            if drawn.max() > unit * CAPACITY_WEIGHT_MAX:
                raise TooMany
            self.columns.add_rows(
                np.zeros(len(places), int), places, drawn / unit, [(-inf, self._available[key] // unit)]
            )

    def _add_whole_lines(self) -> None:
        """No more lines are filled than the stock makes whole ones, which a relaxation wouldn't see."""
        for (options, units), filled in self._filled.items():
            need = filled[0][0]
            had = 0
            for index, option in enumerate(options):
                by_component = []
                for number, component in enumerate(option.components):
                    drawn = amount(need, Taken(need.key, index, number, ""), 1)
                    pieces = sum(self._available[source] // drawn for source in component.candidates)
                    by_component.append(pieces if need.whole else pieces // component.quantity_each)
                had += min(by_component)
            self.columns.add_row(dict.fromkeys((column for _, column in filled), 1), -inf, had // units)

    def choice_of(self, values: np.ndarray) -> Choice:
        """The choice that whole values make: assemblies, one to a throw, and what is loose."""
        choice: Choice = {}
        for kind in self.kinds:
            choice.update(kind.choice_of([round(float(value)) for value in values]))
        return choice


def _modes(alike: Alike, group: Group) -> list[frozenset[Key]]:
    """Every set of positions of a throw that may be complete, the largest first."""
    undecided = [position for position in alike.first.positions if position in group.undecided]
    if len(undecided) > UNDECIDED_MAX:
        raise TooMany
    return [
        frozenset(chosen)
        for size in range(len(undecided), -1, -1)
        for chosen in combinations(undecided, size)
    ]
