"""The filters above the list of parts: family, life-limited, without a specification, on hold."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import Choice, Deed, Field, FieldKind
from gui.view import Context
from gui.views.catalogue_presenter import CataloguePresenter
from gui.widgets.editors import ChoiceEditor
from gui.widgets.tip import explain
from invdb.acts.part_list import PartFilter

WIDTH = 24
TICKS = (
    ("life_limited", "Life-limited", "Only parts whose pieces have a limit of life"),
    ("without_spec", "No specification", "Only parts of which no specification is in force today"),
    ("on_hold", "On hold", "Only parts on which a hold stands"),
)


class PartFilters(ttk.Frame):
    """``on_change`` comes after each change; Backspace in the box shows every family again. ``add`` begins
    a new part.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: CataloguePresenter,
        on_change: Callable[[], None],
        add: Deed,
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter, self._on_change = context, presenter, on_change
        px = context.theme.px
        ttk.Label(self, text="Family", style="Caption.TLabel").grid(row=0, column=0, sticky="w")
        self.family = ChoiceEditor(
            self, context.theme, Field("family", "Family", FieldKind.CHOICE), none="all"
        )
        self.family.box.configure(width=WIDTH)
        self.family.box.pack_configure(fill="x", expand=True)
        self.family.grid(row=1, column=0, sticky="ew")
        self.family.on_change = self._changed
        explain(self.family.box, "Only this family; Backspace takes it away")
        self.add = ttk.Button(self, text=add.word, command=add.run, style="Accent.TButton")
        self.add.bind("<Return>", lambda event: event.widget.invoke())
        explain(self.add, add.hint, add.key)
        self.add.grid(row=1, column=1, sticky="e", padx=(px(8), 0))
        self.ticks: dict[str, ttk.Checkbutton] = {}
        self._row = row = ttk.Frame(self)
        row.grid(row=2, column=0, columnspan=2, sticky="ew", pady=(px(4), 0))
        row.bind("<Configure>", lambda _event: self._flow())
        for name, word, hint in TICKS:
            tick = ttk.Checkbutton(row, text=word, command=self._changed)
            tick.state(["!alternate", "!selected"])
            explain(tick, hint)
            self.ticks[name] = tick
        self.columnconfigure(0, weight=1)
        self.refresh()

    def refresh(self) -> None:
        """Read again which families there are."""
        self._context.background.ask("catalogue families", self._presenter.families, self._offer)

    def clear(self) -> None:
        """Show every part again."""
        self.family.set(None)
        for tick in self.ticks.values():
            tick.state(["!selected"])
        self._presenter.which = PartFilter()

    def tick(self, name: str) -> None:
        """Turn one of the ticks."""
        self.ticks[name].invoke()

    def _flow(self) -> None:
        """Lay the ticks out in rows, as words in a paragraph."""
        gap = self._context.theme.px(8)
        left = top = height = 0
        for tick in self.ticks.values():
            width, height = tick.winfo_reqwidth(), tick.winfo_reqheight()
            if left and left + width > self._row.winfo_width() > 1:
                left, top = 0, top + height
            tick.place(x=left, y=top)
            left += width + gap
        self._row.configure(height=top + height)

    def _offer(self, choices: tuple[Choice, ...]) -> None:
        self.family.offer(choices)

    def _changed(self) -> None:
        ticked = {name: bool(tick.instate(["selected"])) for name, tick in self.ticks.items()}
        self._presenter.which = PartFilter(
            self.family.get(), ticked["life_limited"], ticked["without_spec"], ticked["on_hold"]
        )
        self._on_change()
