"""Break a batch down: what was looked at becomes batches of its own, each with its condition."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from invdb.acts.accept import candidate
from invdb.acts.by import By, begin_draft, licence_of
from invdb.acts.child_batch import ParentBatch, draft_child, read_parent
from invdb.acts.goods_in import ReceivingChecks
from invdb.acts.move import check_place_admits, check_within_reach
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, things_by_id
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.rules.acceptance import bars_to_acceptance
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, FieldRefused, Measure, Refused, Scope


@dataclass(frozen=True)
class Share:
    """Some of a batch that becomes a batch of its own; ``quantity`` in the smallest unit."""

    quantity: int
    condition: Condition
    scope: Scope | None = None
    to_place: int | None = None
    tag: str | None = None
    note: str = ""


@dataclass(frozen=True)
class SplitOff:
    """What a split made: the entry's number and each new batch with its tag."""

    entry: int
    batches: tuple[tuple[int, str], ...]


def split(session: Session, batch: int, from_place: int, shares: tuple[Share, ...], by: By) -> SplitOff:
    """Split shares off a batch where it lies; what is left keeps its tag. Forty springs tested: 31 good, …

    A child batch keeps its parent's origin, owner, papers, receiving checks and holds. Refused when more is
    split off than lies there free, and when a share would be accepted against a bar.
    """
    draft = begin_draft(session, EntryKind.SPLIT, by)
    parent = things_by_id(session, [Thing(batch=batch)])[Thing(batch=batch)]
    where = next((each for each in parent.where if each.place == from_place), None)
    if where is None:
        raise FieldRefused("from_place", f"None of {parent.tag} lies there.", "Look where it is now.")
    check_within_reach(parent, where)
    if not shares:
        raise FieldRefused("shares", "No share is given.", "Say how many of which condition.")
    total = sum(share.quantity for share in shares)
    if any(share.quantity <= 0 for share in shares):
        raise FieldRefused("shares", "A share of nothing can't be split off.", "Give more than zero.")
    free = where.quantity - where.reserved
    if total > free:
        raise FieldRefused(
            "shares",
            f"The shares come to {quantity_words(total, parent.measure)}, and only"
            f" {quantity_words(free, parent.measure)} of {parent.tag} lie free in {where.name}.",
            "Count again.",
        )
    licensed = licence_of(session, by.person) is not None
    facts = read_parent(session, batch)
    made: list[tuple[int, str]] = []
    for share in shares:
        to_place = share.to_place if share.to_place is not None else from_place
        check_place_admits(session, to_place, share.condition, parent.papers)
        changed: dict[str, object] = {
            "condition": share.condition,
            "note": share.note or parent.note,
            **_acceptance(parent, facts, share, draft, licensed),
        }
        child, tag = draft_child(session, draft, facts, changed, share.tag)
        draft.move(from_place, OUTSIDE_PLACE, batch=batch, quantity=share.quantity)
        draft.move(OUTSIDE_PLACE, to_place, batch=child, quantity=share.quantity)
        made.append((child, tag))
    return SplitOff(post(session, draft).number, tuple(made))


def _acceptance(
    parent: ThingState, facts: ParentBatch, share: Share, draft: Draft, licensed: bool
) -> dict[str, object]:
    """For what a share is accepted, by whom and when: as its parent was, or by this split, or not at all."""
    if share.condition is not Condition.SERVICEABLE:
        return {"scope": None, "accepted_by": None, "accepted_on": None}
    if share.scope is None:
        raise FieldRefused("shares", "A serviceable share needs its scope.", "Say what it is accepted for.")
    if (parent.condition, parent.scope) == (share.condition, share.scope):
        return {column: facts.facts[column] for column in ("scope", "accepted_by", "accepted_on")}
    bars = bars_to_acceptance(candidate(parent, ReceivingChecks()), share.scope, draft.happened_on, licensed)
    if bars:
        said = "; ".join(bar.words for bar in bars)
        raise Refused(
            f"A share of {parent.tag} can't be accepted for {share.scope}: {said}.",
            "Split it off uninspected, and accept it when that is put right.",
        )
    return {"scope": share.scope, "accepted_by": draft.who, "accepted_on": draft.happened_on}


def measure_of(session: Session, thing: Thing) -> Measure:
    """What a thing's quantity counts."""
    return things_by_id(session, [thing])[thing].measure
