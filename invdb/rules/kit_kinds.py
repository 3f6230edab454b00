"""A kind of throws that are alike: what is counted for them, and how that is dealt out to each of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from invdb.rules.kit_alike import Alike
from invdb.rules.kit_cliques import Clique
from invdb.rules.kit_model import Key, Need
from invdb.rules.kit_ties import Choice, Taken
from invdb.rules.kit_tying import Tying

if TYPE_CHECKING:
    import numpy as np

# What goes into one throw: for each need that is tied the number of its way.
Assembly = dict[int, int]


@dataclass(frozen=True)
class Part:
    """The combinations of one clique in one mode, by the numbers of their ways; the place of the first.

    ``weights`` are what they add to each sum, as a table of sums by combinations.
    """

    clique: Clique
    ways: np.ndarray
    first: int
    weights: np.ndarray

    @property
    def places(self) -> np.ndarray:
        """The places of their columns."""
        import numpy as np

        return self.first + np.arange(len(self.ways))


@dataclass
class Loose:
    """A need that nothing ties: the columns of its units by option, and of its takes."""

    units: list[int] = field(default_factory=list)
    takes: dict[Taken, int] = field(default_factory=dict)


@dataclass
class Kind:
    """Throws that are alike.

    ``modes`` are the sets of positions that are held complete in a throw; ``counts`` the columns that tell
    how many throws are in each, empty where all are in the only one.
    """

    alike: Alike
    tying: Tying
    modes: list[frozenset[Key]]
    counts: list[int] = field(default_factory=list)
    parts: list[list[Part]] = field(default_factory=list)
    loose: dict[int, Loose] = field(default_factory=dict)

    @property
    def size(self) -> int:
        """How many throws there are."""
        return len(self.alike.throws)

    @property
    def needs(self) -> tuple[Need, ...]:
        """The needs of the first throw, which stand for those of all."""
        return self.alike.first.needs

    def choice_of(self, values: Sequence[int]) -> Choice:
        """The assemblies of a kind of throws, one to each; those that are to be complete come first."""
        choice: Choice = {}
        assemblies: list[Assembly] = []
        for mode, parts in enumerate(self.parts):
            count = values[self.counts[mode]] if self.counts else self.size
            assemblies += _parted(parts, values, count)
        for throw, assembly in zip(self.alike.throws, assemblies, strict=True):
            for place, number in assembly.items():
                choice.update(self.tying.ways[place][number].choice(throw.needs[place].key))
        for place, loose in self.loose.items():
            _deal(self, place, loose, values, choice)
        return choice


def _parted(parts: Sequence[Part], values: Sequence[int], count: int) -> list[Assembly]:
    """The combinations of all cliques, put together where they agree."""
    assemblies: list[Assembly] = [{} for _ in range(count)]
    for part in parts:
        members = part.clique.members
        waiting: dict[tuple[int, ...], list[Assembly]] = defaultdict(list)
        for assembly in assemblies:
            waiting[tuple(assembly[place] for place in part.clique.shared)].append(assembly)
        for row in range(len(part.ways)):
            for _ in range(values[part.first + row]):
                chosen = dict(zip(members, (int(way) for way in part.ways[row]), strict=True))
                waiting[tuple(chosen[place] for place in part.clique.shared)].pop(0).update(chosen)
    return assemblies


def _deal(kind: Kind, place: int, loose: Loose, values: Sequence[int], choice: Choice) -> None:
    """Deals out what is taken for a need that nothing ties, throw by throw until nothing is left."""
    need = kind.needs[place]
    left = {taken: values[column] for taken, column in loose.takes.items()}
    units = [option for option, column in enumerate(loose.units) for _ in range(values[column])]
    for number, option in enumerate(units):
        key = kind.alike.throws[number // need.units].needs[place].key
        for component, each in enumerate(need.options[option].components):
            wanted = 1 if need.whole else each.quantity_each
            for source in each.candidates:
                taken = Taken(need.key, option, component, source)
                if quantity := min(wanted, left.get(taken, 0)):
                    left[taken] -= quantity
                    wanted -= quantity
                    here = taken._replace(need=key)
                    choice[here] = choice.get(here, 0) + quantity
