"""Break a batch down: what was looked at becomes batches of its own, each with its condition."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, licence_of
from invdb.acts.move import check_place_admits
from invdb.acts.numbers import Thing, next_number
from invdb.acts.things import things_by_id
from invdb.records.documents import DocumentLink
from invdb.records.posting import post
from invdb.records.registry import FACT_COLUMNS, TABLES
from invdb.records.stock import Hold
from invdb.rules.acceptance import Candidate, bars_to_acceptance
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.numbering import TAG_LETTERS, NumberKind
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

    A child batch keeps its parent's origin, owner, papers and holds. Refused when more is split off than
    lies there free, and when a share would be accepted against a bar.
    """
    draft = begin_draft(session, EntryKind.SPLIT, by)
    parent = things_by_id(session, [Thing(batch=batch)])[Thing(batch=batch)]
    where = next((each for each in parent.where if each.place == from_place), None)
    if where is None:
        raise FieldRefused("from_place", f"None of {parent.tag} lies there.", "Look where it is now.")
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
    table = TABLES["batch"]
    row = session.execute(select(table).where(table.c.id == batch)).one()._mapping
    inherited = {name: row[name] for name in FACT_COLUMNS["batch"]}
    documents = list(session.scalars(select(DocumentLink.document_id).where(DocumentLink.batch_id == batch)))
    holds = (
        session.execute(select(Hold).where(Hold.batch_id == batch, Hold.cleared_on.is_(None))).scalars().all()
    )
    made: list[tuple[int, str]] = []
    for share in shares:
        accepted: dict[str, object] = {"accepted_by": None, "accepted_on": None, "scope": None}
        if share.condition is Condition.SERVICEABLE:
            if share.scope is None:
                raise FieldRefused(
                    "shares", "A serviceable share needs its scope.", "Say what it is accepted for."
                )
            if (parent.condition, parent.scope) == (share.condition, share.scope):
                accepted = {name: inherited[name] for name in accepted}
            else:
                candidate = Candidate(
                    parent.tag, Condition.UNINSPECTED, None, (), parent.papers, parent.holds,
                    parent.shelf_expiry_on, None, None,
                )  # fmt: skip
                bars = bars_to_acceptance(candidate, share.scope, draft.happened_on, licensed)
                if bars:
                    said = "; ".join(bar.words for bar in bars)
                    raise Refused(
                        f"A share of {parent.tag} can't be accepted for {share.scope}: {said}.",
                        "Split it off uninspected, and put that right.",
                    )
                accepted = {
                    "accepted_by": by.person,
                    "accepted_on": draft.happened_on,
                    "scope": share.scope,
                }
        to_place = share.to_place if share.to_place is not None else from_place
        check_place_admits(session, to_place, share.condition, parent.papers)
        tag = share.tag or next_number(session, draft, "batch", "tag", TAG_LETTERS[NumberKind.BATCH])
        child = draft.new(
            session,
            "batch",
            **(
                inherited
                | accepted
                | {
                    "tag": tag,
                    "condition": share.condition,
                    "parent_batch_id": batch,
                    "note": share.note or inherited["note"],
                }
            ),
        )
        for document in documents:
            draft.new(session, "document_link", document_id=document, batch_id=child)
        for hold in holds:
            draft.new(
                session,
                "hold",
                batch_id=child,
                reason=hold.reason,
                raised_on=hold.raised_on,
                raised_by=hold.raised_by,
            )
        draft.move(from_place, OUTSIDE_PLACE, batch=batch, quantity=share.quantity)
        draft.move(OUTSIDE_PLACE, to_place, batch=child, quantity=share.quantity)
        made.append((child, tag))
    return SplitOff(post(session, draft).number, tuple(made))


def measure_of(session: Session, thing: Thing) -> Measure:
    """What a thing's quantity counts."""
    return things_by_id(session, [thing])[thing].measure
