"""What stands above a list: the words it is filtered by, and how many rows there are."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.theme import Theme
from gui.widgets.tip import explain

DEBOUNCE_MS = 120
# In letters; narrower where the bar is, so that what is counted can be read.
WIDTH, NARROW_WIDTH = 24, 12
NARROW = 380


class FilterBar(ttk.Frame):
    """``on_words`` hears what was typed once the typing pauses; ``on_leave`` is Down, Enter or Escape.

    Escape first shows all again.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        many: str,
        on_words: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._on_words, self._on_leave = on_words, on_leave
        self._words = ""
        self._timer = ""
        ttk.Label(self, text="Filter", style="Dim.TLabel").pack(side="left", padx=(0, theme.px(6)))
        self.entry = ttk.Entry(self, width=WIDTH)
        self.entry.pack(side="left")
        explain(self.entry, f"Show only {many} that have these words; Escape shows all.", "just type")
        self._counted = ttk.Label(self, style="Dim.TLabel")
        self._counted.pack(side="left", padx=theme.px(10))
        self.entry.bind("<KeyRelease>", lambda _event: self._soon())
        self.entry.bind("<<Paste>>", lambda _event: self.after_idle(self._soon), add="+")
        self.entry.bind("<Down>", lambda _event: on_leave())
        self.entry.bind("<Return>", lambda _event: on_leave())
        self.entry.bind("<Escape>", self._escape)
        self.bind("<Destroy>", lambda _event: self._cancel(), add="+")
        narrow = theme.px(NARROW)
        self.bind(
            "<Configure>",
            lambda event: self.entry.configure(width=NARROW_WIDTH if event.width < narrow else WIDTH),
            add="+",
        )

    def begin(self, letter: str) -> None:
        """Begin to type here with this letter, since it was typed on the list."""
        self.entry.focus_set()
        self.entry.delete(0, "end")
        self.entry.insert(0, letter)
        self._soon()

    def set(self, words: str) -> None:
        """Filter by these words now, as if they had been typed."""
        self.entry.delete(0, "end")
        self.entry.insert(0, words)
        self._now()

    def count(self, text: str) -> None:
        """Say how many rows there are."""
        self._counted.configure(text=text)

    def counted(self) -> str:
        """What it says of how many rows there are."""
        return str(self._counted.cget("text"))

    def _soon(self) -> None:
        if self.entry.get().strip() != self._words:
            self._cancel()
            self._timer = self.after(DEBOUNCE_MS, self._now)

    def _now(self) -> None:
        self._cancel()
        self._words = self.entry.get().strip()
        self._on_words(self._words)

    def _escape(self, _event: object) -> str | None:
        if not self.entry.get():
            return None
        self.set("")
        self._on_leave()
        return "break"

    def _cancel(self) -> None:
        if self._timer:
            self.after_cancel(self._timer)
            self._timer = ""
