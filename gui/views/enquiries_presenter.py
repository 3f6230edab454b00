"""What firms were asked for: a row for each enquiry, and who has answered it.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.enquiry_forms import close_enquiry_form, decline_form, enquiry_form
from gui.views.form_plan import FormPlan
from gui.views.listing import ListDeed, Listing, ListPaper
from gui.views.quote_form import quote_form
from gui.views.sheet_ending import ending_of
from invdb.acts.enquiry import EnquiryMade
from invdb.acts.enquiry_list import EnquiryFacts, EnquiryFirmFacts, enquiries
from invdb.acts.enquiry_sheet import enquiry_sheets
from invdb.acts.trading import due_words
from invdb.rules.quantities import quantity_words
from invdb.rules.told import counted
from invdb.terms import Refused

ASKED, ANSWERED, OVERDUE = "asked", "answered", "overdue"


class EnquiriesPresenter(Listing):
    """Holds the enquiries that are open; knows no Tk."""

    name = "enquiries"
    heading = "Enquiries"
    one, many = "enquiry", "enquiries"
    columns = (
        Column("number", "Enquiry", 80),
        Column("asked", "Asked", 84),
        Column("due", "Answer", 164),
        Column("parts", "Parts", 260),
        Column("firms", "Firms", 220),
        Column("answers", "Answered", 240),
    )
    empty = Empty(
        "No enquiry is open.",
        "Ask several firms for what will run short; each gets a sheet to fill in its price and its time.",
    )

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.enquiries: tuple[EnquiryFacts, ...] = ()

    def read(self, job: Job) -> tuple[EnquiryFacts, ...]:
        """The enquiries that are open."""
        with self._sitting.reading(job) as session:
            return enquiries(session)

    def take(self, read: tuple[EnquiryFacts, ...]) -> None:
        """Hold what was read."""
        self.enquiries = read

    def rows(self) -> list[Row]:
        """A row for each, the latest first."""
        return [_row(each) for each in self.enquiries]

    def told(self) -> str:
        """How many answers are awaited, and how many of them are overdue."""
        waiting = sum(firm.waits for each in self.enquiries for firm in each.firms)
        late = sum(firm.waits for each in self.enquiries if each.days_over for firm in each.firms)
        if not self.enquiries:
            return ""
        answers = counted(waiting, "answer", "answers")
        said = f"{counted(len(self.enquiries), 'enquiry', 'enquiries')}; {answers} awaited"
        return f"{said}, {late} of them overdue." if late else f"{said}."

    def tab_words(self) -> str:
        """What its tab says beside its name: how many enquiries are overdue an answer."""
        late = sum(bool(each.days_over) for each in self.enquiries)
        return f"{sign(OVERDUE).mark} {late} {OVERDUE}" if late else ""

    def said_of(self, key: int) -> str:
        """All that is to be said of one; "" where it is closed by now."""
        each = self._find(key)
        if each is None:
            return ""
        parts = "; ".join(
            f"{quantity_words(line.quantity, line.measure)} of {line.part_number} {line.part_name}"
            + (f" ({line.wanted})" if line.wanted else "")
            for line in each.lines
        )
        firms = ", ".join(f"{firm.firm_name} {_answer_of(firm)}" for firm in each.firms)
        return f"{parts}\n{firms}.\nAsked by {each.asked_by} on {each.asked_on.isoformat()}. {each.wording}"

    def deeds(self, keys: Sequence[int]) -> list[ListDeed]:
        """What may be done with these, and asking anew."""
        chosen = self._find(keys[0]) if len(keys) == 1 else None
        ask = ListDeed("Ask firms", "Ins", "Ask several firms for parts", lambda _job: self.ask_plan())
        if chosen is None:
            return [ask]
        deeds = [
            ListDeed("Quote", "F4", "Record what a firm offers", self._quoting(chosen)),
            ask,
        ]
        if any(firm.waits for firm in chosen.firms):
            deeds.append(
                ListDeed("Declined", "Ctrl+D", "Record that a firm said no",
                         lambda _job: decline_form(self._sitting, chosen))
            )  # fmt: skip
        deeds.append(
            ListDeed("Close", "Del", "No more answers are awaited",
                     lambda _job: close_enquiry_form(self._sitting, chosen))
        )  # fmt: skip
        return deeds

    def key_of(self, made: Any) -> Any:
        """The row of an enquiry that was made."""
        return made.enquiry if isinstance(made, EnquiryMade) else None

    def papers(self, keys: Sequence[int]) -> list[ListPaper]:
        """The sheets of one, each for a firm to fill in."""
        chosen = self._find(keys[0]) if len(keys) == 1 else None
        if chosen is None:
            return []
        return [
            ListPaper("Save its sheets", "Ctrl+P", "One for each firm, as PDF or workbook, to be filled in",
                      f"enquiry {chosen.number}.pdf", self._writing(chosen.enquiry))
        ]  # fmt: skip

    def _writing(self, enquiry: int) -> Callable[[Job, Path], Path]:
        def write(job: Job, path: Path) -> Path:
            from invdb.paper.enquiry_sheet import write_enquiry_sheet_pdf, write_enquiry_sheet_xlsx

            with self._sitting.reading(job) as session:
                sheets = enquiry_sheets(session, enquiry)
            write_one = write_enquiry_sheet_pdf if ending_of(path) == ".pdf" else write_enquiry_sheet_xlsx
            for sheet in sheets:
                write_one(sheet, path.with_name(f"{path.stem} {file_words(sheet.firm)}{path.suffix}"))
            return path.parent

        return write

    def ask_plan(self) -> FormPlan:
        """The form to ask firms for parts."""
        return enquiry_form(self._sitting)

    def _quoting(self, enquiry: EnquiryFacts) -> Callable[[Job], FormPlan]:
        def plan(job: Job) -> FormPlan:
            if not any(firm.declined_on is None for firm in enquiry.firms):
                raise Refused(f"Every firm declined enquiry {enquiry.number}.", "Ask others.")
            return quote_form(self._sitting, job, enquiry)

        return plan

    def _find(self, key: int) -> EnquiryFacts | None:
        return next((each for each in self.enquiries if each.enquiry == key), None)


def file_words(name: str) -> str:
    """A firm's name without what the name of a file can't hold."""
    return "".join(letter for letter in name if letter.isalnum() or letter in " -,.&'").strip(" .")


def _row(each: EnquiryFacts) -> Row:
    waits = [firm for firm in each.firms if firm.waits]
    state = OVERDUE if each.days_over else ASKED if waits else ANSWERED
    due = due_words(each.answer_by, each.days_over) if waits else ""
    answered = [firm for firm in each.firms if not firm.waits]
    cells = (
        each.number,
        each.asked_on.isoformat(),
        f"{sign(OVERDUE).mark} {due}" if each.days_over else due,
        ", ".join(f"{quantity_words(line.quantity, line.measure)} {line.part_name}" for line in each.lines),
        ", ".join(firm.firm_name for firm in each.firms),
        f"{len(answered)} of {len(each.firms)}"
        + "".join(f"; {firm.firm_name} {_answer_of(firm)}" for firm in answered[:1]),
    )
    return Row(each.enquiry, cells, state)


def _answer_of(firm: EnquiryFirmFacts) -> str:
    if firm.declined_on is not None:
        return f"declined on {firm.declined_on.isoformat()}"
    return "has quoted" if firm.quotes else "has not answered"
