"""The days on which what is in an engine changed: how much was fitted and how much came out."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Select, bindparam, func, select, union
from sqlalchemy.orm import Session, aliased

from invdb.acts.as_fitted import fitted_dates
from invdb.records.builds import Presumption, Stripping
from invdb.records.ledger import Entry, EntryLine
from invdb.records.life import Service
from invdb.records.stock import Place
from invdb.terms import EntryKind, LineKind


@dataclass(frozen=True)
class BuildDay:
    """What happened to a build on one day, piece by piece; some of a batch at one station counts as one.

    All is 0 where things only changed places within the engine.
    """

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
_FOUND = (
    select(Presumption.ended_on, func.count())
    .where(Presumption.engine_id == _ENGINE, Presumption.piece_id.is_not(None))
    .group_by(Presumption.ended_on)
)


def _batches_fitted() -> Select[date, int]:
    """Lines that brought some of a batch to a station, of the engine or of a piece that was in it."""
    own, reversal = aliased(Place), aliased(Entry)
    of_engine = select(Place.id).where(Place.engine_id == _ENGINE)
    in_pieces = (
        select(Place.id)
        .join(own, (own.id == Place.id) | (own.id == Place.parent_id))
        .join(Service, Service.piece_id == own.piece_id)
        .where(Service.engine_id == _ENGINE)
    )
    return (
        select(Entry.happened_on, func.count())
        .join(EntryLine, EntryLine.entry_number == Entry.number)
        .where(
            EntryLine.engine_id == _ENGINE,
            EntryLine.batch_id.is_not(None),
            EntryLine.kind == LineKind.MOVE,
            EntryLine.to_place_id.in_(union(of_engine, in_pieces)),
            # What is found at a station presumed filled comes to it and out of it in one entry.
            Entry.kind != EntryKind.STRIPPED,
            ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
        )
        .group_by(Entry.happened_on)
    )


_BATCHES_FITTED = _batches_fitted()
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
    """The days of `fitted_dates`, in their order, each with what happened on it.

    Pieces that ride along inside another count too. Refused when the engine is not in the store.
    """
    days = fitted_dates(session, engine)
    connection, asked = session.connection(), {"engine": engine}

    def counted(*queries: Select[*tuple[Any, ...]]) -> Counter[date]:
        counts: Counter[date] = Counter()
        for query in queries:
            counts.update({day: count for day, count in connection.execute(query, asked)})
        return counts

    fitted = counted(_FITTED, _BATCHES_FITTED)
    stripped = counted(_STRIPPED, _FOUND, _BATCHES_STRIPPED)
    presumed = counted(_PRESUMED)
    return tuple(BuildDay(day, fitted[day], stripped[day], presumed[day]) for day in days)
