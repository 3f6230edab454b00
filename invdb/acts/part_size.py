"""The oversizes and undersizes that a part is made in, besides its own size."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.by import By, begin_draft
from invdb.records.catalogue import Part, PartSize
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.rules.specification import single_spaced
from invdb.terms import EntryKind, FieldRefused, Refused

# What a size that has no name is called everywhere.
STANDARD = frozenset({"standard", "standard size"})


@dataclass(frozen=True)
class NewPartSize:
    """A size of a part, as its label names it: ``0.25 mm oversize``; ``sequence`` None for after the rest."""

    part: int
    size_class: str
    note: str = ""
    sequence: int | None = None


@dataclass(frozen=True)
class PartSizeFacts:
    """A size that a part is made in; ``id`` is None for the part's own, '' where that is standard."""

    id: int | None
    size_class: str
    note: str = ""


def add_part_size(session: Session, size: NewPartSize, by: By) -> int:
    """Add an oversize or undersize of a part; returns its id. Refused when the part has it already."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    size_id = draft_part_size(session, draft, size)
    post(session, draft)
    return size_id


def draft_part_size(session: Session, draft: Draft, size: NewPartSize) -> int:
    """Put a size of a part into a draft; see ``add_part_size``."""
    name = single_spaced(size.size_class)
    if not name:
        raise FieldRefused("size_class", "The size has no name.", "Type it as its label does.")
    standing = sizes_known(session, size.part, draft)
    if name.casefold() in STANDARD:
        raise FieldRefused(
            "size_class", f"{name!r} is how a part's own size is called.", "Name an oversize or undersize."
        )
    if name.casefold() in {single_spaced(each).casefold() for each in standing}:
        raise FieldRefused("size_class", f"The part has the size {name} already.", "Give it once.")
    return draft.new(
        session,
        "part_size",
        part_id=size.part,
        size_class=name,
        # Its own size stands first among those known.
        sequence=len(standing) if size.sequence is None else size.sequence,
        note=size.note,
    )


def withdraw_part_size(session: Session, size: int, because: str, by: By) -> int:
    """Say that a part is no longer kept in a size; returns the entry's number. Pieces keep what they are."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    row = session.execute(select(PartSize.withdrawn_on).where(PartSize.id == size)).one_or_none()
    if row is None:
        raise Refused("There is no such size.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That size was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the size is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("part_size", size, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def sizes_of(session: Session, part: int, on: date | None = None) -> tuple[PartSizeFacts, ...]:
    """The sizes that a part is made in on a day (None: today), its own first."""
    day = as_of(session, on)
    own = _own_size(session, part)
    rows = session.execute(
        select(PartSize.id, PartSize.size_class, PartSize.note)
        .where(PartSize.part_id == part, or_(PartSize.withdrawn_on.is_(None), PartSize.withdrawn_on > day))
        .order_by(PartSize.sequence, PartSize.id)
    )
    return (
        PartSizeFacts(None, own),
        *(PartSizeFacts(row.id, row.size_class, row.note) for row in rows),
    )


def sizes_known(session: Session, part: int, draft: Draft) -> tuple[str, ...]:
    """The names of the sizes that a part has, its own first, those that a draft adds included."""
    own = _own_size(session, part)
    standing = session.scalars(
        select(PartSize.size_class)
        .where(PartSize.part_id == part, PartSize.withdrawn_on.is_(None))
        .order_by(PartSize.sequence, PartSize.id)
    )
    drafted = (
        str(fact.values["size_class"])
        for fact in draft.facts
        if fact.record == "part_size" and fact.values.get("part_id") == part
    )
    return (own, *standing, *drafted)


def _own_size(session: Session, part: int) -> str:
    own = session.scalar(select(Part.size_class).where(Part.id == part))
    if own is None:
        raise FieldRefused("part", "There is no such part.", "Choose one, or add it first.")
    return own
