"""Counting in calendar months, as limits and directives do."""

from __future__ import annotations

from calendar import monthrange
from datetime import date

_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def months_after(day: date, months: int) -> date:
    """The same day of the month so many months later (earlier if below zero).

    The last day of a shorter month where there is no such day. A date past the last year there is ends there.
    """
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if years > date.max.year:
        return date.max
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


def months_between(from_on: date, to_on: date) -> int:
    """How many whole months fit between two days; below zero if the second is earlier.

    It is the greatest n with ``months_after(from_on, n) <= to_on``.
    """
    months = (to_on.year - from_on.year) * 12 + to_on.month - from_on.month
    return months if months_after(from_on, months) <= to_on else months - 1


def month_words(day: date) -> str:
    """'Mar 2027'."""
    return f"{_NAMES[day.month - 1]} {day.year}"
