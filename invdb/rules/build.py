"""How an engine is built up: what sits at each station, and how two builds differ.

Quantities are in the part's smallest unit. A build is plain values, whatever day it is of and whoever
believed it; see ``invdb.acts.as_fitted``, which reads it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TypeVar

from invdb.terms import Measure

T = TypeVar("T")


@dataclass(frozen=True)
class WantedLine:
    """A kit line that holds at a station: the part wanted there and how much of it."""

    kit_line: int
    part: int
    part_number: str
    part_name: str
    quantity: int
    measure: Measure
    renewed_always: bool


@dataclass(frozen=True)
class BuiltThing:
    """A piece (``piece``), or some of a batch (``batch``), that sits in an engine; one of the two is set.

    It has been there since the entry ``since_entry`` of the day ``since_on``. ``inside`` is what sits in it;
    ``holder`` the piece that it sits in itself, by its id and its tag, None and '' if it sits at first hand.
    ``station`` is the station at which it sits, None where it sits at no station.
    """

    piece: int | None
    batch: int | None
    tag: str
    serial: str
    part: int
    part_number: str
    part_name: str
    quantity: int
    measure: Measure
    since_on: date
    since_entry: int
    station: int | None = None
    holder: int | None = None
    holder_tag: str = ""
    inside: tuple[BuiltThing, ...] = ()

    def __post_init__(self) -> None:
        assert (self.piece is None) != (self.batch is None)


@dataclass(frozen=True)
class Presumed:
    """That something nobody has seen is presumed at a station: ``part`` is what one expects there."""

    presumption: int
    part: int
    part_number: str
    part_name: str
    quantity: int
    measure: Measure
    since_on: date


@dataclass(frozen=True)
class Owed:
    """What was robbed from a station and is owed back to it; ``for_engine`` is where it went ('' unknown)."""

    debt: int
    part: int
    part_number: str
    part_name: str
    quantity: int
    measure: Measure
    tag: str
    for_engine: str
    owed_on: date


@dataclass(frozen=True)
class BuiltStation:
    """A station of one position: what is wanted there, and what is there.

    ``contents`` sit at it at first hand, ``within`` sit at it inside another piece of the same position, as
    a guide does in its barrel; both fill it. ``station`` is None where a kit line names one that the type
    does not have.
    """

    station: int | None
    name: str
    lines: tuple[WantedLine, ...] = ()
    contents: tuple[BuiltThing, ...] = ()
    within: tuple[BuiltThing, ...] = ()
    presumed: tuple[Presumed, ...] = ()
    owed: tuple[Owed, ...] = ()

    @property
    def filling(self) -> tuple[BuiltThing, ...]:
        """All that fills it, at first hand or inside another piece."""
        return self.contents + self.within

    @property
    def open(self) -> bool:
        """Whether something is wanted here, and nothing is here or presumed so."""
        return bool(self.lines) and not (self.contents or self.within or self.presumed)


@dataclass(frozen=True)
class BuiltPosition:
    """A position of the engine, with its stations in the maker's order."""

    position: int
    group: str
    name: str
    stations: tuple[BuiltStation, ...]


@dataclass(frozen=True)
class Build:
    """An engine as fitted at the end of the day ``on``, as believed at ``believed_at`` (None: now).

    ``mods`` are the codes of those embodied then. ``elsewhere`` is what is in the engine at no station.
    """

    engine: int
    engine_name: str
    serial: str
    engine_type: str
    on: date
    believed_at: datetime | None
    mods: frozenset[str]
    positions: tuple[BuiltPosition, ...]
    elsewhere: tuple[BuiltThing, ...] = ()


@dataclass(frozen=True)
class Spot:
    """Where in an engine something sits; names are '' and ids None where it is at no station."""

    position: int | None
    group: str
    position_name: str
    station: int | None
    station_name: str
    holder: int | None
    holder_tag: str


@dataclass(frozen=True)
class Fitted:
    """One thing of a build at its spot; ``thing`` is given without what is inside it."""

    spot: Spot
    thing: BuiltThing


@dataclass(frozen=True)
class Change:
    """What became of one piece, or of some of a batch at one spot; at least one of the two is set."""

    before: Fitted | None
    after: Fitted | None

    @property
    def came(self) -> bool:
        """Whether it was not in the engine (or not at this spot, for a batch) before."""
        return self.before is None

    @property
    def went(self) -> bool:
        """Whether it is not in the engine (or not at this spot, for a batch) afterwards."""
        return self.after is None

    @property
    def moved(self) -> bool:
        """Whether it sits elsewhere in the engine afterwards."""
        return self.before is not None and self.after is not None and self.before.spot != self.after.spot

    @property
    def rode_along(self) -> bool:
        """Whether it moved only because the piece that holds it did."""
        if self.before is None or self.after is None or not self.moved:
            return False
        before, after = self.before, self.after
        return (
            before.spot.holder is not None
            and before.spot.holder == after.spot.holder
            and before.spot.station == after.spot.station
            and before.thing.since_entry == after.thing.since_entry
        )

    @property
    def part_changed(self) -> bool:
        """Whether it is another part afterwards, or known to be."""
        return (
            self.before is not None
            and self.after is not None
            and self.before.thing.part != self.after.thing.part
        )

    @property
    def quantity_changed(self) -> bool:
        """Whether there is more or less of it afterwards at the same spot."""
        return (
            self.before is not None
            and self.after is not None
            and self.before.thing.quantity != self.after.thing.quantity
        )

    @property
    def refitted(self) -> bool:
        """Whether it is where it was, but came out and went back in between."""
        return (
            self.before is not None
            and self.after is not None
            and self.before.spot == self.after.spot
            and self.before.thing.since_entry != self.after.thing.since_entry
        )


