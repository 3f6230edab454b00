"""How a person writes a day: plain, no Tk."""

from __future__ import annotations

from datetime import date

from invdb.terms import Refused

DAY_MONTH_YEAR = 3


def read_date(text: str) -> date | None:
    """The day written as 1934-12-31 or 31.12.1934; None for nothing; Refused for anything else."""
    text = text.strip()
    if not text:
        return None
    parts = text.split(".")
    try:
        if len(parts) == DAY_MONTH_YEAR:
            return date(int(parts[2]), int(parts[1]), int(parts[0]))
        return date.fromisoformat(text)
    except ValueError:
        raise Refused(f"“{text}” is not a day.", "Write it as 1934-12-31 or 31.12.1934.") from None
