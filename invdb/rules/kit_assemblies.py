"""Throws that are alike, filled as assemblies: which sources go together, before which throw they go into.

Where throws are alike it matters only what goes together, so the programme counts how often each source is
taken for a need and how often each pair of sources for two needs that a fit ties: flows between the needs,
without the symmetry of numbered throws. Along a tree of ties flows always part into whole assemblies. A tie
that closes a ring is held as a flow too, which bounds the sums but may not part; then, and where a rule asks
for more than flows can hold, the numbered programme decides. Masses are added up along the tree (flows of
mass, linearised as by Adams and Johnson 1994), so that each assembly is held between the lightest and the
heaviest.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from invdb.rules.kit_alike import Alike, alike_throws
from invdb.rules.kit_goals import Answer, Pace, Shape, solve_group
from invdb.rules.kit_model import Balance, Key, KitRequest, Need, Source
from invdb.rules.kit_programme import (
    ASIDE,
    Aside,
    Flow,
    Group,
    Programme,
    Row,
    add_capacity,
    add_options,
)
from invdb.rules.kit_sums import Column, Step, column_values, totals
from invdb.rules.kit_tied_rows import Edge, Mass
from invdb.rules.kit_ties import (
    QUARTERS_MAX,
    Choice,
    Paired,
    Quarters,
    Taken,
    broken_ties,
    takes_one,
    tied_needs,
)

ALIKE_MIN = 2
COLUMNS_MAX = 60_000


class Unsuited(Exception):
    """Flows can't hold the rules of this group."""


class Tie(NamedTuple):
    """Two needs of a throw, by their places in it, with the pairing between them or None where masses alone
    join them."""

    one: int
    other: int
    pairing: int | None


def assemble(
    request: KitRequest, steps: Sequence[Step], group: Group, start: Choice | None, pace: Pace
) -> Answer | None:
    """The best choice that fills all needs of a group, if flows between alike throws can prove it; else None.

    Infeasible is raised if the needs can't all be filled.
    """
    tied = tied_needs(request)
    if not any(need.key in tied for need in group.needs):
        return None
    if not all(takes_one(need) and not need.whole for need in group.needs):
        return None
    sources = {key for need in group.needs for key in need.candidates}
    if any(key in sources for members in request.matched_sets for key in members):
        return None
    kinds = alike_throws(request, group)
    if all(len(each.throws) < ALIKE_MIN for each in kinds):
        return None
    try:
        flows = Flows(request, kinds)
    except Unsuited:
        return None
    shape = Shape(flows.programme, flows.group, lambda objective: flows.solve(objective, pace))
    answer = solve_group(request, steps, group, start, pace, shape)
    if answer is None:
        return None
    reached = totals(steps, column_values(request, group.needs, (), answer.choice))
    # What no column weighs, such as the lines filled, is the same for every choice that fills all.
    bounds = [
        bound if flows.weighs(step) else total
        for step, total, bound in zip(steps, reached, answer.bounds, strict=True)
    ]
    return Answer(answer.choice, bounds) if reached == bounds else None


@dataclass
class _Kind:
    """Throws that are alike, as the programme counts them: the needs of the first stand for all."""

    alike: Alike
    needs: tuple[Need, ...]
    takes: list[dict[Key, list[int]]] = field(default_factory=list)
    ties: list[Tie] = field(default_factory=list)
    # The columns of each tie, by (source, other source).
    pairs: dict[Tie, dict[tuple[Key, Key], int]] = field(default_factory=dict)

    @property
    def count(self) -> int:
        return len(self.alike.throws)

    def neighbours(self, place: int) -> list[tuple[Tie, int]]:
        """The ties of a need within the tree, and the need at the other end of each."""
        return [(tie, tie.other if tie.one == place else tie.one) for tie in self.ties if place in tie[:2]]


