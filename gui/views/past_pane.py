"""The inspections of the chosen thing that are kept, and the filled sheet of any of them to print."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Empty, Page, Row, Sort
from gui.view import Context
from gui.views.inspection_past import COLUMNS, NEVER_INSPECTED, Past
from gui.widgets.deed_bar import DeedBar
from gui.widgets.empty_note import EmptyNote
from gui.widgets.said_box import SaidBox
from gui.widgets.table import Table


class PastPane(ttk.Frame):
    """Shows a :class:`Past`, or an empty note while nothing is chosen.

    ``on_print`` gets the inspection, by its id, whose filled sheet is wanted; ``on_leave`` is Escape.
    ``deeds`` are offered besides.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        *,
        nothing_chosen: Empty,
        deeds: tuple[Deed, ...],
        on_print: Callable[[int], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self.past: Past | None = None
        self._nothing_chosen, self._on_print = nothing_chosen, on_print
        px = context.theme.px
        self._title = ttk.Label(self, style="Subtitle.TLabel")
        self._told = ttk.Label(self, style="Dim.TLabel")
        for label in (self._title, self._told):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self._bar = DeedBar(self, context.theme)
        self._print = Deed(
            "Filled sheet …", self.print_chosen, "Ctrl+P", "Save the chosen inspection, or the latest, as PDF"
        )
        self._bar.show((self._print, *deeds))
        self._foot = SaidBox(self, context.theme)
        self.table = Table(
            self,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=NEVER_INSPECTED,
            many="rows",
            one="row",
            widths=context.prefs.widths.get("past inspections"),
            on_widths=partial(context.prefs.keep_widths, "past inspections"),
            on_choose=self._chose,
            deeds_for=lambda _rows: [self._print],
            say=context.say,
        )
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
        self._packing = (
            (self._title, {"fill": "x"}),
            (self._told, {"fill": "x", "pady": (px(2), px(6))}),
            (self._bar, {"fill": "x", "pady": (0, px(6))}),
            (self._foot, {"side": "bottom", "fill": "x", "pady": (px(6), 0)}),
            (self.table, {"fill": "both", "expand": True}),
        )
        self._note = EmptyNote(self, context.theme)
        self.show(None)

    def show(self, past: Past | None) -> None:
        """Show that, from its latest inspection; None while nothing is chosen."""
        self.past = past
        for part, how in self._packing:
            part.pack_forget()
            if past is not None:
                part.pack(**how)
        if past is None:
            self._note.show(self._nothing_chosen)
            return
        self._note.hide()
        self._title.configure(text=past.title)
        self._told.configure(text=past.told)
        self._tell_latest()
        self.table.show_from_start()

    def said(self) -> str:
        """What is said in full of the chosen row."""
        return self._foot.said()

    def print_chosen(self) -> None:
        """Ask for the filled sheet of the inspection of the chosen row, or of the latest one."""
        rows = self.table.chosen()
        if rows:
            self._on_print(rows[0].key.inspection)
        elif self.past is not None and self.past.kept:
            self._on_print(self.past.kept[0].heading.key.inspection)

    def _fetch(self, _job: Job, offset: int, limit: int, _sort: Sort | None, words: str) -> Page:
        return self.past.page(offset, limit, words) if self.past is not None else Page((), 0, 0)

    def _chose(self, rows: list[Row]) -> None:
        past = self.past
        known = {each.heading.key.inspection for each in past.kept} if past is not None else set()
        if past is not None and len(rows) == 1 and rows[0].key.inspection in known:
            self._foot.tell(past.said_of(rows[0].key))
        else:
            self._tell_latest()

    def _tell_latest(self) -> None:
        past = self.past
        latest = past.kept[0].heading.key if past is not None and past.kept else None
        self._foot.tell(past.said_of(latest) if past is not None and latest is not None else "")
