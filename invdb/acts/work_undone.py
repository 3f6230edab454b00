"""What stands in the way of undoing work: more that came back on the same order, a set matched since, a
piece that was scrapped where it would lie no more, or one that was lent again.
"""

from __future__ import annotations

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.matched import matched_with
from invdb.acts.move import STOCK_KEEPING
from invdb.records.buying import Loan
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.stock import Piece, Place
from invdb.records.work import MatchedMember, MatchedSet, Scrapping, WorkLine
from invdb.terms import EntryKind, MatchedAs, Refused

_REVERSAL = aliased(Entry)


def refuse_undoing_work(session: Session, number: int) -> None:
    """Refuse to have undone an entry while later ones rest on it in a way that the ledger can't know.

    They count on from what it booked back, or sent that out anew; a piece would be in two matched sets, or
    out on two loans; or one that was scrapped since would be in a set again, or lie among stock.

    Called once the reversal is posted, in the same transaction, as ``in_the_way.refuse_reversal`` is.
    """
    _refuse_counted_on(session, number)
    _refuse_matched_twice(session, number)
    _refuse_scrapped_among_stock(session, number)
    _refuse_lent_twice(session, number)


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
        raise _in_the_way(later, "it booked back more of the same")
    pieces = select(WorkLine.piece_id).where(WorkLine.id.in_(lines))
    again = session.execute(
        select(func.max(WorkLine.set_by), func.max(Piece.tag))
        .join(Piece, Piece.id == WorkLine.piece_id)
        .where(WorkLine.piece_id.in_(pieces), WorkLine.returned < WorkLine.quantity)
        .group_by(WorkLine.piece_id)
        .having(func.count() > 1)
    ).first()
    if again is not None:
        raise _in_the_way(again[0], f"it sent {again[1]} out again")


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
    gone = session.execute(
        select(Scrapping.set_by, Piece.tag)
        .join(Piece, Piece.id == Scrapping.piece_id)
        .where(Scrapping.piece_id.in_(members))
        .limit(1)
    ).first()
    if gone is not None:
        raise _in_the_way(gone.set_by, f"{gone.tag} was scrapped since, and would be matched again")
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
            raise _in_the_way(made, f"it matched {' and '.join(tag for _, tag in newest.members)} since")


def _refuse_scrapped_among_stock(session: Session, number: int) -> None:
    moved = select(EntryLine.piece_id).where(EntryLine.entry_number == number)
    row = session.execute(
        select(Piece.tag, Place.name, Scrapping.set_by)
        .join(Scrapping, Scrapping.piece_id == Piece.id)
        .join(Place, Place.id == Piece.place_id)
        .where(Piece.id.in_(moved), Place.kind.in_(STOCK_KEEPING))
        .limit(1)
    ).first()
    if row is not None:
        raise _in_the_way(row.set_by, f"{row.tag} was scrapped since, and would lie in {row.name}")


def _refuse_lent_twice(session: Session, number: int) -> None:
    """A loan whose end is undone stands again, though its piece may have been lent again since."""
    undone = select(EntryFact.record_id).where(EntryFact.entry_number == number, EntryFact.record == "loan")
    pieces = select(Loan.piece_id).where(Loan.id.in_(undone))
    row = session.execute(
        select(func.max(Loan.set_by).label("entry"), func.max(Piece.tag).label("tag"))
        .join(Piece, Piece.id == Loan.piece_id)
        .where(Loan.piece_id.in_(pieces), Loan.back_on.is_(None))
        .group_by(Loan.piece_id)
        .having(func.count() > 1)
    ).first()
    if row is not None:
        raise _in_the_way(row.entry, f"it lent {row.tag} again")


def _in_the_way(entry: int, why: str) -> Refused:
    return Refused(f"Entry {entry} stands in the way: {why}.", f"Reverse entry {entry} first.")
