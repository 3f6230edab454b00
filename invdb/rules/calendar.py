"""Counting in calendar months, as limits and directives do."""

from __future__ import annotations

from calendar import monthrange
from datetime import date


def months_after(day: date, months: int) -> date:
    """The same day of the month so many months later (earlier if below zero).

    The last day of a shorter month where there is no such day. A date past the last year there is ends there.
    """
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if years > date.max.year:
        return date.max
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))
