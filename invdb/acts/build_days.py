"""The days on which what is in an engine changed: how many pieces were fitted and how many came out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from sqlalchemy import BindParameter, bindparam, func, select
from sqlalchemy.orm import Session

from invdb.records.builds import Presumption, Stripping
from invdb.records.life import Service


@dataclass(frozen=True)
class BuildDay:
    """What happened to a build on one day; ``stripped`` counts batches that came out as one each."""

    on: date
    fitted: int = 0
    stripped: int = 0
    presumed: int = 0


# Made once: putting a statement together costs more than executing it.
_ENGINE: BindParameter[int] = bindparam("engine")
_FITTED = select(Service.from_on, func.count()).where(Service.engine_id == _ENGINE).group_by(Service.from_on)
_STRIPPED = (
    select(Service.to_on, func.count())
    .where(Service.engine_id == _ENGINE, Service.to_on.is_not(None))
    .group_by(Service.to_on)
)
_BATCHES_STRIPPED = (
    select(Stripping.stripped_on, func.count())
    .where(Stripping.engine_id == _ENGINE, Stripping.batch_id.is_not(None))
    .group_by(Stripping.stripped_on)
)
_PRESUMED = (
    select(Presumption.presumed_on, func.count())
    .where(Presumption.engine_id == _ENGINE)
    .group_by(Presumption.presumed_on)
)


def build_days(session: Session, engine: int) -> tuple[BuildDay, ...]:
    """The days on which anything was fitted, stripped or presumed, in their order.

    Pieces that ride along inside another count too. Batches fitted leave no day here, since time is not
    served by the batch.
    """
    connection, asked = session.connection(), {"engine": engine}
    fitted, stripped, presumed = (
        Counter({day: count for day, count in connection.execute(query, asked) if day is not None})
        for query in (_FITTED, _STRIPPED, _PRESUMED)
    )
    stripped.update({day: count for day, count in connection.execute(_BATCHES_STRIPPED, asked)})
    days = sorted({*fitted, *stripped, *presumed})
    return tuple(BuildDay(day, fitted[day], stripped[day], presumed[day]) for day in days)