class Flows:
    """The programme of some kinds of throws that are alike, and the way back to a choice."""

    def __init__(self, request: KitRequest, kinds: Sequence[Alike]) -> None:
        self._request = request
        self._source_by_key = {source.key: source for source in request.sources}
        self.programme = Programme()
        self._kinds = [self._add_kind(alike) for alike in kinds]
        self.group = Group(tuple(need for kind in self._kinds for need in kind.needs), full=True)
        for source, draws in self.programme.draws.items():
            add_capacity(self.programme, self._source_by_key[source].available, draws)
        for kind in self._kinds:
            self._add_ties(kind)
        for index, balance in enumerate(request.balances):
            _Masses(self, index, balance, self._kinds).add()
        if len(self.programme.columns) > COLUMNS_MAX:
            raise Unsuited

    def weighs(self, step: Step) -> bool:
        """Whether a sum weighs any column."""
        return any(not isinstance(column, ASIDE) and step.weigh(column) for column in self.programme.columns)

    def source(self, key: Key) -> Source:
        """A source by its key."""
        return self._source_by_key[key]

    def _add_kind(self, alike: Alike) -> _Kind:
        count = len(alike.throws)
        kind = _Kind(alike, tuple(replace(need, quantity=count) for need in alike.first.needs))
        for need in kind.needs:
            before = len(self.programme.columns)
            units = add_options(self.programme, need, self._source_by_key)
            self.programme.rows.append(Row(dict.fromkeys(units, 1), count, count))
            takes: dict[Key, list[int]] = defaultdict(list)
            for place, column in enumerate(self.programme.columns[before:], start=before):
                if isinstance(column, Taken):
                    takes[column.source].append(place)
            kind.takes.append(dict(takes))
        return kind

    def _add_ties(self, kind: _Kind) -> None:
        """The pairings of a kind: those that make a tree are its ties, the rest bound the sums."""
        place = {need.key: index for index, need in enumerate(kind.needs)}
        joined = list(range(len(kind.needs)))
        every = [
            (index, place[pairing.need], place[pairing.other])
            for index, pairing in enumerate(self._request.pairings)
            if pairing.need in place
        ]
        # Where a ring must be cut, it is cut at what has the fewest sources: a batch parts by itself.
        every.sort(key=lambda each: -min(len(kind.takes[each[1]]), len(kind.takes[each[2]])))
        for index, one, other in every:
            tie = Tie(one, other, index)
            self.add_pairs(kind, tie)
            if joined[one] != joined[other]:
                kind.ties.append(tie)
                joined = [joined[one] if each == joined[other] else each for each in joined]

    def add_pairs(self, kind: _Kind, tie: Tie) -> None:
        """The flow between two needs: each source taken for the one goes with one taken for the other."""
        barred = self._request.pairings[tie.pairing].barred if tie.pairing is not None else frozenset()
        pairs: dict[tuple[Key, Key], int] = {}
        by_one: dict[Key, dict[int, int]] = defaultdict(dict)
        by_other: dict[Key, dict[int, int]] = defaultdict(dict)
        for source in kind.takes[tie.one]:
            for another in kind.takes[tie.other]:
                if (source, another) in barred:
                    continue
                most = min(kind.count, self.source(source).available, self.source(another).available)
                column = (
                    Paired(tie.pairing, source, another)
                    if tie.pairing is not None
                    else Flow(kind.needs[tie.one].key, kind.needs[tie.other].key, source, another)
                )
                pair = pairs[source, another] = self.programme.add(column, most)
                by_one[source][pair] = 1
                by_other[another][pair] = 1
        for place, flows in ((tie.one, by_one), (tie.other, by_other)):
            for source, takes in kind.takes[place].items():
                self.programme.rows.append(Row({**flows.get(source, {}), **dict.fromkeys(takes, -1)}, 0, 0))
        kind.pairs[tie] = pairs

    def solve(self, objective: Sequence[int], pace: Pace) -> tuple[Choice | None, float]:
        """The best choice found, if it parts into assemblies that no rule forbids, and the bound."""
        seconds = pace.seconds()
        if not seconds:
            return None, float("-inf")
        values, lower = self.programme.minimise(objective, seconds)
        if values is None:
            return None, lower
        choice: Choice = {}
        for kind in self._kinds:
            choice.update(self._parted(kind, values))
        return (None if broken_ties(self._request, choice) else choice), lower

    def _parted(self, kind: _Kind, values: Mapping[Column | Aside, int]) -> Choice:
        """Flows parted into assemblies, one for each throw."""
        columns = self.programme.columns
        units: list[dict[Key, list[Taken]]] = []
        for takes in kind.takes:
            own: dict[Key, list[Taken]] = defaultdict(list)
            for source, places in takes.items():
                for column in (columns[place] for place in places):
                    if isinstance(column, Taken):
                        own[source] += [column] * values.get(column, 0)
            units.append(own)
        left = {
            tie: {pair: values.get(columns[place], 0) for pair, place in kind.pairs[tie].items()}
            for tie in kind.ties
        }
        choice: Choice = {}
        seen: set[int] = set()
        for root in range(len(kind.needs)):
            if root in seen:
                continue
            roots = [taken for each in kind.takes[root] for taken in units[root][each]]
            for throw, taken in zip(kind.alike.throws, roots, strict=True):
                waiting = [(root, taken, -1)]
                while waiting:
                    place, here, came_from = waiting.pop()
                    seen.add(place)
                    choice[here._replace(need=throw.needs[place].key)] = 1
                    for tie, other in kind.neighbours(place):
                        if other != came_from:
                            source = _partner(left[tie], here.source, first=tie.one == place)
                            waiting.append((other, units[other][source].pop(), place))
        return choice


