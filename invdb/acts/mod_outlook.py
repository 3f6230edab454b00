"""What embodying or removing a mod on an engine would need: read before it is done, and written nowhere."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from invdb.acts.as_fitted import as_fitted, wanted_line
from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
    read_engine,
)
from invdb.acts.mods import mod_to_change
from invdb.acts.mods_embodied import mod_names
from invdb.acts.things import ThingState, things_of_parts
from invdb.records.clock import today
from invdb.rules.availability import bars
from invdb.rules.build import BuiltPosition, BuiltStation
from invdb.rules.mod_outlook import (
    FreePart,
    LineAt,
    MadeUnfit,
    ModOutlook,
    PartToGet,
    StationOf,
    Way,
    use_up,
)
from invdb.rules.pulling import Option


def mod_outlook(session: Session, engine: int, mod: int, embodied: bool) -> ModOutlook:
    """What embodying a mod on an engine today, or removing it, would change and need.

    Refused as the act itself would be. What sits at a station counts toward a line that begins to hold
    there, unless that line is renewed always.
    """
    now = read_engine(session, engine, today(session))
    row = mod_to_change(session, now, mod, embodied)
    name = mod_names(session)[mod]
    then = replace(
        now,
        mods=now.mods | {mod} if embodied else now.mods - {mod},
        state=replace(now.state, mods=now.state.mods | {name} if embodied else now.state.mods - {name}),
    )
    catalogue = Catalogue(session, [now.engine_type])
    changed = [_Changed(catalogue, now, then, position) for position in as_fitted(session, engine).positions]
    wants = [want for each in changed for want in each.wants()]
    return ModOutlook(
        engine,
        now.name,
        mod,
        row.code,
        row.name,
        embodied,
        now.state.on,
        tuple(line for each in changed for line in each.begins()),
        tuple(line for each in changed for line in each.ends()),
        _parts_to_get(session, catalogue, then, wants),
        tuple(unfit for each in changed for unfit in each.unfit()),
    )


@dataclass(frozen=True)
class _Want:
    """What a line that begins to hold asks for beyond what sits at its station."""

    at: StationOf
    line: LineFacts
    options: tuple[Option, ...]
    quantity: int


class _Changed:
    """One position before and after the change."""

    def __init__(
        self, catalogue: Catalogue, now: EngineFacts, then: EngineFacts, position: BuiltPosition
    ) -> None:
        self._catalogue = catalogue
        self._now, self._then = now, then
        self._position = position
        self._facts = PositionFacts(position.position, position.group, position.name)
        self._before = {line.id: line for line in catalogue.lines_for(now, self._facts)}
        self._after = {line.id: line for line in catalogue.lines_for(then, self._facts)}

    def _at(self, station: str) -> StationOf:
        return StationOf(self._position.position, self._position.group, self._position.name, station)

    def begins(self) -> list[LineAt]:
        """The lines that begin to hold."""
        return [
            LineAt(self._at(line.station), wanted_line(line))
            for line in self._after.values()
            if line.id not in self._before
        ]

    def ends(self) -> list[LineAt]:
        """The lines that hold no longer."""
        return [
            LineAt(self._at(line.station), wanted_line(line))
            for line in self._before.values()
            if line.id not in self._after
        ]

    def wants(self) -> Iterator[_Want]:
        """What the lines that begin ask for; the lines that hold on take from what is there first."""
        for station in self._position.stations:
            left: Mapping[int, int] = _amounts(station)
            lines = [line for line in self._after.values() if line.station == station.name]
            for line in sorted(lines, key=lambda line: line.id not in self._before):
                options = tuple(self._catalogue.options_for(line.part, self._then, self._facts))
                begins = line.id not in self._before
                there = 0
                if not (begins and line.renewed_always):
                    there, left = use_up(options, line.quantity, left)
                if begins and there < line.quantity:
                    yield _Want(self._at(station.name), line, options, line.quantity - there)

    def unfit(self) -> Iterator[MadeUnfit]:
        """What sits there, or is presumed to, and may not afterwards."""
        for station in self._position.stations:
            for thing in station.filling:
                if why := self._why_unfit(station.name, thing.part):
                    yield MadeUnfit(self._at(station.name), thing, None, why)
            for presumed in station.presumed:
                if why := self._why_unfit(station.name, presumed.part):
                    yield MadeUnfit(self._at(station.name), None, presumed, why)

    def _why_unfit(self, station: str, part: int) -> str | None:
        """Why a part may not be at a station after the change; None if it may, or might not before."""
        suited = self._lines_suited(self._now, self._before, station, part)
        if not suited or self._lines_suited(self._then, self._after, station, part):
            return None
        barred = {line.id: why for line, why in self._catalogue.barred_lines(self._then, self._facts)}
        for line in suited:
            if line.id in barred:
                return f"its kit line: {barred[line.id]}"
        for line in suited:
            for other, why in self._catalogue.barred_stand_ins(line.part, self._then, self._facts):
                if other == part:
                    return f"as a stand-in for {line.part_number}: {why}"
        return "nothing that leads to it as a stand-in holds any more"

    def _lines_suited(
        self, engine: EngineFacts, lines: Mapping[int, LineFacts], station: str, part: int
    ) -> list[LineFacts]:
        """The lines of a station that a part may fill, by itself or as a member of what stands in."""
        return [
            line
            for line in lines.values()
            if line.station == station
            and any(
                part == member
                for option in self._catalogue.options_for(line.part, engine, self._facts)
                for member, _ in option.members
            )
        ]


def _amounts(station: BuiltStation) -> dict[int, int]:
    amounts: dict[int, int] = defaultdict(int)
    for thing in station.filling:
        amounts[thing.part] += thing.quantity
    return amounts


def _parts_to_get(
    session: Session, catalogue: Catalogue, engine: EngineFacts, wants: list[_Want]
) -> tuple[PartToGet, ...]:
    """The wants that can be filled in the same ways taken together, each with what is free for it."""
    together: dict[tuple[int, bool, tuple[Option, ...]], list[_Want]] = defaultdict(list)
    for want in wants:
        together[want.line.part, want.line.renewed_always, want.options].append(want)
    parts = {part for want in wants for option in want.options for part, _ in option.members}
    states = tuple(things_of_parts(session, parts).values()) if parts else ()
    found: list[PartToGet] = []
    for (part, renewed_always, options), each in together.items():
        line = each[0].line
        free = _free(states, engine, renewed_always)
        ways = tuple(
            Way(
                tuple(
                    FreePart(member, *catalogue.part_names[member], quantity, free[member])
                    for member, quantity in option.members
                ),
                option.authority,
            )
            for option in options
        )
        found.append(
            PartToGet(
                part,
                line.part_number,
                line.part_name,
                line.measure,
                renewed_always,
                sum(want.quantity for want in each),
                tuple(want.at for want in each),
                ways,
            )
        )
    return tuple(found)


def _free(states: tuple[ThingState, ...], engine: EngineFacts, renewed_always: bool) -> dict[int, int]:
    """How much of each part is free and nothing bars from the engine."""
    ask = asking(engine, renewed_always)
    free: dict[int, int] = defaultdict(int)
    for state in states:
        for where in state.where:
            offered = offered_at(state, where)
            if offered.free > 0 and not bars(offered, ask):
                free[state.part] += offered.free
    return free
