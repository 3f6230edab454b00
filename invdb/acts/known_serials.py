"""A maker's serial stands once: no two pieces of one part have the same."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.registry import one_line
from invdb.records.stock import Piece, Place
from invdb.terms import FieldRefused


def refuse_known_serials(session: Session, part: int, given: Collection[str]) -> None:
    """Refuse serials of pieces of a part that are given twice or that a piece here has; '' is none."""
    serials = [one_line(serial) for serial in given if serial.strip()]
    folded = [serial.casefold() for serial in serials]
    twice = {serial for serial in serials if folded.count(serial.casefold()) > 1}
    if twice:
        raise FieldRefused("serial", f"The serial {min(twice)} is given twice.", "Check the pieces in hand.")
    if not serials:
        return
    # Case is told here, since SQLite knows it of A to Z alone.
    here = session.execute(
        select(Piece.tag, Piece.serial, Place.name)
        .join(Place, Place.id == Piece.place_id)
        .where(Piece.part_id == part, Piece.serial.is_not(None))
        .order_by(Piece.id)
    )
    known = next((row for row in here if str(row.serial).casefold() in folded), None)
    if known is not None:
        raise FieldRefused(
            "serial",
            f"The serial {known.serial} of this part is here already: {known.tag}, in {known.name}.",
            f"Look at {known.tag}; if both are real, leave this one's serial empty and say so in the note.",
        )
