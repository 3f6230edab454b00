"""How a piece or batch stands now, beside its trace: in which engine, what is inside it, its life."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW
from invdb.acts.directive_lines import directive_due_lines
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_runs import EngineRun, engine_runs
from invdb.acts.event_doubts import OpenEvent, events_on
from invdb.acts.fitted_things import StationPlaces
from invdb.acts.life import PieceLife, life_of
from invdb.acts.lying import Lying, lying_at
from invdb.acts.numbers import Thing
from invdb.acts.seated_at import SeatedAt, seats_at
from invdb.acts.stays import path, read_places
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.engines import Station
from invdb.records.nesting import NESTING_MAX
from invdb.records.stock import Batch, Holding, Piece, Stay
from invdb.rules.due import DueLine, DueSoon
from invdb.rules.points import Point
from invdb.terms import Measure

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_LAST_STAY = (
    select(Stay.place_id, Stay.from_on, Stay.from_entry, Stay.to_entry)
    .where(Stay.piece_id == bindparam("piece"))
    .order_by(Stay.sequence.desc())
    .limit(1)
)
_TAGS_OF_PIECES = (
    select(Piece.id, Piece.tag, Part.name, Part.measure)
    .join(Part, Part.id == Piece.part_id)
    .where(Piece.id.in_(_IDS))
)
_TAGS_OF_BATCHES = (
    select(Batch.id, Batch.tag, Part.name, Part.measure)
    .join(Part, Part.id == Batch.part_id)
    .where(Batch.id.in_(_IDS))
)


@dataclass(frozen=True)
class FittedNow:
    """That a piece, or so much of a batch, sits in an engine or in a piece, and since which entry.

    ``path`` names the place as the trace does. ``quantity`` is in the smallest unit; ``since`` is None for a
    batch, of which some may have come later.
    """

    seat: SeatedAt
    path: str
    quantity: int
    since: Point | None


@dataclass(frozen=True)
class InsideIt:
    """What sits in a piece, at which station of it; ``depth`` counts the pieces between, from 0."""

    thing: Thing
    tag: str
    part_name: str
    station: str
    quantity: int
    measure: Measure
    depth: int


@dataclass(frozen=True)
class ThingNow:
    """All of it. ``life`` is None for a batch; ``directives`` are those due, or of which nobody can tell.

    ``elsewhere`` is how much of a batch is fitted nowhere, in the smallest unit.
    """

    fitted: tuple[FittedNow, ...]
    inside: tuple[InsideIt, ...]
    runs: tuple[EngineRun, ...]
    life: PieceLife | None
    soon: DueSoon
    events: tuple[OpenEvent, ...]
    directives: tuple[DueLine, ...]
    elsewhere: int = 0

    @property
    def all_fitted(self) -> bool:
        """Whether it sits in engines or pieces, and none of it anywhere else."""
        return bool(self.fitted) and not self.elsewhere

    @property
    def engine(self) -> int | None:
        """The engine that it, or the first of it, sits in; None for none."""
        return next((each.seat.engine for each in self.fitted if each.seat.engine is not None), None)


def thing_now(session: Session, thing: Thing) -> ThingNow:
    """How a piece or batch stands now; Refused when it is not in the store."""
    soon = due_soon(session)
    events = events_on(session, [thing]).get(thing, ())
    if thing.piece is None:
        assert thing.batch is not None, "a thing is a piece or a batch"
        fitted, elsewhere = _fitted_batch(session, thing.batch)
        return ThingNow(fitted, (), engine_runs(session, thing), None, soon, events, (), elsewhere)
    life = life_of(session, [thing.piece])[thing.piece]
    last = session.connection().execute(_LAST_STAY, {"piece": thing.piece}).first()
    seats = {} if last is None else seats_at(session, {last.place_id})
    fitted = ()
    if last is not None and last.to_entry is None and last.place_id in seats:
        named = path(last.place_id, read_places(session, {last.place_id}))
        fitted = (FittedNow(seats[last.place_id], named, 1, (last.from_on, last.from_entry)),)
    directives = () if life.engine is None else directive_due_lines(session, life.engine)
    return ThingNow(
        fitted,
        tuple(_inside(session, thing.piece)),
        engine_runs(session, thing),
        life,
        soon,
        events,
        tuple(line for line in directives if line.piece == thing.piece),
    )


def _fitted_batch(session: Session, batch: int) -> tuple[tuple[FittedNow, ...], int]:
    """Where some of a batch is fitted, and how much of it is not."""
    held = dict(
        session.execute(
            select(Holding.place_id, Holding.quantity)
            .where(Holding.batch_id == batch, Holding.quantity > 0)
            .order_by(Holding.place_id)
        ).all()
    )
    seats = seats_at(session, held)
    places = read_places(session, seats.keys())
    fitted = tuple(FittedNow(seat, path(place, places), held[place], None) for place, seat in seats.items())
    return fitted, sum(quantity for place, quantity in held.items() if place not in seats)


def _inside(session: Session, piece: int) -> Iterator[InsideIt]:
    """What sits in a piece, and in what sits in it, each beneath what holds it."""
    seats = StationPlaces(session, NOW)
    lying: dict[int, list[tuple[int | None, Lying]]] = {}
    level = {piece}
    for _ in range(NESTING_MAX):
        places = seats.in_pieces(level)
        level = set()
        for each in lying_at(session, places.keys(), NOW):
            seat = places[each.place]
            assert seat.holder is not None, "these are the places in pieces"
            lying.setdefault(seat.holder, []).append((seat.station, each))
            if each.piece is not None:
                level.add(each.piece)
        if not level:
            break
    every = [entry for entries in lying.values() for entry in entries]
    pieces = _known(session, _TAGS_OF_PIECES, {each.piece for _, each in every})
    batches = _known(session, _TAGS_OF_BATCHES, {each.batch for _, each in every})
    stations = {
        station: name
        for some in chunks({station for station, _ in every if station is not None})
        for station, name in session.execute(select(Station.id, Station.name).where(Station.id.in_(some)))
    }

    def within(holder: int, depth: int) -> Iterator[InsideIt]:
        for station, each in lying.get(holder, ()):
            tag, name, measure = pieces[each.piece] if each.piece is not None else batches[each.batch or 0]
            yield InsideIt(
                Thing(each.piece, each.batch),
                tag,
                name,
                stations.get(station or 0, ""),
                each.quantity,
                measure,
                depth,
            )
            if each.piece is not None:
                yield from within(each.piece, depth + 1)

    yield from within(piece, 0)


def _known(session: Session, query: Any, ids: Collection[int | None]) -> dict[int, tuple[str, str, Measure]]:
    wanted = {each for each in ids if each is not None}
    return {
        row[0]: (row[1], row[2], row[3])
        for some in chunks(wanted)
        for row in session.connection().execute(query, {"ids": some})
    }
