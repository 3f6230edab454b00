"""What is lent to us and by us: the loans that stand, and which are overdue."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.trading import days_over, due_words
from invdb.records.buying import Loan
from invdb.records.catalogue import Part
from invdb.records.clock import today
from invdb.records.people import Firm, Owner
from invdb.records.stock import Piece, Place
from invdb.terms import LoanWay, Refused


@dataclass(frozen=True)
class LoanFacts:
    """A loan: ``days_over`` how long it has been overdue, 0 while it is not."""

    loan: int
    number: str
    way: LoanWay
    firm: int
    firm_name: str
    piece: int
    tag: str
    part: int
    part_number: str
    part_name: str
    owner_name: str
    place_name: str
    lent_on: date
    back_by: date
    back_on: date | None
    terms: str
    document: int | None
    days_over: int

    @property
    def open(self) -> bool:
        """Whether the piece has not gone back."""
        return self.back_on is None

    @property
    def due_words(self) -> str:
        """``due 2026-03-01``, ``overdue by 12 days``, '' where it has ended."""
        return due_words(self.back_by, self.days_over) if self.open else ""


def loans(session: Session, *, only_open: bool = True, piece: int | None = None) -> tuple[LoanFacts, ...]:
    """The loans, those due first at the top: open ones unless all are asked for; of one piece."""
    query = (
        select(
            Loan.id,
            Loan.number,
            Loan.way,
            Loan.firm_id,
            Firm.name.label("firm_name"),
            Loan.piece_id,
            Piece.tag,
            Part.id.label("part_id"),
            Part.house_number,
            Part.name.label("part_name"),
            Owner.name.label("owner_name"),
            Place.name.label("place_name"),
            Loan.lent_on,
            Loan.back_by,
            Loan.back_on,
            Loan.terms,
            Loan.document_id,
        )
        .join(Firm, Firm.id == Loan.firm_id)
        .join(Piece, Piece.id == Loan.piece_id)
        .join(Part, Part.id == Piece.part_id)
        .join(Owner, Owner.id == Piece.owner_id)
        .join(Place, Place.id == Piece.place_id)
        .order_by(Loan.back_by, Loan.id)
    )
    if only_open:
        query = query.where(Loan.back_on.is_(None))
    if piece is not None:
        query = query.where(Loan.piece_id == piece)
    now = today(session)
    return tuple(
        LoanFacts(
            row.id,
            row.number,
            row.way,
            row.firm_id,
            row.firm_name,
            row.piece_id,
            row.tag,
            row.part_id,
            row.house_number,
            row.part_name,
            row.owner_name,
            row.place_name,
            row.lent_on,
            row.back_by,
            row.back_on,
            row.terms,
            row.document_id,
            0 if row.back_on is not None else days_over(row.back_by, now),
        )
        for row in session.execute(query)
    )


def loan_by_number(session: Session, number: str) -> int | None:
    """The loan of this number, by its id; None where there is none."""
    return session.scalar(select(Loan.id).where(Loan.number == number.strip().upper()))


def refuse_lent_out(session: Session, piece: int, tag: str, way_out: str) -> None:
    """Refuse what may not be done to a piece of ours while a firm has it on loan."""
    row = session.execute(
        select(Loan.number, Firm.name)
        .join(Firm, Firm.id == Loan.firm_id)
        .where(Loan.piece_id == piece, Loan.way == LoanWay.OUT, Loan.back_on.is_(None))
    ).first()
    if row is not None:
        raise Refused(f"{tag} is lent to {row.name} on loan {row.number}.", way_out)
