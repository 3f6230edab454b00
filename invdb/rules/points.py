"""Points in the ledger's order: the day on which something happened, then the number of its entry."""

from __future__ import annotations

from datetime import date

Point = tuple[date, int]

# Before and after every entry that there can be; numbers are whole and in 64 bits.
BEGINNING: Point = (date.min, 0)
LAST_NUMBER = 2**63 - 1
END: Point = (date.max, LAST_NUMBER)


def end_of(day: date) -> Point:
    """The point after every entry of a day."""
    return day, LAST_NUMBER


def start_of(day: date) -> Point:
    """The point before every entry of a day."""
    return day, 0
