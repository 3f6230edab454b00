"""A kit as proposed, in plain values: what was chosen and why, how it fits, and what is missing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from invdb.acts.kit_facts import EngineFacts, Held, PositionFacts
from invdb.acts.numbers import Thing
from invdb.rules.fits import FitVerdict
from invdb.rules.pulling import KitState
from invdb.terms import FitKind, Measure


@dataclass(frozen=True)
class Asked:
    """One kit asked for: an engine and a position of it, by their ids."""

    engine: int
    position: int


@dataclass(frozen=True)
class Choice:
    """A thing chosen for a line; ``quantity`` in the smallest unit. No ``authority`` for the part itself."""

    thing: Thing
    tag: str
    serial: str
    part: int
    part_number: str
    part_name: str
    place: int
    bin: str
    walking_order: int
    quantity: int
    condition: str
    scope: str
    papers: int
    hours: str
    why: str
    authority: str


@dataclass(frozen=True)
class Miss:
    """A thing that nearly served, where it is, and everything that bars it."""

    tag: str
    part_number: str
    where: str
    bars: tuple[str, ...]


@dataclass(frozen=True)
class FitShown:
    """How two things of a kit fit, by the stations at which they sit and the tags to name them by.

    ``measured`` says that both were; else the clearance is of their limits alone. ``words`` say the figure
    and what stands against it; ``operation`` what is done on assembly, to ``target``.
    """

    name: str
    kind: FitKind
    station: str
    tag: str
    other_station: str
    other_tag: str
    verdict: FitVerdict
    words: str
    measured: bool
    operation: str
    target: str


@dataclass(frozen=True)
class KitLineProposal:
    """One line of a proposed kit.

    ``held`` is what open pulls have for it already; ``choices`` fill the rest as far as they go, and
    ``missing`` is what could not be found, in the smallest unit.
    """

    kit_line: int
    station: str
    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    renewed_always: bool
    note: str
    held: tuple[Held, ...]
    choices: tuple[Choice, ...]
    missing: int
    misses: tuple[Miss, ...]
    # For what is selected on assembly: the range that is issued, in words.
    selected: str = ""

    @property
    def state(self) -> KitState:
        """How far the line could be filled, or has been."""
        if self.missing:
            return KitState.SHORT
        if not self.choices:
            waiting = any(each.reserved for each in self.held)
            return KitState.RESERVED if waiting else KitState.ISSUED
        alternate = any(choice.authority for choice in self.choices)
        return KitState.WITH_ALTERNATE if alternate else KitState.COMPLETE


@dataclass(frozen=True)
class KitProposal:
    """A proposed kit for one position of one engine, and how what is in it fits together."""

    engine: EngineFacts
    position: PositionFacts
    lines: tuple[KitLineProposal, ...]
    fits: tuple[FitShown, ...] = ()

    def fits_at(self, station: str) -> tuple[FitShown, ...]:
        """The fits that what sits at a station takes part in."""
        return tuple(fit for fit in self.fits if station in {fit.station, fit.other_station})

    @property
    def complete(self) -> bool:
        """Whether every line is filled."""
        return all(line.missing == 0 for line in self.lines)

    @property
    def lines_filled(self) -> int:
        """How many of the lines are filled."""
        return sum(line.missing == 0 for line in self.lines)

    @property
    def state(self) -> KitState:
        """How far the kit could be filled, or has been: the worst of its lines."""
        states = {line.state for line in self.lines}
        for state in (
            KitState.SHORT,
            KitState.WITH_ALTERNATE,
            KitState.COMPLETE,
            KitState.RESERVED,
            KitState.ISSUED,
        ):
            if state in states:
                return state
        return KitState.NO_KIT_LIST


@dataclass(frozen=True)
class Gain:
    """A sum that weighing everything made better than taking what comes first from the shelf."""

    what: str
    ours: int
    shelf: int
    most: bool


@dataclass(frozen=True)
class Proposal:
    """Kits proposed together, and whether no better choice exists.

    ``gained`` is what was gained over taking things in shelf order; ``gap`` says, where it isn't proven, how
    far from the best it may be.
    """

    kits: tuple[KitProposal, ...]
    proven: bool
    proposed_on: date
    gained: tuple[Gain, ...] = ()
    gap: str = ""
