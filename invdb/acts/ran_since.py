"""The hours that engines and pieces ran after one point of the ledger and up to another."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from sqlalchemy import BindParameter, Connection, bindparam, select

from invdb.acts.engine_use import EngineLogs
from invdb.acts.lived import read_stretches
from invdb.records.chunks import chunks
from invdb.records.stock import Piece
from invdb.rules.points import Point
from invdb.rules.running import NOTHING, Span

_IDS: BindParameter[int] = bindparam("ids", expanding=True)
_CAME = select(Piece.id, Piece.received_on, Piece.prior_hours_high).where(Piece.id.in_(_IDS))


class RanSince:
    """The hours of engines, and of the pieces given, in hundredths; flight and ground running together."""

    def __init__(self, connection: Connection, pieces: Collection[int] = ()) -> None:
        self._logs = EngineLogs(connection)
        self._stretches = read_stretches(connection, pieces) if pieces else {}
        self._came: dict[int, tuple[date, int | None]] = {}
        for some in chunks(pieces):
            for piece, received_on, prior in connection.execute(_CAME, {"ids": some}):
                self._came[piece] = (received_on, prior)

    def of_engine(self, engine: int, after: Point, until: Point) -> Span:
        """What an engine ran; with no upper end where its log did not go back so far."""
        return self._logs.ran(engine, after, until).hours

    def of_piece(self, piece: int, after: Point, until: Point, engine: int | None = None) -> Span:
        """What a piece ran, in any engine or in one alone.

        With no upper end, of all engines, where it came later than ``after`` and may have run elsewhere until
        then.
        """
        ran = NOTHING
        for stretch in self._stretches.get(piece, ()):
            if engine in (None, stretch.engine):
                ran += stretch.between(self._logs, after, until).hours
        received_on, prior = self._came[piece]
        return ran + Span(open=1) if engine is None and after[0] < received_on and prior != 0 else ran
