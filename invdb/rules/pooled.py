"""Where the stock of one part stands in for several: what each of them will be short of, reckoned together.

Each need is met from its own stock first, and then from what its stand-ins have to spare, as many in all as
can be met. Where needs want the same piece, the one that fewer stocks can serve goes first, and of equals the
one named first. If stand-ins pass on (what stands in for a part also stands in for all that the part itself
does), no other way leaves fewer short in all.

Where the stocks that may serve each need are nested or apart (a chain, a fork of several into one), and where
one part stands in for several that serve nobody else, what is to spare is one number that is handed on from
one need to the next: an exact sum over mass functions. Anything else is simulated, from a fixed start, and
its standard error is told.

Parts are independent of one another here, though a firm that is late may be late with both.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from itertools import groupby
from typing import TYPE_CHECKING, TypeAlias

from invdb.rules.counts import Counts, convolve
from invdb.rules.need import checked_horizon, needs_by_month
from invdb.rules.pooled_draws import simulated
from invdb.rules.shortage import PartCase, Shortage, shortages
from invdb.rules.supply import supply_by_month
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np


# Cells of the choices of one pool that are reckoned together.
CELLS_TOGETHER = 500_000
# P(short) and E[short] by month.
Short: TypeAlias = "tuple[np.ndarray, np.ndarray]"
# A spare by the place of its case.
Spares: TypeAlias = "Mapping[int, Spare]"
# Cases with the same sources, which they are.
Alike = tuple[frozenset[int], list[int]]


@dataclass(frozen=True)
class Pool:
    """Parts that share stock; (a, b) in ``stands_in`` says that stock of case a may serve the need of b."""

    cases: tuple[PartCase, ...]
    stands_in: frozenset[tuple[int, int]] = frozenset()

    def __post_init__(self) -> None:
        for pair in self.stands_in:
            if not all(0 <= each < len(self.cases) for each in pair):
                raise Refused(
                    f"Of {len(self.cases)} parts in a pool, {pair[0]} cannot stand in for {pair[1]}.",
                    "Count the parts of a pool from 0.",
                )

    @cached_property
    def sources(self) -> tuple[frozenset[int], ...]:
        """For each case those whose stock may serve its need, its own included."""
        return tuple(
            frozenset({b} | {giver for giver, taker in self.stands_in if taker == b})
            for b in range(len(self.cases))
        )

    @cached_property
    def served(self) -> tuple[frozenset[int], ...]:
        """For each case those whose need its stock may serve, its own included."""
        return tuple(
            frozenset({a} | {taker for giver, taker in self.stands_in if giver == a})
            for a in range(len(self.cases))
        )

    @cached_property
    def groups(self) -> tuple[tuple[int, ...], ...]:
        """The cases that hang together, each group in the order in which its needs are served."""
        groups: list[set[int]] = []
        for case, serves in enumerate(self.served):
            touched = [group for group in groups if group & (serves | {case})]
            groups = [group for group in groups if group not in touched]
            groups.append(set(serves).union(*touched))
        return tuple(tuple(sorted(group, key=self._turn)) for group in groups)

    def parted(self) -> list[tuple[tuple[int, ...], Pool]]:
        """Each group as a pool by itself, with the place here of each of its cases."""
        parted = []
        for group in self.groups:
            places = tuple(sorted(group))
            within = frozenset(
                (places.index(a), places.index(b)) for a, b in self.stands_in if a in group and b in group
            )
            parted.append((places, Pool(tuple(self.cases[case] for case in places), within)))
        return parted

    def _turn(self, case: int) -> tuple[int, int, int]:
        """Those that fewer may serve first; those that all the same may serve side by side."""
        alike = [other for other, sources in enumerate(self.sources) if sources == self.sources[case]]
        return len(self.sources[case]), min(alike), case


@dataclass(frozen=True)
class PooledShortage:
    """The shortage of each case of a pool, in its order.

    ``error`` is the greatest standard error of a P(short) among them if they were simulated, None where all
    are exact.
    """

    shortages: tuple[Shortage, ...]
    error: float | None


@dataclass(frozen=True, eq=False)
class Spare:
    """What a part has over by month, below 0 if it lacks: cell k of ``cells`` is P(``least`` + k)."""

    cells: np.ndarray
    least: int

    def plus(self, other: Spare, size: int | None = None) -> Spare:
        """The sum of two independent ones, in all its cells or the first so many."""
        one, two = (Counts(each.cells, each.cells[..., 0]) for each in (self, other))
        whole = one.size + two.size - 1
        cells = convolve(one, two, whole if size is None else min(size, whole)).cells
        return Spare(cells, self.least + other.least)

    def short_with(self, more: Spare) -> Short:
        """P(it lacks) and how much it lacks on average, by month, with what comes to it."""
        return self.plus(more, max(-self.least - more.least, 1)).short()

    def shifted(self, added: np.ndarray) -> Spare:
        """With so many pieces more, shape (choices); of one month."""
        import numpy as np

        least, size = int(added.min()), self.cells.shape[-1]
        places = np.arange(size + int(added.max()) - least) - (added - least)[:, None]
        there = (places >= 0) & (places < size)
        return Spare(np.where(there, self.cells[-1][places.clip(0, size - 1)], 0.0), self.least + least)

    def left_short(self) -> np.ndarray:
        """How much it lacks on average with 0, 1, 2 ... pieces more, down to nothing; of one month."""
        import numpy as np

        lacks = self.cells[-1, : max(-self.least, 0)]
        # Cell j is P(it lacks more than j), summed from the far end; with each piece that falls away.
        more = lacks.cumsum()[::-1]
        return np.concatenate([more[::-1].cumsum()[::-1], [0.0]])

    def over(self) -> Spare:
        """What is left to give away: nothing where it lacks."""
        import numpy as np

        if self.least >= 0:
            return self
        lacking = min(-self.least, self.cells.shape[-1] - 1)
        cells = np.array(self.cells[..., lacking:])
        cells[..., 0] += self.cells[..., :lacking].sum(axis=-1)
        return Spare(cells, max(self.least + lacking, 0))

    def lack(self) -> Spare:
        """What it lacks, as a number below 0: nothing where it has some over."""
        import numpy as np

        lacking = min(max(-self.least, 0), self.cells.shape[-1] - 1)
        cells = np.array(self.cells[..., : lacking + 1])
        cells[..., -1] += self.cells[..., lacking + 1 :].sum(axis=-1)
        return Spare(cells, min(self.least, 0))

    def short(self) -> Short:
        """P(it lacks) and how much it lacks on average, by month."""
        import numpy as np

        lacking = self.cells[..., : max(-self.least, 0)]
        return lacking.sum(axis=-1), lacking @ -np.arange(self.least, self.least + lacking.shape[-1])


@dataclass(frozen=True, eq=False)
class PoolAtEnd:
    """A pool at the horizon's end, to be asked what so many pieces more would change."""

    pool: Pool
    spares: tuple[Spare, ...]

    def expected(self, added: np.ndarray) -> np.ndarray:
        """E[short] of each case if so many pieces were added to the stock of each, both (choices, cases)."""
        import numpy as np

        expected = np.empty(added.shape)
        for group in self.pool.groups:
            if len(group) == 1:
                left = self.spares[group[0]].left_short()
                expected[:, group[0]] = left[np.minimum(added[:, group[0]], len(left) - 1)]
                continue
            cells = sum(self.spares[case].cells.shape[-1] + int(np.ptp(added[:, case])) for case in group)
            together = max(CELLS_TOGETHER // cells, 1)
            for start in range(0, len(added), together):
                rows = slice(start, start + together)
                spares = {case: self.spares[case].shifted(added[rows, case]) for case in group}
                for case, (_, short) in zip(group, _shorts(self.pool, group, spares)[0], strict=True):
                    expected[rows, case] = short
        return expected


def pooled_shortages(pools: Sequence[Pool], horizon: int) -> list[PooledShortage]:
    """The shortage of each case of each pool by each month from 0 to the horizon.

    A part by itself is as ``shortages`` has it.
    """
    checked_horizon(horizon)
    alone = [(i, group[0]) for i, pool in enumerate(pools) for group in pool.groups if len(group) == 1]
    by_themselves = shortages([pools[i].cases[case] for i, case in alone], horizon)
    found = dict(zip(alone, by_themselves, strict=True))
    errors: dict[int, float] = {}
    joined = [i for i, pool in enumerate(pools) if any(len(group) > 1 for group in pool.groups)]
    for i, spares in zip(joined, _spares([pools[i] for i in joined], horizon), strict=True):
        for group in pools[i].groups:
            if len(group) == 1:
                continue
            shorts, error = _shorts(pools[i], group, dict(enumerate(spares)))
            for case, (chance, expected) in zip(group, shorts, strict=True):
                found[i, case] = Shortage(pools[i].cases[case].part, chance, expected)
            if error is not None:
                errors[i] = max(error, errors.get(i, 0.0))
    return [
        PooledShortage(tuple(found[i, case] for case in range(len(pool.cases))), errors.get(i))
        for i, pool in enumerate(pools)
    ]


def pools_at_end(pools: Sequence[Pool], horizon: int) -> list[PoolAtEnd]:
    """Each pool at the end of the horizon."""
    return [
        PoolAtEnd(pool, tuple(Spare(spare.cells[-1:], spare.least) for spare in spares))
        for pool, spares in zip(pools, _spares(pools, checked_horizon(horizon)), strict=True)
    ]


def _spares(pools: Sequence[Pool], horizon: int) -> list[list[Spare]]:
    """Own supply less own need of each case; of what is due no more than all need that it may serve."""
    needs = iter(needs_by_month([case.need for pool in pools for case in pool.cases], horizon))
    by_pool = []
    for pool in pools:
        own = [next(needs) for _ in pool.cases]
        spares = []
        for case, need, serves in zip(pool.cases, own, pool.served, strict=True):
            cap = sum(own[other].size - 1 for other in serves)
            # What is free only shifts the cells, however much it is.
            due = supply_by_month(replace(case.supply, free=0), horizon, cap)
            turned = Spare(need.cells[:, ::-1], case.supply.free + 1 - need.size)
            spares.append(Spare(due.cells, 0).plus(turned))
        by_pool.append(spares)
    return by_pool


def _shorts(pool: Pool, group: tuple[int, ...], spares: Spares) -> tuple[list[Short], float | None]:
    """P(short) and E[short] by month of each case of a group, in its order; the error if it is simulated."""
    sources = {case: pool.sources[case] for case in group}
    passes_on = all(sources[giver] <= each for each in sources.values() for giver in each)
    alike = [(each, list(cases)) for each, cases in groupby(group, key=lambda case: sources[case])]
    if passes_on and _nested_or_apart(list(sources.values())):
        return _handed_down(alike, spares), None
    givers = {case for case in group if pool.served[case] == set(group)}
    rest = [each - givers for each in sources.values()]
    if passes_on and givers and all(one == other or not one & other for one in rest for other in rest):
        return _handed_round(alike, spares), None
    return simulated(
        [(spares[case].cells, spares[case].least) for case in group],
        [frozenset(group.index(giver) for giver in each) for each in sources.values()],
    )


def _nested_or_apart(sets: Sequence[frozenset[int]]) -> bool:
    return all(one <= other or other <= one or not one & other for one in sets for other in sets)


def _handed_down(alike: Sequence[Alike], spares: Spares) -> list[Short]:
    """Each set of parts that serve one another has what is over of all the sets that flow into it."""
    shorts: list[Short] = []
    left: list[tuple[frozenset[int], Spare]] = []
    for sources, cases in alike:
        own = [spares[case] for case in cases]
        above = _sum([spare for givers, spare in left if givers < sources])
        shorts += _among(own, above)
        left = [each for each in left if not each[0] < sources]
        left.append((sources, _sum([above, *own]).over()))
    return shorts


def _handed_round(alike: Sequence[Alike], spares: Spares) -> list[Short]:
    """The first set of parts has what is over handed round to all others, one after another."""
    shorts: list[Short] = []
    left = _sum([])
    for place, (_, cases) in enumerate(alike):
        own = [spares[case] for case in cases]
        shorts += _among(own, left)
        left = left.plus(_sum(own) if place == 0 else _sum(own).lack()).over()
    return shorts


def _among(own: Sequence[Spare], above: Spare) -> list[Short]:
    """Parts that serve one another, in the order in which they are served, with what comes from above."""
    shorts = []
    for place, spare in enumerate(own):
        # What those before it lack is taken first; those after it give only what they have over.
        others = [*own[:place], *(other.over() for other in own[place + 1 :])]
        shorts.append(spare.short_with(_sum([above, *others]).over()))
    return shorts


def _sum(spares: Sequence[Spare]) -> Spare:
    import numpy as np

    return reduce(Spare.plus, spares, Spare(np.ones((1, 1)), 0))
