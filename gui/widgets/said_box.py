"""What is to be said of a chosen row in full: a few lines of text that scroll where there is more."""

from __future__ import annotations

import tkinter as tk

from gui.theme import CAPTION, Theme
from gui.widgets.full_text import FullText

LINES = 5


class SaidBox(FullText):
    """So many lines high."""

    def __init__(self, parent: tk.Misc, theme: Theme, *, lines: int = LINES) -> None:
        super().__init__(
            parent, theme, ground="shade", height=lines, font=CAPTION, pady=theme.px(6), highlightthickness=0
        )

    def tell(self, text: str) -> None:
        """Say that, from its beginning."""
        self._text.configure(state="normal")
        self._text.delete("1.0", "end")
        self._text.insert("1.0", text.strip())
        self._text.configure(state="disabled")
