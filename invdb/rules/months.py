"""Calendar months, as life limits and directives count them."""

from __future__ import annotations

from calendar import monthrange
from datetime import date

MONTHS_A_YEAR = 12
_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def months_after(day: date, months: int) -> date:
    """The day so many calendar months after another, or before it if below zero.

    Where that month is too short it is the month's last day: 30 November and three months make 28 February.
    The first or last day that a date can be, where it would lie beyond.
    """
    ahead = day.year * MONTHS_A_YEAR + day.month - 1 + months
    year, month = ahead // MONTHS_A_YEAR, ahead % MONTHS_A_YEAR + 1
    if year < date.min.year:
        return date.min
    if year > date.max.year:
        return date.max
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def months_between(from_on: date, to_on: date) -> int:
    """How many whole months of ``months_after`` fit between two days; below zero if the second is earlier.

    It is the greatest n with ``months_after(from_on, n) <= to_on``.
    """
    months = (to_on.year - from_on.year) * MONTHS_A_YEAR + to_on.month - from_on.month
    return months if months_after(from_on, months) <= to_on else months - 1


def month_words(day: date) -> str:
    """'Mar 2027'."""
    return f"{_NAMES[day.month - 1]} {day.year}"
