"""The page of instruments: which measure, until when each is good, and the forms that keep that true."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Empty, Page, Row, Sort
from gui.sitting import Sitting
from gui.view import Context
from gui.views.form_page import FormPage
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.instruments_presenter import COLUMNS, NO_INSTRUMENTS, InstrumentsPresenter
from gui.widgets.deed_bar import DeedBar
from gui.widgets.said_box import SaidBox
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Table
from invdb.acts.instrument_list import ListedInstrument
from invdb.acts.part_papers import KeptPaper
from invdb.terms import Refused

ADD_KEY, CALIBRATE_KEY, COPY_KEY, WITHDRAW_KEY = "Ins", "F4", "Ctrl+S", "Del"
DEEDS = {
    ADD_KEY: ("Add an instrument", "Add one by the number that is marked on it"),
    CALIBRATE_KEY: ("Calibration", "Record that it was calibrated again, with its certificate"),
    COPY_KEY: ("Save its certificate", "Save the file of its certificate, to look at it"),
    WITHDRAW_KEY: ("Withdraw", "Say that it is no longer used, and why"),
}


class InstrumentsPage(FormPage):
    """``deeds`` are to be done by their keys wherever one is in a form.

    ``on_read`` hears what its tab is to say, ``on_leave`` is Escape among the rows, and ``ask_where`` gets a
    part of the window, a title and a name, and gives the file that is to be written, "" for none.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        presenter: InstrumentsPresenter,
        *,
        deeds: tuple[Deed, ...],
        ask_where: Callable[[tk.Misc, str, str], str],
        on_read: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter = context, presenter
        self._ask_where, self._on_read = ask_where, on_read
        px = context.theme.px
        self._place = FormPlace(
            self,
            context,
            sitting,
            on_saved=lambda _made: self.read(),
            on_left=self.focus_page,
            deeds=deeds,
        )
        self._place.pack(fill="both", expand=True)
        shown = ttk.Frame(self._place)
        ttk.Label(shown, text="Instruments", style="Subtitle.TLabel").pack(fill="x")
        self._told = ttk.Label(shown)
        self._told.pack(fill="x", pady=(px(2), px(6)))
        self.bar = DeedBar(shown, context.theme)
        self.bar.pack(fill="x", pady=(0, px(6)))
        self.table = Table(
            shown,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=Empty(
                NO_INSTRUMENTS.headline, NO_INSTRUMENTS.how_to_begin, (self._deed(ADD_KEY, self.add),)
            ),
            many="instruments",
            one="instrument",
            widths=context.prefs.widths.get("instruments"),
            on_widths=partial(context.prefs.keep_widths, "instruments"),
            on_open=lambda _row: self.calibrate(),
            on_choose=self._chose,
            deeds_for=self._deeds_for,
            say=context.say,
        )
        self._foot = SaidBox(shown, context.theme, lines=4)
        self._foot.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
        self._place.stand(shown)
        self._chose([])
        share_keys(shown, {ADD_KEY: self.add, CALIBRATE_KEY: self.calibrate, COPY_KEY: self.save_certificate})

    def read(self) -> None:
        """Read the instruments again."""
        self._context.background.ask("bench instruments", self._presenter.read, self._show)

    def add(self) -> None:
        """Begin to add another."""
        self._open(self._presenter.add_plan)

    def calibrate(self) -> None:
        """Begin to record a calibration of the chosen one."""
        self._open(lambda: self._presenter.calibrate_plan(self._keys()))

    def withdraw(self) -> None:
        """Begin to withdraw the chosen one."""
        self._open(lambda: self._presenter.withdraw_plan(self._keys()))

    def save_certificate(self) -> None:
        """Save a copy of the certificate that the chosen one stands by."""
        keys, presenter = self._keys(), self._presenter
        if len(keys) != 1:
            self._context.refuse("No instrument is chosen, or several are. Choose one in the list.")
            return
        self._context.background.ask(
            "bench certificate",
            lambda job: presenter.certificate(job, keys[0]),
            self._save_copy,
            on_refused=lambda refused: self._context.refuse(str(refused)),
            doing="the certificate",
        )

    def said(self) -> str:
        """What is said in full of the chosen row."""
        return self._foot.said()

    def told(self) -> str:
        """What is said of them all."""
        return str(self._told.cget("text"))

    def _open(self, plan: Callable[[], FormPlan]) -> None:
        if self._place.in_the_way():
            return
        try:
            self._place.open(plan())
        except Refused as refused:
            self._context.refuse(str(refused))

    def _keys(self) -> list[int]:
        return [row.key for row in self.table.chosen()]

    def _save_copy(self, kept: KeptPaper) -> None:
        where, presenter = self._ask_where(self, f"Save {kept.reference}", kept.file_name), self._presenter
        if where:
            self._context.background.ask(
                "bench certificate copy",
                lambda job: presenter.save_certificate(job, kept, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the certificate",
            )

    def _chose(self, rows: list[Row]) -> None:
        told = [self._presenter.said_of(row.key) for row in rows]
        self._foot.tell(told[0] if len(told) == 1 else f"{len(told)} are chosen." if told else "")
        self.bar.show(self._deeds_for(rows))

    def _deeds_for(self, rows: list[Row]) -> list[Deed]:
        chosen = rows[0].key if len(rows) == 1 else None
        in_use = chosen is not None and self._presenter.in_use(chosen)
        deeds = [
            (in_use, self._deed(CALIBRATE_KEY, self.calibrate)),
            (chosen is not None and self._presenter.has_copy(chosen),
             self._deed(COPY_KEY, self.save_certificate)),
            (True, self._deed(ADD_KEY, self.add)),
            (in_use, self._deed(WITHDRAW_KEY, self.withdraw)),
        ]  # fmt: skip
        return [deed for fits, deed in deeds if fits]

    def _deed(self, key: str, run: Callable[[], None]) -> Deed:
        word, hint = DEEDS[key]
        return Deed(f"{word} …", run, key, hint)

    def _show(self, found: tuple[ListedInstrument, ...]) -> None:
        self._presenter.instruments = found
        self._told.configure(text=self._presenter.told())
        self._on_read(self._presenter.tab_words())
        self.table.refresh()

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self._presenter.page(offset, limit, sort, words)
