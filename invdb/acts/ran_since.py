"""What engines and pieces ran after one point of the ledger and up to another, and where nobody knows."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.engine_use import EngineLogs
from invdb.acts.lived import Stretch, read_stretches
from invdb.records.chunks import chunks
from invdb.records.engines import Engine
from invdb.records.stock import Piece
from invdb.rules.points import Point
from invdb.rules.running import NOTHING, Span

# An unknown amount: at least nothing, with no upper end.
UNKNOWN = Span(open=1)
_IDS: BindParameter[int] = bindparam("ids", expanding=True)
_LOGS_BEGUN = select(Engine.id, Engine.log_begun_on)
_CAME = select(Piece.id, Piece.received_on, Piece.prior_hours_high).where(Piece.id.in_(_IDS))


class RanSince:
    """The hours of engines, and of the pieces given, in hundredths; flight and ground running together."""

    def __init__(self, session: Session, pieces: Collection[int] = ()) -> None:
        connection = session.connection()
        self._logs = EngineLogs(connection)
        self._begun: dict[int, date | None] = {
            engine: begun_on for engine, begun_on in connection.execute(_LOGS_BEGUN)
        }
        self._stretches = read_stretches(connection, pieces) if pieces else {}
        self._came: dict[int, tuple[date, int | None]] = {}
        for some in chunks(pieces):
            for piece, received_on, prior in connection.execute(_CAME, {"ids": some}):
                self._came[piece] = (received_on, prior)

    def of_engine(self, engine: int, after: Point, until: Point) -> Span:
        """What an engine ran; with no upper end where its log did not go back so far."""
        ran = self._logs.at(engine, until).hours - self._logs.at(engine, after).hours
        return ran if self._logged(engine, after) else ran + UNKNOWN

    def of_piece(self, piece: int, after: Point, until: Point, engine: int | None = None) -> Span:
        """What a piece ran, in any engine or in one alone.

        With no upper end where an engine that it was in had no log; and, of all engines, where it came later
        than ``after`` and may have run elsewhere until then.
        """
        ran = NOTHING
        for stretch in self._stretches.get(piece, ()):
            if engine in (None, stretch.engine):
                ran += self._in(stretch, after, until)
        received_on, prior = self._came[piece]
        return ran + UNKNOWN if engine is None and after[0] < received_on and prior != 0 else ran

    def _in(self, stretch: Stretch, after: Point, until: Point) -> Span:
        began = max(stretch.began, after)
        if began >= until or (stretch.ended is not None and stretch.ended <= began):
            return NOTHING
        ran = stretch.between(self._logs, after, until).hours
        return ran if self._logged(stretch.engine, began) else ran + UNKNOWN

    def engine_of(self, piece: int, at: Point) -> int | None:
        """The engine that a piece is in at a point, at first hand or inside another piece."""
        inside = (stretch.engine for stretch in self._stretches.get(piece, ()) if stretch.lasts_at(at))
        return next(inside, None)

    def _logged(self, engine: int, after: Point) -> bool:
        begun_on = self._begun.get(engine)
        return begun_on is not None and begun_on <= after[0]
