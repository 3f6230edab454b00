"""Where things are, kept beside the ledger: a piece's stays, a batch's holdings, a pull's counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session, aliased

from invdb.records.draft import DraftLine
from invdb.records.ledger import Entry, EntryLine
from invdb.records.stock import Batch, Holding, Piece, Place, PullLine, Stay
from invdb.rules.folding import (
    OUTSIDE_PLACE,
    Contradiction,
    Held,
    Line,
    RecordKey,
    Sojourn,
    fold_batch,
    fold_piece,
    fold_pull_line,
)
from invdb.terms import LineKind, Refused

NESTING_MAX = 8
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
        for line, happened_on in session.execute(query).tuples()
    ]


def _in_the_way(contradiction: Contradiction, tag: str) -> Refused:
    return Refused(
        f"{tag}: entry {contradiction.number} of {contradiction.happened_on.isoformat()} stands in the way,"
        f" because {contradiction.what}.",
        f"Look at entry {contradiction.number}, and reverse it first if it is wrong.",
    )


def rederive(session: Session, things: Iterable[Thing], gone: set[RecordKey]) -> None:
    """Follow things through all their lines anew, for an act that is late or that reverses."""
    for piece_id, batch_id in sorted(things, key=lambda thing: (thing[0] or 0, thing[1] or 0)):
        if piece_id is not None:
            _rederive_piece(session, piece_id, ("piece", piece_id) in gone)
        elif batch_id is not None:
            _rederive_batch(session, batch_id)


def _rederive_piece(session: Session, piece_id: int, gone: bool) -> None:
    lines = lines_of(session, piece=piece_id)
    try:
        state = fold_piece(lines)
    except Contradiction as contradiction:
        tag = session.scalar(select(Piece.tag).where(Piece.id == piece_id)) or f"piece {piece_id}"
        raise _in_the_way(contradiction, tag) from contradiction
    session.execute(delete(Stay).where(Stay.piece_id == piece_id))
    if gone:
        return
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
    _check_nesting(session, piece_id, state.place)


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


def _rederive_batch(session: Session, batch_id: int) -> None:
    try:
        held = fold_batch(lines_of(session, batch=batch_id))
    except Contradiction as contradiction:
        raise _in_the_way(contradiction, _batch_tag(session, batch_id)) from contradiction
    session.execute(delete(Holding).where(Holding.batch_id == batch_id))
    _insert_holdings(session, batch_id, held)


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
    """Follow things through today's lines from where they stand: nothing can be later than today."""
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
            _check_nesting(session, piece_id, place)
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
        ).tuples()
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
                f"{_batch_tag(session, batch_id)} has only {free.quantity - free.reserved} free there"
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


def _batch_tag(session: Session, batch_id: int) -> str:
    return session.scalar(select(Batch.tag).where(Batch.id == batch_id)) or f"batch {batch_id}"


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


def _check_nesting(session: Session, piece_id: int, place_id: int) -> None:
    """Refuse a piece inside itself, and pieces within pieces more than ``NESTING_MAX`` deep."""
    place: int | None = place_id
    nested = 0
    for _ in range(10 * NESTING_MAX):
        if place is None:
            return
        holder, parent = session.execute(
            select(Place.piece_id, Place.parent_id).where(Place.id == place)
        ).one()
        if holder is None:
            place = parent
            continue
        nested += 1
        if holder == piece_id:
            raise Refused("A piece can't be put inside itself.", "Check which of the two holds the other.")
        if nested > NESTING_MAX:
            raise Refused(
                f"Pieces stand more than {NESTING_MAX} deep in each other there.", "Strip one first."
            )
        place = session.scalar(select(Piece.place_id).where(Piece.id == holder))
    raise Refused("The places there do not lead outward.", "Run `invdb check`.")
