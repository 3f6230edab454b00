"""The pages of the Buying view: what each of them is given, what it must do, and the book they stand in."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from tkinter import ttk
from typing import Any, Literal, Protocol

from gui.shown import Deed
from gui.sitting import Sitting
from gui.theme import Theme
from gui.view import Context
from gui.widgets.tip import PartTips

# How much wider than its words a tab is, in pixels at 100 %.
AROUND = {"TNotebook": 34, "Narrow.TNotebook": 18}


@dataclass(frozen=True)
class PageSetting:
    """What a page is given when it is made.

    ``deeds`` go from page to page and are to be done by their keys wherever one is in a form. ``tell`` writes
    behind the page's own word on its tab. ``acted`` is to be called after each act, so that the other pages
    read again; ``ask_where`` gets a part of the window, a title and a name, and gives the file that is to be
    written, "" for none.
    """

    context: Context
    sitting: Sitting
    deeds: tuple[Deed, ...]
    tell: Callable[[str], None]
    acted: Callable[[], None]
    ask_where: Callable[[tk.Misc, str, str], str]


class BuyingPage(Protocol):
    """A widget that fills its page; the view packs it."""

    def pack(self, *, fill: Literal["both"], expand: bool) -> None:
        """Stand where the page is."""

    def read(self) -> None:
        """Read again what is shown."""

    def focus_page(self) -> None:
        """Take the keys to where one goes on."""

    def open(self, ref: Any) -> None:
        """Show the thing that was found, or that another view sent here."""

    def unsaved(self) -> str:
        """What would be lost if the window closed, in a few words, or ""."""


@dataclass(frozen=True)
class PagePlan:
    """One page of the book: its name, its word and its key on the tab, and what makes it."""

    name: str
    word: str
    key: str
    make: Callable[[tk.Misc, PageSetting], BuyingPage]


class BuyingPages(ttk.Frame):
    """Each page is an empty frame to be filled. ``on_page`` hears which one has come to the front."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, plans: Sequence[PagePlan], *, on_page: Callable[[str], None]
    ) -> None:
        super().__init__(parent)
        self._on_page, self._theme = on_page, theme
        self._more: dict[str, str] = {}
        self._plans = {plan.name: plan for plan in plans}
        self._book = ttk.Notebook(self, takefocus=False)
        self._book.pack(fill="both", expand=True)
        self._frames: dict[str, ttk.Frame] = {}
        for plan in plans:
            frame = self._frames[plan.name] = ttk.Frame(self._book, padding=theme.pad(4, 6))
            self._book.add(frame, text=plan.word)
        self._book.bind("<<NotebookTabChanged>>", lambda _event: on_page(self.shown()))
        self._book.bind("<Configure>", lambda _event: self._word_tabs(), add="+")
        self._tips = PartTips(self._book)  # type: ignore[arg-type]
        self._book.bind("<Motion>", self._point)
        self._book.bind("<Leave>", lambda event: self._tips.pointed(event, ""))

    def frame(self, name: str) -> ttk.Frame:
        """The frame of that page."""
        return self._frames[name]

    def shown(self) -> str:
        """Which page is in front."""
        return list(self._frames)[self._book.index("current")]

    def go_to(self, name: str) -> None:
        """Bring that page to the front, and go on in the one that is there already."""
        if name == self.shown():
            self._on_page(name)
        else:
            self._book.select(self._frames[name])

    def deeds(self) -> tuple[Deed, ...]:
        """The keys that go from page to page."""
        return tuple(
            Deed(plan.word, partial(self.go_to, plan.name), plan.key) for plan in self._plans.values()
        )

    def tell(self, name: str, more: str) -> None:
        """Show words beside the word of a page; "" for none."""
        self._more[name] = more
        self._word_tabs()

    def _word_tabs(self) -> None:
        """Name the pages with their keys, or where those would be cut off, by their words alone."""
        room = self._book.winfo_width()
        with_keys = {name: self._words_of(plan, plan.key) for name, plan in self._plans.items()}
        alone = {name: self._words_of(plan) for name, plan in self._plans.items()}
        for style, words in (("TNotebook", with_keys), ("TNotebook", alone), ("Narrow.TNotebook", alone)):
            around = self._theme.px(AROUND[style])
            if room <= 1 or sum(self._theme.measure(word) + around for word in words.values()) <= room:
                break
        self._book.configure(style=style)
        for name, word in words.items():
            self._book.tab(self._frames[name], text=word)

    def _words_of(self, plan: PagePlan, key: str = "") -> str:
        return "  ".join(part for part in (plan.word, key, self._more.get(plan.name, "")) if part)

    def _point(self, event: tk.Event[tk.Misc]) -> None:
        at = self._book.tk.call(self._book, "identify", "tab", event.x, event.y)
        plan = list(self._plans.values())[int(at)] if at != "" else None
        self._tips.pointed(event, f"{plan.word}  ({plan.key})" if plan is not None else "")
