"""In which engines a piece or some of a batch was, from when to when, and what they ran the while."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.batch_fates import fates
from invdb.acts.engine_use import EngineLogs
from invdb.acts.lived import read_stretches
from invdb.acts.numbers import Thing
from invdb.acts.seated_at import seats_at
from invdb.records.engines import Engine
from invdb.records.stock import Batch, Stay
from invdb.rules.points import BEGINNING, END, Point
from invdb.rules.running import Ran

_STAYS = (
    select(Stay.place_id, Stay.from_on, Stay.from_entry, Stay.to_on, Stay.to_entry)
    .where(Stay.piece_id == bindparam("piece"))
    .order_by(Stay.sequence)
)


@dataclass(frozen=True)
class EngineRun:
    """A time in one engine: from one point of the ledger until another (None: still), and what that ran.

    ``seat`` says where in it, without the engine; '' for a batch, which may sit at several places.
    ``quantity`` is 1 for a piece.
    """

    engine: int
    engine_name: str
    seat: str
    began: Point
    ended: Point | None
    ran: Ran
    quantity: int = 1


def engine_runs(session: Session, thing: Thing) -> tuple[EngineRun, ...]:
    """Each time in an engine, at first hand or inside another piece, in order."""
    if thing.piece is not None:
        return _of_piece(session, thing.piece)
    assert thing.batch is not None, "a thing is a piece or a batch"
    return _of_batch(session, thing.batch)


def _of_piece(session: Session, piece: int) -> tuple[EngineRun, ...]:
    connection = session.connection()
    stays = connection.execute(_STAYS, {"piece": piece}).all()
    seats = seats_at(session, {row.place_id for row in stays})
    logs = EngineLogs(connection)
    stretches = read_stretches(connection, [piece]).get(piece, [])
    names = _engine_names(session, {each.engine for each in stretches})
    found = []
    for each in stretches:
        ran = each.between(logs, BEGINNING, END)
        where = ""
        for stay in stays:
            ended = END if stay.to_entry is None else (stay.to_on, stay.to_entry)
            if (stay.from_on, stay.from_entry) <= each.began < ended and stay.place_id in seats:
                # A piece that held it then may be elsewhere now, or at another position.
                seat = seats[stay.place_id]
                where = seat.spot if each.ended is None else seat.inside or seat.spot
        found.append(EngineRun(each.engine, names[each.engine], where, each.began, each.ended, ran))
    return tuple(found)


def _of_batch(session: Session, batch: int) -> tuple[EngineRun, ...]:
    parent = session.scalar(select(Batch.parent_batch_id).where(Batch.id == batch))
    runs = fates(session.connection(), {batch: parent})[batch].runs
    names = _engine_names(session, {run.engine for run in runs})
    return tuple(
        EngineRun(run.engine, names[run.engine], "", run.began, run.ended, run.ran, run.quantity)
        for run in runs
    )


def _engine_names(session: Session, engines: Collection[int]) -> dict[int, str]:
    return dict(session.execute(select(Engine.id, Engine.name).where(Engine.id.in_(engines))).all())
