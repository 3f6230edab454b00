"""Proving what is kept beside the ledger of engines' logs and of what pieces ran."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from sqlalchemy import Connection, select

from invdb.records.chain import Difference
from invdb.records.engines import Engine
from invdb.records.life import RAN_COLUMNS, Running, Service
from invdb.records.running_state import log_line, read_log
from invdb.records.service_state import ServiceReader
from invdb.records.stock import Piece, Place, Stay
from invdb.rules.folding import FITTED_KINDS
from invdb.rules.running import LogContradiction, LogState, follow, ran_from
from invdb.terms import Refused

_PIECES_AT_ONCE = 500
_ROW = (
    "piece_id",
    "sequence",
    "engine_id",
    "from_on",
    "from_entry",
    "to_on",
    "to_entry",
    *RAN_COLUMNS,
)


def logs_replayed(connection: Connection) -> Iterator[Difference]:
    """How the totals on the lines of engines' logs differ from their sums."""
    engines = connection.execute(
        select(Engine.id, Engine.name, Engine.log_reading)
        .where(Engine.id.in_(select(Running.engine_id)))
        .order_by(Engine.id)
    ).all()
    for engine in engines:
        state = LogState(meter=engine.log_reading)
        try:
            lines = [(row, log_line(row)) for row in read_log(connection, engine.id)]
        except Refused as refused:
            yield Difference(None, f"The log of {engine.name} can't be read: {refused.reason}")
            continue
        for row, line in lines:
            try:
                state = follow(state, line)
            except LogContradiction as contradiction:
                yield Difference(
                    contradiction.number,
                    f"The log of {engine.name}: the reading of entry {contradiction.number} is below the one"
                    " before it.",
                )
                break
            if state.ran != ran_from(getattr(row, column) for column in RAN_COLUMNS):
                yield Difference(
                    row.set_by, f"The log of {engine.name}: its total is wrong from entry {row.set_by} on."
                )
                break


def services_replayed(connection: Connection) -> Iterator[Difference]:
    """How the time that pieces served in engines differs from what their stays and the logs give."""
    served = select(Service.piece_id)
    stayed = select(Stay.piece_id).join(Place, Place.id == Stay.place_id).where(Place.kind.in_(FITTED_KINDS))
    ids = iter(connection.scalars(served.union(stayed)).all())
    while some := list(islice(ids, _PIECES_AT_ONCE)):
        said = [tuple(row[name] for name in _ROW) for row in ServiceReader(connection).rows(some)]
        kept = connection.execute(
            select(*(getattr(Service, name) for name in _ROW))
            .where(Service.piece_id.in_(some))
            .order_by(Service.piece_id, Service.sequence)
        ).all()
        different = {row[0] for row in set(said) ^ {tuple(row) for row in kept}}
        if different:
            tags = select(Piece.id, Piece.tag).where(Piece.id.in_(different)).order_by(Piece.id)
            for piece, tag in connection.execute(tags):
                entry = next((row[4] for row in said if row[0] == piece), None)
                yield Difference(entry, f"The time that {tag} served in engines is not what its stays give.")
