"""The shortage board: parts worst first, and of the chosen one need and supply, what to do and why."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Deed, Page, Row, Sort
from gui.views.board_filters import BoardFilters
from gui.views.board_presenter import BoardPresenter
from gui.views.buying_pages import PageSetting
from gui.views.form_page import FormPage
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.shown_board import COLUMNS, WANTED
from gui.views.trade_pages import ENQUIRIES, ORDERS
from gui.widgets.chance_picture import GAP, WIDTH, ChancePictures
from gui.widgets.deed_bar import DeedBar
from gui.widgets.need_chart import NeedChart
from gui.widgets.sections_text import SectionsText
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Pictured, Table
from invdb.acts.short_facts import ShortBoard, ShortReasons, ShortRow, ShortSettings

ASK_KEY, ORDER_KEY, PRINT_KEY, SETTINGS_KEY, PART_KEY, FILTER_KEY = (
    "Ins",
    "F4",
    "Ctrl+P",
    "Ctrl+Shift+J",
    "Ctrl+O",
    "Ctrl+E",
)
LIST_SHARE, CHART_SHARE = 0.46, 0.54
RESTS_ON = "What it rests on"


class BoardPage(FormPage):
    """One of the pages of Buying; see :class:`gui.views.buying_pages.BuyingPage`."""

    def __init__(self, parent: tk.Misc, setting: PageSetting) -> None:
        super().__init__(parent)
        self._setting, self._context = setting, setting.context
        self.presenter = BoardPresenter(setting.sitting)
        self._pictures = ChancePictures(self._context.theme)
        self._with_reasons = False
        self._sashes_set = False
        self._part_wanted: int | None = None
        self._place = FormPlace(
            self,
            self._context,
            setting.sitting,
            on_saved=lambda _entry: setting.acted(),
            on_left=self.focus_page,
            deeds=setting.deeds,
        )
        self._place.pack(fill="both", expand=True)
        shown = ttk.Frame(self._place)
        self._build_head(shown)
        self._down = ttk.Panedwindow(shown, orient="vertical")
        self._down.pack(fill="both", expand=True)
        self._build_list()
        self._build_chosen()
        self._place.stand(shown)
        self._show_chosen([])
        share_keys(shown, {deed.key: deed.run for deed in self._deeds() if deed.key != "Enter"})
        share_keys(shown, {FILTER_KEY: self.filters.engine.focus_field})

    def read(self) -> None:
        """Work out the board again."""
        self._context.background.ask(
            "buying board",
            self.presenter.read,
            self._show,
            on_progress=self._context.progress,
            on_over=lambda: self._context.progress("", None),
            doing="the shortage board",
        )

    def open(self, ref: Any) -> None:
        """Show a part, by its id."""
        self._part_wanted = ref
        self._show_wanted()

    def told(self) -> str:
        """What is said of the whole board."""
        return str(self._told.cget("text"))

    def said(self) -> str:
        """What is said of the chosen part."""
        return self.words.said()

    def turn_reasons(self) -> None:
        """Say what the figures of the chosen part rest on, or put it away again."""
        self._with_reasons = not self._with_reasons
        self._show_words()
        if self._with_reasons:
            self.words.see_heading(WANTED)

    def choose_settings(self) -> None:
        """Begin to choose the thresholds, the horizon and the usual days."""
        if not self._place.in_the_way():
            self._context.background.ask(
                "buying settings", self.presenter.read_settings, self._open_settings, doing="the settings"
            )

    def show_part(self) -> None:
        """Go to the page of the chosen part in the catalogue."""
        row = self._chosen()
        if row is None:
            self._context.refuse("No part is chosen, or several are. Choose one in the list.")
        else:
            self._context.go_to("catalogue", ("part", row.part))

    def ask_firms(self) -> None:
        """Begin to ask firms for the chosen part, on the page of enquiries."""
        self._begin(ENQUIRIES, self.presenter.ask_plan)

    def order(self) -> None:
        """Begin to order the chosen part, on the page of orders."""
        self._begin(ORDERS, self.presenter.order_plan)

    def _begin(self, page: str, plan: Callable[[Job, ShortRow], FormPlan]) -> None:
        row = self._chosen()
        if row is None:
            self._context.refuse("No part is chosen, or several are. Choose one in the list.")
        else:
            self._context.go_to("buying", (page, lambda job: plan(job, row)))

    def print_list(self) -> None:
        """Save the list as it is filtered, as PDF or workbook."""
        if self.presenter.board is None:
            self._context.refuse("The board is not worked out yet. Wait a moment.")
            return
        name = f"shortage list {self.presenter.board.day.isoformat()}.pdf"
        where = self._setting.ask_where(self, "Save the shortage list", name)
        if where:
            self._context.background.ask(
                "buying paper",
                lambda job: self.presenter.save_list(job, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the shortage list",
            )

    def _build_head(self, shown: ttk.Frame) -> None:
        px = self._context.theme.px
        self._told = ttk.Label(shown, style="Strong.TLabel")
        self._told.pack(fill="x")
        self._thresholds = ttk.Label(shown, style="Caption.TLabel")
        self._thresholds.pack(fill="x", pady=(px(2), px(6)))
        for label in (self._told, self._thresholds):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self.bar = DeedBar(shown, self._context.theme)
        self.bar.pack(fill="x", pady=(0, px(6)))
        self.bar.show(self._deeds())
        self.filters = BoardFilters(shown, self._context.theme, self.presenter, self._filtered)
        self.filters.pack(fill="x", pady=(0, px(6)))

    def _build_list(self) -> None:
        context = self._context
        above = ttk.Frame(self._down)
        self.table = Table(
            above,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=self.presenter.empty(),
            many="parts",
            one="part",
            widths=context.prefs.widths.get("shortage board"),
            on_widths=partial(context.prefs.keep_widths, "shortage board"),
            on_open=lambda _row: self.turn_reasons(),
            on_choose=self._show_chosen,
            deeds_for=lambda _rows: self._deeds(),
            say=context.say,
            pictured=Pictured("By month", WIDTH + 2 * GAP, self._picture_of),
        )
        self.table.pack(fill="both", expand=True)
        self._down.add(above, weight=1)

    def _build_chosen(self) -> None:
        context, px = self._context, self._context.theme.px
        beneath = ttk.Frame(self._down, padding=(0, px(8), 0, 0))
        self._across = ttk.Panedwindow(beneath, orient="horizontal")
        self._across.pack(fill="both", expand=True)
        self.chart = NeedChart(
            self._across, context.theme, on_leave=self.table.focus_rows, on_open=self.turn_reasons
        )
        right = ttk.Frame(self._across, padding=(px(10), 0, 0, 0))
        self._name = ttk.Label(right, style="Subtitle.TLabel")
        self._name.pack(fill="x")
        self._name.bind("<Configure>", lambda event: self._name.configure(wraplength=event.width))
        self.words = SectionsText(right, context.theme)
        self.words.pack(fill="both", expand=True)
        self._across.add(self.chart, weight=3)
        self._across.add(right, weight=2)
        self._down.add(beneath, weight=1)
        self._down.bind("<Configure>", lambda _event: self._set_sashes())

    def _deeds(self) -> list[Deed]:
        return [
            Deed(
                RESTS_ON,
                self.turn_reasons,
                "Enter",
                "What went into need and supply, and how many inspections",
            ),
            Deed("Ask firms …", self.ask_firms, ASK_KEY, "Ask firms for it, how many is said in what to do"),
            Deed("Order …", self.order, ORDER_KEY, "Order it of a firm"),
            Deed("Show the part", self.show_part, PART_KEY, "Its page in the catalogue"),
            Deed("Save the list …", self.print_list, PRINT_KEY, "As PDF or workbook, as it is filtered here"),
            Deed(
                "Thresholds …",
                self.choose_settings,
                SETTINGS_KEY,
                "From which chance a part is short, and how far the board looks",
            ),
        ]

    def _set_sashes(self) -> None:
        height, width = self._down.winfo_height(), self._across.winfo_width()
        if height > 1 and width > 1 and not self._sashes_set:
            self._sashes_set = True
            self._down.sashpos(0, round(height * LIST_SHARE))
            self._across.sashpos(0, round(width * CHART_SHARE))

    def _show(self, board: ShortBoard) -> None:
        self.presenter.set_board(board)
        self._told.configure(text=self.presenter.told())
        self._thresholds.configure(text=self.presenter.told_thresholds())
        self._setting.tell(self.presenter.tab_words())
        self.filters.refresh()
        self.table.say_if_empty(self.presenter.empty())
        self.table.refresh(self._to_choose())
        self._part_wanted = None

    def _to_choose(self) -> int | None:
        """What is wanted from elsewhere, else what is chosen already, else what is worst."""
        chosen = self.table.chosen()
        return self._part_wanted or (chosen[0].key if len(chosen) == 1 else self.presenter.first_part())

    def _show_wanted(self) -> None:
        if self.presenter.board is not None and self._part_wanted is not None:
            self.table.refresh(self._part_wanted)
            self._part_wanted = None

    def _filtered(self) -> None:
        self.table.say_if_empty(self.presenter.empty())
        self.table.show_from_start(self.presenter.first_part())

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self.presenter.page(offset, limit, sort, words)

    def _picture_of(self, row: Row) -> tk.PhotoImage:
        found = self.presenter.row(row.key)
        watch, short = self.presenter.shares()
        return self._pictures.of(found.chances if found is not None else (0.0,), watch, short)

    def _chosen(self) -> ShortRow | None:
        rows = self.table.chosen()
        return self.presenter.row(rows[0].key) if len(rows) == 1 else None

    def _show_chosen(self, _rows: list[Row]) -> None:
        row = self._chosen()
        if row is None:
            self._context.background.forget("buying reasons")
            self._name.configure(text="")
            self.words.show(())
            self.chart.say("Choose a part above: what will be wanted of it, and what there will be.")
            return
        if self.presenter.reasons is None or self.presenter.reasons.row.part != row.part:
            part, presenter = row.part, self.presenter
            self._context.background.ask(
                "buying reasons",
                lambda job: presenter.read_reasons(job, part),
                self._show_reasons,
                doing="what the figures rest on",
            )
        self._name.configure(text=f"{row.house_number}  {row.name}")
        self.chart.show(self.presenter.picture(row))
        self._show_words()

    def _show_reasons(self, reasons: ShortReasons) -> None:
        self.presenter.reasons = reasons
        row = self._chosen()
        if row is not None and row.part == reasons.row.part:
            self.chart.show(self.presenter.picture(row))
            self._show_words()

    def _show_words(self) -> None:
        row = self._chosen()
        if row is not None:
            self.words.show(
                [(each.heading, each.lines) for each in self.presenter.words(row, self._with_reasons)]
            )

    def _open_settings(self, now: ShortSettings) -> None:
        self._place.open(self.presenter.settings_plan(now))
