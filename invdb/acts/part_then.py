"""What part a piece was on a past day: it may have been made another since."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, When, records_believed, undone_records
from invdb.acts.fitted_things import parts_known
from invdb.records.chunks import chunks
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
    became: set[int] = set()
    for some in chunks(set(pieces)):
        became.update(
            session.scalars(select(Reidentification.piece_id).where(Reidentification.piece_id.in_(some)))
        )
    undone = {values.get("piece_id") for values in undone_records(session, "reidentification", when).values()}
    became.update(piece for piece in pieces if piece in undone)
    now = {row.id: row.part_id for row in _now(session, became)}
    then = {
        piece: int(str(values["part_id"]))
        for piece, values in records_believed(session, "piece", became, when).items()
    }
    changed = {piece: part for piece, part in then.items() if part != now.get(piece)}
    parts = parts_known(session, set(changed.values()), when)
    return {piece: PartThen(part, parts[part].number, parts[part].name) for piece, part in changed.items()}


def _now(session: Session, pieces: Collection[int]) -> list[Row[int, int]]:
    return [
        row
        for some in chunks(pieces)
        for row in session.execute(select(Piece.id, Piece.part_id).where(Piece.id.in_(some)))
    ]


def part_on(session: Session, piece: int, on: date) -> int:
    """The part that a piece was at the end of a day, by its id."""
    then = parts_then(session, [piece], When(on)).get(piece)
    if then is not None:
        return then.part
    return session.scalars(select(Piece.part_id).where(Piece.id == piece)).one()
