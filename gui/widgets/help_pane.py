"""What F1 shows beside a view: what one does there, and the keys."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from gui.theme import Theme
from gui.widgets.scrolled import Scrolled

WIDTH = 280
EVERYWHERE = (
    ("/ or Ctrl+F", "find or scan"),
    ("Ctrl+1, Ctrl+2 …", "go to a view"),
    ("F2", "say who is working"),
    ("F5", "read again"),
    ("F1", "this help, on and off"),
    ("Ctrl+Z", "reverse the last entry"),
    ("Menu key", "what can be done with a row"),
    ("Ctrl+C", "copy the chosen rows"),
    ("Enter, Ctrl+Enter", "in a form: go on, save"),
    ("Escape", "leave, close, put away"),
)


class HelpPane(ttk.Frame):
    """Words for where one is, then the keys that are the same everywhere."""

    def __init__(self, parent: tk.Misc, theme: Theme, log: str) -> None:
        super().__init__(parent, style="Card.TFrame", padding=theme.px(14))
        px = theme.px
        scrolled = Scrolled(self, theme, by_keys=True)
        scrolled.set_width(px(WIDTH))
        scrolled.pack(fill="both", expand=True)
        inner = scrolled.inner
        self._title = ttk.Label(inner, style="Subtitle.TLabel")
        self._title.pack(anchor="w", pady=(0, px(6)))
        self._text = ttk.Label(inner, wraplength=px(WIDTH), justify="left")
        self._text.pack(anchor="w", pady=(0, px(14)))
        ttk.Label(inner, text="Keys everywhere", style="Strong.TLabel").pack(anchor="w", pady=(0, px(4)))
        keys = ttk.Frame(inner)
        keys.pack(anchor="w")
        for row, (key, does) in enumerate(EVERYWHERE):
            ttk.Label(keys, text=key, style="Caption.TLabel").grid(row=row, column=0, sticky="nw", pady=px(2))
            label = ttk.Label(keys, text=does, wraplength=px(WIDTH - 130))
            label.grid(row=row, column=1, sticky="w", padx=(px(10), 0), pady=px(2))
        ttk.Label(
            inner, text=f"What goes wrong is kept in {log}", style="Caption.TLabel", wraplength=px(WIDTH)
        ).pack(anchor="w", pady=(px(14), 0))
        scrolled.watch(inner)

    def show(self, title: str, text: str) -> None:
        """Show the words for a view."""
        self._title.configure(text=title)
        self._text.configure(text=text)
