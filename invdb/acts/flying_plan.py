"""How much each engine is meant to run, month by month: as planned, and else as it ran of late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.engine_use import recent_use
from invdb.records.buying import PlannedFlying
from invdb.records.clock import today
from invdb.records.engines import Engine
from invdb.records.posting import post
from invdb.rules.calendar import month_words, months_after
from invdb.rules.forecast import Window
from invdb.rules.lead_time import DAYS_A_MONTH
from invdb.rules.life import hours_words
from invdb.terms import EntryKind, FieldRefused, Refused, Scope

# No engine runs longer than its month lasts.
MONTH_HOURS_MAX = 744_00
YEARS_AHEAD_MAX = 20
# A whole year has every season once; without one, the longest stretch that the log covers has to do.
_YEAR_DAYS = 365
_ENGINES = select(Engine.id, Engine.name, Engine.use).order_by(Engine.priority, Engine.name)


@dataclass(frozen=True)
class FlyingMonth:
    """What an engine is meant to run in a month, by its first day, in hundredths of an hour.

    Not ``planned``: it goes on as of late.
    """

    month: date
    hours: int
    planned: bool


@dataclass(frozen=True)
class EngineFlying:
    """One engine's months, this one first. ``of_late`` says in words what months without a plan go by."""

    engine: int
    name: str
    use: Scope
    months: tuple[FlyingMonth, ...]
    of_late: str

    @property
    def in_store(self) -> bool:
        """Whether it is for display, and so runs only where that is planned."""
        return self.use is Scope.DISPLAY


def plan_months(day: date, months: int) -> tuple[date, ...]:
    """The first days of the month of a day and of so many after it."""
    return tuple(months_after(day.replace(day=1), each) for each in range(months + 1))


def flying_plan(session: Session, months: int) -> tuple[EngineFlying, ...]:
    """What each engine is meant to run in this month and in so many after it; engines by priority."""
    day = today(session)
    first_days = plan_months(day, months)
    rows = session.connection().execute(_ENGINES).all()
    windows = recent_use(session.connection(), [row.id for row in rows], day)
    planned: dict[int, dict[date, int]] = defaultdict(dict)
    for engine, month, hours in session.connection().execute(
        select(PlannedFlying.engine_id, PlannedFlying.month, PlannedFlying.hours).where(
            PlannedFlying.hours.is_not(None), PlannedFlying.month >= first_days[0]
        )
    ):
        planned[engine][month] = hours or 0
    found = []
    for engine, name, use in rows:
        pace, of_late = _of_late(windows[engine], use)
        own = planned[engine]
        flown = tuple(FlyingMonth(month, own.get(month, pace), month in own) for month in first_days)
        found.append(EngineFlying(engine, name, use, flown, of_late))
    return tuple(found)


def hours_ahead(flying: EngineFlying, day: date) -> tuple[int, ...]:
    """The hours of each month after this one, in hundredths; what is left of this one is in the first."""
    this, *after = flying.months
    if not after:
        return ()
    length = (months_after(this.month, 1) - this.month).days
    left = this.hours * (length - day.day + 1) // length
    return (left + after[0].hours, *(each.hours for each in after[1:]))


def plan_flying(session: Session, engine: int, hours: Mapping[date, int | None], by: By) -> int:
    """Plan what an engine is to run in months, each named by any day of it; returns the entry's number.

    None takes the plan of a month back. Refused for months gone by, for more hours than a month has, and
    where nothing changes.
    """
    draft = begin_draft(session, EntryKind.PLANNED, by)
    if session.scalar(select(Engine.id).where(Engine.id == engine)) is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    standing = {
        row.month: row
        for row in session.execute(
            select(PlannedFlying.id, PlannedFlying.month, PlannedFlying.hours).where(
                PlannedFlying.engine_id == engine
            )
        )
    }
    this = today(session).replace(day=1)
    for month, figure in sorted((day.replace(day=1), figure) for day, figure in hours.items()):
        _check_month(month, this, figure)
        row = standing.get(month)
        if figure == (None if row is None else row.hours):
            continue
        if row is None:
            draft.new(session, "planned_flying", engine_id=engine, month=month, hours=figure)
        else:
            draft.set("planned_flying", row.id, hours=figure)
    if not draft.facts:
        raise Refused("The plan is that already.", "There is nothing to change.")
    return post(session, draft).number


def _check_month(month: date, this: date, hours: int | None) -> None:
    if month < this:
        raise FieldRefused(
            "month", f"{month_words(month)} has gone by.", "Plan from this month on; log what was run."
        )
    if month > months_after(this, 12 * YEARS_AHEAD_MAX):
        raise FieldRefused(
            "month",
            f"{month_words(month)} is more than {YEARS_AHEAD_MAX} years ahead.",
            "Check the year.",
        )
    if hours is not None and not 0 <= hours <= MONTH_HOURS_MAX:
        raise FieldRefused(
            "hours",
            f"{hours_words(hours)} cannot be run in {month_words(month)}.",
            f"Give from 0 to {hours_words(MONTH_HOURS_MAX)}, or nothing to go on as of late.",
        )


def _of_late(windows: Sequence[Window], use: Scope) -> tuple[int, str]:
    """Hundredths of an hour a month as an engine ran of late, and in words over which days."""
    if use is Scope.DISPLAY:
        return 0, "in store: it runs nothing"
    if not windows:
        return 0, "its log covers too few days to say"
    window = max(windows, key=lambda each: (each.days <= _YEAR_DAYS, each.days))
    hours = window.ran.hours.low if window.ran.hours.open else window.ran.hours.high
    pace = round(hours * DAYS_A_MONTH / window.days)
    return pace, f"as in the last {window.days} days: {hours_words(pace)} a month"
