"""The logs of engines as tables: when each was begun, what was run since, and meters that were changed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.stock import HOURS_SCALE, STARTS_SCALE
from invdb.intake.table import Row, read_table, unique
from invdb.terms import PriorLife, RunningUse


@dataclass(frozen=True)
class LogRow:
    """That the log of an engine was begun: where its meter stood, and what it had run by then.

    ``reading`` in hundredths of an hour, None for an engine whose running is written down by hand.
    """

    line: int
    engine: str
    begun_on: date
    booked_on: date
    who: str
    reading: int | None
    hours_before: PriorLife
    starts_before: PriorLife
    note: str


@dataclass(frozen=True)
class RunRow:
    """One line of a log: what the meter read afterwards, or with no meter the hours; both in hundredths."""

    line: int
    number: str
    engine: str
    ran_on: date
    booked_on: date
    who: str
    use: RunningUse
    reading: int | None
    hours: int | None
    starts: int
    note: str


@dataclass(frozen=True)
class MeterRow:
    """That a meter was changed: what the old one read last, where the new one began, what nobody read."""

    line: int
    engine: str
    changed_on: date
    booked_on: date
    who: str
    old_reading: int
    new_reading: int
    unread: PriorLife
    use: RunningUse
    note: str


def read_logs(folder: Traversable, engines: Collection[str], people: Collection[str]) -> tuple[LogRow, ...]:
    """The logs, one an engine at most."""
    columns = ("Engine", "Begun on", "Booked on", "Who", "Meter reads", "Hours before", "Starts before",
               "Note")  # fmt: skip
    rows = list(read_table(folder, "engine_logs.csv", columns))
    unique([(row, row.needed("Engine")) for row in rows], "Engine", "engine")
    return tuple(
        LogRow(
            row.line,
            row.name_of("Engine", engines, "engine"),
            row.day("Begun on"),
            row.booked("Begun on"),
            row.name_of("Who", people, "person"),
            row.hundredths_or_none("Meter reads"),
            row.prior_life("Hours before", HOURS_SCALE),
            row.prior_life("Starts before", STARTS_SCALE),
            row.text("Note"),
        )
        for row in rows
    )


def read_running(folder: Traversable, logs: Iterable[LogRow], people: Collection[str]) -> tuple[RunRow, ...]:
    """The lines of the logs, each number once: a meter's reading or hours by hand, as the engine has it."""
    columns = ("No.", "Engine", "Date", "Booked on", "Who", "Use", "Meter reads", "Hours", "Starts", "Note")
    rows = list(read_table(folder, "running.csv", columns))
    unique([(row, row.needed("No.")) for row in rows], "No.", "line of a log")
    begun = {log.engine: log for log in logs}
    return tuple(_run(row, begun, people) for row in rows)


def _run(row: Row, begun: Mapping[str, LogRow], people: Collection[str]) -> RunRow:
    log = row.one_of("Engine", begun, "engine with a log")
    run = RunRow(
        row.line,
        row.text("No."),
        log.engine,
        row.day("Date"),
        row.booked("Date"),
        row.name_of("Who", people, "person"),
        row.word("Use", RunningUse),
        row.hundredths_or_none("Meter reads"),
        row.hundredths_or_none("Hours"),
        row.whole("Starts"),
        row.text("Note"),
    )
    if run.ran_on < log.begun_on:
        raise row.refuse("Date", f"is before the log of {log.engine} was begun", "Look at both dates.")
    if run.starts < 0:
        raise row.refuse("Starts", "is below zero", "Count the starts.")
    if log.reading is not None:
        row.needed("Meter reads")
    elif run.reading is not None:
        raise row.refuse("Meter reads", f"is given, and {log.engine} has no meter", "Give the hours.")
    else:
        row.needed("Hours")
    return run


def read_meter_changes(
    folder: Traversable, logs: Iterable[LogRow], people: Collection[str]
) -> tuple[MeterRow, ...]:
    """Meters that were changed, on engines that have one."""
    columns = ("Engine", "Date", "Booked on", "Who", "Old meter reads", "New meter reads", "Unread hours",
               "Use", "Note")  # fmt: skip
    metered = {log.engine: log for log in logs if log.reading is not None}
    return tuple(
        MeterRow(
            row.line,
            row.name_of("Engine", metered, "engine with a meter"),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", people, "person"),
            row.hundredths("Old meter reads"),
            row.hundredths("New meter reads"),
            row.prior_life("Unread hours", HOURS_SCALE),
            row.word("Use", RunningUse),
            row.text("Note"),
        )
        for row in read_table(folder, "meter_changes.csv", columns)
    )
