"""Change what the catalogue says of a part itself, its numbers and hazards, each with its reason."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.catalogue import NewOtherNumber, draft_other_number
from invdb.acts.change import change_part, refuse_stale
from invdb.acts.kit_line_edit import begin_change
from invdb.records.catalogue import OtherNumber, Part, PartHazard
from invdb.records.posting import post
from invdb.records.stock import Batch, Piece
from invdb.terms import Asked, EntryKind, FieldRefused, Hazard, Refused


def edit_part(
    session: Session, part: int, seen: int, changes: Mapping[str, object], by: By, sure: bool = False
) -> int:
    """Change a part's name, note, critical, shelf life, size or finish; returns the entry's number.

    See ``change_part`` for the columns and for what is refused; the reason is the note. What is in the store
    keeps the shelf life it was booked in with. Asked before another size or finish is given to what pieces
    and batches are held as already, unless ``sure``.
    """
    if not by.note.strip():
        raise FieldRefused("reason", "It isn't said why this is changed.", "Type the reason.")
    kept = session.get(Part, part, populate_existing=True)
    if kept is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")
    trimmed = {name: value.strip() if isinstance(value, str) else value for name, value in changes.items()}
    changed = {name: value for name, value in trimmed.items() if getattr(kept, name, None) != value}
    if not sure:
        for name in ("size_class", "finish"):
            if name in changed:
                _ask_of_stock(session, part, name, str(getattr(kept, name)), str(changed[name]))
    return change_part(session, part, seen, changed, by)


def add_number(session: Session, part: int, number: NewOtherNumber, by: By) -> int:
    """Add a number by which others know a part; returns its id. The reason is the note."""
    draft = begin_change(session, by)
    _refuse_no_part(session, part)
    made = draft_other_number(session, draft, part, number)
    post(session, draft)
    return made


def correct_number(session: Session, number: int, seen: int, corrected: NewOtherNumber, by: By) -> int:
    """Correct a number that was written wrongly, its kind or its firm; returns the entry's number.

    Refused when another changed it since ``seen``, and when the part has the number already.
    """
    draft = begin_change(session, by)
    row = session.get(OtherNumber, number, populate_existing=True)
    if row is None:
        raise Refused("There is no such number.", "Look again.")
    _refuse_withdrawn(row.withdrawn_on, "number")
    # The checks of a new number are those of a corrected one; only its facts go to the old one.
    same = (row.number.casefold(), row.firm_id) == (corrected.number.strip().casefold(), corrected.firm)
    if not same:
        trial = begin_draft(session, EntryKind.CATALOGUE, by)
        draft_other_number(session, trial, row.part_id, corrected)
    wanted = {"number": corrected.number.strip(), "kind": corrected.kind.strip(), "firm_id": corrected.firm}
    changed = {name: value for name, value in wanted.items() if getattr(row, name) != value}
    refuse_stale(session, "other_number", number, seen, changed)
    if not changed:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    draft.set("other_number", number, **changed)
    return post(session, draft).number


def withdraw_number(session: Session, number: int, seen: int, by: By) -> int:
    """Say that a number is the part's no more; returns the entry's number. The reason is the note.

    It is not found by it any more, and its history keeps it.
    """
    draft = begin_change(session, by)
    row = session.get(OtherNumber, number, populate_existing=True)
    if row is None:
        raise Refused("There is no such number.", "Look again.")
    _refuse_withdrawn(row.withdrawn_on, "number")
    refuse_stale(session, "other_number", number, seen)
    draft.set("other_number", number, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def add_hazard(session: Session, part: int, hazard: Hazard, caution: str, by: By) -> int:
    """Say what can hurt a person who handles a part, with the caution; returns its id.

    The reason is the note. Refused without a caution, and for a hazard that the part has already.
    """
    draft = begin_change(session, by)
    _refuse_no_part(session, part)
    _refuse_no_caution(caution)
    standing = select(PartHazard.id).where(
        PartHazard.part_id == part, PartHazard.hazard == hazard, PartHazard.withdrawn_on.is_(None)
    )
    if session.scalar(standing) is not None:
        raise FieldRefused("hazard", f"The part is {hazard} already.", "Change its caution instead.")
    made = draft.new(session, "part_hazard", part_id=part, hazard=hazard, caution=caution)
    post(session, draft)
    return made


def change_caution(session: Session, hazard: int, seen: int, caution: str, by: By) -> int:
    """Say otherwise what to do about a hazard of a part; returns the entry's number. See ``add_hazard``."""
    draft = begin_change(session, by)
    _refuse_no_caution(caution)
    refuse_stale(session, "part_hazard", hazard, seen, {"caution": caution.strip()})
    if session.scalars(select(PartHazard.caution).where(PartHazard.id == hazard)).one() == caution.strip():
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    draft.set("part_hazard", hazard, caution=caution)
    return post(session, draft).number


def withdraw_hazard(session: Session, hazard: int, seen: int, by: By, sure: bool = False) -> int:
    """Say that a part has a hazard no more; returns the entry's number. The reason is the note.

    Asked unless ``sure``: whoever handles it is not warned from then on.
    """
    draft = begin_change(session, by)
    row = session.get(PartHazard, hazard, populate_existing=True)
    if row is None:
        raise Refused("There is no such hazard.", "Look again.")
    _refuse_withdrawn(row.withdrawn_on, "hazard")
    refuse_stale(session, "part_hazard", hazard, seen)
    if not sure:
        raise Asked(
            "hazard",
            f"Nobody who handles it will be warned any more that it is {row.hazard}.",
            "Check it against the maker's data, or say that it is so.",
        )
    draft.set("part_hazard", hazard, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def _refuse_withdrawn(withdrawn_on: date | None, what: str) -> None:
    if withdrawn_on is not None:
        raise Refused(
            f"That {what} was withdrawn on {withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )


def _refuse_no_part(session: Session, part: int) -> None:
    if session.scalar(select(Part.id).where(Part.id == part)) is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")


def _refuse_no_caution(caution: str) -> None:
    if not caution.strip():
        raise FieldRefused("caution", "It isn't said what to do about it.", "Type the caution.")


def _ask_of_stock(session: Session, part: int, column: str, was: str, becomes: str) -> None:
    """Ask before what lies here, and is what its part is, would be called something else."""
    tables: tuple[type[Piece] | type[Batch], ...] = (Piece, Batch)
    held = 0
    for table in tables:
        as_the_part = (table.part_id == part) & (getattr(table, column) == "")
        held += session.scalar(select(func.count()).select_from(table).where(as_the_part)) or 0
    if held:
        what = "size" if column == "size_class" else "finish"
        tags = "1 tag of it is" if held == 1 else f"{held} tags of it are"
        raise Asked(
            column,
            f"{tags} held as its own {what}, {was or 'standard'}, and would be {becomes or 'standard'}.",
            "Re-identify what was changed piece by piece, or say that all of it was so from the first.",
        )
