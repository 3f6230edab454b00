"""The log of an engine: begin it, log what it ran, and record that its meter was changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.known_figures import check_known
from invdb.records.draft import Draft
from invdb.records.engines import Engine
from invdb.records.ledger import Entry, EntryFact
from invdb.records.posting import post
from invdb.records.running_state import log_line, read_log
from invdb.rules.life import hours_words
from invdb.rules.running import NOTHING, LogLine, LogState, Span, absurd, doubtful, follow
from invdb.terms import (
    NO_PRIOR_LIFE,
    PRIOR_LIFE_UNKNOWN,
    Asked,
    EntryKind,
    FieldRefused,
    PriorLife,
    Refused,
    RunningUse,
    Scope,
)

STARTS_A_DAY_ASKED = 30
READING_MAX = 10_000_000_00


@dataclass(frozen=True)
class LogBegin:
    """Where an engine's log begins: what its meter reads (None: it has none) and what it had run by then.

    Hours and readings in hundredths.
    """

    reading: int | None
    hours: PriorLife = PRIOR_LIFE_UNKNOWN
    starts: PriorLife = PRIOR_LIFE_UNKNOWN


@dataclass(frozen=True)
class Run:
    """What an engine ran: its meter's reading afterwards, or by hand the hours (hundredths); and starts."""

    use: RunningUse
    reading: int | None = None
    hours: int | None = None
    starts: int = 0


@dataclass(frozen=True)
class MeterChange:
    """Another meter, or the same put right: where the old one stood (None: it can't be read), where the new
    one stands, and what the engine ran that neither shows."""

    new_reading: int
    old_reading: int | None = None
    unread: PriorLife = NO_PRIOR_LIFE
    unread_starts: PriorLife = NO_PRIOR_LIFE
    use: RunningUse | None = None


@dataclass(frozen=True)
class LogAt:
    """An engine's log as it stands at the end of a day: all it ran since it began, its meter, its last line.

    ``last_on`` is the day of the last line, or of its beginning; ``last_entry`` None where there is no line.
    ``day_began`` is the state before the first line of that day, as of ``before_on``. ``next`` is the first
    line of a later day that tells of the meter.
    """

    engine: int
    name: str
    use: Scope
    begun_on: date
    state: LogState
    last_on: date
    last_entry: int | None
    day_began: LogState
    before_on: date
    next: LogLine | None = None

    @property
    def usual_use(self) -> RunningUse:
        """What such an engine runs for when nothing else is said."""
        return RunningUse.FLIGHT if self.use is Scope.FLIGHT else RunningUse.GROUND


def log_at(session: Session, engine: int, on: date) -> LogAt:
    """The log of an engine at the end of a day; Refused where it has not begun by then."""
    row = session.execute(
        select(Engine.name, Engine.use, Engine.log_begun_on, Engine.log_reading).where(Engine.id == engine)
    ).one_or_none()
    if row is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    if row.log_begun_on is None:
        raise Refused(
            f"The log of {row.name} has not begun, so nothing in it could be given its hours.",
            "Begin its log first, with what it had run by then.",
        )
    if on < row.log_begun_on:
        raise FieldRefused(
            "happened_on",
            f"The log of {row.name} began on {row.log_begun_on.isoformat()}.",
            "Give a date on or after that day.",
        )
    state = day_began = LogState(meter=row.log_reading)
    last_on = before_on = row.log_begun_on
    last_entry = None
    after = None
    for line in map(log_line, read_log(session.connection(), engine)):
        if line.on > on:
            if line.reading is not None or line.new_reading is not None:
                after = line
                break
            continue
        if line.on > last_on:
            day_began, before_on = state, last_on
        state = follow(state, line)
        last_on, last_entry = line.on, line.number
    return LogAt(
        engine, row.name, row.use, row.log_begun_on, state, last_on, last_entry, day_began, before_on, after
    )


def begin_log(session: Session, engine: int, begun: LogBegin, by: By) -> int:
    """Begin the log of an engine; returns the entry's number. Refused when it has begun already."""
    draft = begin_draft(session, EntryKind.LOG_BEGUN, by)
    row = session.execute(select(Engine.name, Engine.log_begun_on).where(Engine.id == engine)).one_or_none()
    if row is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    if row.log_begun_on is not None:
        number = session.scalar(
            select(Entry.number)
            .join(EntryFact, EntryFact.entry_number == Entry.number)
            .where(
                EntryFact.record == "engine",
                EntryFact.record_id == engine,
                Entry.kind == EntryKind.LOG_BEGUN,
            )
            .order_by(Entry.number.desc())
            .limit(1)
        )
        raise Refused(
            f"The log of {row.name} began on {row.log_begun_on.isoformat()} with entry {number}.",
            f"Reverse entry {number} if it is wrong.",
        )
    _check_reading(begun.reading)
    check_known(begun.hours, "hours")
    check_known(begun.starts, "starts")
    draft.set(
        "engine",
        engine,
        log_begun_on=draft.happened_on,
        log_reading=begun.reading,
        prior_hours_known=begun.hours.known,
        prior_hours_low=begun.hours.low,
        prior_hours_high=begun.hours.high,
        prior_starts_known=begun.starts.known,
        prior_starts_low=begun.starts.low,
        prior_starts_high=begun.starts.high,
    )
    return post(session, draft).number


