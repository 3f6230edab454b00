"""Where things are, kept beside the ledger: a piece's stays, a batch's holdings, a pull's counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session, aliased

from invdb.records.draft import DraftLine
from invdb.records.ledger import Entry, EntryLine
from invdb.records.nesting import check_pieces, check_pieces_over_time
from invdb.records.stock import Batch, Holding, Piece, Place, PullLine, Stay
from invdb.rules.folding import (
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
from invdb.terms import LineKind, Refused

Thing = tuple[int | None, int | None]


def lines_of(
    session: Session, *, piece: int | None = None, batch: int | None = None, pull_line: int | None = None
) -> list[Line]:
    """The lines of a piece, a batch or a pull line, of entries that were not reversed."""
    reversal = aliased(Entry)
    query = (
        select(EntryLine, Entry.happened_on)
        .join(Entry, Entry.number == EntryLine.entry_number)
        .where(~select(reversal.number).where(reversal.reverses == Entry.number).exists())
    )
    if piece is not None:
        query = query.where(EntryLine.piece_id == piece)
    if batch is not None:
        query = query.where(EntryLine.batch_id == batch)
    if pull_line is not None:
        query = query.where(EntryLine.pull_line_id == pull_line)
    return [
        Line(
            line.entry_number,
            line.ordinal,
            happened_on,
            line.kind,
            line.piece_id,
            line.batch_id,
            line.from_place_id,
            line.to_place_id,
            line.quantity,
            line.pull_line_id,
        )
        for line, happened_on in session.execute(query)
    ]


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


def rederive(session: Session, number: int, things: Iterable[Thing], gone: set[RecordKey]) -> None:
    """Follow things through all their lines anew, for an act that is late or that reverses.

    ``number`` is the act's own entry. Refused for the first entry in the way of any of them.
    """
    ordered = sorted(set(things), key=lambda thing: (thing[0] or 0, thing[1] or 0))
    pieces = [piece_id for piece_id, _ in ordered if piece_id is not None]
    batches = [batch_id for _, batch_id in ordered if batch_id is not None]
    piece_states: dict[int, PieceState] = {}
    held: dict[int, dict[int, Held]] = {}
    in_the_way: list[tuple[date, int, Contradiction, Thing]] = []
    for piece_id in pieces:
        try:
            piece_states[piece_id] = fold_piece(lines_of(session, piece=piece_id))
        except Contradiction as caught:
            in_the_way.append((caught.happened_on, caught.number, caught, (piece_id, None)))
    for batch_id in batches:
        try:
            held[batch_id] = fold_batch(lines_of(session, batch=batch_id))
        except Contradiction as caught:
            in_the_way.append((caught.happened_on, caught.number, caught, (None, batch_id)))
    if in_the_way:
        _, _, first, thing = min(in_the_way, key=lambda each: each[:2])
        raise _in_the_way(first, _tag(session, thing), number) from first
    staying = {piece_id: state for piece_id, state in piece_states.items() if ("piece", piece_id) not in gone}
    for piece_id in pieces:
        session.execute(delete(Stay).where(Stay.piece_id == piece_id))
    for piece_id, state in staying.items():
        _set_piece(session, piece_id, state)
    check_pieces(session, staying)
    check_pieces_over_time(session, staying)
    for batch_id, by_place in held.items():
        session.execute(delete(Holding).where(Holding.batch_id == batch_id))
        _insert_holdings(session, batch_id, by_place)


def _tag(session: Session, thing: Thing) -> str:
    piece_id, batch_id = thing
    if piece_id is not None:
        return session.scalar(select(Piece.tag).where(Piece.id == piece_id)) or f"piece {piece_id}"
    return session.scalar(select(Batch.tag).where(Batch.id == batch_id)) or f"batch {batch_id}"


def _set_piece(session: Session, piece_id: int, state: PieceState) -> None:
    if state.sojourns:
        session.connection().execute(
            insert(Stay),
            [_stay(piece_id, sequence, each) for sequence, each in enumerate(state.sojourns, start=1)],
        )
    session.execute(
        update(Piece)
        .where(Piece.id == piece_id)
        .values(place_id=state.place, reserved_for=state.reserved_for)
        .execution_options(synchronize_session=False)
    )


def _stay(piece_id: int, sequence: int, sojourn: Sojourn) -> dict[str, object]:
    return {
        "piece_id": piece_id,
        "sequence": sequence,
        "place_id": sojourn.place,
        "from_on": sojourn.from_on,
        "from_entry": sojourn.from_entry,
        "to_on": sojourn.to_on,
        "to_entry": sojourn.to_entry,
    }


def _insert_holdings(session: Session, batch_id: int, held: dict[int, Held]) -> None:
    if held:
        session.connection().execute(
            insert(Holding),
            [
                {
                    "batch_id": batch_id,
                    "place_id": place,
                    "quantity": each.quantity,
                    "reserved": each.reserved,
                }
                for place, each in held.items()
            ],
        )


def apply(session: Session, lines: Sequence[DraftLine], happened_on: date, number: int) -> None:
    """Follow things through lines from where they stand: only if no entry is of a later day."""
    of_piece: dict[int, list[DraftLine]] = defaultdict(list)
    of_batch: dict[int, list[DraftLine]] = defaultdict(list)
    for line in lines:
        if line.piece_id is not None:
            of_piece[line.piece_id].append(line)
        elif line.batch_id is not None:
            of_batch[line.batch_id].append(line)
    if of_piece:
        _apply_to_pieces(session, of_piece, happened_on, number)
    for batch_id, batch_lines in of_batch.items():
        _apply_to_batch(session, batch_id, batch_lines)


def _apply_to_pieces(
    session: Session, of_piece: dict[int, list[DraftLine]], happened_on: date, number: int
) -> None:
    ids = list(of_piece)
    rows = {}
    for start in range(0, len(ids), 500):
        query = (
            select(
                Piece.id,
                Piece.tag,
                Piece.place_id,
                Piece.reserved_for,
                Stay.sequence,
                Stay.from_entry,
                Stay.from_on,
            )
            .outerjoin(Stay, (Stay.piece_id == Piece.id) & Stay.to_entry.is_(None))
            .where(Piece.id.in_(ids[start : start + 500]))
        )
        rows.update({row.id: row for row in session.execute(query)})
    closed: list[tuple[int, int]] = []
    opened: list[dict[str, object]] = []
    moved: list[int] = []
    for piece_id, lines in of_piece.items():
        row = rows[piece_id]
        place, reserved_for, sequence = row.place_id, row.reserved_for, row.sequence or 0
        fresh: dict[str, object] | None = None
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
                closed.append((piece_id, sequence))
            sequence += 1
            fresh = _stay(piece_id, sequence, Sojourn(place, happened_on, number))
            opened.append(fresh)
        if (place, reserved_for) != (row.place_id, row.reserved_for):
            session.execute(
                update(Piece)
                .where(Piece.id == piece_id)
                .values(place_id=place, reserved_for=reserved_for)
                .execution_options(synchronize_session=False)
            )
        if fresh is not None:
            moved.append(piece_id)
    check_pieces(session, moved)
    for piece_id, sequence in closed:
        session.execute(
            update(Stay)
            .where(Stay.piece_id == piece_id, Stay.sequence == sequence)
            .values(to_on=happened_on, to_entry=number)
            .execution_options(synchronize_session=False)
        )
    if opened:
        session.connection().execute(insert(Stay), opened)


def _moved_on(tag: str, entry_number: int | None, moved_on: date | None) -> Refused:
    if entry_number is None or moved_on is None:
        return Refused(f"{tag} has not come in yet.", "Book it in first.")
    return Refused(
        f"{tag} is no longer there: entry {entry_number} of {moved_on.isoformat()} moved it.",
        "Look again, and start from where it is now.",
    )


def _apply_to_batch(session: Session, batch_id: int, lines: list[DraftLine]) -> None:
    before = {
        place: Held(quantity, reserved)
        for place, quantity, reserved in session.execute(
            select(Holding.place_id, Holding.quantity, Holding.reserved).where(Holding.batch_id == batch_id)
        )
    }
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
                f"{_tag(session, (None, batch_id))} has only {free.quantity - free.reserved} free there"
                f" ({free.quantity} less {free.reserved} reserved).",
                "Take less, or look where the rest is.",
            )
        if quantity[place]:
            after[place] = Held(quantity[place], reserved[place])
    for place in before.keys() - after.keys():
        session.execute(delete(Holding).where(Holding.batch_id == batch_id, Holding.place_id == place))
    for place in before.keys() & after.keys():
        if after[place] != before[place]:
            session.execute(
                update(Holding)
                .where(Holding.batch_id == batch_id, Holding.place_id == place)
                .values(quantity=after[place].quantity, reserved=after[place].reserved)
                .execution_options(synchronize_session=False)
            )
    _insert_holdings(session, batch_id, {place: after[place] for place in after.keys() - before.keys()})


def rederive_pull_lines(session: Session, pull_lines: Iterable[int]) -> None:
    """Count anew what pull lines have set aside, were given and gave back."""
    for pull_line in pull_lines:
        lines = lines_of(session, pull_line=pull_line)
        places = {line.from_place for line in lines}
        pull_places = set(
            session.scalars(select(Place.id).where(Place.id.in_(places), Place.pull_id.is_not(None)))
        )
        pulled = fold_pull_line(lines, pull_places)
        session.execute(
            update(PullLine)
            .where(PullLine.id == pull_line)
            .values(reserved=pulled.reserved, issued=pulled.issued, returned=pulled.returned)
            .execution_options(synchronize_session=False)
        )
