"""Small things that every sheet shows: the shop's name, the time in its zone, how many papers."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.begin import WORKSHOP_SETTING
from invdb.records.clock import ZONE_SETTING, now
from invdb.records.people import Setting


def workshop_name(session: Session) -> str:
    """The name that stands on the shop's papers."""
    return session.scalar(select(Setting.value).where(Setting.name == WORKSHOP_SETTING)) or ""


def printed_at(session: Session) -> datetime:
    """This instant in the shop's own zone."""
    zone = session.scalar(select(Setting.value).where(Setting.name == ZONE_SETTING)) or "UTC"
    return now(session).astimezone(ZoneInfo(zone))


def papers_words(count: int) -> str:
    """``no papers``, ``1 paper``, ``3 papers``."""
    return "no papers" if count == 0 else f"{count} paper{'s' if count > 1 else ''}"
