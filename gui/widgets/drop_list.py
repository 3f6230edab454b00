"""The list that drops from a box while one types: plain rows, walked by the keys that the box passes on."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import font, ttk

from gui.shown import Hit
from gui.signs import sign
from gui.theme import BODY, CHIP_COLUMN, Theme

ROWS_SHOWN_MAX = 12
WIDTH_MIN = 560
GAP = 2
CELL_PAD = 14
# The most of a row that its headline takes from what tells more of the hit.
HEADLINE_SHARE = 0.76


class DropList(ttk.Frame):
    """Hits beneath the widget ``under``, laid over whatever else stands there.

    The focus stays in the box; it calls :meth:`step` and :meth:`take`. ``on_take`` gets the chosen hit.
    """

    def __init__(self, under: tk.Widget, theme: Theme, on_take: Callable[[Hit], None]) -> None:
        super().__init__(under.winfo_toplevel(), style="Card.TFrame", padding=theme.px(GAP))
        self._under = under
        self._theme = theme
        self._on_take = on_take
        self._hits: Sequence[Hit] = ()
        columns = ("headline", "detail", "kind")
        self._tree = ttk.Treeview(
            self, columns=columns, show="tree", selectmode="browse", takefocus=False, style="List.Treeview"
        )
        self._tree.column("#0", width=theme.px(CHIP_COLUMN), stretch=False)
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._tree.yview)
        self._tree.configure(yscrollcommand=self._scroll.set)
        self._note = ttk.Label(self, style="Dim.TLabel", padding=theme.pad(8, 4))
        self._tree.bind("<Motion>", self._pointed)
        # A list that took the focus at a click would close before the click was over.
        self._tree.bind("<ButtonPress-1>", lambda _event: "break")
        self._tree.bind("<ButtonRelease-1>", self._clicked)
        under.bind("<Destroy>", lambda _event: self.destroy(), add="+")

    def show(self, hits: Sequence[Hit], note: str = "") -> None:
        """Drop the list with these hits, the first one chosen, and the note beneath them if there is one."""
        self._hits = hits
        self._tree.delete(*self._tree.get_children())
        for number, hit in enumerate(hits):
            chip = self._theme.chip(sign(hit.sign).hue) if hit.sign else ""
            self._tree.insert(
                "", "end", str(number), values=(self._headline(hit), hit.detail, hit.kind), image=chip
            )
        for part in (self._tree, self._scroll, self._note):
            part.pack_forget()
        if note:
            self._note.configure(text=note)
            self._note.pack(side="bottom", fill="x")
        if hits:
            self._tree.configure(height=min(len(hits), ROWS_SHOWN_MAX))
            if len(hits) > ROWS_SHOWN_MAX:
                self._scroll.pack(side="right", fill="y")
            self._tree.pack(side="left", fill="both", expand=True)
            self._choose(0)
        self._place(len(hits), bool(note))

    def hide(self) -> None:
        """Take the list away."""
        self.place_forget()

    def dropped(self) -> bool:
        """Whether the list is to be seen."""
        return bool(self.winfo_manager())

    def step(self, by: int) -> None:
        """Choose the hit ``by`` rows further down, or up if negative."""
        if self._hits:
            self._choose(max(0, min(len(self._hits) - 1, self._chosen() + by)))

    def take(self) -> bool:
        """Take the chosen hit. False if there is none."""
        if not (self.dropped() and self._hits):
            return False
        hit = self._hits[self._chosen()]
        self.hide()
        self._on_take(hit)
        return True

    def _chosen(self) -> int:
        chosen = self._tree.selection()
        return int(chosen[0]) if chosen else 0

    def _choose(self, number: int) -> None:
        self._tree.selection_set(str(number))
        self._tree.see(str(number))

    def _place(self, rows: int, noted: bool) -> None:
        top_level = self.winfo_toplevel()
        width = max(self._under.winfo_width(), self._theme.px(WIDTH_MIN))
        left = self._under.winfo_rootx() - top_level.winfo_rootx()
        left = max(0, min(left, top_level.winfo_width() - width))
        top = self._under.winfo_rooty() - top_level.winfo_rooty() + self._under.winfo_height()
        self._note.configure(wraplength=width - self._theme.px(24))
        height = self._theme.px(4 * GAP)
        height += self._tree.winfo_reqheight() if rows else 0
        height += self._note.winfo_reqheight() if noted else 0
        room = top_level.winfo_height() - top - self._theme.px(GAP)
        self._share_out(width)
        self.place(x=left, y=top + self._theme.px(GAP), width=width, height=min(height, room))
        self.lift()

    def _share_out(self, width: int) -> None:
        """Room for the kind and the headline as far as they need it, and the rest for what tells more."""
        px = self._theme.px
        measure = font.nametofont(BODY, root=self).measure
        kind = max((measure(hit.kind) for hit in self._hits), default=0) + px(CELL_PAD)
        room = width - px(CHIP_COLUMN) - px(4 * GAP) - kind
        if len(self._hits) > ROWS_SHOWN_MAX:
            room -= self._scroll.winfo_reqwidth()
        needed = max((measure(self._headline(hit)) for hit in self._hits), default=0) + px(CELL_PAD)
        headline = min(needed, round(room * HEADLINE_SHARE))
        for column, share in (("headline", headline), ("detail", room - headline), ("kind", kind)):
            self._tree.column(column, width=share, minwidth=0, stretch=column == "detail")

    @staticmethod
    def _headline(hit: Hit) -> str:
        return f"{sign(hit.sign).mark}  {hit.headline}" if hit.sign else hit.headline

    def _pointed(self, event: tk.Event[tk.Misc]) -> None:
        row = self._tree.identify_row(event.y)
        if row:
            self._tree.selection_set(row)

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        if self._tree.identify_row(event.y):
            self.take()
