"""The page of plans: which engines are to be opened, and below them the hours each is to run by month."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Deed, Empty, Page, Row, Sort
from gui.views.buying_pages import PageSetting
from gui.views.form_page import FormPage
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.plan_presenter import COLUMNS, NO_ENGINES, NO_OVERHAULS, OpeningKey, PlanPresenter, PlanRead
from gui.widgets.deed_bar import DeedBar
from gui.widgets.month_grid import CHANGED, STANDING, MonthGrid
from gui.widgets.said_box import SaidBox
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Table
from invdb.terms import Refused

ADD_KEY, CHANGE_KEY, DONE_KEY, WITHDRAW_KEY = "Ins", "F4", "Ctrl+D", "Del"
GRID_KEY, SAVE_KEY, FILL_KEY = "Ctrl+G", "Ctrl+S", "Ctrl+R"
LIST_SHARE = 0.5
LIST_HEIGHT_MIN, HOURS_HEIGHT_MIN = 260, 170
LEGEND = (
    f"Bold is planned, {STANDING} goes on as of late, {CHANGED} is not saved yet. "
    f"Type a figure; Enter goes on, Del takes a plan back, {FILL_KEY} gives the figure to all later months."
)


class PlanPage(FormPage):
    """One of the pages of Buying; see :class:`gui.views.buying_pages.BuyingPage`."""

    def __init__(self, parent: tk.Misc, setting: PageSetting) -> None:
        super().__init__(parent)
        self._setting, self._context = setting, setting.context
        self.presenter = PlanPresenter(setting.sitting)
        self._sash_set = False
        self._place = FormPlace(
            self,
            self._context,
            setting.sitting,
            on_saved=lambda _made: setting.acted(),
            on_left=self.focus_page,
            deeds=setting.deeds,
        )
        self._place.pack(fill="both", expand=True)
        shown = ttk.Frame(self._place)
        self._panes = ttk.Panedwindow(shown, orient="vertical")
        self._panes.pack(fill="both", expand=True)
        self._build_overhauls()
        self._build_hours()
        self._panes.bind("<Configure>", lambda _event: self._set_sash())
        self._place.stand(shown)
        self._chose([])
        share_keys(
            shown,
            {ADD_KEY: self.add, CHANGE_KEY: self.change, DONE_KEY: self.done, GRID_KEY: self._go_to_grid,
             SAVE_KEY: self.save_hours},
        )  # fmt: skip

    def unsaved(self) -> str:
        """The open form, if anything was typed in it, and hours that are typed and not saved."""
        hours = "the hours typed and not saved" if self.hours.changes() else ""
        return " and ".join(words for words in (super().unsaved(), hours) if words)

    def read(self) -> None:
        """Read both plans again."""
        self._context.background.ask("buying plans", self.presenter.read, self._show, doing="the plans")

    def open(self, ref: Any) -> None:
        """Nothing is found here by itself."""

    def add(self) -> None:
        """Begin to plan an overhaul."""
        self._open(lambda: self.presenter.add_plan(self._keys()))

    def change(self) -> None:
        """Begin to change the chosen one, or to plan it where it is only proposed."""
        self._open(lambda: self.presenter.change_plan(self._keys()))

    def done(self) -> None:
        """Begin to say that the chosen one was done."""
        self._open(lambda: self.presenter.done_plan(self._keys()))

    def withdraw(self) -> None:
        """Begin to take the chosen one back."""
        self._open(lambda: self.presenter.withdraw_plan(self._keys()))

    def save_hours(self) -> None:
        """Save the hours that were typed."""
        if not self.hours.finish():
            return
        changes, presenter = self.hours.changes(), self.presenter
        if not changes:
            self._context.say("No hours are typed that are not saved.")
            return
        self._context.background.act(
            lambda job: presenter.save_hours(job, changes),
            self._saved_hours,
            on_refused=lambda refused: self._context.refuse(str(refused)),
            doing="the hours planned",
        )

    def told(self) -> str:
        """What is said of all overhauls."""
        return str(self._told.cget("text"))

    def said(self) -> str:
        """What is said in full of the chosen overhaul."""
        return self._foot.said()

    def _build_overhauls(self) -> None:
        context, px = self._context, self._context.theme.px
        above = ttk.Frame(self._panes)
        head = ttk.Frame(above)
        head.pack(fill="x")
        ttk.Label(head, text="Overhauls", style="Subtitle.TLabel").pack(side="left")
        self._told = ttk.Label(head, style="Dim.TLabel")
        self._told.pack(side="left", padx=px(12))
        self.bar = DeedBar(above, context.theme)
        self.bar.pack(fill="x", pady=px(6))
        self.table = Table(
            above,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=Empty(NO_OVERHAULS.headline, NO_OVERHAULS.how_to_begin, (self._add_deed(),)),
            many="overhauls",
            one="overhaul",
            widths=context.prefs.widths.get("overhaul plan"),
            on_widths=partial(context.prefs.keep_widths, "overhaul plan"),
            on_open=lambda _row: self.change(),
            on_choose=self._chose,
            deeds_for=self._deeds_for,
            say=context.say,
        )
        self._foot = SaidBox(above, context.theme, lines=2)
        self._foot.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.table.pack(fill="both", expand=True)
        self._panes.add(above, weight=1)

    def _build_hours(self) -> None:
        context, px = self._context, self._context.theme.px
        beneath = ttk.Frame(self._panes, padding=(0, px(10), 0, 0))
        head = ttk.Frame(beneath)
        head.pack(fill="x")
        ttk.Label(head, text="Hours to be run", style="Subtitle.TLabel").pack(side="left")
        self._legend = ttk.Label(beneath, text=LEGEND, style="Caption.TLabel")
        self._legend.pack(fill="x", pady=(px(2), px(4)))
        self._legend.bind("<Configure>", lambda event: self._legend.configure(wraplength=event.width))
        self.hours_bar = DeedBar(beneath, context.theme)
        self.hours = MonthGrid(
            beneath,
            context.theme,
            read=self.presenter.read_figure,
            sum_of=self.presenter.sum_of,
            refuse=context.refuse,
            on_change=self._hours_changed,
            on_leave=self.table.focus_rows,
        )
        self.hours.pack(fill="both", expand=True)
        self._panes.add(beneath, weight=1)

    def _hours_changed(self, count: int) -> None:
        pad = self._context.theme.px(4)
        if not count:
            self.hours_bar.pack_forget()
            return
        figures = "figure" if count == 1 else "figures"
        self.hours_bar.show(
            [
                Deed(f"Save {count} {figures}", self.save_hours, SAVE_KEY, "Plan these hours"),
                Deed("Drop them", self._drop_hours, "", "Show all as it is on record"),
            ]
        )
        self.hours_bar.pack(fill="x", pady=(0, pad), before=self.hours)

    def _drop_hours(self) -> None:
        self.hours.drop_changes()
        self.hours.canvas.focus_set()

    def _saved_hours(self, engines: int) -> None:
        self.hours.drop_changes()
        self.hours.canvas.focus_set()
        count = "one engine" if engines == 1 else f"{engines} engines"
        self._context.say(f"The hours of {count} are planned.")
        self._setting.sitting.posted()
        self._setting.acted()

    def _go_to_grid(self) -> None:
        self.hours.canvas.focus_set()

    def _set_sash(self) -> None:
        height = self._panes.winfo_height()
        if height > 1 and not self._sash_set:
            self._sash_set = True
            px = self._context.theme.px
            self._panes.sashpos(
                0, max(round(height * LIST_SHARE), min(px(LIST_HEIGHT_MIN), height - px(HOURS_HEIGHT_MIN)))
            )

    def _open(self, plan: Callable[[], FormPlan]) -> None:
        if self._place.in_the_way():
            return
        try:
            self._place.open(plan())
        except Refused as refused:
            self._context.refuse(str(refused))

    def _keys(self) -> list[OpeningKey]:
        return [row.key for row in self.table.chosen()]

    def _chose(self, rows: list[Row]) -> None:
        self._foot.tell(self.presenter.said_of(rows[0].key) if len(rows) == 1 else "")
        self.bar.show(self._deeds_for(rows))

    def _deeds_for(self, rows: list[Row]) -> list[Deed]:
        opening = self.presenter.opening(rows[0].key) if len(rows) == 1 else None
        planned = opening is not None and opening.planned
        deeds = [
            (planned, Deed("Change …", self.change, CHANGE_KEY, "Put it off or forward, or reword its note")),
            (opening is not None and not planned,
             Deed("Plan it …", self.change, CHANGE_KEY, "Plan what is proposed, then or at another time")),
            (True, self._add_deed()),
            (planned, Deed("Done …", self.done, DONE_KEY, "Say that it was done")),
            (planned, Deed("Withdraw …", self.withdraw, WITHDRAW_KEY, "Take it back, and why")),
        ]  # fmt: skip
        return [deed for fits, deed in deeds if fits]

    def _add_deed(self) -> Deed:
        return Deed("Plan an overhaul …", self.add, ADD_KEY, "Say when an engine is to be opened")

    def _show(self, plans: PlanRead) -> None:
        self.presenter.plans = plans
        self._told.configure(text=self.presenter.told())
        self._legend.configure(text=LEGEND if plans.flying else NO_ENGINES)
        self.hours.show(self.presenter.months(), self.presenter.grid())
        self.table.refresh(None if self.table.chosen() else self.presenter.first())

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self.presenter.page(offset, limit, sort, words)
