"""Where things are, kept beside the ledger: a piece's stays, a batch's holdings, a pull's counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Select, bindparam, delete, insert, select, update
from sqlalchemy.orm import InstrumentedAttribute, aliased
from sqlalchemy.sql.dml import UpdateBase

from invdb.records.chunks import chunks
from invdb.records.draft import DraftLine
from invdb.records.ledger import Entry, EntryLine
from invdb.records.nesting import check_pieces, check_pieces_over_time, that_hold
from invdb.records.stock import Batch, Holding, Piece, Place, PullLine, Stay
from invdb.rules.folding import (
    FITTED_KINDS,
    OUTSIDE_PLACE,
    Contradiction,
    Held,
    Line,
    PieceState,
    RecordKey,
    Sojourn,
    fold_batch,
    fold_piece,
    fold_pull_line,
)
from invdb.terms import LineKind, PlaceKind, Refused

Thing = tuple[int | None, int | None]


def _lines_of(key: InstrumentedAttribute[int | None]) -> Select[*tuple[Any, ...]]:
    """The key and the line, for lines of entries that were not reversed and whose key is among ``ids``."""
    reversal = aliased(Entry)
    return (
        select(
            key,
            EntryLine.entry_number,
            EntryLine.ordinal,
            Entry.happened_on,
            EntryLine.kind,
            EntryLine.piece_id,
            EntryLine.batch_id,
            EntryLine.from_place_id,
            EntryLine.to_place_id,
            EntryLine.quantity,
            EntryLine.pull_line_id,
        )
        .join(Entry, Entry.number == EntryLine.entry_number)
        .where(
            key.in_(bindparam("ids", expanding=True)),
            ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
        )
    )


# Made once: putting a statement together costs more than executing it.
_LINES_OF_PIECES = _lines_of(EntryLine.piece_id)
_LINES_OF_BATCHES = _lines_of(EntryLine.batch_id)
_LINES_OF_PULL_LINES = _lines_of(EntryLine.pull_line_id)
_STANDING = (
    select(
        Piece.id,
        Piece.tag,
        Piece.place_id,
        Piece.reserved_for,
        Stay.sequence,
        Stay.from_entry,
        Stay.from_on,
        Place.id.label("as_place"),
    )
    .outerjoin(Stay, (Stay.piece_id == Piece.id) & Stay.to_entry.is_(None))
    .outerjoin(Place, Place.piece_id == Piece.id)
    .where(Piece.id.in_(bindparam("ids", expanding=True)))
)
_HELD = select(Holding.batch_id, Holding.place_id, Holding.quantity, Holding.reserved).where(
    Holding.batch_id.in_(bindparam("ids", expanding=True))
)
_PLACES = select(Place.id, Place.kind).where(Place.id.in_(bindparam("ids", expanding=True)))
_SET_PIECE = update(Piece).where(Piece.id == bindparam("piece"))
_ADD_STAYS = insert(Stay)
_END_STAY = update(Stay).where(Stay.piece_id == bindparam("piece"), Stay.sequence == bindparam("which"))
_REMOVE_STAYS = delete(Stay).where(Stay.piece_id == bindparam("piece"))
_ADD_HOLDINGS = insert(Holding)
_SET_HOLDING = update(Holding).where(
    Holding.batch_id == bindparam("batch"), Holding.place_id == bindparam("place")
)
_REMOVE_HOLDING = delete(Holding).where(
    Holding.batch_id == bindparam("batch"), Holding.place_id == bindparam("place")
)
_REMOVE_HOLDINGS = delete(Holding).where(Holding.batch_id == bindparam("batch"))
_SET_PULL_LINE = update(PullLine).where(PullLine.id == bindparam("pull_line"))

_Row = dict[str, object]


def _write(connection: Connection, statement: UpdateBase, rows: Sequence[_Row]) -> None:
    if rows:
        connection.execute(statement, rows)


def _read_lines(
    connection: Connection, lines_of: Select[*tuple[Any, ...]], ids: Collection[int]
) -> dict[int, list[Line]]:
    found: dict[int, list[Line]] = {each: [] for each in ids}
    for some in chunks(ids):
        for key, *line in connection.execute(lines_of, {"ids": some}):
            found[key].append(Line(*line))
    return found


def _in_the_way(contradiction: Contradiction, tag: str, number: int) -> Refused:
    on = contradiction.happened_on.isoformat()
    if contradiction.number == number:
        return Refused(
            f"{tag}: this does not fit what happened up to {on}, because {contradiction.what}.",
            "Check the day, the place and how much; its trace shows where it was.",
        )
    return Refused(
        f"{tag}: entry {contradiction.number} of {on} stands in the way, because {contradiction.what}.",
        f"Look at entry {contradiction.number}, and reverse it first if it is wrong.",
    )


def rederive(connection: Connection, number: int, things: Iterable[Thing], gone: set[RecordKey]) -> None:
    """Follow things through all their lines anew, for an act that is late or that reverses.

    ``number`` is the act's own entry. Refused for the first entry in the way of any of them.
    """
    ordered = sorted(set(things), key=lambda thing: (thing[0] or 0, thing[1] or 0))
    pieces = [piece_id for piece_id, _ in ordered if piece_id is not None]
    batches = [batch_id for _, batch_id in ordered if batch_id is not None]
    piece_states: dict[int, PieceState] = {}
    held: dict[int, dict[int, Held]] = {}
    in_the_way: list[tuple[date, int, Contradiction, Thing]] = []
    for piece_id, lines in _read_lines(connection, _LINES_OF_PIECES, pieces).items():
        try:
            piece_states[piece_id] = fold_piece(lines)
        except Contradiction as caught:
            in_the_way.append((caught.happened_on, caught.number, caught, (piece_id, None)))
    for batch_id, lines in _read_lines(connection, _LINES_OF_BATCHES, batches).items():
        try:
            held[batch_id] = fold_batch(lines)
        except Contradiction as caught:
            in_the_way.append((caught.happened_on, caught.number, caught, (None, batch_id)))
    if in_the_way:
        _, _, first, thing = min(in_the_way, key=lambda each: each[:2])
        raise _in_the_way(first, _tag(connection, thing), number) from first
    staying = {piece_id: state for piece_id, state in piece_states.items() if ("piece", piece_id) not in gone}
    _write(connection, _REMOVE_STAYS, [{"piece": piece_id} for piece_id in pieces])
    _write(
        connection,
        _ADD_STAYS,
        [
            _stay(piece_id, sequence, each)
            for piece_id, state in staying.items()
            for sequence, each in enumerate(state.sojourns, start=1)
        ],
    )
    _write(
        connection,
        _SET_PIECE,
        [_set_piece(piece_id, state.place, state.reserved_for) for piece_id, state in staying.items()],
    )
    places = {piece_id: state.place for piece_id, state in staying.items()}
    check_pieces(connection, places, that_hold(connection, places))
    check_pieces_over_time(connection, staying)
    _write(connection, _REMOVE_HOLDINGS, [{"batch": batch_id} for batch_id in held])
    _write(
        connection,
        _ADD_HOLDINGS,
        [_holding(batch_id, place, each) for batch_id in held for place, each in held[batch_id].items()],
    )


def _tag(connection: Connection, thing: Thing) -> str:
    piece_id, batch_id = thing
    if piece_id is not None:
        return connection.scalar(select(Piece.tag).where(Piece.id == piece_id)) or f"piece {piece_id}"
    return connection.scalar(select(Batch.tag).where(Batch.id == batch_id)) or f"batch {batch_id}"


def _set_piece(piece_id: int, place: int, reserved_for: int | None) -> _Row:
    return {"piece": piece_id, "place_id": place, "reserved_for": reserved_for}


def _holding(batch_id: int, place: int, held: Held) -> _Row:
    return {
        "batch_id": batch_id,
        "place_id": place,
        "quantity": held.quantity,
        "reserved": held.reserved,
    }


def _stay(piece_id: int, sequence: int, sojourn: Sojourn) -> _Row:
    return {
        "piece_id": piece_id,
        "sequence": sequence,
        "place_id": sojourn.place,
        "from_on": sojourn.from_on,
        "from_entry": sojourn.from_entry,
        "to_on": sojourn.to_on,
        "to_entry": sojourn.to_entry,
    }


def apply(connection: Connection, lines: Sequence[DraftLine], happened_on: date, number: int) -> None:
    """Follow things through lines from where they stand: only if no entry is of a later day."""
    of_piece: dict[int, list[DraftLine]] = defaultdict(list)
    of_batch: dict[int, list[DraftLine]] = defaultdict(list)
    for line in lines:
        if line.piece_id is not None:
            of_piece[line.piece_id].append(line)
        elif line.batch_id is not None:
            of_batch[line.batch_id].append(line)
    if of_piece:
        _apply_to_pieces(connection, of_piece, happened_on, number)
    if of_batch:
        _apply_to_batches(connection, of_batch)


def _apply_to_pieces(
    connection: Connection, of_piece: dict[int, list[DraftLine]], happened_on: date, number: int
) -> None:
    rows = {row.id: row for some in chunks(of_piece) for row in connection.execute(_STANDING, {"ids": some})}
    changed: list[_Row] = []
    closed: list[_Row] = []
    opened: list[_Row] = []
    moved: dict[int, int] = {}
    for piece_id, lines in of_piece.items():
        row = rows[piece_id]
        place, reserved_for, sequence = row.place_id, row.reserved_for, row.sequence or 0
        fresh: _Row | None = None
        for line in lines:
            if line.from_place_id != place:
                raise _moved_on(row.tag, row.from_entry, row.from_on)
            if line.kind is LineKind.RESERVE:
                wanted = None if line.quantity > 0 else line.pull_line_id
                if reserved_for != wanted:
                    raise Refused(f"{row.tag} is reserved for another pull.", "Choose another piece.")
                reserved_for = line.pull_line_id if line.quantity > 0 else None
                continue
            place = line.to_place_id
            if fresh is not None:
                opened[-1] |= {"to_on": happened_on, "to_entry": number}
            elif sequence:
                closed.append(
                    {"piece": piece_id, "which": sequence, "to_on": happened_on, "to_entry": number}
                )
            sequence += 1
            fresh = _stay(piece_id, sequence, Sojourn(place, happened_on, number))
            opened.append(fresh)
        if (place, reserved_for) != (row.place_id, row.reserved_for):
            changed.append(_set_piece(piece_id, place, reserved_for))
        if fresh is not None:
            moved[piece_id] = place
    _write(connection, _SET_PIECE, changed)
    check_pieces(connection, moved, [piece_id for piece_id in moved if rows[piece_id].as_place is not None])
    _write(connection, _END_STAY, closed)
    _write(connection, _ADD_STAYS, opened)


def _moved_on(tag: str, entry_number: int | None, moved_on: date | None) -> Refused:
    if entry_number is None or moved_on is None:
        return Refused(f"{tag} has not come in yet.", "Book it in first.")
    return Refused(
        f"{tag} is no longer there: entry {entry_number} of {moved_on.isoformat()} moved it.",
        "Look again, and start from where it is now.",
    )


def _apply_to_batches(connection: Connection, of_batch: dict[int, list[DraftLine]]) -> None:
    before: dict[int, dict[int, Held]] = defaultdict(dict)
    for some in chunks(of_batch):
        for batch_id, place, quantity, reserved in connection.execute(_HELD, {"ids": some}):
            before[batch_id][place] = Held(quantity, reserved)
    removed: list[_Row] = []
    changed: list[_Row] = []
    added: list[_Row] = []
    for batch_id, lines in of_batch.items():
        was = before[batch_id]
        now = _held_after(connection, batch_id, was, lines)
        removed += [{"batch": batch_id, "place": place} for place in was.keys() - now.keys()]
        changed += [
            {
                "batch": batch_id,
                "place": place,
                "quantity": now[place].quantity,
                "reserved": now[place].reserved,
            }
            for place in was.keys() & now.keys()
            if now[place] != was[place]
        ]
        added += [_holding(batch_id, place, now[place]) for place in now.keys() - was.keys()]
    _write(connection, _REMOVE_HOLDING, removed)
    _write(connection, _SET_HOLDING, changed)
    _write(connection, _ADD_HOLDINGS, added)


def _held_after(
    connection: Connection, batch_id: int, before: dict[int, Held], lines: list[DraftLine]
) -> dict[int, Held]:
    """What lies where after these lines; Refused where they take more than is free."""
    quantity: dict[int, int] = defaultdict(int, {place: held.quantity for place, held in before.items()})
    reserved: dict[int, int] = defaultdict(int, {place: held.reserved for place, held in before.items()})
    for line in lines:
        if line.kind is LineKind.RESERVE:
            reserved[line.from_place_id] += line.quantity
        else:
            quantity[line.from_place_id] -= line.quantity
            quantity[line.to_place_id] += line.quantity
    quantity.pop(OUTSIDE_PLACE, None)
    after: dict[int, Held] = {}
    for place in quantity.keys() | reserved.keys():
        if quantity[place] < 0 or not 0 <= reserved[place] <= quantity[place]:
            free = before.get(place, Held(0, 0))
            raise Refused(
                f"{_tag(connection, (None, batch_id))} has only {free.quantity - free.reserved} free there"
                f" ({free.quantity} less {free.reserved} reserved).",
                "Take less, or look where the rest is.",
            )
        if quantity[place]:
            after[place] = Held(quantity[place], reserved[place])
    return after


def rederive_pull_lines(connection: Connection, pull_lines: Collection[int]) -> None:
    """Count anew what pull lines have set aside, were given and gave back."""
    lines = _read_lines(connection, _LINES_OF_PULL_LINES, pull_lines)
    places = {place for each in lines.values() for line in each for place in (line.from_place, line.to_place)}
    kinds = {
        place: kind for some in chunks(places) for place, kind in connection.execute(_PLACES, {"ids": some})
    }
    pull_places = {place for place, kind in kinds.items() if kind is PlaceKind.PULL}
    fitted_places = {place for place, kind in kinds.items() if kind in FITTED_KINDS}
    counted: list[_Row] = []
    for pull_line, each in lines.items():
        pulled = fold_pull_line(each, pull_places, fitted_places)
        counted.append(
            {
                "pull_line": pull_line,
                "reserved": pulled.reserved,
                "issued": pulled.issued,
                "returned": pulled.returned,
                "fitted": pulled.fitted,
            }
        )
    _write(connection, _SET_PULL_LINE, counted)
