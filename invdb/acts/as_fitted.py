"""What is fitted in an engine: now, on a past date, or as was believed of that date at an instant."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, datetime

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.believed import NOW, When
from invdb.acts.fitted_things import FittedThing, StationPlaces, fitted_things
from invdb.acts.kit_facts import Catalogue, EngineFacts, LineFacts, PositionFacts, read_engine
from invdb.acts.lying import batch_moves, stays_at
from invdb.acts.presumed import days_of_presumptions, read_owed, read_presumed
from invdb.acts.seats import with_inside
from invdb.records.engines import Engine, Position, Station
from invdb.records.nesting import NESTING_MAX
from invdb.rules.build import (
    Build,
    BuiltPosition,
    BuiltStation,
    BuiltThing,
    Owed,
    Presumed,
    WantedLine,
)
from invdb.terms import Refused

# Made once: putting a statement together costs more than executing it.
_POSITIONS = (
    select(Position.id, Position.group_name, Position.name)
    .where(Position.engine_type_id == bindparam("engine_type"))
    .order_by(Position.group_name, Position.sequence, Position.id)
)
_STATIONS = (
    select(Station.id, Station.group_name, Station.name)
    .where(Station.engine_type_id == bindparam("engine_type"))
    .order_by(Station.group_name, Station.sequence, Station.id)
)
# From one day until another, both ends among them.
_Days = tuple[date, date]
_Standing = tuple[int, int | None]


def as_fitted(
    session: Session, engine: int, on: date | None = None, believed_at: datetime | None = None
) -> Build:
    """The build of an engine at the end of a day (None: now), as believed at an instant (None: now).

    What is fitted, presumed and owed, what part each piece was, and which mods were embodied is as it was
    on that day and known at that instant. What is wanted at each station is by the kit list as it now
    stands, with the mods of that day; so are the names of parts, positions and stations. Refused when the
    engine is not in the store.
    """
    when = When(on, believed_at)
    facts = read_engine(session, engine, as_of(session, on), believed_at)
    seated = fitted_things(session, engine, when)
    positions = _positions(session, facts, seated, when)
    shown = {(position.position, station.station) for position in positions for station in position.stations}
    elsewhere = (each.thing for each in seated if (each.position, each.thing.station) not in shown)
    return Build(
        engine,
        facts.name,
        facts.serial,
        facts.engine_type_name,
        facts.state.on,
        believed_at,
        frozenset(map(str, facts.state.mods)),
        positions,
        tuple(elsewhere),
    )


def _positions(
    session: Session, engine: EngineFacts, seated: Iterable[FittedThing], when: When
) -> tuple[BuiltPosition, ...]:
    catalogue = Catalogue(session, [engine.engine_type])
    connection = session.connection()
    asked = {"engine_type": engine.engine_type}
    stations: dict[str, dict[str, int]] = defaultdict(dict)
    for station, group, name in connection.execute(_STATIONS, asked):
        stations[group][name] = station
    contents: dict[_Standing, list[BuiltThing]] = defaultdict(list)
    within: dict[_Standing, list[BuiltThing]] = defaultdict(list)
    for each in seated:
        if each.position is None:
            continue
        if each.thing.station is not None:
            contents[each.position, each.thing.station].append(each.thing)
        for thing in with_inside(each.thing):
            if thing.station is not None and thing.holder is not None:
                within[each.position, thing.station].append(thing)
    presumed: dict[_Standing, list[Presumed]] = defaultdict(list)
    for position, station, presumption in read_presumed(session, engine.id, when):
        presumed[position, station].append(presumption)
    owed: dict[_Standing, list[Owed]] = defaultdict(list)
    for position, station, debt in read_owed(session, engine.id, when):
        owed[position, station].append(debt)
    found: list[BuiltPosition] = []
    for position, group, name in connection.execute(_POSITIONS, asked):
        lines: dict[str, list[WantedLine]] = defaultdict(list)
        for line in catalogue.lines_for(engine, PositionFacts(position, group, name)):
            lines[line.station].append(wanted_line(line))
        own = stations[group]
        names: dict[str, int | None] = {**own, **{name: None for name in lines if name not in own}}
        built = tuple(
            BuiltStation(
                station,
                station_name,
                tuple(lines[station_name]),
                tuple(contents[position, station]),
                tuple(within[position, station]),
                tuple(presumed[position, station]),
                tuple(owed[position, station]),
            )
            for station_name, station in names.items()
        )
        found.append(BuiltPosition(position, group, name, built))
    return tuple(found)


def fitted_dates(session: Session, engine: int, positions: Collection[int] | None = None) -> tuple[date, ...]:
    """The days on which something was fitted in an engine, stripped from it or presumed there, in order.

    What was put into a piece on the bench counts from the day on which that piece was fitted. With
    ``positions`` (ids), only what was fitted at these counts, and what was presumed anywhere.
    """
    if session.scalar(select(Engine.id).where(Engine.id == engine)) is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    seats = StationPlaces(session, NOW)
    level = {
        place: seat
        for place, seat in seats.of_engine(engine).items()
        if positions is None or seat.position in positions
    }
    found = days_of_presumptions(session, engine)
    holding: dict[int | None, list[_Days]] = {None: [(date.min, date.max)]}
    for _ in range(NESTING_MAX + 1):
        inside: dict[int | None, list[_Days]] = defaultdict(list)
        for piece, place, from_on, to_on in stays_at(session, level.keys()):
            for began, ended in holding[level[place].holder]:
                if from_on <= ended and (to_on or date.max) >= began:
                    days = (max(began, from_on), min(ended, to_on or date.max))
                    inside[piece].append(days)
                    found.update(days)
        for (_, place), moves in batch_moves(session, level.keys(), NOW).items():
            windows = holding[level[place].holder]
            found.update(
                move.on for move in moves if any(began <= move.on <= ended for began, ended in windows)
            )
        pieces = {piece for piece in inside if piece is not None}
        level = seats.in_pieces(pieces) if pieces else {}
        if not level:
            break
        holding = inside
    return tuple(sorted(found - {date.min, date.max}))


def wanted_line(line: LineFacts) -> WantedLine:
    """What a kit line asks for, as a build shows it."""
    return WantedLine(
        line.id,
        line.part,
        line.part_number,
        line.part_name,
        line.quantity,
        line.measure,
        line.renewed_always,
    )
