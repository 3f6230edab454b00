"""A build, and how two builds differ, in words: one line a station, as a terminal or a sheet shows them."""

from __future__ import annotations

from collections.abc import Iterator

from invdb.rules.build import (
    Build,
    BuiltPosition,
    BuiltStation,
    BuiltThing,
    Change,
    Difference,
    Fitted,
    Owed,
    Presumed,
    Spot,
    StationDifference,
    WantedLine,
)
from invdb.rules.quantities import quantity_words

INDENT = "  "


def thing_words(thing: BuiltThing) -> str:
    """``T00003-P VX0001-K Exhaust valve, serial S 12``, and how much of it where it is of a batch."""
    said = f"{thing.tag} {thing.part_number} {thing.part_name}"
    if thing.batch is not None:
        said += f", {quantity_words(thing.quantity, thing.measure)}"
        return f"{said}, maker's batch {thing.serial}" if thing.serial else said
    return f"{said}, serial {thing.serial}" if thing.serial else said


def wanted_words(line: WantedLine) -> str:
    """What a kit line asks for: ``2 off SP0001-5 Valve spring``."""
    said = f"{quantity_words(line.quantity, line.measure)} {line.part_number} {line.part_name}"
    return f"{said}, renewed always" if line.renewed_always else said


def presumed_words(presumed: Presumed) -> str:
    """That something nobody has seen is presumed there."""
    amount = quantity_words(presumed.quantity, presumed.measure)
    return (
        f"presumed, unidentified: {amount} {presumed.part_number} {presumed.part_name} expected,"
        f" since {presumed.since_on.isoformat()}"
    )


def owed_words(owed: Owed) -> str:
    """That something is owed there, and what became of it."""
    amount = quantity_words(owed.quantity, owed.measure)
    gone = f", {owed.tag} robbed" if owed.tag else ", robbed"
    to = f" for {owed.for_engine}" if owed.for_engine else ""
    return f"owed: {amount} {owed.part_number} {owed.part_name}{gone}{to} on {owed.owed_on.isoformat()}"


def station_words(station: BuiltStation) -> tuple[str, ...]:
    """What is at a station, a line for each thing; empty where nothing is there, wanted or owed."""
    said = [f"{thing_words(thing)}, {_since(thing)}" for thing in station.contents]
    said += [f"{thing_words(thing)}, in {thing.holder_tag}, {_since(thing)}" for thing in station.within]
    said += [presumed_words(each) for each in station.presumed]
    if station.open:
        said += [f"open; wants {wanted_words(line)}" for line in station.lines]
    return (*said, *(owed_words(each) for each in station.owed))


def build_words(build: Build) -> tuple[str, ...]:
    """A whole build, line by line: the engine and its mods, then each position with its stations."""
    return tuple(_build_lines(build))


def _build_lines(build: Build) -> Iterator[str]:
    head = f"{build.engine_name}, {build.engine_type} {build.serial}, as fitted on {build.on.isoformat()}"
    if build.believed_at is not None:
        head += f", as believed at {build.believed_at.isoformat(sep=' ', timespec='minutes')}"
    yield head
    yield f"Mods embodied: {', '.join(sorted(build.mods)) or 'none'}"
    for position in build.positions:
        yield from _position_lines(position)
    if build.elsewhere:
        yield "At no station"
        for thing in build.elsewhere:
            yield from _thing_lines(thing, INDENT)


def _position_lines(position: BuiltPosition) -> Iterator[str]:
    yield f"{position.group} {position.name}"
    stations = {station.station for station in position.stations}
    for station in position.stations:
        for line in station_words(station):
            yield f"{INDENT}{station.name}: {line}"
        for thing in station.contents:
            for inner in _all_inside(thing):
                # What fills a station of its own is told there.
                if inner.station not in stations:
                    where = f"in {inner.holder_tag}, {_since(inner)}"
                    yield f"{INDENT}{station.name}: {thing_words(inner)}, {where}"


def _all_inside(thing: BuiltThing) -> Iterator[BuiltThing]:
    for inner in thing.inside:
        yield inner
        yield from _all_inside(inner)


def _thing_lines(thing: BuiltThing, indent: str) -> Iterator[str]:
    yield f"{indent}{thing_words(thing)}, {_since(thing)}"
    for inner in thing.inside:
        yield from _thing_lines(inner, indent + INDENT)


def _since(thing: BuiltThing) -> str:
    return f"since {thing.since_on.isoformat()} (entry {thing.since_entry})"


def spot_words(spot: Spot) -> str:
    """``cylinder 3, exhaust valve, in T00001-2``: where something sits or sat."""
    where = [f"{spot.group} {spot.position_name}"] if spot.group else []
    where += [spot.station_name] if spot.station_name else []
    where += [f"in {spot.holder_tag}"] if spot.holder is not None else []
    return ", ".join(where) or "at no station"


def change_words(change: Change) -> str:
    """What became of one thing, in one line."""
    before, after = change.before, change.after
    if before is None:
        assert after is not None
        return f"came: {_fitted_words(after)}"
    if after is None:
        return f"went: {_fitted_words(before)}"
    said = thing_words(after.thing)
    found: list[str] = []
    if change.rode_along:
        found.append(
            f"rode along in {after.spot.holder_tag} from {_outer(before.spot)} to {_outer(after.spot)}"
        )
    elif change.moved:
        found.append(f"moved from {spot_words(before.spot)} to {spot_words(after.spot)}")
    if change.part_changed:
        found.append(f"was held for {before.thing.part_number} {before.thing.part_name}")
    if change.quantity_changed:
        found.append(f"was {quantity_words(before.thing.quantity, before.thing.measure)}")
    if change.refitted:
        found.append("came out and went back")
    return f"{said}: {'; '.join(found) or 'described anew'}"


def _fitted_words(each: Fitted) -> str:
    said = thing_words(each.thing)
    return f"{said}, in {each.spot.holder_tag}" if each.spot.holder is not None else said


def _outer(spot: Spot) -> str:
    return f"{spot.group} {spot.position_name}" if spot.group else "no position"


def difference_words(difference: Difference) -> tuple[str, ...]:
    """How two builds differ, line by line, station by station; one line saying so where they don't."""
    return tuple(_difference_lines(difference)) or ("Nothing differs.",)


def _difference_lines(difference: Difference) -> Iterator[str]:
    for mod in sorted(difference.mods_embodied):
        yield f"Mod {mod} embodied"
    for mod in sorted(difference.mods_removed):
        yield f"Mod {mod} removed"
    for station in difference.stations:
        name = _name(station)
        for change in station.changes:
            yield f"{name}: {change_words(change)}"
        for presumed in station.presumed:
            yield f"{name}: {presumed_words(presumed)}"
        for presumed in station.presumed_no_more:
            yield f"{name}: no longer presumed: {presumed.part_number} {presumed.part_name}"
        for owed in station.owed:
            yield f"{name}: {owed_words(owed)}"
        for owed in station.owed_no_more:
            yield f"{name}: no longer owed: {owed.part_number} {owed.part_name}"


def _name(station: StationDifference) -> str:
    if not station.group:
        return "At no station"
    where = f"{station.group} {station.position_name}"
    return f"{where}, {station.station_name}" if station.station_name else where
