"""The limits of a life one beneath the other, each with its gauge, its verdict and what is left."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import ttk

from gui.signs import sign
from gui.theme import Theme
from gui.views.piece_life import LimitShown
from gui.widgets.gauge import BAR_HEIGHT, draw_gauge, told_of_gauge

BAR_SHARE = 0.3
BAR_TOP = 7
GAP = 12
BAR_WIDTH_MIN = 90


class LimitRows(ttk.Frame):
    """Plain rows; what is said of each is wrapped to the width there is."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent)
        self._theme = theme
        self._rows: list[_LimitRow] = []
        self.bind("<Configure>", lambda event: self._wrap(event.width))

    def show(self, limits: Sequence[LimitShown]) -> None:
        """Show these."""
        for row in self._rows:
            row.destroy()
        self._rows = [_LimitRow(self, self._theme, limit) for limit in limits]
        for row in self._rows:
            row.pack(fill="x", pady=self._theme.px(2))
        self._wrap(self.winfo_width())

    def said(self) -> list[str]:
        """What stands beside each gauge."""
        return [f"{row.verdict.cget('text')}\n{row.told.cget('text')}" for row in self._rows]

    def _wrap(self, width: int) -> None:
        for row in self._rows:
            row.wrap(width)


class _LimitRow(ttk.Frame):
    def __init__(self, parent: tk.Misc, theme: Theme, limit: LimitShown) -> None:
        super().__init__(parent)
        self._theme, self._limit = theme, limit
        px = theme.px
        self._bar = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=False)
        self._bar.configure(width=px(BAR_WIDTH_MIN), height=px(BAR_HEIGHT + 2 * BAR_TOP))
        self._bar.grid(row=0, column=0, sticky="nw")
        self.verdict = ttk.Label(self, text=told_of_gauge(limit.gauge), style="Strong.TLabel")
        self.verdict.grid(row=0, column=1, sticky="w", padx=(px(GAP), 0))
        self.told = ttk.Label(self, text=limit.told, style="Dim.TLabel")
        self.told.grid(row=1, column=1, sticky="w", padx=(px(GAP), 0))
        theme.draw_with(self._bar, self._draw)

    def wrap(self, width: int) -> None:
        """Share that width between the bar and the words."""
        px = self._theme.px
        bar = max(px(BAR_WIDTH_MIN), round(width * BAR_SHARE))
        self._bar.configure(width=bar)
        for label in (self.verdict, self.told):
            label.configure(wraplength=max(width - bar - 2 * px(GAP), px(BAR_WIDTH_MIN)))

    def _draw(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        self._bar.configure(background=palette.ground)
        self._bar.delete("all")
        draw_gauge(
            self._bar, self._theme, self._limit.gauge, px(2), px(BAR_TOP), self._bar.winfo_width() - px(4)
        )
        self.verdict.configure(foreground=palette.tone(sign(self._limit.gauge.sign).hue))
