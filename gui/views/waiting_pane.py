"""What waits for inspection, beside the sheet: choose one and press Enter to lay out its sheet."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.view import Context
from gui.views.inspection_presenter import COLUMNS, NOTHING_WAITS, SORT_FIRST, InspectionPresenter
from gui.widgets.table import Table
from invdb.acts.numbers import Thing


class WaitingPane(ttk.Frame):
    """The list of what is uninspected, longest here first. ``on_open`` gets what is to be inspected."""

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: InspectionPresenter,
        *,
        on_open: Callable[[Thing], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        head = ttk.Label(self, text="Waits for inspection", style="Subtitle.TLabel")
        head.pack(fill="x", pady=(0, context.theme.px(8)))
        self.table = Table(
            self,
            context.theme,
            context.background,
            COLUMNS,
            presenter.fetch,
            empty=NOTHING_WAITS,
            many="waiting",
            one="waiting",
            sort=SORT_FIRST,
            widths=context.prefs.widths.get("waits for inspection"),
            on_widths=partial(context.prefs.keep_widths, "waits for inspection"),
            on_open=lambda row: on_open(row.key[0]),
            say=context.say,
        )
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
