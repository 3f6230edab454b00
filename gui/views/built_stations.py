"""The stations of one position, as its rows show them: each thing with its life, its doubts and its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from gui.shown import FilledStation
from gui.signs import urgency
from gui.views.standings import UNTOUCHED, Standing, gauge_of
from gui.widgets.gauge_shape import left_share
from invdb.acts.numbers import Thing
from invdb.acts.station_list import DrawnStation
from invdb.rules.build import BuiltPosition, BuiltStation, BuiltThing
from invdb.rules.due import DueSoon
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.quantities import quantity_words
from invdb.terms import Measure

THOUSANDTHS = 1000
WITH_LIMIT = "With a limit of life"
# What is only presumed may well have one.
WITHOUT_LIMIT = "Without a limit of life, or not known"
NOTHING = "nothing recorded"
IN_DOUBT = ("event not cleared", "on hold")


@dataclass(frozen=True)
class StationKey:
    """Which thing at which station; at most one of the last four is set, none where nothing is there."""

    position: int
    station: int | None
    station_name: str
    piece: int | None = None
    batch: int | None = None
    presumption: int | None = None
    debt: int | None = None


def stations_of(
    position: BuiltPosition,
    drawn: Mapping[int, DrawnStation],
    standings: Mapping[Thing, Standing],
    soon: DueSoon,
    differs: Mapping[str, str],
) -> tuple[FilledStation, ...]:
    """The stations of a position: those with a limit of life first, the worst on top, then the others.

    ``standings`` are by piece or batch, ``differs`` says by station what is otherwise there today. A
    station where nothing is and nothing is wanted is left out.
    """
    rows = [row for station in position.stations for row in _rows(position, station, drawn, standings, soon)]
    rows = [_differing(row, differs.get(row.station, "")) for row in rows]
    limited = [row for row in rows if row.gauge is not None]
    limited.sort(key=lambda row: (-urgency(row.sign), left_share(row.gauge) if row.gauge else 1.0))
    others = [row for row in rows if row.gauge is None]
    # What must not stay in is seen without looking for it.
    others.sort(key=lambda row: row.sign not in IN_DOUBT)
    return (*limited, *others)


def _rows(
    position: BuiltPosition,
    station: BuiltStation,
    drawn: Mapping[int, DrawnStation],
    standings: Mapping[Thing, Standing],
    soon: DueSoon,
) -> Iterator[FilledStation]:
    place = drawn.get(station.station) if station.station is not None else None
    x = place.x_thousandths / THOUSANDTHS if place is not None else 0.0
    y = place.y_thousandths / THOUSANDTHS if place is not None else 0.0
    key = StationKey(position.position, station.station, station.name)

    def row(thing: str, sign: str, words: str, detail: str, named: StationKey) -> FilledStation:
        return FilledStation(named, station.name, x, y, thing, sign, words, None, 0, detail, WITHOUT_LIMIT)

    known = {each.station for each in position.stations}
    for thing in station.contents:
        yield _filled(key, station.name, (x, y), thing, standings, soon, 0)
        for depth, inner in inside_of(thing, 1):
            if inner.station not in known:
                yield _filled(key, "inside", (x, y), inner, standings, soon, depth)
    for thing in station.within:
        yield _filled(key, station.name, (x, y), thing, standings, soon, 0)
    for presumed in station.presumed:
        what = f"{presumed.part_number}  {presumed.part_name}"
        named = StationKey(*_head(key), presumption=presumed.presumption)
        said = f"Presumed, unidentified since {presumed.since_on.isoformat()}: nobody has seen what it is."
        yield row(f"perhaps {what}", "presumed", "", said, named)
    for owed in station.owed:
        what = f"{owed.part_number}  {owed.part_name}"
        named = StationKey(*_head(key), debt=owed.debt)
        gone = f" for {owed.for_engine}" if owed.for_engine else ""
        said = f"{owed.tag or what} was robbed on {owed.owed_on.isoformat()}{gone} and is owed back."
        yield row(
            f"robbed: {owed.tag or what}", "owed", f"owed since {owed.owed_on.isoformat()}", said, named
        )
    if station.open and not station.owed:
        line = station.lines[0]
        wanted = "; ".join(f"{each.part_number}  {each.part_name}" for each in station.lines)
        how_much = quantity_words(line.quantity, line.measure)
        yield row("", NOTHING, NOTHING, f"Wanted: {wanted}, {how_much}", key)


def _head(key: StationKey) -> tuple[int, int | None, str]:
    return key.position, key.station, key.station_name


def inside_of(thing: BuiltThing, depth: int) -> Iterator[tuple[int, BuiltThing]]:
    """All that is inside a thing, with how deep it lies."""
    for inner in thing.inside:
        yield depth, inner
        yield from inside_of(inner, depth + 1)


def _filled(
    key: StationKey,
    name: str,
    at: tuple[float, float],
    thing: BuiltThing,
    standings: Mapping[Thing, Standing],
    soon: DueSoon,
    depth: int,
) -> FilledStation:
    standing = standings.get(Thing(thing.piece, thing.batch), UNTOUCHED)
    governing = standing.life.governing
    words = list(standing.doubts)
    if thing.holder_tag:
        words.append(f"in {thing.holder_tag}")
    much = "" if thing.quantity == 1 else f", {quantity_words(thing.quantity, thing.measure)}"
    if thing.measure is not Measure.COUNT:
        much = f", {quantity_words(thing.quantity, thing.measure)}"
    return FilledStation(
        StationKey(*_head(key), piece=thing.piece, batch=thing.batch),
        name,
        *at,
        f"{thing.tag}  {thing.part_name}{much}",
        standing.sign,
        "; ".join(words) or ("" if governing is not None else f"since {thing.since_on.isoformat()}"),
        gauge_of(governing, soon) if governing is not None else None,
        depth,
        _detail(thing, standing),
        WITH_LIMIT if governing is not None else WITHOUT_LIMIT,
    )


def _detail(thing: BuiltThing, standing: Standing) -> str:
    serial = f", serial {thing.serial}" if thing.serial else ""
    lines = [
        f"{thing.part_number}{serial}; here since {thing.since_on.isoformat()}, entry {thing.since_entry}"
    ]
    lines += [
        f"{limit_words(line.limit)}: {used_words(line)} used, {left_words(line)}"
        for line in standing.life.lines
        if not line.depends
    ]
    if standing.forecast:
        lines.append(f"Runs out {standing.forecast}")
    return "\n".join(lines)


def _differing(row: FilledStation, said: str) -> FilledStation:
    if not said:
        return row
    return replace(row, words=f"{said}; {row.words}" if row.words else said)
