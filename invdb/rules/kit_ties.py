"""What ties the needs of a kit choice together: fits of pairs, and masses that agree.

Judged here from a choice, in whole numbers. The rows that hold the same in the integer programme are in
``kit_tied_rows``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from invdb.rules.kit_model import Balance, Key, KitRequest, Need, Pairing


class Taken(NamedTuple):
    """Pieces of a source taken for one component; 1 where a measured need takes its whole amount."""

    need: Key
    option: int
    component: int
    source: Key


class Units(NamedTuple):
    """Units of a need filled by one of its options."""

    need: Key
    option: int


@dataclass(frozen=True, slots=True)
class Paired:
    """1 where both sources of a pair are taken for the needs of a pairing (by its place in the request)."""

    pairing: int
    source: Key
    other: Key


@dataclass(frozen=True, slots=True)
class Quarters:
    """How far the masses of a balance (by its place in the request) are apart, in quarters of its spread."""

    balance: int


Choice = dict[Taken, int]
QUARTERS_MAX = 4


def sources_by_need(choice: Mapping[Taken, int]) -> dict[Key, set[Key]]:
    """The sources of which something is taken, by need."""
    taken: dict[Key, set[Key]] = defaultdict(set)
    for each, quantity in choice.items():
        if quantity:
            taken[each.need].add(each.source)
    return taken


def pairs_taken(
    pairings: Mapping[int, Pairing], choice: Mapping[Taken, int]
) -> Iterator[tuple[Paired, Pairing]]:
    """Every pair of sources that a choice takes for the two needs of a pairing."""
    taken = sources_by_need(choice)
    for index, pairing in pairings.items():
        for source in taken.get(pairing.need, ()):
            for other in taken.get(pairing.other, ()):
                yield Paired(index, source, other), pairing


def position_masses(
    balance: Balance, needs: Mapping[Key, Need], choice: Mapping[Taken, int]
) -> dict[Key, int]:
    """What counts of each position, in mg: of those alone whose every need is filled, by weighed sources."""
    takes: dict[Key, dict[Taken, int]] = {key: {} for key in balance.needs}
    for taken, quantity in choice.items():
        if quantity and taken.need in takes:
            takes[taken.need][taken] = quantity
    found: dict[Key, int | None] = {}
    for key, own in takes.items():
        position, mass = needs[key].position, _mass(balance, needs[key], own)
        before = found.get(position, 0)
        found[position] = None if mass is None or before is None else before + mass
    return {position: mass for position, mass in found.items() if mass is not None}


def _mass(balance: Balance, need: Need, takes: Mapping[Taken, int]) -> int | None:
    """What is taken for a need weighs, in mg; None if that doesn't fill it, or was not weighed throughout."""
    pieces: dict[int, int] = defaultdict(int)
    mass = 0
    for taken, quantity in takes.items():
        each = balance.masses.get((taken.need, taken.source))
        if each is None:
            return None
        mass += each * quantity
        pieces[taken.option] += quantity
    units = sum(quantity // pieces_per_unit(need, option) for option, quantity in pieces.items())
    return mass if units == need.units else None


def pieces_per_unit(need: Need, option: int) -> int:
    """How many takes make up a unit of a need by one of its options."""
    components = need.options[option].components
    return len(components) if need.whole else sum(component.quantity_each for component in components)


def takes_most(need: Need) -> int:
    """How many sources a need takes at most."""
    return need.units * max((pieces_per_unit(need, option) for option in range(len(need.options))), default=0)


def takes_singly(need: Need) -> bool:
    """Whether each unit of a need is a single take."""
    return all(pieces_per_unit(need, option) == 1 for option in range(len(need.options)))


def takes_one(need: Need) -> bool:
    """Whether a need takes a single source at most."""
    return need.units == 1 and takes_singly(need)


def tied_needs(request: KitRequest) -> set[Key]:
    """The needs that a fit or a mass ties to others."""
    tied = {need for pairing in request.pairings for need in (pairing.need, pairing.other)}
    return tied | {need for balance in request.balances for need in balance.needs}


def unbalanced_needs(request: KitRequest, choice: Mapping[Taken, int]) -> list[Collection[Key]]:
    """The needs that count in each balance whose masses are too far apart."""
    needs = {need.key: need for need in request.needs}
    found: list[Collection[Key]] = []
    for balance in request.balances:
        masses = list(position_masses(balance, needs, choice).values())
        if masses and balance.quarters(masses) > QUARTERS_MAX:
            found.append(balance.needs)
    return found


class Ties:
    """The ties of a request by need, to ask whether one more thing may be taken beside those that are."""

    def __init__(self, request: KitRequest) -> None:
        self._needs = {need.key: need for need in request.needs}
        self._pairings: dict[Key, list[tuple[Key, frozenset[tuple[Key, Key]]]]] = defaultdict(list)
        for pairing in request.pairings:
            self._pairings[pairing.need].append((pairing.other, pairing.barred))
            turned = frozenset((other, source) for source, other in pairing.barred)
            self._pairings[pairing.other].append((pairing.need, turned))
        self._balances: dict[Key, list[Balance]] = defaultdict(list)
        for balance in request.balances:
            for need in balance.needs:
                self._balances[need].append(balance)

    def may_take(self, taken: Taken, quantity: int, choice: Mapping[Taken, int]) -> bool:
        """Whether so much of a source suits what a choice takes already, by fit and by mass."""
        if taken.need in self._pairings:
            standing = sources_by_need(choice)
            for other, barred in self._pairings[taken.need]:
                if any((taken.source, each) in barred for each in standing.get(other, ())):
                    return False
        for balance in self._balances.get(taken.need, ()):
            together = {**choice, taken: choice.get(taken, 0) + quantity}
            masses = list(position_masses(balance, self._needs, together).values())
            if masses and balance.quarters(masses) > QUARTERS_MAX:
                return False
        return True


def broken_ties(request: KitRequest, choice: Mapping[Taken, int]) -> list[str]:
    """The pairs and the masses of a choice that the hard rules forbid, in words for an assertion."""
    broken = [
        f"{pair.source} with {pair.other}"
        for pair, pairing in pairs_taken(dict(enumerate(request.pairings)), choice)
        if (pair.source, pair.other) in pairing.barred
    ]
    needs = {need.key: need for need in request.needs}
    for balance in request.balances:
        masses = position_masses(balance, needs, choice)
        if masses and balance.quarters(list(masses.values())) > QUARTERS_MAX:
            broken.append(f"balance {balance.key}: {masses}")
    return broken


def tied_values(
    request: KitRequest, needs: Collection[Need], choice: Mapping[Taken, int]
) -> Iterator[tuple[Paired | Quarters, int]]:
    """What pairs and masses of these needs weigh; a tie counts with all of its needs or not at all."""
    by_key = {need.key: need for need in needs}
    pairings = {index: each for index, each in enumerate(request.pairings) if each.need in by_key}
    for pair, pairing in pairs_taken(pairings, choice):
        if (pair.source, pair.other) in pairing.tenths:
            yield pair, 1
    for index, balance in enumerate(request.balances):
        if any(need in by_key for need in balance.needs):
            masses = list(position_masses(balance, by_key, choice).values())
            if masses and (quarters := balance.quarters(masses)):
                yield Quarters(index), quarters
