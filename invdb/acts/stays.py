"""Where a piece or a batch lies and lay: paths through the tree of places, stays, and what held it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.nesting import NESTING_MAX
from invdb.records.stock import Holding, Piece, Place, Stay
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.history import QuantityAt, Stretch
from invdb.terms import PlaceKind

# Up to eight pieces inside each other, each at a place up to eight places deep.
STEPS_MAX = (NESTING_MAX + 1) * (NESTING_MAX + 1)
INTO = " › "


@dataclass(frozen=True)
class Standing:
    """A place, the place around it as things now stand, and what it is."""

    name: str
    kind: PlaceKind
    around: int | None
    piece: int | None
    engine: int | None


@dataclass(frozen=True)
class _Held:
    """A piece that held the thing from one day until another, when that has ended."""

    piece: int
    from_on: date
    to_on: date | None


def read_places(session: Session, places: Collection[int]) -> dict[int, Standing]:
    """These places and every place around them."""
    found: dict[int, Standing] = {}
    wanted = set(places)
    for _ in range(STEPS_MAX):
        wanted -= found.keys()
        if not wanted:
            break
        rows = session.execute(
            select(
                Place.id,
                Place.name,
                Place.kind,
                Place.parent_id,
                Place.piece_id,
                Place.engine_id,
                Piece.place_id.label("piece_at"),
            )
            .outerjoin(Piece, Piece.id == Place.piece_id)
            .where(Place.id.in_(wanted))
        ).all()
        for row in rows:
            around = row.piece_at if row.piece_id is not None else row.parent_id
            found[row.id] = Standing(row.name, row.kind, around, row.piece_id, row.engine_id)
        wanted = {place.around for place in found.values() if place.around is not None}
    return found


def path(place: int, places: Mapping[int, Standing]) -> str:
    """``Stores › A-01-01``: the place with those around it, outermost first."""
    return INTO.join(reversed(_outward(place, places)))


def _outward(place: int, places: Mapping[int, Standing], last: int | None = None) -> list[str]:
    """The names of a place and of those around it, as far as ``last`` (None: all of them).

    A station's name begins with what it is a station of, which is not named again.
    """
    names: list[str] = []
    at: int | None = place
    inner: PlaceKind | None = None
    for _ in range(STEPS_MAX):
        if at is None or at not in places:
            break
        standing = places[at]
        if inner is not PlaceKind.STATION or standing.kind not in _NAMED_BY_STATIONS:
            names.append(standing.name)
        if at == last:
            break
        inner, at = standing.kind, standing.around
    return names


_NAMED_BY_STATIONS = frozenset({PlaceKind.ENGINE, PlaceKind.PIECE})


def stays_of(session: Session, piece: int) -> tuple[Stretch, ...]:
    """Where a piece was, in order, each place with those around it.

    Inside another piece it was wherever that went, which is not said; see ``parts_of``.
    """
    stays = _stays(session, {piece})
    places = read_places(session, {stay.place_id for stay in stays})
    found = []
    for stay in stays:
        holder = _holder(stay.place_id, places)
        within = holder if holder is not None and places[holder].piece is not None else None
        words = INTO.join(reversed(_outward(stay.place_id, places, within)))
        found.append(Stretch(stay.from_on, stay.to_on, words, places[stay.place_id].kind))
    return tuple(found)


def parts_of(session: Session, piece: int) -> tuple[Stretch, ...]:
    """The engines and pieces that a piece was part of, at first hand or inside another, earliest first."""
    found: list[Stretch] = []
    inside = [_Held(piece, date.min, None)]
    for _ in range(NESTING_MAX + 1):
        stays = _stays(session, {held.piece for held in inside})
        places = read_places(session, {stay.place_id for stay in stays})
        holders: list[_Held] = []
        for held in inside:
            for stay in stays:
                begins = max(stay.from_on, held.from_on)
                ends = min(filter(None, (stay.to_on, held.to_on)), default=None)
                holder = _holder(stay.place_id, places)
                if stay.piece_id != held.piece or holder is None or (ends is not None and ends < begins):
                    continue
                standing = places[holder]
                words = INTO.join(reversed(_outward(stay.place_id, places, holder)))
                found.append(Stretch(begins, ends, words, standing.kind))
                if standing.piece is not None:
                    holders.append(_Held(standing.piece, begins, ends))
        if not holders:
            break
        inside = holders
    return tuple(sorted(found, key=lambda part: (part.from_on or date.min, part.place)))


def _holder(place: int, places: Mapping[int, Standing]) -> int | None:
    """The nearest place around, or the place itself, that is an engine or a piece."""
    at: int | None = place
    for _ in range(STEPS_MAX):
        if at is None or at not in places:
            return None
        if places[at].engine is not None or places[at].piece is not None:
            # A station carries its engine too; the engine is the outermost place that does.
            around = places[at].around
            if places[at].piece is not None or around is None or places[around].engine != places[at].engine:
                return at
        at = places[at].around
    return None


def quantities_at(session: Session, batch: int) -> tuple[QuantityAt, ...]:
    """How much of a batch lies where, in walking order."""
    rows = session.execute(
        select(Holding.place_id, Holding.quantity, Holding.reserved)
        .join(Place, Place.id == Holding.place_id)
        .where(Holding.batch_id == batch, Holding.quantity > 0)
        .order_by(Place.walking_order, Place.name)
    ).all()
    places = read_places(session, {row.place_id for row in rows})
    return tuple(QuantityAt(path(row.place_id, places), row.quantity, row.reserved) for row in rows)


def place_words(session: Session, place: int) -> str:
    """A place as a person reads it: with those around it, or that it is out of our hands."""
    return "out of our hands" if place == OUTSIDE_PLACE else path(place, read_places(session, {place}))


@dataclass(frozen=True)
class _Stay:
    piece_id: int
    place_id: int
    from_on: date
    to_on: date | None


def _stays(session: Session, pieces: Iterable[int]) -> list[_Stay]:
    rows = session.execute(
        select(Stay.piece_id, Stay.place_id, Stay.from_on, Stay.to_on)
        .where(Stay.piece_id.in_(set(pieces)))
        .order_by(Stay.piece_id, Stay.sequence)
    )
    return [_Stay(*row) for row in rows]
