"""Work on pieces: sent out and got back, made another part, matched, scrapped."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import Condition, MatchedAs, Unusable, WorkWanted


class WorkOrder(Recorded, Base):
    """Things sent to a firm, or put on our own bench, for work: what is wanted, and by when."""

    __tablename__ = "work_order"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    # The place of the firm, or our own bench.
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), index=True)
    kind: Mapped[WorkWanted] = mapped_column(Word(WorkWanted))
    wanted: Mapped[str] = mapped_column(PlainText)
    sent_on: Mapped[date]
    sent_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    due_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(PlainText, default="")


class WorkLine(Recorded, Base):
    """One thing of a work order, and what came of it; quantities in the smallest unit."""

    __tablename__ = "work_line"

    work_order_id: Mapped[int] = mapped_column(ForeignKey("work_order.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger, default=1)
    # How much is back, or known not to come back: done when it is the quantity.
    returned: Mapped[int] = mapped_column(BigInteger, default=0)
    scrapped: Mapped[int] = mapped_column(BigInteger, default=0)
    returned_on: Mapped[date | None]
    condition: Mapped[Condition | None] = mapped_column(Word(Condition))
    report: Mapped[str] = mapped_column(PlainText, default="")
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))

    __table_args__ = (CheckConstraint("returned >= 0 AND returned <= quantity", name="returned"),)


class Reidentification(Recorded, Base):
    """That a piece became another part, or another size or finish of the same, on an authority."""

    __tablename__ = "reidentification"

    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), index=True)
    reidentified_on: Mapped[date]
    old_part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    old_size_class: Mapped[str] = mapped_column(PlainText, default="")
    old_finish: Mapped[str] = mapped_column(PlainText, default="")
    new_part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    new_size_class: Mapped[str] = mapped_column(PlainText, default="")
    new_finish: Mapped[str] = mapped_column(PlainText, default="")
    authority: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    what_was_done: Mapped[str] = mapped_column(PlainText, default="")


class Scrapping(Recorded, Base):
    """How a piece, or some of a batch, was made unfit for any use."""

    __tablename__ = "scrapping"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger, default=1)
    scrapped_on: Mapped[date]
    scrapped_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    reason: Mapped[str] = mapped_column(PlainText)
    how: Mapped[Unusable] = mapped_column(Word(Unusable))
    witness: Mapped[str] = mapped_column(PlainText, default="")


class MatchedSet(Recorded, Base):
    """Pieces that go back together: mates that should, or a matched set that must, until one is reworked."""

    __tablename__ = "matched_set"

    kind: Mapped[MatchedAs] = mapped_column(Word(MatchedAs))
    name: Mapped[str] = mapped_column(PlainText)
    made_on: Mapped[date]
    # Why they go together: "lapped together", "cap line-bored with its rod", "ran together".
    why: Mapped[str] = mapped_column(PlainText)
    ended_on: Mapped[date | None]
    ended_because: Mapped[str] = mapped_column(PlainText, default="")


class MatchedMember(Recorded, Base):
    """A piece of a matched set."""

    __tablename__ = "matched_member"

    matched_set_id: Mapped[int] = mapped_column(ForeignKey("matched_set.id"), index=True)
    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), index=True)
