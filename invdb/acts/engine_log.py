"""The log of an engine as a list: what it ran, line by line, and its totals after each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.lived import priors
from invdb.records.engines import Engine
from invdb.records.ledger import Entry
from invdb.records.life import RAN_COLUMNS, Running, figure
from invdb.records.people import Person
from invdb.rules.running import Ran, Span, ran_from, span_of
from invdb.terms import EntryKind, PriorLife, Refused, RunningUse


@dataclass(frozen=True)
class LogRow:
    """One line of a log; hours and readings in hundredths.

    ``hours`` and ``starts`` are of this line alone, ``total`` of all lines since the log began. ``number`` is
    the entry's, ``kind`` what it was: a fitting with a reading is a line of the log too.
    """

    number: int
    on: date
    kind: EntryKind
    use: RunningUse
    reading: int | None
    new_reading: int | None
    hours: Span
    starts: Span
    total: Ran
    note: str
    who: str


@dataclass(frozen=True)
class EngineLog:
    """The log of an engine in its order; ``begun_on`` is None where it has not begun.

    ``prior_hours`` and ``prior_starts`` are what it had run by then, ``reading`` where its meter stood.
    """

    engine: int
    name: str
    begun_on: date | None
    reading: int | None
    prior_hours: PriorLife
    prior_starts: PriorLife
    rows: tuple[LogRow, ...]

    @property
    def meter(self) -> int | None:
        """What its meter read last; None where it has none."""
        read = (
            each.new_reading if each.new_reading is not None else each.reading for each in reversed(self.rows)
        )
        return next((reading for reading in read if reading is not None), self.reading)


# Made once: putting a statement together costs more than executing it.
_LINES = (
    select(
        Running.set_by,
        Running.ran_on,
        Entry.kind,
        Running.use,
        Running.reading,
        Running.new_reading,
        Running.starts_known,
        Running.line_starts_low,
        Running.line_starts_high,
        Running.note,
        Person.name,
        *(getattr(Running, column) for column in RAN_COLUMNS),
    )
    .join(Entry, Entry.number == Running.set_by)
    .join(Person, Person.id == Entry.who)
    .where(Running.engine_id == bindparam("engine"))
    .order_by(Running.ran_on, Running.set_by, Running.id)
)


def engine_log(session: Session, engine: int) -> EngineLog:
    """The log of an engine; Refused when it is not in the store."""
    head = session.get(Engine, engine)
    if head is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    rows: list[LogRow] = []
    before = Ran()
    for row in session.connection().execute(_LINES, {"engine": engine}):
        total = ran_from(getattr(row, column) for column in RAN_COLUMNS)
        rows.append(
            LogRow(
                row.set_by,
                row.ran_on,
                row.kind,
                row.use,
                row.reading,
                row.new_reading,
                (total - before).hours,
                span_of(figure(row.starts_known, row.line_starts_low, row.line_starts_high)),
                total,
                row.note,
                row.name,
            )
        )
        before = total
    return EngineLog(
        engine,
        head.name,
        head.log_begun_on,
        head.log_reading,
        *priors(head),
        tuple(rows),
    )