def log_run(session: Session, engine: int, run: Run, by: By, *, sure: bool = False) -> int:
    """Log what an engine ran; returns the entry's number. A late entry lands at its true date.

    Refused for a reading below the one before or above the one after, and for more hours than the days have.
    Asked about, and done once it is said to be sure: unusually many hours or starts for the days between,
    and hours by hand where there is a meter.
    """
    draft = begin_draft(session, EntryKind.RUNNING_LOGGED, by)
    log = log_at(session, engine, draft.happened_on)
    if not 0 <= run.starts <= READING_MAX:
        raise FieldRefused("starts", f"{run.starts} starts can't be.", "Give how many there were.")
    if (run.reading is None) == (run.hours is None):
        raise FieldRefused(
            "reading",
            "Either what the meter reads or the hours by hand are needed, and not both.",
            "Give the one that you have.",
        )
    if run.reading is not None:
        gained = _gained(log, run.reading)
    else:
        assert run.hours is not None
        if not 0 <= run.hours <= READING_MAX or run.hours == run.starts == 0:
            raise FieldRefused("hours", f"{hours_words(run.hours)} can't be run.", "Give more than zero.")
        if log.state.meter is not None and not sure:
            raise Asked(
                "hours",
                f"{log.name} has a meter, which read {hours_words(log.state.meter)} on"
                f" {log.last_on.isoformat()}.",
                "Give its reading, or say that these hours did not go over the meter.",
            )
        gained = run.hours
    _question(log, gained, draft.happened_on, "reading" if run.reading is not None else "hours", sure)
    days = (draft.happened_on - log.last_on).days + 1
    if run.starts > days * STARTS_A_DAY_ASKED and not sure:
        raise Asked(
            "starts",
            f"{run.starts} starts in {days} days is more than {STARTS_A_DAY_ASKED} a day.",
            "Check the figure, or say that it is so.",
        )
    by_hand = NOTHING if run.hours is None else Span(run.hours, run.hours)
    draft_running(session, draft, engine, run.use, run.reading, by_hand, run.starts)
    return post(session, draft).number


def change_meter(session: Session, engine: int, change: MeterChange, by: By, *, sure: bool = False) -> int:
    """Record that an engine has another meter from now on; returns the entry's number.

    What ran while neither could be read may be a range, or have no upper end, when a book is lost.
    """
    draft = begin_draft(session, EntryKind.METER_CHANGED, by)
    log = log_at(session, engine, draft.happened_on)
    _check_reading(change.new_reading, "new_reading")
    check_known(change.unread, "unread")
    check_known(change.unread_starts, "unread_starts")
    gained = 0
    if change.old_reading is not None:
        if log.state.meter is None:
            raise FieldRefused(
                "old_reading", f"{log.name} had no meter.", "Leave the old meter's reading empty."
            )
        gained = _gained(log, change.old_reading, "old_reading")
    elif log.state.meter is not None and change.unread == NO_PRIOR_LIFE and not sure:
        raise Asked(
            "unread",
            f"The old meter of {log.name} can't be read, and it isn't said what it ran since that read"
            f" {hours_words(log.state.meter)} on {log.last_on.isoformat()}.",
            "Give what it ran, as far as it is known, or say that it ran nothing.",
        )
    read = "old_reading" if change.old_reading is not None else "unread"
    _question(log, gained + (change.unread.low or 0), draft.happened_on, read, sure)
    after = log.next
    if after is not None and after.reading is not None and after.reading >= change.new_reading:
        more = after.reading - change.new_reading
        if why := absurd(more, draft.happened_on, after.on):
            raise FieldRefused(
                "new_reading",
                f"Entry {after.number} of {after.on.isoformat()} stands in the way: on the new meter it would"
                f" be {hours_words(more)} later, and {why}.",
                f"Check the figure and the day, or reverse entry {after.number} first.",
            )
    known, starts = change.unread, change.unread_starts
    draft.new(
        session,
        "running",
        engine_id=engine,
        ran_on=draft.happened_on,
        use=change.use or log.usual_use,
        reading=change.old_reading,
        new_reading=change.new_reading,
        hours_known=known.known,
        hours_low=known.low,
        hours_high=known.high,
        starts_known=starts.known,
        line_starts_low=starts.low,
        line_starts_high=starts.high,
        note=draft.note,
    )
    return post(session, draft).number


