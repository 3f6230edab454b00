"""What stands where nothing is: what would be there, how to begin, and something to begin with."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from gui.shown import Empty
from gui.theme import Theme
from gui.widgets.tip import explain

WIDTH_MAX = 460


class EmptyNote(ttk.Frame):
    """Words and buttons laid over the middle of the widget ``over`` while there is nothing in it."""

    def __init__(self, over: tk.Widget, theme: Theme) -> None:
        super().__init__(over.master, padding=theme.px(16))
        self._over = over
        self._theme = theme
        over.bind("<Configure>", lambda _event: self._wrap(), add="+")

    def show(self, empty: Empty) -> None:
        """Say it."""
        for part in self.winfo_children():
            part.destroy()
        px = self._theme.px
        for text, style in ((empty.headline, "Strong.TLabel"), (empty.how_to_begin, "Dim.TLabel")):
            if text:
                label = ttk.Label(self, text=text, style=style, justify="center")
                label.pack(pady=(0, px(4)))
        for deed in empty.deeds:
            button = ttk.Button(self, text=deed.word, command=deed.run, style="Accent.TButton")
            button.pack(pady=(px(8), 0))
            if deed.hint or deed.key:
                explain(button, deed.hint or deed.word, deed.key)
        self._wrap()
        self.place(in_=self._over, relx=0.5, rely=0.45, anchor="center")
        self.lift()

    def hide(self) -> None:
        """Say nothing, since something is there."""
        self.place_forget()

    def _wrap(self) -> None:
        px = self._theme.px
        width = max(px(200), min(px(WIDTH_MAX), self._over.winfo_width() - px(60)))
        for part in self.winfo_children():
            if isinstance(part, ttk.Label):
                part.configure(wraplength=width)
