"""In which engine each piece ran and how much, kept beside the ledger: at first hand, or inside another."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, bindparam, delete, insert, select

from invdb.records.chunks import chunks
from invdb.records.draft import Draft
from invdb.records.life import RAN_COLUMNS, Running, Service
from invdb.records.nesting import NESTING_MAX, ever_beneath, now_beneath
from invdb.records.stock import Place, Stay
from invdb.rules.folding import RecordKey
from invdb.rules.points import BEGINNING, END, Point
from invdb.rules.running import RAN_NOTHING, Ran, ran_from

_STAYS = (
    select(Stay.piece_id, Stay.place_id, Stay.from_on, Stay.from_entry, Stay.to_on, Stay.to_entry)
    .where(Stay.piece_id.in_(bindparam("ids", expanding=True)))
    .order_by(Stay.piece_id, Stay.sequence)
)
_PLACES = select(Place.id, Place.engine_id, Place.piece_id, Place.parent_id).where(
    Place.id.in_(bindparam("ids", expanding=True))
)
_TOTALS = (
    select(Running.id, Running.ran_on, Running.set_by, *(getattr(Running, column) for column in RAN_COLUMNS))
    .where(Running.engine_id == bindparam("engine"))
    .order_by(Running.ran_on, Running.set_by, Running.id)
)
_IN_ENGINE = select(Service.piece_id).where(Service.engine_id == bindparam("engine")).distinct()
_REMOVE = delete(Service).where(Service.piece_id.in_(bindparam("ids", expanding=True)))
_ADD = insert(Service)


@dataclass(frozen=True)
class Stretch:
    """That a piece was in an engine from one point until another; ``to`` is the end of time while it is."""

    engine: int
    began: Point
    ended: Point


@dataclass
class _Totals:
    """An engine's running totals by the points from which they hold."""

    points: list[Point] = field(default_factory=list)
    ran: list[Ran] = field(default_factory=list)

    def at(self, point: Point) -> Ran:
        """What the engine had run by a point, with what was logged in that very entry."""
        place = bisect_right(self.points, point)
        return self.ran[place - 1] if place else RAN_NOTHING


