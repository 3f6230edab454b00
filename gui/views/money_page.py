"""The page of money: a sum and a currency, what it is best spent on, and what more or less would do."""

from __future__ import annotations

import tkinter as tk
from functools import partial
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Page, Row, Sort
from gui.views.buying_pages import PageSetting
from gui.views.money_presenter import COLUMNS, NOT_ASKED, MoneyPresenter
from gui.widgets.field_keys import select_all_by_key
from gui.widgets.money_chart import MoneyChart
from gui.widgets.said_box import SaidBox
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Table
from gui.widgets.tip import explain
from invdb.rules.spending_plan import SpendingPlan

SUM_KEY = "Ctrl+E"
SUM_WIDTH, CURRENCY_WIDTH = 14, 6
LIST_SHARE = 0.62
NO_CURVE = "What more or less money would do is drawn here once a sum is worked out."


class MoneyPage(ttk.Frame):
    """One of the pages of Buying; see :class:`gui.views.buying_pages.BuyingPage`."""

    def __init__(self, parent: tk.Misc, setting: PageSetting) -> None:
        super().__init__(parent)
        self._context = setting.context
        self.presenter = MoneyPresenter(setting.sitting)
        self._sash_set = False
        self._build_question()
        px = self._context.theme.px
        self._told = ttk.Label(self, style="Strong.TLabel")
        self._told.pack(fill="x")
        self._besides = ttk.Label(self, style="Caption.TLabel")
        self._besides.pack(fill="x", pady=(px(2), px(6)))
        for label in (self._told, self._besides):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self._build_answer()
        share_keys(self, {SUM_KEY: self._go_to_sum})

    def unsaved(self) -> str:
        """Nothing is lost here."""
        return ""

    def focus_page(self) -> None:
        """Go on at the sum, or among what it is best spent on."""
        if self.presenter.plan is None:
            self._go_to_sum()
        else:
            self.table.focus_rows()

    def read(self) -> None:
        """Offer the usual currency, and work out again what was asked."""
        if not self.currency.get():
            self._context.background.ask("buying currency", self.presenter.read_currency, self._offer)
        if self.presenter.plan is not None:
            self.work_out()

    def open(self, ref: Any) -> None:
        """Nothing is found here by itself."""

    def work_out(self) -> None:
        """Work out what the sum that is typed is best spent on."""
        money, currency, presenter = self.sum.get(), self.currency.get(), self.presenter
        self._context.background.ask(
            "buying money",
            lambda job: presenter.work_out(job, money, currency),
            self._show,
            on_refused=lambda refused: self._context.refuse(str(refused)),
            doing="what the money is best spent on",
        )

    def told(self) -> str:
        """What is said of the answer."""
        return str(self._told.cget("text"))

    def said(self) -> str:
        """What is said of the chosen buy."""
        return self._foot.said()

    def _build_question(self) -> None:
        px = self._context.theme.px
        asked = ttk.Frame(self)
        asked.pack(fill="x", pady=(0, px(6)))
        ttk.Label(asked, text="What is a sum best spent on?", style="Subtitle.TLabel").pack(side="left")
        self.sum = ttk.Entry(asked, width=SUM_WIDTH, justify="right")
        self.sum.pack(side="left", padx=(px(16), px(6)))
        explain(self.sum, "The sum to be spent", SUM_KEY)
        self.currency = ttk.Entry(asked, width=CURRENCY_WIDTH)
        self.currency.pack(side="left", padx=(0, px(10)))
        explain(self.currency, "Its currency by the code of three letters; only quotes in it are weighed")
        self.button = ttk.Button(asked, text="Work it out", command=self.work_out, style="Accent.TButton")
        self.button.pack(side="left")
        explain(self.button, "The set of buys that lowers the shortage most", "Enter")
        for part in (self.sum, self.currency, self.button):
            for key in ("<Return>", "<KP_Enter>"):
                part.bind(key, lambda _event: self.work_out())
        for entry in (self.sum, self.currency):
            select_all_by_key(entry)

    def _build_answer(self) -> None:
        context, px = self._context, self._context.theme.px
        self._panes = ttk.Panedwindow(self, orient="horizontal")
        self._panes.pack(fill="both", expand=True)
        left = ttk.Frame(self._panes, padding=(0, 0, px(10), 0))
        self.table = Table(
            left,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=NOT_ASKED,
            many="buys",
            one="buy",
            widths=context.prefs.widths.get("best buys"),
            on_widths=partial(context.prefs.keep_widths, "best buys"),
            on_choose=self._chose,
            say=context.say,
        )
        self._foot = SaidBox(left, context.theme, lines=3)
        self._foot.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: self._go_to_sum())
        self.chart = MoneyChart(self._panes, context.theme, on_leave=self.table.focus_rows)
        self.chart.say(NO_CURVE)
        self._panes.add(left, weight=3)
        self._panes.add(self.chart, weight=2)
        self._panes.bind("<Configure>", lambda _event: self._set_sash())

    def _set_sash(self) -> None:
        width = self._panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self._panes.sashpos(0, round(width * LIST_SHARE))

    def _go_to_sum(self) -> None:
        self.sum.focus_set()
        self.sum.selection_range(0, "end")

    def _offer(self, currency: str) -> None:
        if not self.currency.get():
            self.currency.insert(0, currency)

    def _show(self, plan: SpendingPlan) -> None:
        self.presenter.plan = plan
        self._told.configure(text=self.presenter.told())
        self._besides.configure(text=self.presenter.told_besides())
        self.table.say_if_empty(self.presenter.empty())
        self.table.refresh()
        curve = self.presenter.curve()
        if curve is None:
            self.chart.say(NO_CURVE)
        else:
            self.chart.show(curve)

    def _chose(self, rows: list[Row]) -> None:
        self._foot.tell(self.presenter.said_of(rows[0].key) if len(rows) == 1 else "")

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self.presenter.page(offset, limit, sort, words)
