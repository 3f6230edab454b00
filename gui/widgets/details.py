"""One chosen thing beside a list: its name, its signs in words, and facts, each with its word."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import ttk

from gui.shown import Deed
from gui.signs import sign
from gui.theme import CAPTION, Theme
from gui.widgets.tip import explain

WORD_WIDTH = 120
Fact = tuple[str, str]


class Details(ttk.Frame):
    """Shows plain values; what does not fit in a line is wrapped to the width there is."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent)
        self._theme = theme
        self._facts: Sequence[Fact] = ()
        self._signs: Sequence[str] = ()
        self._chips: list[ttk.Label] = []
        px = theme.px
        self._title = ttk.Label(self, style="Subtitle.TLabel")
        self._title.pack(anchor="w", fill="x")
        self._sign_row = ttk.Frame(self)
        self._sign_row.pack(anchor="w", fill="x", pady=(px(2), px(4)))
        self._deed_row = ttk.Frame(self)
        self._deed_row.pack(anchor="w", fill="x")
        self._fact_rows = ttk.Frame(self)
        self._fact_rows.pack(fill="x", pady=(px(6), 0))
        self._fact_rows.columnconfigure(1, weight=1)
        self._fact_rows.columnconfigure(0, minsize=px(WORD_WIDTH))
        self.bind("<Configure>", lambda event: self._wrap(event.width))
        self.bind("<<ThemeChanged>>", lambda _event: self._show_signs())

    def show(
        self,
        title: str,
        *,
        signs: Sequence[str] = (),
        facts: Sequence[Fact] = (),
        deeds: Sequence[Deed] = (),
    ) -> None:
        """Show the title, the signs by their words, the facts as (word, text), and buttons for the deeds."""
        self._title.configure(text=title)
        self._signs, self._facts = signs, facts
        self._show_signs()
        for row in (self._fact_rows, self._deed_row):
            for part in row.winfo_children():
                part.destroy()
        px = self._theme.px
        for deed in deeds:
            button = ttk.Button(self._deed_row, text=deed.word, command=deed.run)
            button.bind("<Return>", lambda event: event.widget.invoke())
            button.pack(side="left", padx=(0, px(6)))
            explain(button, deed.hint or deed.word, deed.key)
        for at, (word, text) in enumerate(facts):
            label = ttk.Label(self._fact_rows, text=word, style="Dim.TLabel")
            label.grid(row=at, column=0, sticky="nw", padx=(0, px(10)), pady=px(1))
            ttk.Label(self._fact_rows, text=text).grid(row=at, column=1, sticky="nw", pady=px(1))
        self._wrap(self.winfo_width())

    def _show_signs(self) -> None:
        for label in self._chips:
            label.destroy()
        self._chips = []
        palette = self._theme.palette
        for word in self._signs:
            shown = sign(word)
            label = ttk.Label(self._sign_row, text=shown.text, font=CAPTION, padding=self._theme.pad(8, 2))
            label.configure(background=palette.tint(shown.hue), foreground=palette.on_tint(shown.hue))
            self._chips.append(label)
        self._flow_signs(self.winfo_width())

    def _flow_signs(self, room: int) -> None:
        """Lay the signs out in rows, as words in a paragraph."""
        gap = self._theme.px(6)
        left = top = height = 0
        for label in self._chips:
            width, height = label.winfo_reqwidth(), label.winfo_reqheight()
            if left and left + width > room > 1:
                left, top = 0, top + height + gap // 2
            label.place(x=left, y=top)
            left += width + gap
        self._sign_row.configure(height=top + height or 1)

    def _wrap(self, width: int) -> None:
        px = self._theme.px
        self._flow_signs(width)
        self._title.configure(wraplength=max(width, px(100)))
        for label in self._fact_rows.grid_slaves(column=1):
            label.configure(wraplength=max(width - px(WORD_WIDTH + 14), px(100)))  # type: ignore[call-arg]
