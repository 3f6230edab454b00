"""Reverse an entry that should not have been: it stays in the ledger, and counts no more."""

from __future__ import annotations

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.by import By, begin_draft
from invdb.acts.in_the_way import refuse_reversal
from invdb.acts.work_undone import refuse_undoing_work
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, Refused

# Entries whose things must be as they were judged when a kit was chosen from them, or when they were fitted.
_PULLING = (EntryKind.RESERVED, EntryKind.ISSUED, EntryKind.FITTED)


def reverse(session: Session, number: int, reason: str, by: By) -> int:
    """Reverse one entry whole, with a reason; returns the reversal's own number.

    Refused for a reversal, for what is reversed already, for the entry that began the store, and while
    something later stands on it, naming the first entry in the way.
    """
    draft = begin_draft(session, EntryKind.REVERSED, by)
    if not reason.strip():
        raise FieldRefused("reason", "No reason is given.", "Say why the entry should not have been.")
    entry = session.execute(
        select(Entry.kind, Entry.reverses, Entry.happened_on).where(Entry.number == number)
    ).one_or_none()
    if entry is None:
        raise Refused(f"There is no entry {number}.", "Look at the number again.")
    if entry.reverses is not None:
        raise Refused(f"Entry {number} is itself a reversal.", "Post afresh what should stand.")
    if entry.kind is EntryKind.STORE_BEGUN:
        raise Refused("The entry that began the store can't be reversed.", "Begin another store instead.")
    by_now = session.scalar(select(Entry.number).where(Entry.reverses == number))
    if by_now is not None:
        raise Refused(
            f"Entry {number} was reversed by entry {by_now} already.", "There is nothing to reverse."
        )
    _refuse_while_pulled(session, number)
    draft.remark(reason)
    draft.reverses = number
    reversal = post(session, draft).number
    refuse_reversal(session, number)
    refuse_undoing_work(session, number)
    return reversal


def _refuse_while_pulled(session: Session, number: int) -> None:
    """Refuse to undo what was known of a thing that a later pull was chosen by, or that was fitted by it."""
    facts = session.execute(
        select(EntryFact.record, EntryFact.record_id).where(
            EntryFact.entry_number == number, EntryFact.record.in_(("piece", "batch"))
        )
    ).all()
    pieces = [record_id for record, record_id in facts if record == "piece"]
    batches = [record_id for record, record_id in facts if record == "batch"]
    if not pieces and not batches:
        return
    reversal = aliased(Entry)
    later = session.execute(
        select(Entry.number, Entry.kind)
        .join(EntryLine, EntryLine.entry_number == Entry.number)
        .where(
            Entry.number > number,
            Entry.kind.in_(_PULLING),
            or_(EntryLine.piece_id.in_(pieces), EntryLine.batch_id.in_(batches)),
            ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
        )
        .order_by(Entry.number)
        .limit(1)
    ).first()
    if later is not None:
        raise Refused(
            f"Entry {later.number} ({later.kind}) stands in the way: it was chosen by what this would undo.",
            f"Reverse entry {later.number} first.",
        )
