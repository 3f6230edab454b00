"""The narrow rail of views: a drawn mark and a word each."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.marks import draw_mark
from gui.theme import CAPTION, Theme, has_focus
from gui.widgets.tip import explain

WIDTH = 84
ITEM_HEIGHT = 70
MARK_SIZE = 28


class RailItem(tk.Canvas):
    """One view's place on the rail: click it, or Enter or Space on it."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, mark: str, word: str, press: Callable[[], None]
    ) -> None:
        super().__init__(parent, highlightthickness=0, borderwidth=0, takefocus=True)
        self.configure(width=theme.px(WIDTH), height=theme.px(ITEM_HEIGHT), cursor="hand2")
        self._theme, self._mark, self._word = theme, mark, word
        self.chosen = False
        self._pointed = False
        theme.draw_with(self, self._draw)
        self.bind("<Button-1>", lambda _event: press())
        for key in ("<Return>", "<KP_Enter>", "<space>"):
            self.bind(key, lambda _event: press())
        self.bind("<Up>", lambda _event: self._step(self.tk_focusPrev()))
        self.bind("<Down>", lambda _event: self._step(self.tk_focusNext()))
        self.bind("<Enter>", lambda _event: self._point(True))
        self.bind("<Leave>", lambda _event: self._point(False))
        self.bind("<FocusIn>", lambda _event: self._draw())
        self.bind("<FocusOut>", lambda _event: self._draw())

    def choose(self, chosen: bool) -> None:
        """Show it as the view that is in front, or not."""
        self.chosen = chosen
        self._draw()

    def _step(self, to: tk.Misc | None) -> None:
        if isinstance(to, RailItem):
            to.focus_set()

    def _point(self, pointed: bool) -> None:
        self._pointed = pointed
        self._draw()

    def _draw(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        width, height = self.winfo_width(), self.winfo_height()
        self.delete("all")
        self.configure(background=palette.shade)
        if self.chosen or self._pointed:
            fill = palette.chosen if self.chosen else palette.ground
            self.create_rectangle(px(4), px(3), width - px(4), height - px(3), fill=fill, outline="")
        if self.chosen:
            self.create_rectangle(px(4), px(14), px(7), height - px(14), fill=palette.accent, outline="")
        if has_focus(self):
            box = (px(4), px(3), width - px(5), height - px(4))
            self.create_rectangle(*box, outline=palette.accent, width=px(1.5))
        colour = palette.ink if self.chosen else palette.dim
        draw_mark(self, self._mark, (width - px(MARK_SIZE)) / 2, px(11), px(MARK_SIZE), colour)
        self.create_text(width / 2, px(54), text=self._word, font=CAPTION, fill=palette.ink)


class Rail(ttk.Frame):
    """The views in their order, the one in front marked. ``on_press`` gets a view's name."""

    def __init__(self, parent: tk.Misc, theme: Theme, on_press: Callable[[str], None]) -> None:
        super().__init__(parent, style="Shade.TFrame", width=theme.px(WIDTH), padding=(0, theme.px(6)))
        self.pack_propagate(False)
        self._theme = theme
        self._on_press = on_press
        self.items: dict[str, RailItem] = {}

    def show(self, views: Sequence[tuple[str, str, str, int]]) -> None:
        """Show these views: name, word, mark and number of each."""
        for item in self.items.values():
            item.destroy()
        self.items = {}
        for name, word, mark, number in views:
            item = RailItem(self, self._theme, mark, word, partial(self._on_press, name))
            item.pack(fill="x")
            explain(item, f"Go to {word}", f"Ctrl+{number}")
            self.items[name] = item

    def choose(self, name: str) -> None:
        """Mark that view as the one in front."""
        for each, item in self.items.items():
            item.choose(each == name)
