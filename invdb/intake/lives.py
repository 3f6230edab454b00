"""The life of the engines and of what is in them, read from its tables and checked against each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake import builds, doubts, finds, fitting, limits, logs
from invdb.intake.builds import BuildRow, FilledRow
from invdb.intake.catalogue import PartRow
from invdb.intake.doubts import ClearanceRow, ComplianceRow, ConcessionRow, DirectiveRow, EventRow
from invdb.intake.engines import Drawings, ModRow
from invdb.intake.finds import FindRow
from invdb.intake.fitting import FitRow, InsideRow, RobRow, StripRow
from invdb.intake.limits import LimitRow, ResetRow
from invdb.intake.logs import LogRow, MeterRow, RunRow
from invdb.intake.shop import DocumentRow, PlaceRow
from invdb.rules.running import LogContradiction, LogLine, Span, span_of, totals
from invdb.terms import Refused


@dataclass(frozen=True)
class BeforeDayBook:
    """What the day book may already name: the logs, and what was found in engines."""

    logs: tuple[LogRow, ...]
    running: tuple[RunRow, ...]
    meter_changes: tuple[MeterRow, ...]
    builds: tuple[BuildRow, ...]
    filled: tuple[FilledRow, ...]
    finds: tuple[FindRow, ...]


@dataclass(frozen=True)
class Lives(BeforeDayBook):
    """Everything the tables say about what engines ran, what was in them, and what holds for it."""

    fittings: tuple[FitRow, ...]
    insides: tuple[InsideRow, ...]
    strippings: tuple[StripRow, ...]
    robberies: tuple[RobRow, ...]
    events: tuple[EventRow, ...]
    clearances: tuple[ClearanceRow, ...]
    directives: tuple[DirectiveRow, ...]
    compliances: tuple[ComplianceRow, ...]
    concessions: tuple[ConcessionRow, ...]
    limits: tuple[LimitRow, ...]
    resets: tuple[ResetRow, ...]


@dataclass(frozen=True)
class LifeNames:
    """What the tables about lives may name."""

    drawings: Drawings
    parts: Mapping[str, PartRow]
    mods: Mapping[str, ModRow]
    people: Collection[str]
    places: Mapping[str, PlaceRow]
    documents: Mapping[str, DocumentRow]


def read_before_day_book(folder: Traversable, names: LifeNames, tags: Collection[str]) -> BeforeDayBook:
    """The logs, the build cards and the finds; ``tags`` are on what came through goods in."""
    engines = names.drawings.engines
    begun = logs.read_logs(folder, engines, names.people)
    taken_over = builds.read_builds(folder, names.drawings, names.documents, names.people)
    filled = builds.read_filled(folder, taken_over, names.drawings, names.parts, tags)
    kinds = {place.name: place.kind for place in names.places.values()}
    find_names = finds.FindNames(
        names.drawings, taken_over, names.parts, names.people, kinds, {*tags, *(row.tag for row in filled)}
    )
    return BeforeDayBook(
        begun,
        logs.read_running(folder, begun, names.people),
        logs.read_meter_changes(folder, begun, names.people),
        taken_over,
        filled,
        finds.read_finds(folder, find_names),
    )


def read_lives(
    folder: Traversable,
    names: LifeNames,
    before: BeforeDayBook,
    part_of_tag: Mapping[str, PartRow],
    undone: Collection[str],
) -> Lives:
    """The rest, once every tag has its part; ``undone`` are the numbers of the lines that were reversed.

    Refused at a cell that is wrong, at a reading below the one before it, and at an act on an engine whose
    reading is not what the log makes of it.
    """
    by_engine = {log.engine: log for log in before.logs}
    fitted = fitting.FittingNames(names.drawings, by_engine, part_of_tag, names.people, names.places)
    doubted = doubts.DoubtNames(
        names.drawings, by_engine, names.parts, part_of_tag.keys(), names.people, names.documents
    )
    types = {engine.engine_type for engine in names.drawings.engines.values()}
    events = doubts.read_events(folder, doubted)
    directives = doubts.read_directives(folder, doubted)
    lives = Lives(
        **vars(before),
        fittings=fitting.read_fittings(folder, fitted),
        insides=fitting.read_insides(folder, fitted),
        strippings=fitting.read_strippings(folder, fitted),
        robberies=fitting.read_robberies(folder, fitted),
        events=events,
        clearances=doubts.read_clearances(folder, events, doubted),
        directives=directives,
        compliances=doubts.read_compliances(folder, directives, doubted),
        concessions=doubts.read_concessions(folder, doubted),
        limits=limits.read_limits(folder, names.parts, types, names.mods, names.people, names.documents),
        resets=limits.read_resets(
            folder, part_of_tag.keys(), names.drawings.engines, names.people, names.documents
        ),
    )
    _refuse_wrong_readings(lives, undone)
    return lives


def log_lines(lives: BeforeDayBook, engine: str, undone: Collection[str]) -> list[LogLine]:
    """An engine's log in the order in which it ran, as the rule adds it up; numbered by line of the table.

    A day's meter change comes after what was run on it.
    """
    lines = [
        (run.ran_on, 0, run.line, LogLine(
            run.line, run.ran_on, run.use, run.reading,
            hours=Span(run.hours or 0, run.hours or 0), starts=Span(run.starts, run.starts),
        ))
        for run in lives.running
        if run.engine == engine and run.number not in undone
    ]  # fmt: skip
    lines += [
        (change.changed_on, 1, change.line, LogLine(
            change.line, change.changed_on, change.use, change.old_reading, change.new_reading,
            span_of(change.unread),
        ))
        for change in lives.meter_changes
        if change.engine == engine
    ]  # fmt: skip
    return [line for *_, line in sorted(lines, key=lambda each: each[:3])]


def _refuse_wrong_readings(lives: Lives, undone: Collection[str]) -> None:
    """Refuse a log whose meter runs backward, and an act whose reading the log does not have on that day."""
    acts: dict[str, list[tuple[str, int, date, int | None]]] = defaultdict(list)
    for file, rows in _acts_on_engines(lives):
        for row, on in rows:
            acts[row.engine].append((file, row.line, on, row.reading))
    for log in lives.logs:
        lines = log_lines(lives, log.engine, undone)
        try:
            states = totals(lines, log.reading)
        except LogContradiction as error:
            raise Refused(
                f"running.csv, line {error.number}: {log.engine} read {(error.reading or 0) / 100:g} on"
                f" {error.on.isoformat()}, after {error.before / 100:g}.",
                "Look at both readings, or say that the meter was changed.",
            ) from error
        read_on = [(log.begun_on, log.reading)]
        read_on += [(line.on, state.meter) for line, state in zip(lines, states, strict=True)]
        for file, at, on, reading in acts[log.engine]:
            before = [meter for day, meter in read_on if day <= on]
            if not before:
                raise Refused(
                    f"{file}, line {at}: the log of {log.engine} was not begun by {on.isoformat()}.",
                    "Look at both dates.",
                )
            if reading != before[-1]:
                raise Refused(
                    f"{file}, line {at}, column Meter reads: {(reading or 0) / 100:g} is not what"
                    f" {log.engine} read on {on.isoformat()}, {(before[-1] or 0) / 100:g}.",
                    "Look at the log.",
                )


def _acts_on_engines(
    lives: Lives,
) -> Iterable[tuple[str, list[tuple[BuildRow | FindRow | FitRow | StripRow | RobRow, date]]]]:
    yield "build_records.csv", [(row, row.taken_on) for row in lives.builds if row.document is not None]
    yield "finds.csv", [(row, row.found_on) for row in lives.finds]
    yield "fittings.csv", [(row, row.fitted_on) for row in lives.fittings]
    yield "strippings.csv", [(row, row.stripped_on) for row in lives.strippings]
    yield "robberies.csv", [(row, row.robbed_on) for row in lives.robberies]
