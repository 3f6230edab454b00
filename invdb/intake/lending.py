"""The acts of the table of loans: lent, borrowed, got back, given back."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.goods_in import GoodsIn, NewPiece
from invdb.acts.loan import BackFromLoan, Borrowing, NewLoan, borrow, get_back, give_back, lend
from invdb.acts.numbers import Thing
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.loans import LoanEnd, LoanRow
from invdb.intake.set_up import Ids
from invdb.terms import NO_PRIOR_LIFE, LoanWay, Origin, Refused


class Lending:
    """Does these acts in one session; ``things`` is what goods in made, and gains what is borrowed."""

    def __init__(
        self, session: Session, loans: tuple[LoanRow, ...], ids: Ids, things: dict[str, Thing]
    ) -> None:
        self._session = session
        self._rows = loans
        self._ids = ids
        self._things = things
        self._loans: dict[str, int] = {}

    def bookings(self) -> list[Booking]:
        """Every act of the table."""
        ends = [row.end for row in self._rows if row.end is not None]
        return [
            *booked("loans.csv", Turn.LENT, singly(self._rows), self._lend),
            *booked("loans.csv", Turn.LOAN_ENDED, singly(ends), self._end),
        ]

    def _lend(self, rows: tuple[LoanRow, ...]) -> None:
        (row,) = rows
        by = By(self._ids.people[row.who])
        place = self._ids.places[row.to_place]
        if row.way is LoanWay.OUT:
            piece = self._things[row.of].piece
            assert piece is not None
            made = lend(self._session, NewLoan(piece, place, row.back_by, row.terms, hazards_seen=True), by)
            loan, number = made.loan, made.number
        else:
            goods = GoodsIn(
                Origin.UNKNOWN,
                place,
                self._ids.parts[row.house_number],
                pieces=(NewPiece(row.serial, tag=row.of),),
                owner=self._ids.owners[row.owner or ""],
            )
            borrowed = borrow(self._session, Borrowing(goods, row.back_by, terms=row.terms), by)
            self._things[row.of] = borrowed.received.things[0][0]
            loan, number = borrowed.loan, borrowed.number
        if number != row.number:
            raise Refused(f"the loan's number is {number}, not {row.number}.", "Put that in its place.")
        self._loans[row.number] = loan

    def _end(self, rows: tuple[LoanEnd, ...]) -> None:
        (row,) = rows
        by = By(self._ids.people[row.who])
        loan = self._loans[row.number]
        if row.to_place is None:
            give_back(self._session, loan, by, hazards_seen=True)
        else:
            # What is lent here is shown, and runs nothing while it is away.
            to_place = self._ids.places[row.to_place]
            back = BackFromLoan(loan, to_place, NO_PRIOR_LIFE, NO_PRIOR_LIFE, row.report)
            get_back(self._session, back, by)
