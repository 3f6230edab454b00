"""An engine as fitted, as its picture shows it: each position by the life that is surely left in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from gui.shown import Cylinder
from gui.signs import urgency
from gui.views.bench_cylinders import middles, positions_of, shape_of
from gui.views.built_stations import NOTHING, inside_of
from gui.views.standings import UNTOUCHED, Standing, left_figure
from invdb.acts.engine_list import ListedEngine
from invdb.acts.numbers import Thing
from invdb.rules.build import Build, BuiltPosition, BuiltStation, BuiltThing
from invdb.rules.due import severity
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import LimitLine, left_words

NAMED_MAX = 3
_WITHIN = str(LifeVerdict.WITHIN)


def cylinders_built(
    engine: ListedEngine,
    group: str,
    build: Build | None,
    standings: Mapping[Thing, Standing],
    ticked: Sequence[int] = (),
) -> list[Cylinder]:
    """The group as drawn, each filled by the life that is surely left in it; without a build not read yet."""
    built = {each.position: each for each in build.positions} if build is not None else {}
    drawn = []
    for position, (x, y, turn) in middles(engine.layout, positions_of(engine, group)):
        there = built.get(position.position)
        filled, figure, sign, detail = (
            summed_up(there, standings) if there is not None else (0.0, "", "not worked out", "")
        )
        lines = [line for line in (position.note, detail) if line]
        drawn.append(
            Cylinder(
                position.name,
                x,
                y,
                turn,
                shape_of(engine),
                filled=filled,
                figure=figure,
                sign=sign,
                detail="\n".join(lines),
                ticked=position.position in ticked,
            )
        )
    return drawn


def summed_up(position: BuiltPosition, standings: Mapping[Thing, Standing]) -> tuple[float, str, str, str]:
    """A position in short: share of life surely left, a figure, the word of its sign, and lines that tell.

    The sign is that of what asks most to be looked at; a position with nothing in it says so. An open
    station beside filled ones is told in the lines.
    """
    things = [thing for station in position.stations for thing in _all_at(station)]
    wanted = [station for station in position.stations if station.lines]
    open_ = [station.name for station in position.stations if station.open and not station.owed]
    presumed = [station.name for station in position.stations if station.presumed]
    owed = [station.name for station in position.stations if station.owed]
    stood = [(thing, standings.get(Thing(thing.piece, thing.batch), UNTOUCHED)) for thing in things]
    signs = [standing.sign for _thing, standing in stood]
    signs += ["presumed"] * bool(presumed) + ["owed"] * bool(owed)
    if not things and not presumed and not owed:
        return 0.0, "", NOTHING, "Nothing is recorded of what is in it."
    limited = [(thing, each.life.governing) for thing, each in stood if each.life.governing is not None]
    limited.sort(key=lambda pair: _nearness(pair[1]))
    sign = max(
        signs or [str(LifeVerdict.NO_LIMIT)], key=lambda word: (urgency(word), word == "within limits")
    )
    lines = [
        f"{thing.tag} {thing.part_name}: {line.verdict}, {left_words(line)}"
        for thing, line in limited[:NAMED_MAX]
        if line is not None
    ]
    lines += [
        f"{thing.tag} {thing.part_name}: {said}" for thing, standing in stood for said in standing.doubts
    ][:NAMED_MAX]
    for names, what in ((owed, "owed"), (presumed, "presumed, unidentified"), (open_, NOTHING)):
        if names:
            lines.append(f"{what}: {_named(names)}")
    worst = limited[0][1] if limited else None
    figure = left_figure(worst) if worst is not None else ""
    if not figure and wanted:
        figure = f"{sum(bool(station.filling) for station in wanted)}/{len(wanted)}"
    share = min((1 - min(_used_share(line), Fraction(1)) for _, line in limited if line), default=None)
    # Of what nobody has seen, no life is surely left.
    return float(share) if share is not None else float(bool(things)), figure, sign, "\n".join(lines)


def _all_at(station: BuiltStation) -> Iterator[BuiltThing]:
    for thing in station.contents:
        yield thing
        yield from (inner for _depth, inner in inside_of(thing, 1))


def _nearness(line: LimitLine | None) -> tuple[int, Fraction]:
    assert line is not None, "only limited pieces are compared"
    return severity(line.verdict), -_used_share(line)


def _used_share(line: LimitLine) -> Fraction:
    """What is used of the limit by the worst end; all of it where that end is not known."""
    return Fraction(1) if line.verdict is LifeVerdict.UNKNOWN else line.share


def _named(names: Sequence[str]) -> str:
    said = ", ".join(names[:NAMED_MAX])
    return f"{said} and {len(names) - NAMED_MAX} more" if len(names) > NAMED_MAX else said