@dataclass(frozen=True)
class StationDifference:
    """What changed at one station of one position; what moved within the engine stands at both its spots.

    The names are '' for what is in the engine at no station.
    """

    group: str
    position_name: str
    station_name: str
    changes: tuple[Change, ...] = ()
    presumed: tuple[Presumed, ...] = ()
    presumed_no_more: tuple[Presumed, ...] = ()
    owed: tuple[Owed, ...] = ()
    owed_no_more: tuple[Owed, ...] = ()


@dataclass(frozen=True)
class Difference:
    """How one build of an engine differs from another, in the order of its positions and stations."""

    stations: tuple[StationDifference, ...] = ()
    mods_embodied: frozenset[str] = frozenset()
    mods_removed: frozenset[str] = frozenset()

    @property
    def empty(self) -> bool:
        """Whether the two builds are alike in all that is fitted, presumed, owed and embodied."""
        return not (self.stations or self.mods_embodied or self.mods_removed)

    @property
    def changes(self) -> tuple[Change, ...]:
        """What became of every thing, each once."""
        return tuple(dict.fromkeys(change for station in self.stations for change in station.changes))


_Key = tuple[int | None, int | None, Spot | None]
_NameOfSpot = tuple[str, str, str]


def fitted(build: Build) -> tuple[Fitted, ...]:
    """Everything in a build, each thing once with its spot, what is inside another after its holder."""
    found: list[Fitted] = []
    for position in build.positions:
        names = {station.station: station.name for station in position.stations}
        for station in position.stations:
            for thing in station.contents:
                found += _with_inside(thing, position, names)
    for thing in build.elsewhere:
        found += _with_inside(thing, None, {})
    return tuple(found)


def _with_inside(
    thing: BuiltThing, position: BuiltPosition | None, names: Mapping[int | None, str]
) -> Iterator[Fitted]:
    spot = Spot(
        position.position if position else None,
        position.group if position else "",
        position.name if position else "",
        thing.station,
        names.get(thing.station, ""),
        thing.holder,
        thing.holder_tag,
    )
    yield Fitted(spot, replace(thing, inside=()))
    for each in thing.inside:
        yield from _with_inside(each, position, names)


def difference(before: Build, after: Build) -> Difference:
    """How ``after`` differs from ``before``: what came, went, moved, and changed its part or quantity.

    A piece is followed wherever it went within the engine; some of a batch is compared spot by spot.
    """
    changes: dict[_NameOfSpot, list[Change]] = defaultdict(list)
    was = {_key(each): each for each in fitted(before)}
    now = {_key(each): each for each in fitted(after)}
    for key in {**was, **now}:
        change = Change(was.get(key), now.get(key))
        if change.before != change.after:
            for name in dict.fromkeys(
                _name(each.spot) for each in (change.before, change.after) if each is not None
            ):
                changes[name].append(change)
    stations_before, stations_after = _stations(before), _stations(after)
    found: list[StationDifference] = []
    for name in {**stations_before, **stations_after, **changes}:
        was_there = stations_before.get(name, _NO_STATION)
        is_there = stations_after.get(name, _NO_STATION)
        station = StationDifference(
            *name,
            tuple(changes[name]) if name in changes else (),
            presumed=_gained(was_there.presumed, is_there.presumed),
            presumed_no_more=_gained(is_there.presumed, was_there.presumed),
            owed=_gained(was_there.owed, is_there.owed),
            owed_no_more=_gained(is_there.owed, was_there.owed),
        )
        if station != StationDifference(*name):
            found.append(station)
    return Difference(tuple(found), after.mods - before.mods, before.mods - after.mods)


_NO_STATION = BuiltStation(None, "")


def _key(each: Fitted) -> _Key:
    thing = each.thing
    return thing.piece, thing.batch, each.spot if thing.batch is not None else None


def _name(spot: Spot) -> _NameOfSpot:
    return spot.group, spot.position_name, spot.station_name


def _stations(build: Build) -> dict[_NameOfSpot, BuiltStation]:
    return {
        (position.group, position.name, station.name): station
        for position in build.positions
        for station in position.stations
    }


def _gained(before: tuple[T, ...], after: tuple[T, ...]) -> tuple[T, ...]:
    return tuple(each for each in after if each not in before)
