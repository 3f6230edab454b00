"""What became of batches: how much was split off, left us or was used up, and when some sat in an engine."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import groupby
from operator import attrgetter
from typing import Any

from sqlalchemy import BindParameter, Connection, bindparam, func, or_, select
from sqlalchemy.orm import aliased

from invdb.acts.batch_lines import BatchLine, batch_lines
from invdb.acts.engine_use import EngineLogs
from invdb.acts.lived import Stretch, read_stretches
from invdb.records.chunks import chunks
from invdb.records.stock import Batch, Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.points import END, Point
from invdb.rules.running import Ran
from invdb.terms import EntryKind

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_PARENTS = select(Batch.id, Batch.parent_batch_id).where(Batch.id.in_(_IDS))
_CHILDREN = select(Batch.id, Batch.parent_batch_id).where(Batch.parent_batch_id.in_(_IDS))
_AROUND = aliased(Place)
# A place where things sit in an engine, or in a piece that may be in one.
_SEATS = (
    select(Place.id, Place.engine_id, func.coalesce(Place.piece_id, _AROUND.piece_id))
    .outerjoin(_AROUND, _AROUND.id == Place.parent_id)
    .where(
        Place.id.in_(_IDS),
        or_(Place.engine_id.is_not(None), Place.piece_id.is_not(None), _AROUND.piece_id.is_not(None)),
    )
)


@dataclass(frozen=True)
class BatchRun:
    """So much of a batch was in an engine, from one point until another (None: now), and what that ran."""

    engine: int
    began: Point
    ended: Point | None
    ran: Ran
    quantity: int


@dataclass(frozen=True)
class Fate:
    """Of one batch: how much there was of it, how much of that left us or was used up, and its children.

    What lies somewhere now makes up the rest. ``split_off`` has each child's id with how much went into it.
    ``runs`` are its own and, before those, the ones of the batch from which it came out of an engine.
    """

    received: int = 0
    out: int = 0
    used_up: int = 0
    split_off: tuple[tuple[int, int], ...] = ()
    runs: tuple[BatchRun, ...] = ()


@dataclass(frozen=True)
class _Sat:
    """So much of a batch at one place between two points."""

    place: int
    began: Point
    ended: Point
    quantity: int


Seats = Mapping[int, tuple[int | None, int | None]]


@dataclass
class _Tally:
    """A fate while the moves are followed, in their order."""

    received: int = 0
    out: int = 0
    used_up: int = 0
    split_off: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    # What is at a seat: since when, how much, and how much there was at the most.
    seated: dict[int, tuple[Point, int, int]] = field(default_factory=dict)
    sat: list[_Sat] = field(default_factory=list)
    # Where it sat before it was a batch of its own.
    inherited: list[_Sat] = field(default_factory=list)

    def follow(self, move: BatchLine, seats: Seats) -> None:
        """Take in one move of the batch."""
        moved = move.kind is EntryKind.MOVED
        if move.from_place == OUTSIDE_PLACE:
            self.received += 0 if moved else move.quantity
            self.out -= move.quantity if moved else 0
        elif move.to_place == OUTSIDE_PLACE:
            self.out += move.quantity if moved else 0
            self.used_up += 0 if moved else move.quantity
        if move.to_place in seats:
            began, quantity, most = self.seated.get(move.to_place, (move.at, 0, 0))
            quantity += move.quantity
            self.seated[move.to_place] = (began, quantity, max(most, quantity))
        if move.from_place in self.seated:
            began, quantity, most = self.seated.pop(move.from_place)
            if quantity > move.quantity:
                self.seated[move.from_place] = (began, quantity - move.quantity, most)
            else:
                self.sat.append(_Sat(move.from_place, began, move.at, most))

    def give(self, child: _Tally, child_id: int, came: BatchLine, went: BatchLine) -> None:
        """Count as split off what went outside and came back as a child, which ran what it had run so far."""
        self.used_up -= came.quantity
        self.split_off[child_id] += came.quantity
        child.inherited += [replace(sat, quantity=came.quantity) for sat in self.inherited]
        began = [sat.began for sat in self.sat if (sat.place, sat.ended) == (went.from_place, went.at)]
        if went.from_place in self.seated:
            began.append(self.seated[went.from_place][0])
        child.inherited += [_Sat(went.from_place, since, went.at, came.quantity) for since in began[-1:]]


def descendants(connection: Connection, batches: Collection[int]) -> dict[int, int | None]:
    """These batches and all that were split off them, step by step, each with its parent."""
    found: dict[int, int | None] = {}
    for some in chunks(batches):
        found |= {batch: parent for batch, parent in connection.execute(_PARENTS, {"ids": some})}
    level: Collection[int] = found.keys()
    while level:
        below: dict[int, int | None] = {}
        for some in chunks(level):
            below |= {batch: parent for batch, parent in connection.execute(_CHILDREN, {"ids": some})}
        # Each batch has one parent, made before it, so that every level is new and the last is empty.
        level = below.keys() - found.keys()
        found |= below
    return found


def fates(connection: Connection, batches: Mapping[int, int | None]) -> dict[int, Fate]:
    """What became of batches that are given with their parents, and with all that was split off them."""
    parents = dict(batches)
    above = {parent for parent in parents.values() if parent is not None} - parents.keys()
    while above:
        for some in chunks(above):
            parents |= {batch: parent for batch, parent in connection.execute(_PARENTS, {"ids": some})}
        above = {parent for parent in parents.values() if parent is not None} - parents.keys()
    moves = batch_lines(connection, parents.keys())
    seats = _seats(connection, {place for move in moves for place in (move.from_place, move.to_place)})
    tallies = _tally(moves, parents, seats)
    reader = _RunReader(connection, seats)
    reader.read_holders(sat.place for tally in tallies.values() for sat in (*tally.inherited, *tally.sat))
    return {
        batch: Fate(
            tallies[batch].received,
            tallies[batch].out,
            tallies[batch].used_up,
            tuple(sorted(tallies[batch].split_off.items())),
            (*reader.runs(tallies[batch].inherited), *reader.runs(tallies[batch].sat)),
        )
        for batch in batches
    }


def _seats(connection: Connection, places: Collection[int]) -> Seats:
    """Of those places that are seats: the engine, or else the piece."""
    return {
        place: (engine, piece)
        for some in chunks(places)
        for place, engine, piece in connection.execute(_SEATS, {"ids": some})
    }


def _tally(moves: Iterable[BatchLine], parents: Mapping[int, int | None], seats: Seats) -> dict[int, _Tally]:
    tallies: dict[int, _Tally] = {batch: _Tally() for batch in parents}
    for _, entry in groupby(moves, key=attrgetter("at")):
        went: dict[int, list[BatchLine]] = defaultdict(list)
        came: dict[int, list[BatchLine]] = defaultdict(list)
        for move in entry:
            tallies[move.batch].follow(move, seats)
            parent = parents[move.batch]
            if move.to_place == OUTSIDE_PLACE:
                went[move.batch].append(move)
            elif move.from_place == OUTSIDE_PLACE and parent is not None:
                came[parent].append(move)
        for parent, children in came.items():
            # An act writes what leaves a batch and the child that it becomes in the same order.
            for which, move in enumerate(children):
                outs = went.get(parent, [])
                if outs:
                    out = outs[min(which, len(outs) - 1)]
                    tallies[parent].give(tallies[move.batch], move.batch, move, out)
    for tally in tallies.values():
        tally.sat += [_Sat(place, began, END, most) for place, (began, _, most) in tally.seated.items()]
    return tallies


class _RunReader:
    """Turns where batches sat into the engines that they were in; of a piece, those where it served then."""

    def __init__(self, connection: Connection, seats: Seats) -> None:
        self._connection = connection
        self._seats = seats
        self._logs = EngineLogs(connection)
        self._served: dict[int, list[Stretch]] = {}

    def read_holders(self, places: Iterable[int]) -> None:
        """Read when the pieces among these seats were in engines."""
        holders = {
            piece for engine, piece in map(self._seats.__getitem__, places) if engine is None and piece
        }
        self._served = read_stretches(self._connection, holders)

    def runs(self, sat: Iterable[_Sat]) -> tuple[BatchRun, ...]:
        """The engines, the earliest first; what sat in one between the same two points is one run."""
        amounts: dict[tuple[Point, Point, int], int] = defaultdict(int)
        for each in sat:
            engine, piece = self._seats[each.place]
            if engine is not None:
                amounts[each.began, each.ended, engine] += each.quantity
                continue
            for stretch in self._served.get(piece or 0, ()):
                began, ended = max(each.began, stretch.began), min(each.ended, stretch.ended or END)
                if began < ended:
                    amounts[began, ended, stretch.engine] += each.quantity
        return tuple(
            BatchRun(
                engine,
                began,
                None if ended == END else ended,
                self._logs.at(engine, ended) - self._logs.at(engine, began),
                quantity,
            )
            for (began, ended, engine), quantity in sorted(amounts.items())
        )
