"""What the inspection page shows and does: what waits for inspection, the sheet of one thing, a blank one.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.inspection_form import SheetForm
from gui.views.inspection_past import Past, past_of
from invdb.acts.inspection_sheet import inspection_sheet
from invdb.acts.inspections_of import filled_sheet, inspections_of
from invdb.acts.last_instrument import last_instruments
from invdb.acts.numbers import Thing
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockRow, stock_count, stock_rows
from invdb.acts.stock_sort import StockColumn, StockSort
from invdb.acts.things import things_by_id
from invdb.terms import Condition, Refused

COLUMNS = (
    Column("tag", "Tag", 80),
    Column("name", "Name", 168),
    Column("place", "Place", 90),
    Column("received", "Received", 92),
)
SORTED_BY = {
    "tag": StockColumn.TAG,
    "name": StockColumn.PART_NAME,
    "place": StockColumn.BIN,
    "received": StockColumn.RECEIVED,
}
SORT_FIRST = Sort("received")
NOTHING_CHOSEN = Empty(
    "Here stands the inspection sheet of a piece, made from its specification.",
    "Scan or type its tag above, or choose it among what waits for inspection and press Enter.",
)
NOTHING_WAITS = Empty(
    "Nothing waits for inspection.",
    "What is booked in, or comes back from work, stands here until it is inspected or accepted.",
)
PAPER_SIZES = ("A4", "Letter")


class InspectionPresenter:
    """Holds which thing is inspected; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.thing: Thing | None = None

    def day_asked(self, typed: date | None) -> date | None:
        """The day as of which a sheet is laid out, None for today; Refused for a day to come."""
        today = self._sitting.today()
        if typed is not None and typed > today:
            raise Refused(f"{typed.isoformat()} is in the future.", "Give the day on which it was inspected.")
        return None if typed == today else typed

    def fetch(self, job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """A page of what waits for inspection."""
        # What is out for work is inspected once it is back.
        every = StockFilter(condition=Condition.UNINSPECTED, at_work=False)
        by = StockSort(SORTED_BY[sort.column], sort.descending) if sort is not None else None
        with self._sitting.reading(job) as session:
            page = stock_rows(session, replace(every, text=words), by, offset, limit)
            total = stock_count(session, every) if words else page.total
        return Page(tuple(row_of(row) for row in page.rows), page.total, total)

    def sheet_plan(self, job: Job, thing: Thing, on: date | None) -> FormPlan:
        """The sheet of a thing as a form, by the specification in force on a day (None: today).

        Refused for what is scrapped or gone, for a day to come, and for one before it came.
        """
        with self._sitting.reading(job) as session:
            sheet = inspection_sheet(session, thing, on)
            state = things_by_id(session, [thing])[thing]
            used_last = last_instruments(session, state.part)
        return SheetForm(self._sitting, sheet, state, used_last).plan()

    def read_past(self, job: Job, thing: Thing) -> Past:
        """What inspections of a thing found, judged by the revision in force then and by the present one."""
        with self._sitting.reading(job) as session:
            state = things_by_id(session, [thing])[thing]
            return past_of(state.tag, state.part_name, inspections_of(session, thing))

    def filled_name(self, job: Job, inspection: int) -> str:
        """What the filled sheet of an inspection is called as a file."""
        with self._sitting.reading(job) as session:
            done = filled_sheet(session, inspection).done
        return f"inspection {done.tag} {done.inspected_on.isoformat()}.pdf"

    def write_filled(self, job: Job, inspection: int, path: Path, size: str = PAPER_SIZES[0]) -> Path:
        """Write an inspection that is kept as a filled sheet, as PDF."""
        from invdb.paper.inspection_filled import write_inspection_pdf

        _refuse_unless_pdf(path)
        with self._sitting.reading(job) as session:
            sheet = filled_sheet(session, inspection)
        write_inspection_pdf(sheet, path, size)  # type: ignore[arg-type]
        return path

    def blank_name(self, job: Job, thing: Thing) -> str:
        """What the blank sheet of a thing is called as a file."""
        with self._sitting.reading(job) as session:
            return f"inspection sheet {things_by_id(session, [thing])[thing].tag}.pdf"

    def write_blank(self, job: Job, thing: Thing, path: Path, size: str = PAPER_SIZES[0]) -> Path:
        """Write the blank sheet of a thing, to be filled in by hand, as PDF."""
        from invdb.paper.inspection_sheet import write_inspection_sheet_pdf

        _refuse_unless_pdf(path)
        with self._sitting.reading(job) as session:
            sheet = inspection_sheet(session, thing)
        write_inspection_sheet_pdf(sheet, path, size)  # type: ignore[arg-type]
        return path


def _refuse_unless_pdf(path: Path) -> None:
    if path.suffix.casefold() != ".pdf":
        raise Refused(
            f"An inspection sheet is not written as {path.suffix or 'a file without an ending'}.",
            "End the name in .pdf.",
        )


def row_of(row: StockRow) -> Row:
    """What waits, as the list shows it; a batch by each place where it lies."""
    held = "on hold" if row.holds else str(row.condition)
    mark = f"{sign(held).mark} " if row.holds else ""
    cells = (row.tag, f"{mark}{row.part_name}", row.bin, row.received_on.isoformat())
    return Row((row.thing, row.place), cells, held)
