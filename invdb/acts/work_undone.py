"""What stands in the way of undoing work: more that came back on the same order, or a set matched since."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from invdb.acts.matched import matched_with
from invdb.records.ledger import Entry, EntryFact
from invdb.records.work import MatchedMember, MatchedSet
from invdb.terms import EntryKind, MatchedAs, Refused

_REVERSAL = aliased(Entry)


def refuse_undoing_work(session: Session, number: int) -> None:
    """Refuse to have undone an entry while later ones count on from what it booked back, or while a piece
    would be in two matched sets again.

    Called once the reversal is posted, in the same transaction, as ``in_the_way.refuse_reversal`` is.
    """
    _refuse_counted_on(session, number)
    _refuse_matched_twice(session, number)


def _refuse_counted_on(session: Session, number: int) -> None:
    """How much of a line is back is counted on from the entry before."""
    entry = session.execute(select(Entry.kind, Entry.happened_on).where(Entry.number == number)).one()
    if entry.kind is not EntryKind.BACK_FROM_WORK:
        return
    lines = select(EntryFact.record_id).where(
        EntryFact.entry_number == number, EntryFact.record == "work_line"
    )
    later = session.scalar(
        select(Entry.number)
        .join(EntryFact, EntryFact.entry_number == Entry.number)
        .where(
            EntryFact.record == "work_line",
            EntryFact.record_id.in_(lines),
            Entry.number > number,
            ~select(_REVERSAL.number).where(_REVERSAL.reverses == Entry.number).exists(),
        )
        .order_by(Entry.number)
        .limit(1)
    )
    if later is not None:
        raise Refused(
            f"Entry {later} stands in the way: it booked back more of the same.",
            f"Reverse entry {later} first.",
        )


def _refuse_matched_twice(session: Session, number: int) -> None:
    """A set whose end is undone stands again, though a member may have been matched anew since."""
    sets = select(EntryFact.record_id).where(
        EntryFact.entry_number == number, EntryFact.record == "matched_set"
    )
    members = session.scalars(
        select(MatchedMember.piece_id)
        .join(MatchedSet, MatchedSet.id == MatchedMember.matched_set_id)
        .where(MatchedSet.id.in_(sets), MatchedSet.ended_on.is_(None))
    ).all()
    for standing in matched_with(session, members).values():
        hard = [each for each in standing if each.kind is MatchedAs.SET]
        if len(hard) > 1:
            newest = max(hard, key=lambda each: each.id)
            made = session.scalars(
                select(EntryFact.entry_number)
                .where(EntryFact.record == "matched_set", EntryFact.record_id == newest.id)
                .order_by(EntryFact.entry_number)
                .limit(1)
            ).one()
            raise Refused(
                f"Entry {made} stands in the way: it matched"
                f" {' and '.join(tag for _, tag in newest.members)} since.",
                f"Reverse entry {made} first, or end that set.",
            )
