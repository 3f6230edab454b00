"""The filters above the stock list: condition, place, origin, family, engine type."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import Choice, Field, FieldKind
from gui.view import Context
from gui.views.stores_presenter import FILTERS, Only, Shelf, StoresPresenter
from gui.widgets.editors import ChoiceEditor
from gui.widgets.tip import explain

WIDTH = 13


class StockFiltersBar(ttk.Frame):
    """One box each; Backspace in a box takes its filter away. ``on_change`` comes after each change."""

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: StoresPresenter,
        on_change: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter, self._on_change = context, presenter, on_change
        self.boxes: dict[str, ChoiceEditor] = {}
        px = context.theme.px
        for at, (name, word) in enumerate(FILTERS):
            ttk.Label(self, text=word, style="Caption.TLabel").grid(row=0, column=at, sticky="w")
            box = ChoiceEditor(self, context.theme, Field(name, word, FieldKind.CHOICE), none="all")
            box.box.configure(width=WIDTH)
            box.box.pack_configure(fill="x", expand=True)
            box.grid(row=1, column=at, sticky="ew", padx=(0, px(6)))
            box.on_change = self._changed
            explain(box.box, f"Only this {word.lower()}; Backspace takes it away")
            self.columnconfigure(at, weight=1, uniform="filter")
            self.boxes[name] = box
        self._only: Only | None = None
        self.only_button = ttk.Button(self, command=self._take_only_away)
        self.only_button.bind("<Return>", lambda event: event.widget.invoke())
        explain(self.only_button, "Show all of them again")
        self.refresh()

    def refresh(self) -> None:
        """Read again what may be chosen."""
        self._context.background.ask("stores filters", lambda job: self._presenter.choices(), self._offer)

    def set(self, shelf: Shelf) -> None:
        """Filter by this and nothing else."""
        for name, box in self.boxes.items():
            box.set(shelf.boxes.get(name))
        self._show_only(shelf.only)
        self._presenter.filter(shelf)

    def _show_only(self, only: Only | None) -> None:
        self._only = only
        if only is None:
            self.only_button.grid_remove()
            return
        self.only_button.configure(text=f"Only {only.words}   ✕")
        pad = self._context.theme.px(6)
        self.only_button.grid(row=2, column=0, columnspan=len(FILTERS), sticky="w", pady=(pad, 0))

    def _take_only_away(self) -> None:
        self._show_only(None)
        self._changed()

    def _offer(self, choices: dict[str, tuple[Choice, ...]]) -> None:
        for name, box in self.boxes.items():
            box.offer(choices[name])

    def _changed(self) -> None:
        self._presenter.filter(Shelf({name: box.get() for name, box in self.boxes.items()}, self._only))
        self._on_change()
