"""The day as of which something is shown or judged."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.by import YEAR_FIRST
from invdb.records.clock import today
from invdb.terms import FieldRefused


def as_of(session: Session, on: date | None) -> date:
    """The day itself, today for None; Refused for a day to come, and before there were aero engines."""
    now = today(session)
    if on is None:
        return now
    if on > now:
        raise FieldRefused("on", f"{on.isoformat()} is in the future.", "Give today or an earlier day.")
    if on.year < YEAR_FIRST:
        raise FieldRefused("on", f"{on.isoformat()} is before there were aero engines.", "Check the year.")
    return on
