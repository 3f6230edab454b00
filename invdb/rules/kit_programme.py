"""The hard rules of one group of needs as the rows of an integer programme, solved by HiGHS.

A thing is taken once at most, a set counts only whole, matched sets go together, no source is overdrawn. The
columns carry the same names as the sums weigh.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, gcd, isfinite
from typing import NamedTuple

from invdb.rules.kit_model import Key, KitRequest, Need, Source
from invdb.rules.kit_sums import Column, Complete, Filled, amount
from invdb.rules.kit_tied_rows import Counts, Edge, TiedRows, Used
from invdb.rules.kit_ties import Choice, Taken, Units

CAPACITY_WEIGHT_MAX = 10_000

_INFEASIBLE = 2


@dataclass(frozen=True)
class Group:
    """Needs that compete with one another and with no others.

    ``undecided`` are the positions of which it is open whether they can be complete, all their open needs
    lying in this group. ``full`` groups fill every need.
    """

    needs: tuple[Need, ...]
    undecided: tuple[Key, ...] = ()
    full: bool = False


class Infeasible(Exception):
    """The group cannot be filled entirely."""


class Together(NamedTuple):
    """1 where a matched set goes, whole, into the positions of a throw."""

    matched_set: int
    throw: Key
    is_set: bool = True


# Columns that no sum weighs: they only hold rules.
Aside = Together | Used | Edge | Counts
ASIDE = (Together, Used, Edge, Counts)


class Row(NamedTuple):
    """low <= the weighted sum of the columns <= high; None for no bound."""

    weights: dict[int, int]
    low: float | None
    high: float | None


class Draw(NamedTuple):
    """The column of a take, its need, and what one of it draws from the source."""

    place: int
    need: Need
    amount: int


@dataclass
class Programme:
    """Columns with their upper bounds, and the rows between them; every column but the edges of masses is a
    whole number from 0."""

    columns: list[Column | Aside] = field(default_factory=list)
    upper: list[int] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    draws: dict[Key, list[Draw]] = field(default_factory=dict)

    def add(self, column: Column | Aside, upper: int) -> int:
        """A new column, as its place among the columns."""
        self.columns.append(column)
        self.upper.append(upper)
        return len(self.columns) - 1

    def minimise(self, weights: Sequence[int], seconds: float) -> tuple[dict[Column, int] | None, float]:
        """The best columns found, if any, and a lower bound of the weighted sum; raises Infeasible."""
        import numpy as np
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        starts = np.cumsum([0, *(len(row.weights) for row in self.rows)])
        places = np.fromiter((i for row in self.rows for i in row.weights), int, int(starts[-1]))
        entries = np.fromiter((w for row in self.rows for w in row.weights.values()), float, int(starts[-1]))
        matrix = csr_array((entries, places, starts), shape=(len(self.rows), len(self.columns)))
        low = np.array([-np.inf if row.low is None else row.low for row in self.rows])
        high = np.array([np.inf if row.high is None else row.high for row in self.rows])
        result = milp(
            np.array(weights, float),
            integrality=np.array([not isinstance(column, Edge) for column in self.columns], int),
            bounds=Bounds(0, np.array(self.upper, float)),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": 0.0, "time_limit": seconds},
        )
        if result.status == _INFEASIBLE:
            raise Infeasible
        bound = result.mip_dual_bound
        lower = float(bound) if bound is not None and isfinite(bound) else float("-inf")
        if result.x is None:
            return None, lower
        values = np.rint(result.x).astype(int)
        found = {
            column: int(value)
            for column, value in zip(self.columns, values, strict=True)
            if value and not isinstance(column, ASIDE)
        }
        return found, lower

    def leave_out_choice(self, choice: Choice) -> bool:
        """Bars a choice that takes so much or more of each, where rows let through what is not allowed.

        False if no row says that: a take of which there may be more could make up for another.
        """
        places = {column: place for place, column in enumerate(self.columns) if column in choice}
        if any(self.upper[places[taken]] > quantity for taken, quantity in choice.items()):
            return False
        self.rows.append(Row({places[taken]: 1 for taken in choice}, None, sum(choice.values()) - 1))
        return True

    def leave_out(self, source: Source, choice: Choice) -> None:
        """Bars a choice of measured takes that overdraws the source, and every choice that does so likewise.

        The largest takes that together are too much, and any others as large, cannot all but one be joined by
        another (an extended cover of the knapsack row).
        """
        chosen = [draw for draw in self.draws[source.key] if self.columns[draw.place] in choice]
        chosen.sort(key=lambda draw: -draw.amount)
        count = next(
            n for n in range(len(chosen) + 1) if sum(d.amount for d in chosen[:n]) > source.available
        )
        as_large = [draw.place for draw in self.draws[source.key] if draw.amount >= chosen[0].amount]
        cover = dict.fromkeys([*(draw.place for draw in chosen[:count]), *as_large], 1)
        self.rows.append(Row(cover, None, count - 1))


def programme_of(request: KitRequest, group: Group) -> Programme:
    """The hard rules of the group's needs."""
    programme = Programme()
    source_by_key = {source.key: source for source in request.sources}
    filled_by_position: dict[Key, list[int]] = {}
    for need in group.needs:
        units = _add_options(programme, need, source_by_key)
        least = need.units if group.full else 0
        programme.rows.append(Row(dict.fromkeys(units, 1), least, need.units))
        if not group.full:
            filled = programme.add(Filled(need.key), 1)
            programme.rows.append(Row({**dict.fromkeys(units, 1), filled: -need.units}, 0, None))
            filled_by_position.setdefault(need.position, []).append(filled)
    for position in group.undecided:
        complete = programme.add(Complete(position), 1)
        for filled in filled_by_position[position]:
            programme.rows.append(Row({filled: 1, complete: -1}, 0, None))
    for source, draws in programme.draws.items():
        _add_capacity(programme, source_by_key[source].available, draws)
    for set_index, members in enumerate(request.matched_sets):
        _add_matched_set(programme, request.throws, set_index, members)
    TiedRows(programme, request, {need.key: need for need in group.needs}, group.full).add()
    return programme


