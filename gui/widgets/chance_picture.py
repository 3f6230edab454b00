"""The chance of running short by month, small enough for a row of a list."""

from __future__ import annotations

import tkinter as tk
from collections import OrderedDict
from collections.abc import Sequence

from gui.marks import png_of
from gui.shown_need import standing_of
from gui.signs import sign
from gui.theme import Theme

WIDTH, HEIGHT = 104, 22
GAP = 6
PICTURES_MAX = 400
CLEAR = bytes(4)


class ChancePictures:
    """Draws each row's picture once for a theme, and keeps those used last."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme
        self._kept: OrderedDict[tuple[object, ...], tk.PhotoImage] = OrderedDict()

    def of(self, chances: Sequence[float], watch: float, short: float) -> tk.PhotoImage:
        """A bar a month, as high as its chance of its frame, and a line at each threshold (0 to 1)."""
        key = (self._theme.dark, watch, short, tuple(chances))
        if key not in self._kept:
            self._kept[key] = tk.PhotoImage(master=self._theme.root, data=self._png(chances, watch, short))
            while len(self._kept) > PICTURES_MAX:
                self._kept.popitem(last=False)
        self._kept.move_to_end(key)
        return self._kept[key]

    def _png(self, chances: Sequence[float], watch: float, short: float) -> str:
        palette, px = self._theme.palette, self._theme.px
        width, height = px(WIDTH), px(HEIGHT)
        hues = {state: palette.tone(sign(state).hue) for state in ("runs short", "to watch")}
        bars = [
            (round(chance * (height - 1)), hues.get(standing_of(chance, watch, short), palette.dim))
            for chance in chances
        ]
        lines = {
            height - 1 - round(share * (height - 1)): hues[state]
            for share, state in ((watch, "to watch"), (short, "runs short"))
        }
        columns = [at * len(bars) // width for at in range(width)]
        drawn = b""
        for y in range(height):
            drawn += b"\0"
            for x, at in enumerate(columns):
                high, colour = bars[at]
                parted = x + 1 < width and columns[x + 1] != at and width > 3 * len(bars)
                if y >= height - 1 - high and not parted:
                    drawn += _pixel(colour)
                elif y in lines and x % 4 < 2:
                    drawn += _pixel(lines[y], 150)
                else:
                    drawn += CLEAR
        return png_of(width, height, drawn)


def _pixel(colour: str, opacity: int = 255) -> bytes:
    return bytes((*(int(colour[at : at + 2], 16) for at in (1, 3, 5)), opacity))
