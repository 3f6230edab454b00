"""What embodying or removing a mod would need, before it is done: lines, parts to get, what becomes unfit.

Quantities are in the part's smallest unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from invdb.rules.build import BuiltThing, Presumed, WantedLine
from invdb.rules.build_words import presumed_words, thing_words, wanted_words
from invdb.rules.pulling import Option, units_filled
from invdb.rules.quantities import quantity_words
from invdb.terms import Measure


@dataclass(frozen=True)
class StationOf:
    """A station of one position of an engine."""

    position: int
    group: str
    position_name: str
    station: str

    @property
    def words(self) -> str:
        """``cylinder 3, exhaust valve``."""
        return f"{self.group} {self.position_name}, {self.station}"


@dataclass(frozen=True)
class LineAt:
    """A kit line that begins or ceases to hold at a station."""

    at: StationOf
    line: WantedLine


@dataclass(frozen=True)
class FreePart:
    """One part of a way to fill a line: how many of it one unit takes, and how much of it is free."""

    part: int
    part_number: str
    part_name: str
    each: int
    free: int


@dataclass(frozen=True)
class Way:
    """A way to fill a line: the part itself (no ``authority``), or what may stand in for it."""

    members: tuple[FreePart, ...]
    authority: str

    @property
    def units(self) -> int:
        """How much of the line the free stock would fill this way alone."""
        return min(member.free // member.each for member in self.members)


@dataclass(frozen=True)
class PartToGet:
    """A part that lines beginning to hold ask for beyond what sits there already, and the ways to fill it."""

    part: int
    part_number: str
    part_name: str
    measure: Measure
    renewed_always: bool
    wanted: int
    stations: tuple[StationOf, ...]
    ways: tuple[Way, ...]

    @property
    def short(self) -> int:
        """How much of it no free stock fills."""
        options = [
            Option(tuple((member.part, member.each) for member in way.members), way.authority)
            for way in self.ways
        ]
        free = {member.part: member.free for way in self.ways for member in way.members}
        return max(self.wanted - units_filled(options, free), 0)


@dataclass(frozen=True)
class MadeUnfit:
    """What sits at a station, or is presumed there, and may not once the change is made; exactly one is set.

    ``why`` is one clause.
    """

    at: StationOf
    thing: BuiltThing | None
    presumed: Presumed | None
    why: str

    def __post_init__(self) -> None:
        assert (self.thing is None) != (self.presumed is None)


@dataclass(frozen=True)
class ModOutlook:
    """What embodying a mod on an engine (or removing it, where not ``embodied``) would change and need."""

    engine: int
    engine_name: str
    mod: int
    code: str
    mod_name: str
    embodied: bool
    on: date
    begins: tuple[LineAt, ...]
    ends: tuple[LineAt, ...]
    parts: tuple[PartToGet, ...]
    unfit: tuple[MadeUnfit, ...]


def use_up(options: Iterable[Option], wanted: int, amounts: Mapping[int, int]) -> tuple[int, dict[int, int]]:
    """How many units of ``wanted`` the amounts (by part) fill, and what is left of them."""
    left = dict(amounts)
    units = 0
    for option in options:
        taken = min(wanted - units, *(left.get(part, 0) // each for part, each in option.members))
        for part, each in option.members:
            left[part] = left.get(part, 0) - taken * each
        units += taken
    return units, left


def outlook_words(outlook: ModOutlook) -> tuple[str, ...]:
    """A preview line by line: the change, the lines that begin and end, parts to get, and what is unfit."""
    return tuple(_lines(outlook))


def _lines(outlook: ModOutlook) -> Iterator[str]:
    doing = "Embodying" if outlook.embodied else "Removing"
    named = f"{outlook.code} ({outlook.mod_name})" if outlook.mod_name else outlook.code
    yield f"{doing} mod {named} on {outlook.engine_name}, as of {outlook.on.isoformat()}:"
    if not (outlook.begins or outlook.ends or outlook.unfit):
        yield "  changes no kit line, and makes nothing unfit that is fitted"
        return
    for line in outlook.begins:
        yield f"  will be wanted: {line.at.words}: {wanted_words(line.line)}"
    for line in outlook.ends:
        yield f"  will no longer be wanted: {line.at.words}: {wanted_words(line.line)}"
    for part in outlook.parts:
        yield from _part_lines(part)
    for unfit in outlook.unfit:
        what = (
            presumed_words(unfit.presumed)
            if unfit.presumed is not None
            else thing_words(unfit.thing)
            if unfit.thing is not None
            else ""
        )
        yield f"  becomes unfit: {unfit.at.words}: {what} ({unfit.why})"


def _part_lines(part: PartToGet) -> Iterator[str]:
    wanted = quantity_words(part.wanted, part.measure)
    short = f"{quantity_words(part.short, part.measure)} short" if part.short else "enough is free"
    yield f"  to get: {wanted} {part.part_number} {part.part_name}; {short}"
    for way in part.ways:
        members = " and ".join(_member_words(member, part.measure) for member in way.members)
        yield f"    {members}" + (f", standing in by {way.authority}" if way.authority else "")


def _member_words(member: FreePart, measure: Measure) -> str:
    said = f"{quantity_words(member.free, measure)} {member.part_number} {member.part_name} free"
    return f"{said} ({member.each} for one)" if member.each > 1 else said
