"""The pages at the right of the Bench: kit sheet, inspection, fits, what is out for work, instruments."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.shown import Deed
from gui.theme import Theme

KIT, INSPECTION, FITS, WORK, INSTRUMENTS = "kit", "inspection", "fits", "work", "instruments"
PAGES = {
    KIT: ("Kit", "F6"),
    INSPECTION: ("Inspection", "F7"),
    FITS: ("Fits", "F8"),
    WORK: ("Out for work", "F9"),
    INSTRUMENTS: ("Instruments", "F11"),
}


class BenchPages(ttk.Frame):
    """Each page is an empty frame to be filled. ``on_page`` hears which one has come to the front."""

    def __init__(self, parent: tk.Misc, theme: Theme, *, on_page: Callable[[str], None]) -> None:
        super().__init__(parent, padding=(theme.px(8), 0, 0, 0))
        self._on_page = on_page
        self._book = ttk.Notebook(self, takefocus=False)
        self._book.pack(fill="both", expand=True)
        self._pages: dict[str, ttk.Frame] = {}
        for name in PAGES:
            page = self._pages[name] = ttk.Frame(self._book, padding=theme.pad(4, 6))
            self._book.add(page, text=_word(name))
        self._book.bind("<<NotebookTabChanged>>", lambda _event: on_page(self.shown()))

    def page(self, name: str) -> ttk.Frame:
        """The frame of that page."""
        return self._pages[name]

    def shown(self) -> str:
        """Which page is in front."""
        return list(self._pages)[self._book.index("current")]

    def go_to(self, name: str) -> None:
        """Bring that page to the front."""
        self._book.select(self._pages[name])

    def deeds(self) -> tuple[Deed, ...]:
        """The keys that go from page to page, and on in the one that is in front already."""
        return tuple(Deed(word, partial(self._go_on_in, name), key) for name, (word, key) in PAGES.items())

    def _go_on_in(self, name: str) -> None:
        if name == self.shown():
            self._on_page(name)
        else:
            self.go_to(name)

    def tell(self, name: str, more: str) -> None:
        """Show words beside the word of a page, such as what is left of its count-down; "" for none."""
        self._book.tab(self._pages[name], text=_word(name, more))


def _word(name: str, more: str = "") -> str:
    word, key = PAGES[name]
    return "  ".join(part for part in (word, key, more) if part)
