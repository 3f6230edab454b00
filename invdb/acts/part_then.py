"""What part a piece was on a past day: it may have been made another since."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, When
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.ledger import Entry
from invdb.records.stock import Piece
from invdb.records.work import Reidentification


@dataclass(frozen=True)
class PartThen:
    """A piece's part as it was, with its house number and its name."""

    part: int
    number: str
    name: str


def parts_then(session: Session, pieces: Collection[int], when: When = NOW) -> dict[int, PartThen]:
    """The part of each piece at the end of a day as believed at an instant, for those that were another then.

    Pieces whose part has not changed since are left out: what the catalogue says of them now was so then.
    """
    if when == NOW:
        return {}
    first_after: dict[int, int] = {}
    for some in chunks(set(pieces)):
        rows = session.execute(
            select(
                Reidentification.piece_id,
                Reidentification.old_part_id,
                Reidentification.reidentified_on,
                Entry.recorded_at,
            )
            .join(Entry, Entry.number == Reidentification.set_by)
            .where(Reidentification.piece_id.in_(some))
            .order_by(Reidentification.reidentified_on, Reidentification.set_by)
        )
        for piece, old, on, recorded_at in rows:
            if piece not in first_after and _is_after(on, recorded_at, when):
                first_after[piece] = old
    names = {
        row.id: PartThen(row.id, row.house_number, row.name)
        for row in session.execute(
            select(Part.id, Part.house_number, Part.name).where(Part.id.in_(set(first_after.values())))
        )
    }
    return {piece: names[part] for piece, part in first_after.items()}


def _is_after(on: date, recorded_at: datetime, when: When) -> bool:
    """Whether it had not happened, or was not known, by then."""
    late = when.on is not None and on > when.on
    return late or (when.believed_at is not None and recorded_at > when.believed_at)


def part_on(session: Session, piece: int, on: date) -> int:
    """The part that a piece was at the end of a day, by its id."""
    then = parts_then(session, [piece], When(on)).get(piece)
    if then is not None:
        return then.part
    return session.scalars(select(Piece.part_id).where(Piece.id == piece)).one()