def _add_options(programme: Programme, need: Need, source_by_key: Mapping[Key, Source]) -> list[int]:
    """Adds the need's units and takes, tied together; gives the columns of its units."""
    units = []
    for option_index, option in enumerate(need.options):
        unit = programme.add(Units(need.key, option_index), need.units)
        units.append(unit)
        for component_index, component in enumerate(option.components):
            each = 1 if need.whole else component.quantity_each
            weights = {unit: -each}
            for source in component.candidates:
                taken = Taken(need.key, option_index, component_index, source)
                drawn = amount(need, taken, 1)
                upper = min(each * need.units, source_by_key[source].available // drawn)
                if upper:
                    place = programme.add(taken, upper)
                    weights[place] = 1
                    programme.draws.setdefault(source, []).append(Draw(place, need, drawn))
            programme.rows.append(Row(weights, 0, 0))
    return units


def _add_capacity(programme: Programme, available: int, draws: Sequence[Draw]) -> None:
    """No more is drawn than there is, in the largest unit that measures every draw.

    Amounts too unlike for the solver's tolerances are rounded down, so that the row bars nothing possible;
    what it lets through is seen when the choice is judged, and left out.
    """
    unit = gcd(*(draw.amount for draw in draws))
    unit = max(unit, ceil(Fraction(max(draw.amount for draw in draws), CAPACITY_WEIGHT_MAX)))
    weights = {draw.place: draw.amount // unit for draw in draws}
    if sum(weight * programme.upper[place] for place, weight in weights.items()) > available // unit:
        programme.rows.append(Row(weights, None, available // unit))


def _add_matched_set(
    programme: Programme, throws: Mapping[Key, Key], set_index: int, members: Sequence[Key]
) -> None:
    """The set goes whole into one throw or stays out; being single pieces, into no second one."""
    draws_by_member = [programme.draws.get(key, ()) for key in members]
    reached = dict.fromkeys(throws[draw.need.position] for draws in draws_by_member for draw in draws)
    together = {throw: programme.add(Together(set_index, throw), 1) for throw in reached}
    for throw, column in together.items():
        for draws in draws_by_member:
            weights = {draw.place: 1 for draw in draws if throws[draw.need.position] == throw}
            programme.rows.append(Row({**weights, column: -1}, 0, 0))
