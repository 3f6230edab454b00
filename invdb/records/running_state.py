"""What engines ran in all, kept beside the ledger on every line of their logs."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import Connection, Row, bindparam, select, update

from invdb.records.engines import Engine
from invdb.records.life import RAN_COLUMNS, Running, figure
from invdb.rules.folding import RecordKey
from invdb.rules.running import LogContradiction, LogLine, LogState, follow, ran_from, span_of
from invdb.terms import Refused

_ENGINES_OF = select(Running.engine_id).where(Running.id.in_(bindparam("ids", expanding=True))).distinct()
_LOG = (
    select(
        Running.id,
        Running.set_by,
        Running.ran_on,
        Running.use,
        Running.reading,
        Running.new_reading,
        Running.hours_known,
        Running.hours_low,
        Running.hours_high,
        Running.starts_known,
        Running.line_starts_low,
        Running.line_starts_high,
        *(getattr(Running, column) for column in RAN_COLUMNS),
    )
    .where(Running.engine_id == bindparam("engine"))
    .order_by(Running.ran_on, Running.set_by, Running.id)
)
_BEGUN = select(Engine.name, Engine.log_begun_on, Engine.log_reading).where(Engine.id == bindparam("engine"))
_SET_TOTALS = update(Running).where(Running.id == bindparam("running"))


def log_line(row: Row[*tuple[Any, ...]]) -> LogLine:
    """A row of the log as its rule reads it."""
    return LogLine(
        row.set_by,
        row.ran_on,
        row.use,
        row.reading,
        row.new_reading,
        span_of(figure(row.hours_known, row.hours_low, row.hours_high)),
        span_of(figure(row.starts_known, row.line_starts_low, row.line_starts_high)),
    )


def read_log(connection: Connection, engine: int) -> list[Row[*tuple[Any, ...]]]:
    """The lines of an engine's log with their totals, in order."""
    return list(connection.execute(_LOG, {"engine": engine}))


def engines_concerned(connection: Connection, touched: Iterable[RecordKey]) -> set[int]:
    """The engines whose logs an entry touched: by a line of the log, or by where it began."""
    keys = list(touched)
    engines = {record_id for record, record_id in keys if record == "engine"}
    lines = [record_id for record, record_id in keys if record == "running"]
    if lines:
        engines.update(connection.scalars(_ENGINES_OF, {"ids": lines}))
    return engines


def follow_logs(
    connection: Connection, engines: Collection[int], gone: Collection[RecordKey], number: int, late: bool
) -> set[int]:
    """Add up the logs of engines anew; returns those of which a total changed that others may rest on.

    ``number`` is the act's own entry and ``gone`` are the records that it unmakes. Of an act that is not
    ``late``, the last line of a log comes after all that rests on it; of a late one, even that may be before.
    Refused, naming the first entry in the way, where a reading is below the one before it, and for a line
    before its log began.
    """
    rewritten: set[int] = set()
    for engine in sorted(engines):
        rows = [row for row in read_log(connection, engine) if ("running", row.id) not in gone]
        begun = connection.execute(_BEGUN, {"engine": engine}).one_or_none()
        if begun is None:
            continue
        if late:
            rewritten.add(engine)
        if not rows:
            continue
        if begun.log_begun_on is None or rows[0].ran_on < begun.log_begun_on:
            raise _before_it_began(begun.name, rows[0], number)
        state = LogState(meter=begun.log_reading)
        changed = []
        for row in rows:
            try:
                state = follow(state, log_line(row))
            except LogContradiction as contradiction:
                raise _below(begun.name, contradiction, number) from contradiction
            if state.ran != ran_from(getattr(row, column) for column in RAN_COLUMNS):
                changed.append({"running": row.id, **state.ran.columns()})
        if changed:
            connection.execute(_SET_TOTALS, changed)
        if any(each["running"] != rows[-1].id for each in changed):
            rewritten.add(engine)
    return rewritten


def _before_it_began(name: str, row: Row[*tuple[Any, ...]], number: int) -> Refused:
    if row.set_by == number:
        return Refused(
            f"The log of {name} had not begun by {row.ran_on.isoformat()}.",
            "Give a day since it began, or begin the log first.",
        )
    return Refused(
        f"Entry {row.set_by} of {row.ran_on.isoformat()} stands in the way: it is in the log of {name},"
        " which would begin later or not at all.",
        f"Reverse entry {row.set_by} first.",
    )


def _below(name: str, contradiction: LogContradiction, number: int) -> Refused:
    reading, before = (f"{each / 100:.2f}" for each in (contradiction.reading or 0, contradiction.before))
    if contradiction.number == number:
        return Refused(
            f"The meter of {name} read {before} before, and {reading} is below that.",
            "Check the figure and the day; if the meter was changed, record that first.",
        )
    return Refused(
        f"Entry {contradiction.number} of {contradiction.on.isoformat()} stands in the way: the meter of"
        f" {name} read {reading} then, below the {before} before it.",
        f"Check the figure and the day, or look at entry {contradiction.number}.",
    )
