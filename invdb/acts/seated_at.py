"""Where in engines, or in other pieces, the places of stations are, in words: now, or on a past day."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Row, ScalarSelect, Select, bindparam, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from invdb.acts.stays import STEPS_MAX
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.engines import Engine, Position, Station
from invdb.records.stock import Piece, Place, Stay
from invdb.terms import PlaceKind

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_ON: BindParameter[date] = bindparam("on")
_HOLDER = aliased(Piece)
_ON_THAT_DAY = (Stay.from_on <= _ON) & (Stay.to_on.is_(None) | (Stay.to_on > _ON))
_PLACE_THEN = (
    select(Stay.place_id)
    .where(Stay.piece_id == _HOLDER.id, _ON_THAT_DAY)
    .correlate(_HOLDER)
    .scalar_subquery()
)


def _places(holder_at: InstrumentedAttribute[int] | ScalarSelect[int]) -> Select[*tuple[Any, ...]]:
    """Places, each with what it is a station of, the piece that it is, and where that piece is."""
    return (
        select(
            Place.id,
            Place.kind,
            Place.name,
            Place.parent_id,
            Place.engine_id,
            Engine.name.label("engine_name"),
            Place.position_id,
            Position.group_name,
            Position.name.label("position_name"),
            Station.name.label("station_name"),
            Place.piece_id,
            _HOLDER.tag,
            Part.name.label("part_name"),
            holder_at.label("holder_at"),
        )
        .outerjoin(Engine, Engine.id == Place.engine_id)
        .outerjoin(Position, Position.id == Place.position_id)
        .outerjoin(Station, Station.id == Place.station_id)
        .outerjoin(_HOLDER, _HOLDER.id == Place.piece_id)
        .outerjoin(Part, Part.id == _HOLDER.part_id)
        .where(Place.id.in_(_IDS))
    )


# Made once: putting a statement together costs more than executing it.
_PLACES_NOW = _places(_HOLDER.place_id)
_PLACES_ON = _places(_PLACE_THEN)
_PIECES_NOW = select(Piece.id, Piece.place_id).where(Piece.id.in_(_IDS))
_PIECES_ON = select(Stay.piece_id, Stay.place_id).where(Stay.piece_id.in_(_IDS), _ON_THAT_DAY)


@dataclass(frozen=True)
class Holder:
    """A piece that something is inside of."""

    piece: int
    tag: str
    part_name: str


@dataclass(frozen=True)
class SeatedAt:
    """Where in an engine or in a piece a place is.

    ``engine`` is None for what is in a piece that is in no engine, which then lies at ``lies_at``;
    ``holders`` are the pieces around it, the nearest first. ``position_name`` is that of the outermost piece.
    """

    engine: int | None
    engine_name: str
    position: int | None
    position_name: str
    station: str
    holders: tuple[Holder, ...] = ()
    lies_at: str = ""

    @property
    def inside(self) -> str:
        """``guide in T00412-X``: the station in the nearest piece around it; '' at first hand."""
        if not self.holders:
            return ""
        return f"{self.station} in {self.holders[0].tag}".removeprefix(" ")

    @property
    def spot(self) -> str:
        """``cylinder 5, exhaust valve``, or ``cylinder 5, guide in T00412-X``: without the engine."""
        return ", ".join(word for word in (self.position_name, self.inside or self.station) if word)

    @property
    def words(self) -> str:
        """``Linnet 117, cylinder 5, exhaust valve``, or ``guide in T00412-X, in A-01-01``."""
        if self.engine is not None:
            return ", ".join(word for word in (self.engine_name, self.spot) if word)
        return f"{self.inside}, in {self.lies_at}" if self.lies_at else self.inside


def seats_of(session: Session, pieces: Collection[int], on: date | None = None) -> dict[int, SeatedAt]:
    """Where each of these pieces was in an engine or in a piece at the end of a day (None: now).

    Those that were in neither have no key.
    """
    connection = session.connection()
    at: dict[int, int] = {}
    for some in chunks(pieces):
        rows = (
            connection.execute(_PIECES_NOW, {"ids": some})
            if on is None
            else connection.execute(_PIECES_ON, {"ids": some, "on": on})
        )
        at.update((piece, place) for piece, place in rows)
    seats = seats_at(session, set(at.values()), on)
    return {piece: seats[place] for piece, place in at.items() if place in seats}


def seats_at(session: Session, places: Collection[int], on: date | None = None) -> dict[int, SeatedAt]:
    """Where each of these places was in an engine or in a piece at the end of a day (None: now).

    Those that were in neither have no key.
    """
    read = _read(session, places, on)
    found = {place: _seat(place, read) for place in places if place in read}
    return {place: seat for place, seat in found.items() if seat is not None}


_Read = Mapping[int, Row[*tuple[Any, ...]]]


def _read(session: Session, places: Collection[int], on: date | None) -> _Read:
    """These places and, from stations and pieces outward, those around them."""
    connection = session.connection()
    found: dict[int, Row[*tuple[Any, ...]]] = {}
    wanted = set(places)
    for _ in range(STEPS_MAX):
        wanted -= found.keys()
        if not wanted:
            break
        rows = [
            row
            for some in chunks(wanted)
            for row in (
                connection.execute(_PLACES_NOW, {"ids": some})
                if on is None
                else connection.execute(_PLACES_ON, {"ids": some, "on": on})
            )
        ]
        found |= {row.id: row for row in rows}
        wanted = {around for row in rows if (around := _around(row)) is not None}
    return found


def _around(row: Row[*tuple[Any, ...]]) -> int | None:
    """The place that a seat hangs in; None for what is the outermost of them, or is no seat at all."""
    if row.piece_id is not None:
        return None if row.holder_at is None else int(row.holder_at)
    if row.kind is PlaceKind.STATION and row.engine_id is None:
        return None if row.parent_id is None else int(row.parent_id)
    return None


def _seat(place: int, read: _Read) -> SeatedAt | None:
    first = row = read[place]
    holders: list[Holder] = []
    for _ in range(STEPS_MAX):
        if row.engine_id is not None:
            position = " ".join(word for word in (row.group_name, row.position_name) if word)
            return SeatedAt(
                row.engine_id,
                row.engine_name,
                row.position_id,
                position,
                first.station_name or "",
                tuple(holders),
            )
        if row.piece_id is not None:
            holders.append(Holder(row.piece_id, row.tag, row.part_name))
        around = _around(row)
        if around is None or around not in read:
            break
        row = read[around]
    if not holders:
        return None
    return SeatedAt(None, "", None, "", first.station_name or "", tuple(holders), row.name)
