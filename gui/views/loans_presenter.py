"""What is lent, by us and to us: a row for each loan that stands, overdue ones first.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.listing import ListDeed, Listing
from gui.views.loan_forms import borrow_form, get_back_form, give_back_form, lend_form
from invdb.acts.loan import Borrowed, LoanMade
from invdb.acts.loan_list import LoanFacts, loans
from invdb.acts.numbers import Thing
from invdb.acts.offers import owners, places_to_put
from invdb.acts.scrap import hazards_of
from invdb.acts.things import things_by_id
from invdb.rules.told import counted
from invdb.terms import LoanWay, PlaceKind

OVERDUE = "overdue"


class LoansPresenter(Listing):
    """Holds the loans that stand; knows no Tk."""

    name = "loans"
    heading = "Loans"
    one, many = "loan", "loans"
    columns = (
        Column("number", "Loan", 84),
        Column("due", "Back", 164),
        Column("way", "Way", 84),
        Column("tag", "Tag", 76),
        Column("part", "Part", 80),
        Column("name", "Name", 190),
        Column("firm", "Firm", 180),
        Column("place", "Where it is", 170),
        Column("since", "Since", 88),
    )
    empty = Empty(
        "Nothing is lent or borrowed.",
        "Lend a piece of ours to a firm, or book in one that is lent to us, with the day it is to be back.",
    )

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.loans: tuple[LoanFacts, ...] = ()

    def read(self, job: Job) -> tuple[LoanFacts, ...]:
        """The loans that stand."""
        with self._sitting.reading(job) as session:
            return loans(session)

    def take(self, read: tuple[LoanFacts, ...]) -> None:
        """Hold what was read."""
        self.loans = read

    def rows(self) -> list[Row]:
        """A row for each."""
        return [_row(each) for each in self.loans]

    def told(self) -> str:
        """How many are lent either way, and how many are overdue."""
        if not self.loans:
            return ""
        out, late = (sum(map(bool, each)) for each in (
            [loan.way is LoanWay.OUT for loan in self.loans], [loan.days_over for loan in self.loans]
        ))  # fmt: skip
        borrowed = len(self.loans) - out
        said = f"{counted(out, 'piece', 'pieces')} lent by us, {borrowed} lent to us"
        return f"{said}; {late or 'none'} overdue."

    def tab_words(self) -> str:
        """What its tab says beside its name: how many are overdue."""
        late = sum(bool(loan.days_over) for loan in self.loans)
        return f"{sign(OVERDUE).mark} {late} {OVERDUE}" if late else ""

    def said_of(self, key: int) -> str:
        """All that is to be said of one."""
        loan = self._find(key)
        if loan is None:
            return ""
        whose = "ours" if loan.way is LoanWay.OUT else f"{loan.owner_name}'s"
        return (
            f"{loan.tag} {loan.part_number} {loan.part_name}, {whose}, {loan.way} since"
            f" {loan.lent_on.isoformat()} ({loan.firm_name}); {loan.due_words}.\n{loan.terms}"
        ).rstrip()

    def deeds(self, keys: Sequence[int]) -> list[ListDeed]:
        """What may be done with these, and lending or borrowing another."""
        both = [
            ListDeed("Lend", "Ins", "Lend a piece of ours to a firm", self._lend_plan),
            ListDeed("Borrow", "Ctrl+B", "Book in a piece that is lent to us", self._borrow_plan),
        ]
        loan = self._find(keys[0]) if len(keys) == 1 else None
        if loan is None:
            return both
        if loan.way is LoanWay.OUT:
            back = ListDeed("It is back", "F4", "Book it back, with what it ran there",
                            lambda _job: get_back_form(self._sitting, loan))  # fmt: skip
        else:
            back = ListDeed("Give it back", "F4", "Say that it has gone back", self._giving_back(loan))
        return [back, *both]

    def key_of(self, made: Any) -> Any:
        """The row of a loan that was made."""
        return made.loan if isinstance(made, LoanMade | Borrowed) else None

    def _lend_plan(self, job: Job) -> FormPlan:
        with self._sitting.reading(job) as session:
            return lend_form(self._sitting, places_to_put(session, {PlaceKind.FIRM}))

    def _borrow_plan(self, job: Job) -> FormPlan:
        with self._sitting.reading(job) as session:
            return borrow_form(self._sitting, owners(session))

    def _giving_back(self, loan: LoanFacts) -> Callable[[Job], FormPlan]:
        def plan(job: Job) -> FormPlan:
            thing = Thing(piece=loan.piece)
            with self._sitting.reading(job) as session:
                piece = things_by_id(session, [thing])[thing]
                hazards = hazards_of(session, loan.part)
            return give_back_form(self._sitting, loan, piece, hazards)

        return plan

    def _find(self, key: int) -> LoanFacts | None:
        return next((each for each in self.loans if each.loan == key), None)


def _row(loan: LoanFacts) -> Row:
    cells = (
        loan.number,
        f"{sign(OVERDUE).mark} {loan.due_words}" if loan.days_over else loan.due_words,
        str(loan.way),
        loan.tag,
        loan.part_number,
        loan.part_name,
        loan.firm_name,
        loan.place_name,
        loan.lent_on.isoformat(),
    )
    return Row(loan.loan, cells, OVERDUE if loan.days_over else "lent")
