"""The log of an engine as its list shows it, the latest line first."""

from __future__ import annotations

from gui.shown import Column, Empty, Page, Row, Sort
from invdb.acts.engine_log import EngineLog, LogRow
from invdb.rules.life import hours_words, prior_hours_words, prior_starts_words
from invdb.rules.running import Ran, Span, span_of
from invdb.terms import EntryKind, HoursKnown

COLUMNS = (
    Column("on", "On", 92),
    Column("what", "What", 114),
    Column("hours", "Ran", 60, right=True),
    Column("starts", "Starts", 46, right=True),
    Column("reading", "Meter", 78, right=True),
    Column("total", "In this log", 74, right=True),
    Column("who", "By", 115),
    Column("note", "Remark", 36),
)
NO_ENGINE = Empty("Here stands the log of an engine.", "Choose an engine first.")


def head_of(log: EngineLog | None) -> str:
    """What stands above the list: all that the engine ran, and where its meter stands."""
    if log is None:
        return ""
    if log.begun_on is None:
        return f"The log of {log.name} has not begun."
    before = Ran(flight=span_of(log.prior_hours), starts=span_of(log.prior_starts))
    said = f"In all {hours_and_starts(before + log.rows[-1].total if log.rows else before)}"
    meter = f"the meter reads {hours_words(log.meter)}" if log.meter is not None else "it has no meter"
    return f"{said}; {meter}. Log kept since {log.begun_on.isoformat()}."


def empty_log(log: EngineLog | None) -> Empty:
    """What the list says while nothing is in it."""
    if log is None:
        return NO_ENGINE
    if log.begun_on is None:
        return Empty(
            f"Nothing is recorded of what {log.name} ran.",
            "Begin its log with Ctrl+Shift+L: what its meter reads, and what it had run by then.",
        )
    return Empty(f"{log.name} has run nothing since its log began.", "Log its running with Ctrl+R.")


def log_page(log: EngineLog | None, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
    """Some lines of the log that have all these words; the latest first unless sorted otherwise."""
    rows = [log_row(row) for row in reversed(log.rows)] if log is not None else []
    wanted = words.casefold().split()
    fitting = [row for row in rows if all(word in " ".join(row.cells).casefold() for word in wanted)]
    if sort is not None and log is not None:
        figures = {row.number: _figures(row) for row in log.rows}
        at = [column.name for column in COLUMNS].index(sort.column)
        fitting.sort(
            key=lambda row: (figures[row.key].get(sort.column, 0), row.cells[at]), reverse=sort.descending
        )
    return Page(tuple(fitting[offset : offset + limit]), len(fitting), len(rows))


def log_row(row: LogRow) -> Row:
    """A line of the log; its key is the number of its entry."""
    reading = hours_words(row.reading) if row.reading is not None else ""
    if row.new_reading is not None:
        reading = f"{reading or 'unread'} → {hours_words(row.new_reading)}"
    cells = (
        row.on.isoformat(),
        what_words(row),
        span_words(row.hours),
        _starts_words(row.starts),
        reading,
        prior_hours_words(row.total.hours.known()),
        row.who,
        row.note,
    )
    return Row(row.number, cells)


def hours_and_starts(ran: Ran) -> str:
    """All that was run, as far as it is known."""
    starts = ran.starts.known()
    said = "starts not known" if starts.known is HoursKnown.UNKNOWN else prior_starts_words(starts)
    hours = ran.hours.known()
    return f"{'hours not known' if hours.known is HoursKnown.UNKNOWN else prior_hours_words(hours)}, {said}"


def what_words(row: LogRow) -> str:
    """What a line is of: what the engine ran for, or the act that read the meter besides."""
    if row.kind is EntryKind.RUNNING_LOGGED:
        return str(row.use)
    return f"{row.kind}, {row.use}" if row.hours != Span() else str(row.kind)


def span_words(span: Span) -> str:
    """Hours run, "" for none."""
    return prior_hours_words(span.known()) if span != Span() else ""


def _starts_words(span: Span) -> str:
    """A bare figure where it is exact, since its column is headed so."""
    known = span.known()
    if span == Span():
        return ""
    return str(span.low) if known.known is HoursKnown.EXACT else prior_starts_words(known)


def _figures(row: LogRow) -> dict[str, int]:
    """What a column of figures is sorted by."""
    return {
        "hours": row.hours.low,
        "starts": row.starts.low,
        "reading": row.reading or 0,
        "total": row.total.hours.low,
        "on": row.on.toordinal() * 1_000_000 + row.number,
    }
