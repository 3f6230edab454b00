"""Makers' serials: the same part with the same serial is the same piece."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.catalogue import Part
from invdb.records.draft import Draft
from invdb.records.registry import one_line
from invdb.records.stock import Piece, Place
from invdb.terms import FieldRefused


def refuse_known_serial(session: Session, draft: Draft, part: int, serial: str) -> None:
    """Refuse a serial that a piece of the part has already, here or in the draft; none is never refused."""
    wanted = one_line(serial).casefold()
    if not wanted:
        return
    number = session.scalar(select(Part.house_number).where(Part.id == part))
    here = session.execute(
        select(Piece.tag, Piece.serial, Place.name)
        .join(Place, Place.id == Piece.place_id)
        .where(Piece.part_id == part, Piece.serial.is_not(None))
        .order_by(Piece.tag)
    )
    known = next((row for row in here if str(row.serial).casefold() == wanted), None)
    if known is not None:
        raise FieldRefused(
            "serial",
            f"{number} with serial {known.serial} is here already: {known.tag}, in {known.name}.",
            f"Look at {known.tag}; if both are real, leave the serial empty and say so in the note.",
        )
    for fact in draft.facts:
        drafted = fact.values.get("serial")
        same_part = fact.record == "piece" and fact.values.get("part_id") == part
        if same_part and drafted is not None and str(drafted).casefold() == wanted:
            raise FieldRefused(
                "serial", f"{number} with serial {drafted} is named twice.", "Check the serials."
            )
