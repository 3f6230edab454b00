"""The pieces and batches in an engine, each with what is inside it, at any date and belief."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.believed import When, records_believed, undone_records
from invdb.acts.lying import Lying, lying_at
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.nesting import NESTING_MAX
from invdb.records.registry import to_row
from invdb.records.stock import Batch, Piece, Place
from invdb.rules.build import BuiltThing
from invdb.rules.folding import Plain
from invdb.terms import Measure

# Made once: putting a statement together costs more than executing it.
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_OF_ENGINE = select(Place.id, Place.position_id, Place.station_id).where(
    Place.engine_id == bindparam("engine")
)
_OF_PIECES = select(Place.id, Place.piece_id).where(Place.piece_id.in_(_IDS))
_IN_PLACES = select(Place.id, Place.parent_id, Place.station_id).where(Place.parent_id.in_(_IDS))
_PIECES = select(Piece.id, Piece.tag, Piece.serial, Piece.part_id).where(Piece.id.in_(_IDS))
_BATCHES = select(Batch.id, Batch.tag, Batch.maker_batch, Batch.part_id).where(Batch.id.in_(_IDS))
_PARTS = select(Part.id, Part.house_number, Part.name, Part.measure).where(Part.id.in_(_IDS))


@dataclass(frozen=True)
class FittedThing:
    """A thing that sits in an engine at first hand, and at which position (None: at none)."""

    position: int | None
    thing: BuiltThing


@dataclass(frozen=True)
class StationPlace:
    """A place in an engine, or in a piece (``holder``), where a thing may sit."""

    place: int
    position: int | None = None
    station: int | None = None
    holder: int | None = None


@dataclass(frozen=True)
class _Known:
    tag: str
    serial: str
    part: int


@dataclass(frozen=True)
class PartKnown:
    """What a part is called, and how it is measured."""

    number: str
    name: str
    measure: Measure


class StationPlaces:
    """Finds the places of engines and pieces; those undone since the instant of belief among them."""

    def __init__(self, session: Session, when: When) -> None:
        self._connection = session.connection()
        self._undone = undone_records(session, "place", when)

    def of_engine(self, engine: int) -> dict[int, StationPlace]:
        """The places of an engine, by id."""
        rows = self._connection.execute(_OF_ENGINE, {"engine": engine})
        return {
            seat.place: seat
            for seat in (
                *(
                    StationPlace(place, _id(values, "position_id"), _id(values, "station_id"))
                    for place, values in self._undone.items()
                    if values.get("engine_id") == engine
                ),
                *(StationPlace(*row) for row in rows),
            )
        }

    def in_pieces(self, pieces: Collection[int]) -> dict[int, StationPlace]:
        """The places in some pieces, by id."""
        own: dict[int, int] = {
            place: piece
            for place, values in self._undone.items()
            if (piece := _id(values, "piece_id")) in pieces and piece is not None
        }
        for some in chunks(pieces):
            own |= {
                place: piece
                for place, piece in self._connection.execute(_OF_PIECES, {"ids": some})
                if piece is not None
            }
        found = {place: StationPlace(place, holder=piece) for place, piece in own.items()}
        for place, values in self._undone.items():
            if (parent := _id(values, "parent_id")) in own and parent is not None:
                found[place] = StationPlace(place, None, _id(values, "station_id"), own[parent])
        for some in chunks(own):
            for place, parent, station in self._connection.execute(_IN_PLACES, {"ids": some}):
                if parent is not None:
                    found[place] = StationPlace(place, None, station, own[parent])
        return found


def _id(values: Mapping[str, Plain], column: str) -> int | None:
    value = values.get(column)
    return value if isinstance(value, int) else None


def fitted_things(session: Session, engine: int, when: When) -> tuple[FittedThing, ...]:
    """All that sits in an engine at first hand, by tag, with what is inside it."""
    seats = StationPlaces(session, when)
    lying: list[tuple[StationPlace, Lying]] = []
    level = seats.of_engine(engine)
    for _ in range(NESTING_MAX + 1):
        here = [(level[each.place], each) for each in lying_at(session, level.keys(), when)]
        lying += here
        pieces = {each.piece for _, each in here if each.piece is not None}
        level = seats.in_pieces(pieces) if pieces else {}
        if not level:
            break
    return _seated(session, lying, when)


def _seated(
    session: Session, lying: Iterable[tuple[StationPlace, Lying]], when: When
) -> tuple[FittedThing, ...]:
    lying = list(lying)
    pieces = _known(session, "piece", {each.piece for _, each in lying if each.piece is not None}, when)
    batches = _known(session, "batch", {each.batch for _, each in lying if each.batch is not None}, when)
    parts = parts_known(session, {each.part for each in (*pieces.values(), *batches.values())}, when)
    inside: dict[int, list[BuiltThing]] = defaultdict(list)
    found: list[FittedThing] = []
    # Innermost first, so that each thing is made with what is inside it.
    for seat, each in reversed(lying):
        known = pieces[each.piece] if each.piece is not None else batches[each.batch or 0]
        part = parts[known.part]
        thing = BuiltThing(
            each.piece,
            each.batch,
            known.tag,
            known.serial,
            known.part,
            part.number,
            part.name,
            each.quantity,
            part.measure,
            each.since_on,
            each.since_entry,
            seat.station,
            seat.holder,
            pieces[seat.holder].tag if seat.holder is not None else "",
            tuple(sorted(inside[each.piece], key=_by_tag)) if each.piece is not None else (),
        )
        if seat.holder is None:
            found.append(FittedThing(seat.position, thing))
        else:
            inside[seat.holder].append(thing)
    return tuple(sorted(found, key=lambda each: _by_tag(each.thing)))


def _by_tag(thing: BuiltThing) -> tuple[str, int, int]:
    return thing.tag, thing.piece or 0, thing.batch or 0


def _known(session: Session, record: str, ids: Collection[int], when: When) -> dict[int, _Known]:
    """The tag, the maker's serial or batch mark, and the part of pieces or batches."""
    mark = "serial" if record == "piece" else "maker_batch"
    if not when.now:
        return {
            each: _Known(row["tag"], row[mark] or "", row["part_id"])
            for each, values in records_believed(session, record, ids, when).items()
            for row in (to_row(record, values),)
        }
    found: dict[int, _Known] = {}
    for some in chunks(ids):
        rows = session.connection().execute(_PIECES if record == "piece" else _BATCHES, {"ids": some})
        found |= {each: _Known(tag, serial or "", part) for each, tag, serial, part in rows}
    return found


def parts_known(session: Session, ids: Collection[int], when: When) -> dict[int, PartKnown]:
    """Parts as the catalogue has them now; those whose entry was reversed since, as it had them then."""
    found: dict[int, PartKnown] = {}
    for some in chunks(ids):
        rows = session.connection().execute(_PARTS, {"ids": some})
        found |= {part: PartKnown(number, name, measure) for part, number, name, measure in rows}
    gone = [part for part in ids if part not in found]
    for part, values in records_believed(session, "part", gone, when).items():
        row = to_row("part", values)
        found[part] = PartKnown(row["house_number"], row["name"], row["measure"])
    return found
