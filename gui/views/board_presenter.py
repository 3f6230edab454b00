"""Reads the shortage board, what its figures rest on and the shop's choices, and saves it as a paper.

Methods that take a job run on a worker and open their own session.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from gui.job import Job
from gui.shown import Hit
from gui.sitting import Sitting
from gui.views.enquiry_forms import enquiry_form
from gui.views.form_plan import FormPlan
from gui.views.purchase_forms import order_form
from gui.views.quote_form import usual_currency
from gui.views.sheet_ending import ending_of
from gui.views.short_settings_form import short_settings_form
from gui.views.shown_board import ShownBoard
from invdb.acts.short_board import short_board, short_reasons
from invdb.acts.short_facts import ShortAction, ShortBoard, ShortReasons, ShortRow, ShortSettings
from invdb.acts.short_list import short_list
from invdb.acts.short_settings import short_settings
from invdb.rules.quantities import quantity_words
from invdb.terms import Refused


class BoardPresenter(ShownBoard):
    """The board of the store that is open; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__()
        self._sitting = sitting

    def read(self, job: Job) -> ShortBoard:
        """The board as it stands today."""
        with self._sitting.reading(job) as session:
            return short_board(session)

    def read_reasons(self, job: Job, part: int) -> ShortReasons:
        """What the figures of a part rest on."""
        with self._sitting.reading(job) as session:
            return short_reasons(session, part)

    def read_settings(self, job: Job) -> ShortSettings:
        """What the shop has chosen."""
        with self._sitting.reading(job) as session:
            return short_settings(session)

    def settings_plan(self, now: ShortSettings) -> FormPlan:
        """The form to choose the thresholds, the horizon and the usual days."""
        return short_settings_form(self._sitting, now)

    def ask_plan(self, _job: Job, row: ShortRow) -> FormPlan:
        """The form to ask firms for a part, as many as is advised."""
        return enquiry_form(self._sitting, (_advised(row),))

    def order_plan(self, job: Job, row: ShortRow) -> FormPlan:
        """The form to order a part, as many as is advised."""
        with self._sitting.reading(job) as session:
            currency = usual_currency(session)
        return order_form(self._sitting, currency, (_advised(row),))

    def save_list(self, job: Job, path: Path) -> Path:
        """Save the list as it is filtered here, as PDF or workbook by the ending; Refused for any other."""
        from invdb.paper.shortage_list import write_shortage_list_pdf, write_shortage_list_xlsx

        write = write_shortage_list_pdf if ending_of(path) == ".pdf" else write_shortage_list_xlsx
        if self.board is None:
            raise Refused("The board is not worked out yet.", "Wait a moment.")
        board = replace(self.board, rows=self.shown())
        with self._sitting.reading(job) as session:
            listed = short_list(session, board, self.filter.words)
        job.stop_here()
        write(listed, path)
        return path


def _advised(row: ShortRow) -> tuple[Hit, str]:
    """A part as a form names it, and how many of it to buy by the board's advice; "" where it gives none."""
    bought = (each for each in row.advice if each.action in {ShortAction.BUY, ShortAction.MAKE})
    advice = next(bought, None)
    much = quantity_words(advice.quantity, row.measure).removesuffix(" off") if advice is not None else ""
    return Hit(f"{row.house_number} {row.name}", "", "part", row.part), much
