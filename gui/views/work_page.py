"""The page of what is out for work, overdue first; the form to book it back takes its place."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Page, Row, Sort
from gui.sitting import Sitting
from gui.view import Context
from gui.views.form_page import FormPage
from gui.views.form_place import FormPlace
from gui.views.work_presenter import COLUMNS, NOTHING_OUT, WorkPresenter
from gui.widgets.deed_bar import DeedBar
from gui.widgets.said_box import SaidBox
from gui.widgets.table import Table
from invdb.acts.work_list import WorkOrderFacts

BACK_KEY = "Ctrl+B"


class WorkPage(FormPage):
    """``deeds`` are to be done by their keys wherever one is in a form.

    ``on_acted`` hears that something came back, ``on_read`` what its tab is to say, and ``on_leave`` is
    Escape among the rows.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        presenter: WorkPresenter,
        *,
        deeds: tuple[Deed, ...],
        on_acted: Callable[[], None],
        on_read: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter = context, presenter
        self._on_acted, self._on_read = on_acted, on_read
        px = context.theme.px
        self._place = FormPlace(
            self,
            context,
            sitting,
            on_saved=lambda _entry: self._acted(),
            on_left=self.focus_page,
            deeds=deeds,
        )
        self._place.pack(fill="both", expand=True)
        shown = ttk.Frame(self._place)
        ttk.Label(shown, text="Out for work", style="Subtitle.TLabel").pack(fill="x")
        self._told = ttk.Label(shown)
        self._told.pack(fill="x", pady=(px(2), px(6)))
        bar = DeedBar(shown, context.theme)
        bar.pack(fill="x", pady=(0, px(6)))
        bar.show([self._back_deed()])
        self.table = Table(
            shown,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=NOTHING_OUT,
            many="things",
            one="thing",
            widths=context.prefs.widths.get("out for work"),
            on_widths=partial(context.prefs.keep_widths, "out for work"),
            on_open=lambda _row: self.book_back(),
            on_choose=self._chose,
            deeds_for=lambda _rows: [self._back_deed()],
            say=context.say,
        )
        self._foot = SaidBox(shown, context.theme, lines=3)
        self._foot.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
        self._place.stand(shown)

    def read(self) -> None:
        """Read again what is out."""
        self._context.background.ask("bench work", self._presenter.read, self._show)

    def book_back(self) -> None:
        """Book back the chosen rows, all of one order."""
        if self._place.in_the_way():
            return
        keys, presenter = [row.key for row in self.table.chosen()], self._presenter
        self._context.background.ask(
            "bench back",
            lambda job: presenter.back_plan(job, keys),
            self._place.open,
            on_refused=lambda refused: self._context.refuse(str(refused)),
        )

    def said(self) -> str:
        """What is said in full of the chosen row."""
        return self._foot.said()

    def _chose(self, rows: list[Row]) -> None:
        told = [self._presenter.said_of(row.key) for row in rows]
        self._foot.tell(told[0] if len(told) == 1 else f"{len(told)} are chosen." if told else "")

    def _back_deed(self) -> Deed:
        return Deed(
            "Back from work …", self.book_back, BACK_KEY, "Book back what came of it, with its report"
        )

    def _show(self, orders: tuple[WorkOrderFacts, ...]) -> None:
        self._presenter.orders = orders
        self._told.configure(text=self._presenter.told())
        self._on_read(self._presenter.tab_words())
        self.table.refresh()

    def _acted(self) -> None:
        self.read()
        self._on_acted()

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self._presenter.page(offset, limit, sort, words)
