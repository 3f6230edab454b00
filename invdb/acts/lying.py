"""What lies at places: now, at the end of a past date, or as was believed at an instant.

Pieces now and on a date come from where they are and from their stays; some of a batch on a date, and all
that is past belief, from the lines that lead to and from those places.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Select, bindparam, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from invdb.acts.believed import When, entry_counts, undone_entries
from invdb.records.chunks import chunks
from invdb.records.ledger import Entry, EntryLine
from invdb.records.stock import Holding, Piece, Stay
from invdb.terms import LineKind

# Made once: putting a statement together costs more than executing it.
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_PIECES_NOW = (
    select(Piece.id, Piece.place_id, Stay.from_on, Stay.from_entry)
    .join(Stay, (Stay.piece_id == Piece.id) & Stay.to_entry.is_(None))
    .where(Piece.place_id.in_(_IDS))
)
_PIECES_ON = select(Stay.piece_id, Stay.place_id, Stay.from_on, Stay.from_entry).where(
    Stay.place_id.in_(_IDS),
    Stay.from_on <= bindparam("on"),
    or_(Stay.to_on.is_(None), Stay.to_on > bindparam("on")),
)
_PIECES_EVER = select(Stay.piece_id).where(Stay.place_id.in_(_IDS)).distinct()
_LINES_OF_ENTRIES = select(EntryLine.piece_id, EntryLine.to_place_id).where(EntryLine.entry_number.in_(_IDS))
_MOVES_OF_PIECES = (
    select(EntryLine.piece_id, EntryLine.to_place_id, Entry.happened_on, Entry.number)
    .join(Entry, Entry.number == EntryLine.entry_number)
    .where(EntryLine.piece_id.in_(_IDS), EntryLine.kind == LineKind.MOVE, entry_counts())
    .order_by(Entry.happened_on, Entry.number, EntryLine.ordinal)
)
_STAYS = select(Stay.piece_id, Stay.place_id, Stay.from_on, Stay.to_on).where(Stay.place_id.in_(_IDS))
_HOLDING_NOW = select(Holding.place_id).where(Holding.place_id.in_(_IDS), Holding.quantity > 0).distinct()


def _moves_of_batches(end: InstrumentedAttribute[int]) -> Select[*tuple[Any, ...]]:
    """The moves of batches whose one end is at some places."""
    return (
        select(
            EntryLine.batch_id,
            end,
            EntryLine.quantity,
            Entry.happened_on,
            Entry.number,
            EntryLine.ordinal,
        )
        .join(Entry, Entry.number == EntryLine.entry_number)
        .where(
            end.in_(_IDS),
            EntryLine.batch_id.is_not(None),
            EntryLine.kind == LineKind.MOVE,
            entry_counts(),
        )
    )


_INTO = _moves_of_batches(EntryLine.to_place_id)
_OUT_OF = _moves_of_batches(EntryLine.from_place_id)


@dataclass(frozen=True)
class Lying:
    """A piece or some of a batch at a place, there since an entry of a day; in the smallest unit."""

    piece: int | None
    batch: int | None
    place: int
    quantity: int
    since_on: date
    since_entry: int


def lying_at(session: Session, places: Collection[int], when: When) -> tuple[Lying, ...]:
    """What lies at some places, the pieces first, each in the order of their ids."""
    if when.believed_at is not None:
        pieces = _pieces_believed(session, places, when)
    else:
        pieces = _pieces(session, places, when.on)
    return (*sorted(pieces, key=lambda each: each.piece or 0), *_batches(session, places, when))


def _pieces(session: Session, places: Collection[int], on: date | None) -> list[Lying]:
    connection = session.connection()
    found: list[Lying] = []
    for some in chunks(places):
        rows = (
            connection.execute(_PIECES_NOW, {"ids": some})
            if on is None
            else connection.execute(_PIECES_ON, {"ids": some, "on": on})
        )
        found += [Lying(piece, None, place, 1, since, entry) for piece, place, since, entry in rows]
    return found


def _pieces_believed(session: Session, places: Collection[int], when: When) -> list[Lying]:
    """A piece was believed here if its last move was into one of the places: its stays tell of those moves
    that still count, and entries reversed since of the others.
    """
    connection = session.connection()
    candidates: set[int] = set()
    for some in chunks(places):
        candidates.update(connection.scalars(_PIECES_EVER, {"ids": some}))
    for some in chunks(undone_entries(session, when)):
        lines = connection.execute(_LINES_OF_ENTRIES, {"ids": some})
        candidates.update(piece for piece, place in lines if piece is not None and place in places)
    last: dict[int, Lying] = {}
    for some in chunks(candidates):
        for piece, place, on, number in connection.execute(_MOVES_OF_PIECES, {"ids": some, **when.bounds()}):
            assert piece is not None
            last[piece] = Lying(piece, None, place, 1, on, number)
    return [each for each in last.values() if each.place in places]


def _batches(session: Session, places: Collection[int], when: When) -> list[Lying]:
    if when.now:
        connection = session.connection()
        places = [
            place for some in chunks(places) for place in connection.scalars(_HOLDING_NOW, {"ids": some})
        ]
    found: list[Lying] = []
    for (batch, place), moves in sorted(batch_moves(session, places, when).items()):
        since = max((move for move in moves if move.begins), default=None, key=lambda move: move.order)
        quantity = moves[-1].left
        if quantity > 0 and since is not None:
            found.append(Lying(None, batch, place, quantity, since.on, since.order[1]))
    return found


@dataclass(frozen=True)
class BatchMove:
    """Some of a batch that came to a place (``gained`` above zero) or went from it, in the smallest unit.

    ``order`` is (day, entry, line); ``left`` what lay there afterwards; ``begins`` whether it was the first
    to come to an empty place.
    """

    order: tuple[date, int, int]
    gained: int
    left: int
    begins: bool

    @property
    def on(self) -> date:
        """The day on which it was moved."""
        return self.order[0]


def batch_moves(
    session: Session, places: Collection[int], when: When
) -> dict[tuple[int, int], list[BatchMove]]:
    """The moves of batches to and from some places, by (batch, place), in order."""
    connection = session.connection()
    gains: dict[tuple[int, int], list[tuple[tuple[date, int, int], int]]] = defaultdict(list)
    for statement, sign in ((_INTO, 1), (_OUT_OF, -1)):
        for some in chunks(places):
            rows = connection.execute(statement, {"ids": some, **when.bounds()})
            for batch, place, quantity, on, number, ordinal in rows:
                gains[batch, place].append(((on, number, ordinal), sign * quantity))
    found: dict[tuple[int, int], list[BatchMove]] = defaultdict(list)
    for key, each in gains.items():
        left = 0
        for order, gained in sorted(each):
            begins, left = left <= 0, left + gained
            found[key].append(BatchMove(order, gained, left, begins and left > 0))
    return found


def stays_at(session: Session, places: Collection[int]) -> list[tuple[int, int, date, date | None]]:
    """Every stay of a piece at some places: the piece, the place, and from which day until which."""
    connection = session.connection()
    return [
        (piece, place, from_on, to_on)
        for some in chunks(places)
        for piece, place, from_on, to_on in connection.execute(_STAYS, {"ids": some})
    ]
