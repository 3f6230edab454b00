"""What is to be said of a chosen row in full: a few lines of text that scroll where there is more."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from gui.theme import CAPTION, Theme

LINES = 5


class SaidBox(ttk.Frame):
    """Where all of it is seen there is no bar; else it scrolls, by the keys too."""

    def __init__(self, parent: tk.Misc, theme: Theme, *, lines: int = LINES) -> None:
        super().__init__(parent)
        self._theme = theme
        self._text = tk.Text(
            self,
            height=lines,
            wrap="word",
            relief="flat",
            borderwidth=0,
            highlightthickness=0,
            takefocus=False,
            state="disabled",
            font=CAPTION,
            padx=theme.px(8),
            pady=theme.px(6),
        )
        self._seen_whole = True
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._text.yview)
        self._text.configure(yscrollcommand=self._show_rest)
        self._text.pack(side="left", fill="both", expand=True)
        self.bind("<<ThemeChanged>>", lambda _event: self._colour())
        self._colour()

    def tell(self, text: str) -> None:
        """Say that, from its beginning."""
        self._text.configure(state="normal")
        self._text.delete("1.0", "end")
        self._text.insert("1.0", text.strip())
        self._text.configure(state="disabled")

    def said(self) -> str:
        """What is said."""
        return self._text.get("1.0", "end-1c")

    def _show_rest(self, first: float | str, last: float | str) -> None:
        self._scroll.set(first, last)
        whole = float(first) <= 0.0 and float(last) >= 1.0
        if whole is not self._seen_whole:
            # Only at a change: to configure a text lays it out anew, and that asks here again.
            self._seen_whole = whole
            self._text.configure(takefocus=not whole)
            if whole:
                self._scroll.pack_forget()
            else:
                self._scroll.pack(side="right", fill="y", before=self._text)

    def _colour(self) -> None:
        palette = self._theme.palette
        self._text.configure(background=palette.shade, foreground=palette.ink)
