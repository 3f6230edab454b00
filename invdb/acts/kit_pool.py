"""The stock that a kit choice draws on, and how the choice names what it is asked for and draws on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from invdb.acts.proposed import Asked
from invdb.acts.things import ThingState, Whereabouts

# A thing at one of its places: what a kit choice calls a source.
Offer = tuple[ThingState, Whereabouts]


@dataclass
class Pool:
    """The stock of every part that could serve, each thing at each place once."""

    by_part: dict[int, list[Offer]] = field(default_factory=lambda: defaultdict(list))
    states: list[ThingState] = field(default_factory=list)

    def fill(self, states: Iterable[ThingState]) -> None:
        """Take in things, the oldest receipt first."""
        for state in states:
            self.states.append(state)
            for where in state.where:
                self.by_part[state.part].append((state, where))
        for each in self.by_part.values():
            each.sort(key=lambda pair: (pair[0].received_on, pair[0].tag, pair[1].walking_order))

    def pulls(self) -> set[str]:
        """The numbers of every pull that has any of this set aside or in hand."""
        pairs = [pair for each in self.by_part.values() for pair in each]
        return {number for state, where in pairs for number in (*state.reserved_for, where.pull) if number}


def need_key(asked: Asked, line: int) -> str:
    """A kit line at a position, as the choice names it."""
    return f"{asked.engine}/{asked.position}/{line}"


def position_key(asked: Asked) -> str:
    """A position, as the choice names it."""
    return f"{asked.engine}/{asked.position}"


def source_key(state: ThingState, where: Whereabouts) -> str:
    """A thing at a place, as the choice names it."""
    return f"{state.tag}@{where.place}"
