"""The papers of the Engines view: the status sheet of an engine, and the letter of a recall, as files."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from gui.background import Background
from gui.job import Job
from gui.sitting import Sitting
from gui.view import Context
from gui.views.sheet_ending import ending_of
from invdb.acts.engine_list import ListedEngine
from invdb.acts.status_sheet import status_sheet
from invdb.rules.recall import RecallLetter
from invdb.rules.status import StatusSheet


class EnginePapers:
    """Asks where a paper is to be saved, and writes it on a worker.

    ``ask_where`` gets what stands above the question and the name offered, and gives "" for nowhere.
    """

    def __init__(self, context: Context, sitting: Sitting, ask_where: Callable[[str, str], str]) -> None:
        self._say, self._background, self._sitting = context.say, context.background, sitting
        self._ask_where = ask_where

    def save_status_sheet(self, engine: ListedEngine, day: date | None) -> None:
        """Save the status sheet of an engine on a day (None: today)."""
        as_of = (day or self._sitting.today()).isoformat()
        where = self._ask_where("Save the status sheet", f"status {engine.name} {as_of}.pdf")
        self._write(where, lambda job, path: self._write_sheet(job, engine.engine, day, path), "the sheet")

    def save_letter(self, letter: RecallLetter) -> None:
        """Save the letter of a recall."""
        where = self._ask_where("Save the letter of the recall", "recall.pdf")
        self._write(where, lambda _job, path: letter_writer(path)(letter, path), "the letter")

    def _write(self, where: str, write: Callable[[Job, Path], None], doing: str) -> None:
        if not where:
            return
        path, say = Path(where), self._say
        background: Background = self._background
        background.ask(
            "engine papers", lambda job: write(job, path), lambda _none: say(f"Saved {path}."), doing=doing
        )

    def _write_sheet(self, job: Job, engine: int, day: date | None, path: Path) -> None:
        write = sheet_writer(path)
        with self._sitting.reading(job) as session:
            sheet = status_sheet(session, engine, day)
        write(sheet, path)


def sheet_writer(path: Path) -> Callable[[StatusSheet, Path], None]:
    """What writes a status sheet to such a file: PDF or workbook, by its ending."""
    from invdb.paper.status_sheet import write_status_sheet_pdf, write_status_sheet_xlsx

    return write_status_sheet_pdf if ending_of(path) == ".pdf" else write_status_sheet_xlsx


def letter_writer(path: Path) -> Callable[[RecallLetter, Path], None]:
    """What writes the letter of a recall to such a file: PDF or workbook, by its ending."""
    from invdb.paper.recall_letter import write_recall_letter_pdf, write_recall_letter_xlsx

    return write_recall_letter_pdf if ending_of(path) == ".pdf" else write_recall_letter_xlsx
