"""Text to be read in full: without a bar where all of it is seen, else it scrolls, by the keys too."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk
from typing import Any

from gui.theme import Theme


class FullText(ttk.Frame):
    """``text`` are the options of the text that is shown; ``ground`` names its colour in the palette."""

    def __init__(self, parent: tk.Misc, theme: Theme, *, ground: str, **text: Any) -> None:
        super().__init__(parent)
        self._theme, self._ground = theme, ground
        self._text = tk.Text(
            self, wrap="word", relief="flat", borderwidth=0, takefocus=False, state="disabled",
            padx=theme.px(8), **text,
        )  # fmt: skip
        self._seen_whole = True
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._text.yview)
        self._text.configure(yscrollcommand=self._show_rest)
        self._text.pack(side="left", fill="both", expand=True)
        self.bind("<<ThemeChanged>>", lambda _event: self._colour())
        self._colour()

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
        ground = getattr(palette, self._ground)
        self._text.configure(
            background=ground, foreground=palette.ink, highlightbackground=ground,
            highlightcolor=palette.accent,
        )  # fmt: skip
