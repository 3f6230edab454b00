"""The page of alternates: their picture, more of what is chosen in it, and what may be done with it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import Deed
from gui.shown_graph import Graph
from gui.theme import BODY
from gui.view import Context
from gui.views.catalogue_presenter import CataloguePresenter
from gui.views.part_alternates import graph_of, told_of_graph
from gui.widgets.deed_bar import DeedBar
from gui.widgets.graph_shape import Item
from gui.widgets.part_graph import PartGraph

READING_LINES = 3


class PartGraphPage(ttk.Frame):
    """``on_open`` gets the part, by its id, to which one follows the picture; ``deeds_for`` says what may be
    done with what is chosen in it, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: CataloguePresenter,
        *,
        deeds_for: Callable[[Item | None], list[Deed]],
        on_open: Callable[[int], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._presenter, self._deeds_for = presenter, deeds_for
        theme, px = context.theme, context.theme.px
        self._head = ttk.Label(self)
        self._head.pack(fill="x", pady=(0, px(4)))
        # Room for as much as is ever told, so that the picture stands still as one walks along it.
        holder = ttk.Frame(self, height=READING_LINES * theme.line_height(BODY))
        holder.pack_propagate(False)
        self._said = ttk.Label(holder, style="Dim.TLabel", anchor="nw")
        self._said.pack(fill="both", expand=True)
        for label in (self._head, self._said):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self.graph = PartGraph(
            self,
            theme,
            on_choose=lambda _item: self._chose(),
            on_open=on_open,
            deeds_for=deeds_for,
            on_leave=on_leave,
        )
        self.bar = DeedBar(self, theme)
        self.bar.pack(side="bottom", fill="x", pady=(px(6), 0))
        holder.pack(side="bottom", fill="x", pady=(px(4), 0))
        self.graph.pack(fill="both", expand=True)
        self.bar.lift()

    def show(self) -> None:
        """Show the picture about the part as it is read by now."""
        read = self._presenter.read
        self._head.configure(text=told_of_graph(read) if read is not None else "")
        self.graph.show(graph_of(read) if read is not None else Graph(0))
        self._chose()

    def focus_page(self) -> None:
        """Walk the picture from here on."""
        self.graph.canvas.focus_set()

    def show_deeds(self) -> None:
        """Show the buttons that fit what is chosen."""
        self.bar.show(self._deeds_for(self.graph.chosen()))

    def told(self) -> str:
        """What is told of what is chosen."""
        return str(self._said.cget("text"))

    def _chose(self) -> None:
        item = self.graph.chosen()
        self._said.configure(text=self.graph.told_of(item) if item is not None else "")
        self.show_deeds()
