"""Make a piece another part, or another size or finish of the same: rebored, plated back, repaired to a
suffix.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.life_limit import read_limits
from invdb.acts.matched import draft_reworked
from invdb.acts.move import check_within_reach
from invdb.acts.numbers import Thing
from invdb.acts.papers import refuse_unknown_document
from invdb.acts.part_size import sizes_known
from invdb.acts.set_since import refuse_decided_since
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.work_list import refuse_out_for_work
from invdb.records.catalogue import Part
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.records.stock import Piece
from invdb.rules.life_limits import limit_words
from invdb.terms import Condition, EntryKind, FieldRefused, PlaceKind, Refused, Tracking


@dataclass(frozen=True)
class NewIdentity:
    """What a piece is from now on; '' for a size or a finish that is the part's own.

    ``authority`` is the drawing, repair scheme or letter that makes it so.
    """

    piece: int
    part: int
    authority: str
    what_was_done: str
    size_class: str = ""
    finish: str = ""
    document: int | None = None


def reidentify(session: Session, identity: NewIdentity, by: By) -> int:
    """Make a piece another part, under the same tag; returns the re-identification's id.

    It becomes uninspected, since what it measured is so no more, and its matched sets end. The life it has
    used stays with it, and the limits of its new part hold from then on: where they differ, the entry's
    remark names them. Refused for what is fitted, reserved, out on a pull or for work or can't be salvaged,
    and for a part that is held by batch.
    """
    draft = begin_draft(session, EntryKind.REIDENTIFIED, by)
    thing = Thing(piece=identity.piece)
    state = things_by_id(session, [thing])[thing]
    (where,) = state.where
    check_within_reach(state, where)
    refuse_out_for_work(session, thing, state.tag, where.place, "Book it back from there, as what it became.")
    if where.kind is PlaceKind.SCRAP:
        raise Refused(f"{state.tag} is scrapped.", "Check the tag.")
    if where.bonded:
        raise Refused(
            f"{state.tag} lies in a bonded bin, and would be uninspected.", "Bring it to the bench first."
        )
    made = draft_identity(session, draft, state, identity)
    draft.set(
        "piece",
        identity.piece,
        condition=Condition.UNINSPECTED,
        scope=None,
        accepted_by=None,
        accepted_on=None,
    )
    post(session, draft)
    return made


def draft_identity(session: Session, draft: Draft, state: ThingState, identity: NewIdentity) -> int:
    """Put a re-identification into a draft; returns its id. Its condition is the caller's to set."""
    refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
    refuse_decided_since(session, draft, identity.piece, state.tag)
    if state.reserved_for:
        raise Refused(f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel it first.")
    if state.condition is Condition.UNSALVAGEABLE:
        raise FieldRefused("piece", f"{state.tag} can't be salvaged.", "Check the tag.")
    new = session.execute(
        select(Part.house_number, Part.tracking).where(Part.id == identity.part)
    ).one_or_none()
    if new is None:
        raise FieldRefused("part", "There is no such part.", "Choose one, or add it first.")
    if new.tracking is not Tracking.PIECE:
        raise FieldRefused(
            "part", f"{new.house_number} is held by batch, and {state.tag} is one piece.", "Choose another."
        )
    old = session.execute(
        select(Piece.part_id, Piece.size_class, Piece.finish).where(Piece.id == identity.piece)
    ).one()
    size = _known_size(session, draft, identity, new.house_number)
    finish = identity.finish.strip()
    if (old.part_id, old.size_class, old.finish) == (identity.part, size, finish):
        raise FieldRefused(
            "part", f"{state.tag} is {new.house_number} already, in that size and finish.", "Check it."
        )
    if not identity.authority.strip():
        raise FieldRefused("authority", "No authority is given.", "Name the drawing or the scheme.")
    if not identity.what_was_done.strip():
        raise FieldRefused("what_was_done", "It isn't said what was done.", "Type it.")
    refuse_unknown_document(session, identity.document)
    draft.set("piece", identity.piece, part_id=identity.part, size_class=size, finish=finish)
    _remark_limits(session, draft, old.part_id, identity.part, new.house_number)
    draft_reworked(session, draft, [identity.piece], f"{state.tag} became {new.house_number}")
    return draft.new(
        session,
        "reidentification",
        piece_id=identity.piece,
        reidentified_on=draft.happened_on,
        old_part_id=old.part_id,
        old_size_class=old.size_class,
        old_finish=old.finish,
        new_part_id=identity.part,
        new_size_class=size,
        new_finish=finish,
        authority=identity.authority,
        document_id=identity.document,
        what_was_done=identity.what_was_done,
    )


def _known_size(session: Session, draft: Draft, identity: NewIdentity, number: str) -> str:
    """The size as its part calls it: what is spelt otherwise would go together with nothing."""
    wanted = one_line(identity.size_class)
    if not wanted:
        return ""
    sizes = sizes_known(session, identity.part, draft)
    found = next((each for each in sizes if each.casefold() == wanted.casefold()), None)
    if found is None:
        known = ", ".join(size or "standard size" for size in sizes)
        raise FieldRefused(
            "size_class",
            f"{number} has no size {wanted!r}; it is made in: {known}.",
            "Choose one of these, leave it empty for its own, or add the size to the part first.",
        )
    return found


def _remark_limits(session: Session, draft: Draft, old: int, new: int, number: str) -> None:
    """Name the limits of life that hold from now on, where they are not those that held before."""
    plain = {
        row.id: row.life_limit_hours
        for row in session.execute(select(Part.id, Part.life_limit_hours).where(Part.id.in_((old, new))))
    }
    limits = read_limits(session.connection(), plain, draft.happened_on)
    before, after = ([limit_words(limit) for limit in limits[part]] for part in (old, new))
    if before != after:
        draft.remark(
            f"The life limit of {number} holds from now on: {'; '.join(after)}"
            if after
            else f"{number} has no life limit on record, and what held before holds no more"
        )
