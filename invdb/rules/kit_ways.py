"""Every way in which one need can be filled by itself, where there are few enough to name them all."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from invdb.rules.kit_model import Key, Need
from invdb.rules.kit_sums import Filled, Step, amount
from invdb.rules.kit_ties import Choice, Taken, Units

WAYS_MAX = 1_500
SPLITS_MAX = 10_000


class TooMany(Exception):
    """There are more ways than are worth naming one by one."""


@dataclass(frozen=True)
class Way:
    """What is taken for a need, its units by option, and what is drawn of each source in its measure."""

    takes: tuple[tuple[Taken, int], ...]
    units: tuple[int, ...]
    full: bool
    drawn: Mapping[Key, int]

    def choice(self, need: Key) -> Choice:
        """The same for another need that asks for the same."""
        return {taken._replace(need=need): quantity for taken, quantity in self.takes}

    def weigh(self, step: Step, need: Need) -> int:
        """What it adds to a sum, pairs and masses apart."""
        return (
            sum(quantity * step.weigh(taken) for taken, quantity in self.takes)
            + sum(units * step.weigh(Units(need.key, option)) for option, units in enumerate(self.units))
            + (step.weigh(Filled(need.key)) if self.full else 0)
        )

    def mass(self, masses: Mapping[tuple[Key, Key], int]) -> int | None:
        """What it weighs in mg; None if it does not fill the need, or with something that was not weighed."""
        if not self.full:
            return None
        total = 0
        for taken, quantity in self.takes:
            each = masses.get((taken.need, taken.source))
            if each is None:
                return None
            total += each * quantity
        return total


def ways_of(need: Need, available: Mapping[Key, int], *, full: bool) -> list[Way]:
    """Every way to fill a need: entirely if ``full``, else also in part or not at all; raises TooMany."""
    ways: list[Way] = []
    if (need.units + 1) ** len(need.options) > SPLITS_MAX:
        raise TooMany
    for units in itertools.product(range(need.units + 1), repeat=len(need.options)):
        if sum(units) > need.units or (full and sum(units) < need.units):
            continue
        for takes in _takes(need, units, available):
            drawn: dict[Key, int] = {}
            for taken, quantity in takes:
                drawn[taken.source] = drawn.get(taken.source, 0) + amount(need, taken, quantity)
            if all(quantity <= available[key] for key, quantity in drawn.items()):
                if len(ways) == WAYS_MAX:
                    raise TooMany
                ways.append(Way(takes, units, sum(units) == need.units, drawn))
    return ways


def _takes(
    need: Need, units: Sequence[int], available: Mapping[Key, int]
) -> Iterator[tuple[tuple[Taken, int], ...]]:
    """Every set of takes that makes so many units of each option."""
    parts: list[list[list[tuple[Taken, int]]]] = []
    for option_index, count in enumerate(units):
        for index, component in enumerate(need.options[option_index].components if count else ()):
            pieces = count * (1 if need.whole else component.quantity_each)
            each = Taken(need.key, option_index, index, "")
            most = [
                (each._replace(source=key), min(pieces, available[key] // amount(need, each, 1)))
                for key in component.candidates
            ]
            splits = list(itertools.islice(_splits(most, pieces), WAYS_MAX + 1))
            if len(splits) > WAYS_MAX:
                raise TooMany
            parts.append(splits)
    for chosen in itertools.product(*parts):
        yield tuple(take for part in chosen for take in part)


def _splits(most: Sequence[tuple[Taken, int]], pieces: int) -> Iterator[list[tuple[Taken, int]]]:
    """Every way to take so many pieces from sources of which there are so many each."""
    if not pieces:
        yield []
        return
    if sum(count for _, count in most) < pieces:
        return
    taken, count = most[0]
    for quantity in range(min(count, pieces), -1, -1):
        for rest in _splits(most[1:], pieces - quantity):
            yield [(taken, quantity), *rest] if quantity else rest
