"""When a life runs out, from what the engine itself ran of late: a plain range of months, never a date.

The paces are what it ran a day over several windows that end today, as far back as its log goes. What is
left by the worst end, at the fastest of them, gives the earliest day; what is left by the best end, at the
slowest, the latest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from invdb.rules.calendar import month_words
from invdb.rules.life import hours_and_starts_words
from invdb.rules.life_limits import LimitLine, what_counts
from invdb.rules.running import Ran
from invdb.terms import LifeMeasure, RunningCounted

# A season, half a year, a year and two: an engine that flies in summer alone has a wide range, and should.
WINDOW_DAYS = (90, 180, 365, 730)
# Beyond a hundred years a forecast says nothing.
DAYS_MAX = 36_525


@dataclass(frozen=True)
class Window:
    """What an engine ran in the last so many days."""

    days: int
    ran: Ran


@dataclass(frozen=True)
class Pace:
    """The least and the most that was run a day, in the measure's unit; ``most`` None if no one knows.

    ``over`` names the windows in words.
    """

    least: Fraction
    most: Fraction | None
    over: str


@dataclass(frozen=True)
class Forecast:
    """The earliest and the latest day on which something runs out, and the range in words.

    ``earliest`` is None if it does not run out as things stand, or nothing can be said; ``latest`` None if
    perhaps it never does. ``when`` is the range without the pace it is by, for a list that says that once;
    '' where what is left says all there is to say.
    """

    earliest: date | None
    latest: date | None
    words: str
    when: str = ""


_NONE = "no forecast"
TOO_SHORT = Forecast(None, None, f"{_NONE}: the log covers less than {WINDOW_DAYS[0]} days", _NONE)


def windows_covered(log_begun_on: date | None, on: date) -> tuple[int, ...]:
    """The windows that a log covers on a day, in days."""
    if log_begun_on is None:
        return ()
    return tuple(days for days in WINDOW_DAYS if (on - log_begun_on).days >= days)


def pace(
    windows: Sequence[Window], measure: LifeMeasure, what: RunningCounted = RunningCounted.ALL
) -> Pace | None:
    """The paces of an engine by one measure over its windows; None without any window."""
    if not windows:
        return None
    spans = [(what_counts(window.ran, measure, what), window.days) for window in windows]
    least = min(Fraction(span.low, days) for span, days in spans)
    most = (
        None
        if any(span.open for span, _ in spans)
        else max(Fraction(span.high, days) for span, days in spans)
    )
    days = sorted({window.days for window in windows})
    over = f"the last {days[0]} days" if len(days) == 1 else f"the last {days[0]} to {days[-1]} days"
    return Pace(least, most, over)


def forecast_line(line: LimitLine, windows: Sequence[Window], on: date) -> Forecast:
    """When one limit runs out; a limit by the calendar does so on its day, however much is run."""
    if line.limit.measure is LifeMeasure.MONTHS:
        return by_calendar(line.due_on)
    paces = pace(windows, line.limit.measure, line.limit.counted)
    return forecast(line.left_worst, line.left_best, paces, on)


def by_calendar(due_on: date | None) -> Forecast:
    """What ends on a day fixed by the calendar."""
    if due_on is None:
        return Forecast(None, None, f"{_NONE}: the day from which it counts is not known", _NONE)
    return Forecast(due_on, due_on, f"by the calendar, on {due_on.isoformat()}")


def forecast(left_worst: int | None, left_best: int | None, paces: Pace | None, on: date) -> Forecast:
    """When so much, in the unit of the paces, is run: see the module.

    ``left_worst`` is None where no one knows it. What has none left by its best end has run out by ``on``.
    """
    if left_best is not None and left_best <= 0:
        return Forecast(on, on, "used up now")
    if paces is None:
        return TOO_SHORT if left_worst is None or left_worst > 0 else replace(TOO_SHORT, earliest=on)
    if left_best is None:
        return Forecast(None, None, f"{_NONE}: how much is left is not known", _NONE)
    if paces.most == 0:
        worst_now = left_worst is None or left_worst <= 0
        words = f"not while it stands as in {paces.over}"
        return Forecast(on if worst_now else None, None, words, "not at this pace")
    first = on
    if left_worst is not None and left_worst > 0 and paces.most is not None:
        days = Fraction(left_worst) / paces.most
        if days > DAYS_MAX:
            when = "not for a hundred years"
            return Forecast(None, None, f"{when} at the pace of {paces.over}", when)
        first = on + timedelta(days=days.numerator // days.denominator)
    last = _last(left_best, paces.least, on)
    when = _when(first, last, on, paces)
    pause = "," if last is None else ""
    return Forecast(first, last, f"{when}{pause} at the pace of {paces.over}", when)


def _last(left: int, least: Fraction, on: date) -> date | None:
    if least == 0:
        return None
    days = Fraction(left) / least
    if days > DAYS_MAX:
        return None
    return on + timedelta(days=-(-days.numerator // days.denominator))


def _when(first: date, last: date | None, on: date, paces: Pace) -> str:
    now = first <= on
    if last is None:
        begins = "any time from now" if now else f"not before {month_words(first)}"
        return f"{begins}, {'perhaps never' if paces.least == 0 else 'perhaps not for a hundred years'}"
    one, other = month_words(first), month_words(last)
    if now:
        return f"between now and {other}"
    return f"in {one}" if one == other else f"between {one} and {other}"


def windows_words(windows: Sequence[Window]) -> str:
    """'0.00 h and 0 starts in 90 days, 12.35 h and 15 starts in 730 days'; '' for none."""
    return ", ".join(
        f"{hours_and_starts_words(window.ran.hours.known(), window.ran.starts.known())} in {window.days} days"
        for window in windows
    )
