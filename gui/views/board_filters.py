"""The filters above the shortage board: engine, family, and what stops a flying engine."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import Field, FieldKind
from gui.theme import Theme
from gui.views.shown_board import BoardFilter, ShownBoard
from gui.widgets.editors import ChoiceEditor
from gui.widgets.tip import explain

WIDTH = 18


class BoardFilters(ttk.Frame):
    """``on_change`` comes after each change; Backspace in a box takes its filter away."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, shown: ShownBoard, on_change: Callable[[], None]
    ) -> None:
        super().__init__(parent)
        self._shown, self._on_change = shown, on_change
        px = theme.px
        self.engine = self._box(theme, "engine", "Engine")
        self.family = self._box(theme, "family", "Family")
        self.flying = ttk.Checkbutton(self, text="Stops a flying engine", command=self._changed)
        self.flying.state(["!alternate", "!selected"])
        self.flying.pack(side="left", padx=px(6))
        explain(self.flying, "Only parts whose want would stop an engine that flies")

    def _box(self, theme: Theme, name: str, word: str) -> ChoiceEditor:
        ttk.Label(self, text=word, style="Dim.TLabel").pack(side="left", padx=(0, theme.px(6)))
        box = ChoiceEditor(self, theme, Field(name, word, FieldKind.CHOICE), none="all")
        box.box.configure(width=WIDTH)
        box.pack(side="left", padx=(0, theme.px(14)))
        box.on_change = self._changed
        explain(box.box, f"Only this {word.lower()}; Backspace takes it away")
        return box

    def refresh(self) -> None:
        """Offer what the board that is read now has, and show what is chosen of it."""
        self.engine.offer(self._shown.engines())
        self.family.offer(self._shown.families())
        self.engine.set(self._shown.filter.engine)
        self.family.set(self._shown.filter.family)

    def _changed(self) -> None:
        flying = bool(self.flying.instate(["selected"]))
        self._shown.filter = BoardFilter(self.engine.get(), self.family.get(), flying)
        self._on_change()
