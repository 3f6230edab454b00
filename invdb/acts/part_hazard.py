"""What can hurt a person who handles a part: add a hazard, or change its caution."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.change import refuse_stale
from invdb.acts.kit_line_edit import begin_change
from invdb.records.catalogue import Part, PartHazard
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.terms import FieldRefused, Hazard, Refused


def add_hazard(session: Session, part: int, hazard: Hazard, caution: str, by: By) -> int:
    """Add a hazard of a part with its caution; returns its id. The reason is the note."""
    draft = begin_change(session, by)
    number = session.scalar(select(Part.house_number).where(Part.id == part))
    if number is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")
    twice = select(PartHazard.id).where(PartHazard.part_id == part, PartHazard.hazard == hazard)
    if session.scalar(twice) is not None:
        raise FieldRefused("hazard", f"{number} has the hazard {hazard} already.", "Change its caution.")
    made = draft.new(session, "part_hazard", part_id=part, hazard=hazard, caution=one_line(caution))
    post(session, draft)
    return made


def change_caution(session: Session, hazard: int, seen: int, caution: str, by: By) -> int:
    """Change the caution of a hazard; returns the entry's number. The reason is the note.

    ``seen`` is the entry that had set it when the person looked; Refused when another has set it since.
    """
    draft = begin_change(session, by)
    caution = one_line(caution)
    refuse_stale(session, "part_hazard", hazard, seen, {"caution": caution})
    if session.scalar(select(PartHazard.caution).where(PartHazard.id == hazard)) == caution:
        raise FieldRefused("caution", "The caution is as it was.", "Change it, or leave it.")
    draft.set("part_hazard", hazard, caution=caution)
    return post(session, draft).number
