"""Days along a line of pixels, and the round ones among them: figures only, no Tk."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

DAYS_PER_YEAR = 365.2425
MONTHS_PER_TICK = (1, 3, 6, 12, 24, 60, 120, 240, 600, 1200, 2400)


@dataclass(frozen=True)
class TimeAxis:
    """From the ``first`` day at ``left`` to the ``last`` at ``right``, in pixels; the last is later."""

    first: date
    last: date
    left: float
    right: float

    def across(self, day: date) -> float:
        """Where the day lies; a day outside lies outside."""
        days = self.last.toordinal() - self.first.toordinal()
        return self.left + (self.right - self.left) * (day.toordinal() - self.first.toordinal()) / days

    def within(self, day: date) -> float:
        """Where the day lies, or the end of the axis that is nearer to it."""
        return self.across(min(max(day, self.first), self.last))

    def day_at(self, x: float) -> date:
        """The day that lies there, within the axis."""
        share = (x - self.left) / max(self.right - self.left, 1)
        days = self.last.toordinal() - self.first.toordinal()
        ordinal = self.first.toordinal() + round(share * days)
        return date.fromordinal(max(self.first.toordinal(), min(ordinal, self.last.toordinal())))

    def ticks(self, width_min: float) -> list[tuple[date, str]]:
        """Round days with their words, about ``width_min`` pixels apart or more."""
        return ticks_between(self.first, self.last, int((self.right - self.left) / width_min))


def ticks_between(first: date, last: date, most: int) -> list[tuple[date, str]]:
    """About ``most`` round days between two at most, with their words: years, or months if they are near."""
    months = max(1.0, (last.toordinal() - first.toordinal()) / DAYS_PER_YEAR * 12)
    step = next((each for each in MONTHS_PER_TICK if months / each <= max(most, 1)), MONTHS_PER_TICK[-1])
    count = first.year * 12 + first.month - 1
    count += -count % step if step > 1 else (first.day > 1)
    ticks = []
    while (day := date(count // 12, count % 12 + 1, 1)) <= last:
        if day >= first:
            ticks.append((day, f"{day:%Y}" if step >= 12 else f"{day:%Y-%m}"))
        count += step
    return ticks