class ServiceReader:
    """Works out stretches in engines from stays; it reads what it needs, and each thing once."""

    def __init__(self, connection: Connection, gone: Collection[RecordKey] = ()) -> None:
        self._connection = connection
        self._gone = gone
        self._stays: dict[int, list[tuple[int, Point, Point]]] = {}
        # A place: the engine that it is part of, or the piece that it lies in.
        self._places: dict[int, tuple[int | None, int | None]] = {}
        self._totals: dict[int, _Totals] = {}

    def rows(self, pieces: Collection[int]) -> Iterator[dict[str, Any]]:
        """The rows of `Service` of these pieces, piece by piece in order."""
        self._read(pieces)
        for piece in sorted(pieces):
            for sequence, stretch in enumerate(self.stretches(piece), start=1):
                yield {
                    "piece_id": piece,
                    "sequence": sequence,
                    "engine_id": stretch.engine,
                    "from_on": stretch.began[0],
                    "from_entry": stretch.began[1],
                    "to_on": None if stretch.ended == END else stretch.ended[0],
                    "to_entry": None if stretch.ended == END else stretch.ended[1],
                    **self._ran(stretch).columns(),
                }

    def stretches(self, piece: int) -> list[Stretch]:
        """Every stretch of a piece in an engine, in order; what it moved within an engine is one stretch."""
        self._read([piece])
        found: list[Stretch] = []
        for stretch in self._within(piece, BEGINNING, END):
            if found and (found[-1].engine, found[-1].ended) == (stretch.engine, stretch.began):
                found.append(Stretch(stretch.engine, found.pop().began, stretch.ended))
            else:
                found.append(stretch)
        return found

    def _within(self, piece: int, since: Point, until: Point) -> Iterator[Stretch]:
        """The stretches of a piece between two points. At no moment is a piece inside itself, and over time
        one may have been in another that was in it before: so the way outward is followed stay by stay."""
        for place, came, went in self._stays[piece]:
            began, ended = max(came, since), min(went, until)
            if began >= ended:
                continue
            engine, holder = self._places[place]
            if engine is not None:
                yield Stretch(engine, began, ended)
            elif holder is not None:
                yield from self._within(holder, began, ended)

    def _ran(self, stretch: Stretch) -> Ran:
        if stretch.engine not in self._totals:
            totals = self._totals[stretch.engine] = _Totals()
            rows = self._connection.execute(_TOTALS, {"engine": stretch.engine})
            for running, ran_on, number, *figures in rows:
                if ("running", running) in self._gone:
                    continue
                totals.points.append((ran_on, number))
                totals.ran.append(ran_from(figures))
        totals = self._totals[stretch.engine]
        ended = RAN_NOTHING if stretch.ended == END else totals.at(stretch.ended)
        return ended - totals.at(stretch.began)

    def _read(self, pieces: Iterable[int]) -> None:
        """Read the stays of these pieces, and of every piece that ever held them."""
        wanted = {piece for piece in pieces if piece not in self._stays}
        for _ in range(NESTING_MAX + 2):
            if not wanted:
                return
            fresh_places: set[int] = set()
            for some in chunks(wanted):
                for piece, place, from_on, from_entry, to_on, to_entry in self._connection.execute(
                    _STAYS, {"ids": some}
                ):
                    ended = END if to_on is None or to_entry is None else (to_on, to_entry)
                    self._stays.setdefault(piece, []).append((place, (from_on, from_entry), ended))
                    fresh_places.add(place)
            for piece in wanted:
                self._stays.setdefault(piece, [])
            holders = self._read_places(fresh_places)
            wanted = holders - self._stays.keys()

    def _read_places(self, places: set[int]) -> set[int]:
        """Read what places are part of or lie in; returns the pieces that hold them."""
        chain: dict[int, int] = {place: place for place in places if place not in self._places}
        holders: set[int] = set()
        for _ in range(NESTING_MAX + 1):
            if not chain:
                break
            outward: dict[int, int] = {}
            around: dict[int, list[int]] = defaultdict(list)
            for place, at in chain.items():
                around[at].append(place)
            for some in chunks(around):
                for at, engine, piece, parent in self._connection.execute(_PLACES, {"ids": some}):
                    for place in around[at]:
                        if engine is None and piece is None and parent is not None:
                            outward[place] = parent
                            continue
                        self._places[place] = (engine, piece)
                        if engine is None and piece is not None:
                            holders.add(piece)
            chain = outward
        for place in places:
            self._places.setdefault(place, (None, None))
        return holders


def follow_service(
    connection: Connection,
    draft: Draft,
    late: bool,
    pieces: Collection[int],
    gone: Collection[RecordKey],
    rewritten: Collection[int],
) -> None:
    """Bring the time served up to an entry.

    ``pieces`` are those that its lines, or the lines that it reverses, move; ``rewritten`` are engines whose
    log changed before its end. An entry that is not late and moves nothing in an engine changes nothing here.
    """
    concerned: set[int] = set()
    if late:
        concerned |= set(ever_beneath(connection, pieces)) if pieces else set()
    else:
        moved = {line.piece_id for line in draft.lines if line.engine_id is not None and line.piece_id}
        concerned |= now_beneath(connection, moved) if moved else set()
    for engine in rewritten:
        concerned.update(connection.scalars(_IN_ENGINE, {"engine": engine}))
    if not concerned:
        return
    for some in chunks(concerned):
        connection.execute(_REMOVE, {"ids": some})
    staying = {piece for piece in concerned if ("piece", piece) not in gone}
    rows = list(ServiceReader(connection, gone).rows(staying))
    if rows:
        connection.execute(_ADD, rows)
