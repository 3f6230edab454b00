"""The overhauls of an engine that began its counts since overhaul anew."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.records.life import LifeReset
from invdb.terms import LifeMeasure


@dataclass(frozen=True)
class ListedReset:
    """What began anew on which day by which report; ``overhauled_on`` is the day of the overhaul itself."""

    reset: int
    on: date
    overhauled_on: date
    report: str
    began_anew: tuple[LifeMeasure, ...]


def resets_of_engine(session: Session, engine: int, on: date | None = None) -> tuple[ListedReset, ...]:
    """Those of an engine that count on a day (None: today), the oldest first."""
    day = as_of(session, on)
    rows = session.scalars(
        select(LifeReset)
        .where(
            LifeReset.engine_id == engine,
            LifeReset.reset_on <= day,
            or_(LifeReset.withdrawn_on.is_(None), LifeReset.withdrawn_on > day),
        )
        .order_by(LifeReset.reset_on, LifeReset.set_by, LifeReset.id)
    )
    return tuple(
        ListedReset(
            row.id,
            row.reset_on,
            row.overhauled_on or row.reset_on,
            row.report,
            tuple(
                measure
                for measure, anew in (
                    (LifeMeasure.HOURS, row.resets_hours),
                    (LifeMeasure.STARTS, row.resets_starts),
                    (LifeMeasure.MONTHS, row.resets_calendar),
                )
                if anew
            ),
        )
        for row in rows
    )
