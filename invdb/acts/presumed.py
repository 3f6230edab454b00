"""What is presumed at an engine's stations, and what is owed to them, at any date and belief."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Select, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.believed import When, records_believed, undone_records
from invdb.acts.fitted_things import parts_known
from invdb.records.builds import Debt, Presumption
from invdb.records.chunks import chunks
from invdb.records.engines import Engine
from invdb.records.registry import to_row
from invdb.records.stock import Batch, Piece
from invdb.rules.build import Owed, Presumed

# Made once: putting a statement together costs more than executing it.
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_EVER_PRESUMED = select(Presumption.id).where(Presumption.engine_id == bindparam("engine"))
_PRESUMED = _EVER_PRESUMED.where(Presumption.ended_on.is_(None))
_EVER_OWED = select(Debt.id).where(Debt.engine_id == bindparam("engine"))
_OWED = _EVER_OWED.where(Debt.repaid_on.is_(None))
_DAYS_PRESUMED = select(Presumption.presumed_on, Presumption.ended_on).where(
    Presumption.engine_id == bindparam("engine")
)
_PIECE_TAGS = select(Piece.id, Piece.tag).where(Piece.id.in_(_IDS))
_BATCH_TAGS = select(Batch.id, Batch.tag).where(Batch.id.in_(_IDS))
_ENGINE_NAMES = select(Engine.id, Engine.name).where(Engine.id.in_(_IDS))

Row = dict[str, Any]


def read_presumed(session: Session, engine: int, when: When) -> tuple[tuple[int, int, Presumed], ...]:
    """What was presumed at the stations of an engine, each with its position and station (ids)."""
    known = _believed(session, "presumption", _PRESUMED if when.now else _EVER_PRESUMED, engine, when)
    standing = {each: row for each, row in known.items() if not _ended(row["ended_on"], when.on)}
    parts = parts_known(session, {row["part_id"] for row in standing.values()}, when)
    found: list[tuple[int, int, Presumed]] = []
    for presumption, row in standing.items():
        part = parts[row["part_id"]]
        presumed = Presumed(
            presumption,
            row["part_id"],
            part.number,
            part.name,
            row["quantity"],
            part.measure,
            row["presumed_on"],
        )
        found.append((row["position_id"], row["station_id"], presumed))
    return tuple(found)


def read_owed(session: Session, engine: int, when: When) -> tuple[tuple[int, int, Owed], ...]:
    """What was owed to the stations of an engine, each with its position and station (ids)."""
    known = _believed(session, "debt", _OWED if when.now else _EVER_OWED, engine, when)
    standing = {each: row for each, row in known.items() if not _ended(row["repaid_on"], when.on)}
    parts = parts_known(session, {row["part_id"] for row in standing.values()}, when)
    pieces = _names(session, _PIECE_TAGS, {row["piece_id"] for row in standing.values()})
    batches = _names(session, _BATCH_TAGS, {row["batch_id"] for row in standing.values()})
    engines = _names(session, _ENGINE_NAMES, {row["for_engine_id"] for row in standing.values()})
    found: list[tuple[int, int, Owed]] = []
    for debt, row in standing.items():
        part = parts[row["part_id"]]
        owed = Owed(
            debt,
            row["part_id"],
            part.number,
            part.name,
            row["quantity"],
            part.measure,
            pieces.get(row["piece_id"]) or batches.get(row["batch_id"], ""),
            engines.get(row["for_engine_id"], ""),
            row["owed_on"],
        )
        found.append((row["position_id"], row["station_id"], owed))
    return tuple(found)


def days_of_presumptions(session: Session, engine: int) -> set[date]:
    """The days on which something began to be presumed in an engine, or was stripped or found missing."""
    rows = session.connection().execute(_DAYS_PRESUMED, {"engine": engine})
    return {day for row in rows for day in row if day is not None}


def _believed(
    session: Session, record: str, ids_of_engine: Select[int], engine: int, when: When
) -> dict[int, Row]:
    """The rows of an engine's presumptions or debts as they were then, by id."""
    ids = set(session.connection().scalars(ids_of_engine, {"engine": engine}))
    ids |= {
        each
        for each, values in undone_records(session, record, when).items()
        if values.get("engine_id") == engine
    }
    known = records_believed(session, record, ids, when)
    return {each: to_row(record, values) for each, values in sorted(known.items())}


def _ended(ended_on: date | None, on: date | None) -> bool:
    """Whether it had ended by the end of a day (None: by now)."""
    return ended_on is not None and (on is None or ended_on <= on)


def _names(
    session: Session, statement: Select[int, str], ids: Collection[int | None]
) -> dict[int | None, str]:
    found: dict[int | None, str] = {}
    for some in chunks([each for each in ids if each is not None]):
        found |= {each: name for each, name in session.connection().execute(statement, {"ids": some})}
    return found