def _partner(left: dict[tuple[Key, Key], int], source: Key, *, first: bool) -> Key:
    """What goes with one more of a source along a tie; counted off."""
    for pair, count in left.items():
        if count and pair[0 if first else 1] == source:
            left[pair] -= 1
            return pair[1 if first else 0]
    raise AssertionError(f"a flow through {source} does not go on")


class _Masses:
    """The masses of one balance along the trees of the kinds of throws that count in it."""

    def __init__(self, flows: Flows, index: int, balance: Balance, kinds: Sequence[_Kind]) -> None:
        self._flows = flows
        self._programme = flows.programme
        self._index = index
        self._balance = balance
        counted = balance.needs
        self._kinds = [
            (kind, [place for place, need in enumerate(kind.needs) if need.key in counted]) for kind in kinds
        ]
        self._kinds = [(kind, places) for kind, places in self._kinds if places]

    def add(self) -> None:
        """Add the edges, and hold every assembly between them."""
        if not self._kinds:
            return
        balance = self._balance
        least = {
            (kind.needs[place].key): min(self._masses(kind, place).values())
            for kind, places in self._kinds
            for place in places
        }
        bases = [sum(least[kind.needs[place].key] for place in places) for kind, places in self._kinds]
        most = [
            sum(max(self._masses(kind, place).values()) for place in places) for kind, places in self._kinds
        ]
        target = [] if balance.target is None else [balance.target]
        base = min([*bases, *balance.fixed, *(each - balance.spread for each in target)])
        room = max([*most, *balance.fixed, *(each + balance.spread for each in target)]) - base
        low = self._programme.add(Edge(self._index, False), room)
        high = self._programme.add(Edge(self._index, True), room)
        quarters = self._programme.add(Quarters(self._index), QUARTERS_MAX)
        rows = self._programme.rows
        if balance.target is None:
            rows.append(Row({high: 4, low: -4, quarters: -balance.spread}, None, 0))
        else:
            aim = 4 * (balance.target - base)
            rows.append(Row({high: 4, quarters: -balance.spread}, None, aim))
            rows.append(Row({low: 4, quarters: balance.spread}, aim, None))
        for fixed in balance.fixed:
            rows.append(Row({high: 1}, fixed - base, None))
            rows.append(Row({low: 1}, None, fixed - base))
        for (kind, places), own in zip(self._kinds, bases, strict=True):
            self._add_kind(kind, places, least, own - base, room, low, high)

    def _masses(self, kind: _Kind, place: int) -> dict[Key, int]:
        """What each source weighs for a need; Unsuited if one was never weighed or there are several of
        it.
        """
        masses = {}
        for source in kind.takes[place]:
            mass = self._balance.masses.get((kind.needs[place].key, source))
            if mass is None or self._flows.source(source).available > 1:
                raise Unsuited
            masses[source] = mass
        if not masses:
            raise Unsuited
        return masses

    def _add_kind(
        self,
        kind: _Kind,
        places: Sequence[int],
        least: Mapping[Key, int],
        own: int,
        room: int,
        low: int,
        high: int,
    ) -> None:
        self._join(kind, places)
        tree = _spanning(kind, places)
        root = min(tree, key=lambda place: (_depth(kind, tree, place), place))
        sums = self._added_up(kind, tree, root, -1, set(places), least)
        for source, weights in sums.items():
            taken = dict.fromkeys(kind.takes[root][source], 1)
            # An assembly that isn't taken weighs nothing, which must not count as the lightest.
            self._programme.rows.append(
                Row({**weights, high: -1, **{each: weights.get(each, 0) + own for each in taken}}, None, 0)
            )
            gap = {each: weights.get(each, 0) + own - room for each in taken}
            self._programme.rows.append(Row({**weights, low: -1, **gap}, -room, None))

    def _join(self, kind: _Kind, places: Sequence[int]) -> None:
        """Tie the needs that count into one tree, so that their masses can be added up."""
        while True:
            reached = _reached(kind, places[0])
            apart = [place for place in places if place not in reached]
            if not apart:
                return
            near = max(
                (place for place in places if place in reached), key=lambda each: len(kind.neighbours(each))
            )
            tie = Tie(near, apart[0], None)
            self._flows.add_pairs(kind, tie)
            kind.ties.append(tie)

    def _added_up(
        self,
        kind: _Kind,
        tree: set[int],
        place: int,
        came_from: int,
        counted: set[int],
        least: Mapping[Key, int],
    ) -> dict[Key, dict[int, int]]:
        """What an assembly weighs above its least, from a need outward: for each source taken for the need
        the weights of columns, which come to nothing where it isn't taken."""
        own = self._masses(kind, place) if place in counted else dict.fromkeys(kind.takes[place], 0)
        floor = least[kind.needs[place].key] if place in counted else 0
        sums: dict[Key, dict[int, int]] = {
            source: dict.fromkeys(kind.takes[place][source], mass - floor) for source, mass in own.items()
        }
        for tie, other in kind.neighbours(place):
            if other == came_from or other not in tree:
                continue
            beyond = [each for _, each in kind.neighbours(other) if each in tree and each != place]
            if not beyond:
                self._add_leaf(kind, tie, place, other, sums, counted, least)
            else:
                self._add_branch(kind, tie, place, other, sums, tree, counted, least)
        return sums

    def _add_leaf(
        self,
        kind: _Kind,
        tie: Tie,
        place: int,
        other: int,
        sums: dict[Key, dict[int, int]],
        counted: set[int],
        least: Mapping[Key, int],
    ) -> None:
        masses = self._masses(kind, other) if other in counted else {}
        floor = least[kind.needs[other].key] if other in counted else 0
        for pair, column in kind.pairs[tie].items():
            here, there = pair if tie.one == place else pair[::-1]
            if masses.get(there, floor) != floor:
                sums[here][column] = masses[there] - floor

    def _add_branch(
        self,
        kind: _Kind,
        tie: Tie,
        place: int,
        other: int,
        sums: dict[Key, dict[int, int]],
        tree: set[int],
        counted: set[int],
        least: Mapping[Key, int],
    ) -> None:
        """Mass flows along a tie from what lies beyond: as much as is taken there, where the pair is
        taken.
        """
        if any(self._flows.source(each).available > 1 for each in kind.takes[other]):
            raise Unsuited
        beyond = self._added_up(kind, tree, other, place, counted, least)
        most = sum(
            max(self._masses(kind, each).values()) - least[kind.needs[each].key]
            for each in counted & _beyond(kind, tree, other, place)
        )
        flows: dict[Key, dict[int, int]] = defaultdict(dict)
        for pair, column in kind.pairs[tie].items():
            here, there = pair if tie.one == place else pair[::-1]
            mass = self._programme.add(Mass(self._index, kind.needs[place].key, here, there), most)
            self._programme.rows.append(Row({mass: 1, column: -most}, None, 0))
            flows[there][mass] = 1
            sums[here][mass] = 1
        for there, weights in beyond.items():
            negative = {column: -weight for column, weight in weights.items()}
            self._programme.rows.append(Row({**flows.get(there, {}), **negative}, 0, 0))