def draft_running(
    session: Session,
    draft: Draft,
    engine: int,
    use: RunningUse,
    reading: int | None,
    hours: Span = NOTHING,
    starts: int = 0,
) -> None:
    """Put a line of an engine's log into a draft."""
    known = hours.known()
    draft.new(
        session,
        "running",
        engine_id=engine,
        ran_on=draft.happened_on,
        use=use,
        reading=reading,
        hours_known=known.known,
        hours_low=known.low,
        hours_high=known.high,
        line_starts_low=starts,
        line_starts_high=starts,
        note=draft.note,
    )


def draft_reading(
    session: Session, draft: Draft, log: LogAt, reading: int | None, use: RunningUse | None, sure: bool
) -> None:
    """Put into a draft what the meter reads at a fitting or a stripping, which is a line of the log too.

    Refused where the engine has a meter and no reading is given, or the other way round. Where the engine ran
    since its last line, ``use`` says what for: Asked for while it is not said, unless a later line of the log
    says it, and when it says otherwise.
    """
    if log.state.meter is None:
        if reading is not None:
            raise FieldRefused(
                "reading", f"{log.name} has no meter.", "Leave the reading empty, and log its hours by hand."
            )
        return
    if reading is None:
        raise FieldRefused(
            "reading",
            f"It isn't said what the meter of {log.name} reads; it read {hours_words(log.state.meter)} on"
            f" {log.last_on.isoformat()}.",
            "Give its reading.",
        )
    gained = _gained(log, reading)
    logged = log.next.use if log.next is not None and log.next.reading is not None else None
    if gained and logged not in (None, use) and use is not None and not sure:
        assert log.next is not None
        raise Asked(
            "use",
            f"Entry {log.next.number} of {log.next.on.isoformat()} says that the hours up to it were"
            f" {logged}, and this would make {hours_words(gained)} of them {use}.",
            "Check what it ran for, or say that it is so.",
        )
    use = use or logged
    if gained and use is None:
        raise Asked(
            "reading",
            f"The meter of {log.name} read {hours_words(log.state.meter)} on {log.last_on.isoformat()}, and"
            f" the {hours_words(gained)} since then are not logged.",
            "Log them first, or say whether they were flown or run on the ground.",
        )
    _question(log, gained, draft.happened_on, "reading", sure)
    draft_running(session, draft, log.engine, use or log.usual_use, reading)


def _check_reading(reading: int | None, field: str = "reading") -> None:
    if reading is not None and not 0 <= reading <= READING_MAX:
        raise FieldRefused(
            field, f"A meter does not read {hours_words(reading)}.", "Check the figure and its unit."
        )


def _gained(log: LogAt, reading: int, field: str = "reading") -> int:
    """The hundredths of an hour that the meter gained.

    Refused for a reading below the one before, and where a later entry put what ran meanwhile down as unread.
    """
    _check_reading(reading, field)
    if log.state.meter is None:
        raise FieldRefused(
            field,
            f"{log.name} has no meter.",
            "Give the hours by hand; if it has one now, record that as a change of meter.",
        )
    if reading < log.state.meter:
        entry = f" (entry {log.last_entry})" if log.last_entry is not None else ""
        before = f"{hours_words(log.state.meter)} on {log.last_on.isoformat()}{entry}"
        raise FieldRefused(
            field,
            f"The meter of {log.name} read {before}, and {hours_words(reading)} is below that.",
            "Check the figure; reverse that entry if it is wrong, or record that the meter was changed.",
        )
    gained = reading - log.state.meter
    if gained and log.next is not None and log.next.reading is None:
        raise FieldRefused(
            field,
            f"Entry {log.next.number} of {log.next.on.isoformat()} stands in the way: it changed the meter,"
            f" and what {log.name} ran until then it put down as not read, so these {hours_words(gained)}"
            " would count twice.",
            f"Reverse entry {log.next.number} first, and change the meter afresh.",
        )
    return gained


def _question(log: LogAt, gained: int, on: date, field: str, sure: bool) -> None:
    that_day = (log.state.ran.hours - log.day_began.ran.hours).low if on == log.last_on else 0
    began_on = log.before_on if that_day else log.last_on
    if why := absurd(gained + that_day, began_on, on):
        raise FieldRefused(
            field,
            f"{hours_words(gained + that_day)} can't have been run: {why}.",
            "Check the figure and the day.",
        )
    if (why := doubtful(gained, log.last_on, on)) and not sure:
        raise Asked(
            field, f"{hours_words(gained)} is a great deal: {why}.", "Check the figure, or say that it is so."
        )
