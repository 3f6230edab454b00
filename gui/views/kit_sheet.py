"""The kit sheet beside the engine picture: title and signs, deeds, one row a station, and one in full."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Empty, Page, Row, Sort
from gui.signs import sign
from gui.theme import CAPTION, has_focus
from gui.view import Context
from gui.views.kit_sheet_presenter import (
    COLUMNS,
    EMPTY_SHEET,
    FITS_NOT_CHECKED,
    FITS_RECKONED,
    FITS_TOLD,
    Sheet,
)
from gui.widgets.said_box import SaidBox
from gui.widgets.table import Table
from gui.widgets.tip import explain


class KitSheet(ttk.Frame):
    """Shows a :class:`Sheet`. ``deeds`` gives what may be done with the sheet, ``deeds_for`` with some rows.

    ``on_leave`` is Escape among the rows.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        *,
        empty: Empty,
        deeds_for: Callable[[list[Row]], list[Deed]],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._theme = context.theme
        self._empty = empty
        self._signs: tuple[str, ...] = ()
        self.sheet: Sheet = EMPTY_SHEET
        self.buttons: dict[str, ttk.Button] = {}
        px = context.theme.px
        self._title = ttk.Label(self, style="Subtitle.TLabel")
        self._title.pack(fill="x")
        told = ttk.Frame(self)
        told.pack(fill="x", pady=(px(2), px(8)))
        self._sign_row = ttk.Frame(told)
        self._sign_row.pack(side="left")
        self._remark = ttk.Label(told, style="Dim.TLabel")
        self._remark.pack(side="left", fill="x", expand=True)
        self._remark.bind("<Configure>", lambda event: self._remark.configure(wraplength=event.width))
        self._deed_row = ttk.Frame(self)
        self._deed_row.pack(fill="x", pady=(0, px(6)))
        self._foot = SaidBox(self, context.theme)
        self.table = Table(
            self,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=empty,
            many="rows",
            one="row",
            widths=context.prefs.widths.get("kit sheet"),
            on_widths=partial(context.prefs.keep_widths, "kit sheet"),
            on_choose=self._chose,
            deeds_for=deeds_for,
            say=context.say,
        )
        self.table.pack(fill="both", expand=True)
        self._title.configure(text="Kit sheet")
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
        self.bind("<<ThemeChanged>>", lambda _event: self._show_signs())

    def show(self, sheet: Sheet, deeds: Sequence[Deed]) -> None:
        """Show another sheet, from its first row."""
        self.sheet = sheet
        self._title.configure(text=sheet.title or "Kit sheet")
        self._remark.configure(text=sheet.remark)
        self._signs = sheet.signs if sheet.kits else ()
        self._show_signs()
        self._show_deeds(deeds)
        self._tell(sheet.digest())
        self.table.show_from_start()

    def working(self, title: str, remark: str) -> None:
        """Say what is being worked out, with no rows yet."""
        self.show(Sheet(title, (), remark, ()), ())

    def clear(self) -> None:
        """Show that nothing is asked for."""
        self.show(EMPTY_SHEET, ())

    def said(self) -> str:
        """What is said in full of the chosen row."""
        return self._foot.said()

    def title(self) -> str:
        """What the sheet is of."""
        return str(self._title.cget("text"))

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self.sheet.page(offset, limit, sort, words)

    def _chose(self, rows: list[Row]) -> None:
        if len(rows) > 1:
            self._tell(f"{len(rows)} rows are chosen.\n{self.sheet.digest()}")
        elif rows and rows[0].key.kit < len(self.sheet.kits):
            key = rows[0].key
            self._tell(f"{self.sheet.said_of(key)}\n{self.sheet.digest(but_for=key)}")
        else:
            self._tell(self.sheet.digest())

    def _tell(self, text: str) -> None:
        self._foot.tell(text)
        if text:
            self._foot.pack(side="bottom", fill="x", pady=(self._theme.px(6), 0), before=self.table)
        else:
            self._foot.pack_forget()

    def _show_deeds(self, deeds: Sequence[Deed]) -> None:
        leaves = any(has_focus(button) for button in self.buttons.values())
        for button in self.buttons.values():
            button.destroy()
        self.buttons = {}
        for deed in deeds:
            style = "TButton" if self.buttons else "Accent.TButton"
            button = ttk.Button(self._deed_row, text=deed.word, command=deed.run, style=style)
            button.bind("<Return>", lambda event: event.widget.invoke())
            button.pack(side="left", padx=(0, self._theme.px(6)))
            explain(button, deed.hint or deed.word, deed.key)
            self.buttons[deed.word] = button
        if leaves:
            self.table.focus_rows()

    def _show_signs(self) -> None:
        for part in self._sign_row.winfo_children():
            part.destroy()
        palette, px = self._theme.palette, self._theme.px
        shown = [(sign(word), sign(word).text, "") for word in self._signs]
        if self.sheet.kits and self.sheet.fits:
            fits = sign(self.sheet.fits)
            shown.append((fits, f"{fits.mark} fits {fits.word}", FITS_RECKONED))
        elif self.sheet.kits:
            care = sign("take care")
            shown.append((care, f"{care.mark} {FITS_NOT_CHECKED.lower()}", FITS_TOLD))
        for each, text, hint in shown:
            label = ttk.Label(self._sign_row, text=text, font=CAPTION, padding=self._theme.pad(8, 2))
            label.configure(background=palette.tint(each.hue), foreground=palette.on_tint(each.hue))
            label.pack(side="left", padx=(0, px(6)))
            if hint:
                explain(label, hint)