def _reached(kind: _Kind, place: int) -> set[int]:
    """The needs that the ties reach from one."""
    reached, waiting = {place}, [place]
    while waiting:
        for _, other in kind.neighbours(waiting.pop()):
            if other not in reached:
                reached.add(other)
                waiting.append(other)
    return reached


def _spanning(kind: _Kind, places: Sequence[int]) -> set[int]:
    """The least part of the tree that holds all these needs."""
    tree = _reached(kind, places[0])
    while True:
        bare = [
            place
            for place in tree
            if place not in places and sum(other in tree for _, other in kind.neighbours(place)) < 2  # noqa: PLR2004
        ]
        if not bare:
            return tree
        tree -= set(bare)


def _depth(kind: _Kind, tree: set[int], place: int, came_from: int = -1) -> int:
    """How far the tree goes on from a need."""
    return max(
        (
            1 + _depth(kind, tree, other, place)
            for _, other in kind.neighbours(place)
            if other != came_from and other in tree
        ),
        default=0,
    )


def _beyond(kind: _Kind, tree: set[int], place: int, came_from: int) -> set[int]:
    """The needs of the tree from one outward."""
    found = {place}
    for _, other in kind.neighbours(place):
        if other != came_from and other in tree:
            found |= _beyond(kind, tree, other, place)
    return found
