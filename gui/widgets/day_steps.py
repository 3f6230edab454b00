"""From which day to which the keys of a slider over time go: plain figures, no Tk."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from gui.shown import DayMark

MONTHS_PER_YEAR = 12


@dataclass(frozen=True)
class DaySteps:
    """The days from ``first`` to ``last`` that a slider goes over, and those on which something changed."""

    first: date
    last: date
    marks: tuple[DayMark, ...] = ()

    def within(self, day: date) -> date:
        """The day, or the end of the slider that is nearer to it."""
        return min(max(day, self.first), self.last)

    def by_days(self, day: date, days: int) -> date:
        """So many days on, or back."""
        return self.within(date.fromordinal(max(1, day.toordinal() + days)))

    def by_months(self, day: date, months: int) -> date:
        """So many months on, or back; the 31st becomes the last day of a shorter month."""
        count = day.year * MONTHS_PER_YEAR + day.month - 1 + months
        year, month = count // MONTHS_PER_YEAR, count % MONTHS_PER_YEAR + 1
        if year < date.min.year:
            return self.first
        return self.within(date(year, month, min(day.day, monthrange(year, month)[1])))

    def to_mark(self, day: date, way: int) -> date:
        """The next day after (1) or before (-1) that one on which something changed, or the end."""
        days = sorted({mark.on for mark in self.marks})
        if way > 0:
            return self.within(next((each for each in days if each > day), self.last))
        return self.within(next((each for each in reversed(days) if each < day), self.first))

    def told_on(self, day: date, slack: timedelta) -> str:
        """What changed about that day, the days nearest to it within the slack, one line each."""
        near = [mark for mark in self.marks if abs(mark.on - day) <= slack]
        if not near:
            return ""
        nearest = min(abs(mark.on - day) for mark in near)
        meant = [mark for mark in near if abs(mark.on - day) == nearest]
        return "\n".join(f"{mark.on.isoformat()}: {mark.word}" for mark in meant)


def span_of(marks: Sequence[DayMark], today: date) -> DaySteps:
    """A slider from the first day on which anything changed until today; at the least the last year."""
    first = min([mark.on for mark in marks] + [today - timedelta(days=365)])
    return DaySteps(first, today, tuple(sorted(marks, key=lambda mark: mark.on)))
