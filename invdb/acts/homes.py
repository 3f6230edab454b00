"""Where pieces are at home: the station of the engine that each last ran in, unless it was reworked since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from invdb.acts.reworked import reworked
from invdb.records.builds import Stripping
from invdb.records.chunks import chunks
from invdb.records.nesting import NESTING_MAX
from invdb.records.stock import Piece, Place, Stay
from invdb.rules.matching import CameOut, Home, home_of
from invdb.rules.points import Point
from invdb.terms import Condition, PlaceKind


def homes(session: Session, pieces: Collection[int]) -> dict[int, Home]:
    """The home of each piece that has one, by piece.

    Pieces that sit at a station now, in an engine or in another piece, are left out, as are those that can't
    be salvaged: they go nowhere from where they are.
    """
    free = _free(session, pieces)
    came_out = _came_out(session, free)
    since = reworked(session, free)
    found = {piece: home_of(piece, came_out, since.get(piece, ())) for piece in free}
    return {piece: home for piece, home in found.items() if home is not None}


def _free(session: Session, pieces: Collection[int]) -> set[int]:
    found: set[int] = set()
    for some in chunks(set(pieces)):
        found.update(
            session.scalars(
                select(Piece.id)
                .join(Place, Place.id == Piece.place_id)
                .where(
                    Piece.id.in_(some),
                    Place.kind != PlaceKind.STATION,
                    Piece.condition != Condition.UNSALVAGEABLE,
                )
            )
        )
    return found


def _came_out(session: Session, pieces: Collection[int]) -> dict[int, list[CameOut]]:
    """The strippings of pieces, and of what they were stripped out of on the bench, however deep."""
    found: dict[int, list[CameOut]] = defaultdict(list)
    wanted = set(pieces)
    seen: set[int] = set()
    for _ in range(NESTING_MAX + 1):
        wanted -= seen
        if not wanted:
            break
        seen |= wanted
        for some in chunks(wanted):
            for piece, out in _strippings(session, some):
                found[piece].append(out)
        wanted = {out.holder for piece in wanted for out in found[piece] if out.holder is not None}
    return dict(found)


def _strippings(session: Session, pieces: Collection[int]) -> list[tuple[int, CameOut]]:
    own = aliased(Place)
    rows = session.execute(
        select(
            Stripping.piece_id,
            Stripping.stripped_on,
            Stripping.set_by,
            Stripping.engine_id,
            Stripping.position_id,
            Stripping.station_id,
            Stripping.mates,
            Stripping.from_place_id,
            # A rider's own station is that of the place it came from, not that of what it rode in.
            Place.station_id.label("at_station"),
            own.piece_id.label("holder"),
        )
        .join(Place, Place.id == Stripping.from_place_id)
        .outerjoin(own, own.id == Place.parent_id)
        .where(Stripping.piece_id.in_(pieces))
    ).all()
    began = _began(session, pieces)
    return [(row.piece_id, _out(row, began)) for row in rows]


def _out(row: Any, began: dict[tuple[int, int], list[Point]]) -> CameOut:
    at = (row.stripped_on, row.set_by)
    since = max((point for point in began[row.piece_id, row.from_place_id] if point < at), default=None)
    return CameOut(
        at,
        row.at_station or row.station_id,
        row.engine_id,
        row.position_id,
        row.mates,
        row.holder if row.engine_id is None else None,
        since,
    )


def _began(session: Session, pieces: Collection[int]) -> dict[tuple[int, int], list[Point]]:
    """The points at which pieces came to places, by (piece, place)."""
    found: dict[tuple[int, int], list[Point]] = defaultdict(list)
    rows = session.execute(
        select(Stay.piece_id, Stay.place_id, Stay.from_on, Stay.from_entry).where(Stay.piece_id.in_(pieces))
    )
    for piece, place, on, entry in rows:
        found[piece, place].append((on, entry))
    return found
