"""What ties the needs of a kit choice together: fits of pairs, and masses that agree.

Judged here from a choice, in whole numbers. The rows that hold the same in the integer programme are in
``kit_tied_rows``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
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


@dataclass(frozen=True, slots=True)
class Unweighed:
    """1 where a position is filled that could count in a balance (by its place), but not all was weighed."""

    balance: int
    position: Key


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
    filled = _filled_masses(balance, needs, choice)
    return {position: mass for position, mass in filled.items() if mass is not None}


def _filled_masses(
    balance: Balance, needs: Mapping[Key, Need], choice: Mapping[Taken, int]
) -> dict[Key, int | None]:
    """What each position weighs whose every need that counts is filled; None where not all was weighed."""
    pieces: dict[Key, dict[int, int]] = {key: defaultdict(int) for key in balance.needs}
    mass: dict[Key, int] = defaultdict(int)
    unknown: set[Key] = set()
    for taken, quantity in choice.items():
        if quantity and taken.need in pieces:
            position = needs[taken.need].position
            pieces[taken.need][taken.option] += quantity
            each = balance.masses.get((taken.need, taken.source))
            if each is None:
                unknown.add(position)
            else:
                mass[position] += each * quantity
    short: set[Key] = set()
    for key, by_option in pieces.items():
        units = sum(quantity // pieces_per_unit(needs[key], option) for option, quantity in by_option.items())
        if units < needs[key].units:
            short.add(needs[key].position)
    return {
        position: None if position in unknown else mass[position]
        for position in positions_of(balance, needs)
        if position not in short
    }


def positions_of(balance: Balance, needs: Mapping[Key, Need]) -> dict[Key, list[Need]]:
    """The positions of a balance among some needs, each with those that count."""
    found: dict[Key, list[Need]] = defaultdict(list)
    for key in balance.needs:
        if key in needs:
            found[needs[key].position].append(needs[key])
    return found


def could_count(balance: Balance, needs: Iterable[Need]) -> bool:
    """Whether weighed sources could fill all these needs, as far as there is one for every part."""
    return all(
        any(
            all(
                any((need.key, source) in balance.masses for source in component.candidates)
                for component in option.components
            )
            for option in need.options
        )
        for need in needs
    )


def binds(balance: Balance, needs: Mapping[Key, Need]) -> bool:
    """Whether a balance holds anything to anything: a lone mass agrees with itself."""
    if balance.target is not None:
        return True
    return len(positions_of(balance, needs)) + bool(balance.fixed) > 1


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
) -> Iterator[tuple[Paired | Quarters | Unweighed, int]]:
    """What pairs and masses of these needs weigh; a tie counts with all of its needs or not at all."""
    by_key = {need.key: need for need in needs}
    pairings = {index: each for index, each in enumerate(request.pairings) if each.need in by_key}
    for pair, pairing in pairs_taken(pairings, choice):
        if (pair.source, pair.other) in pairing.tenths:
            yield pair, 1
    for index, balance in enumerate(request.balances):
        if not any(need in by_key for need in balance.needs) or not binds(balance, by_key):
            continue
        filled = _filled_masses(balance, by_key, choice)
        masses = [mass for mass in filled.values() if mass is not None]
        if masses and (quarters := balance.quarters(masses)):
            yield Quarters(index), quarters
        positions = positions_of(balance, by_key)
        for position, mass in filled.items():
            if mass is None and could_count(balance, positions[position]):
                yield Unweighed(index, position), 1
