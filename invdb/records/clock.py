"""The time by which acts are recorded, and the day it is in the shop."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.base import damaged
from invdb.records.people import Setting

ZONE_SETTING = "zone"
_ZONE = select(Setting.value).where(Setting.name == ZONE_SETTING)


def now(session: Session) -> datetime:
    """This instant, UTC; a session may carry a clock of its own in ``session.info["clock"]``."""
    clock: Callable[[], datetime] | None = session.info.get("clock")
    return clock() if clock is not None else datetime.now(UTC)


def today(session: Session) -> date:
    """The date in the shop's own zone."""
    zone = session.info.get("zone")
    if zone is None:
        name = session.connection().scalar(_ZONE) or "UTC"
        try:
            zone = session.info["zone"] = ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise damaged(name, "the shop's time zone") from error
    return now(session).astimezone(zone).date()
