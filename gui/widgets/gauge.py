"""A life as a bar: what was used, what may have been and where the limit is; with a figure, mark and word."""

from __future__ import annotations

import tkinter as tk

from gui.shown import Gauge
from gui.signs import sign
from gui.theme import CAPTION, Theme
from gui.widgets.gauge_shape import shape_of
from gui.widgets.hatching import hatch

BAR_HEIGHT = 10
GAP = 8
WIDTH = 320
SHARE_OF_WIDTH = 0.3


def draw_gauge(
    canvas: tk.Canvas, theme: Theme, gauge: Gauge, left: float, top: float, width: float, tags: str = ""
) -> None:
    """Draw the bar in a box of that width, ``BAR_HEIGHT`` high at 100 %.

    Filled for what was used, hatched for what may have been, an arrow where no upper end is known; a high
    tick at the limit and a low one where it becomes due soon.
    """
    palette, px = theme.palette, theme.px
    shape, hue = shape_of(gauge), sign(gauge.sign).hue
    bottom = top + px(BAR_HEIGHT)
    tone = palette.tone(hue)
    canvas.create_rectangle(left, top, left + width, bottom, fill=palette.raised, outline="", tags=tags)
    used, doubtful = left + shape.used * width, left + shape.doubtful * width
    canvas.create_rectangle(left, top, used, bottom, fill=tone, outline="", tags=tags)
    hatch(canvas, (used, top, doubtful, bottom), px(4), tone, tags)
    canvas.create_rectangle(left, top, left + width, bottom, outline=palette.line, width=px(1), tags=tags)
    if shape.open:
        middle, half = (top + bottom) / 2, px(BAR_HEIGHT) / 2
        tip = min(doubtful + px(6), left + width)
        canvas.create_polygon(
            tip - px(6), middle - half, tip, middle, tip - px(6), middle + half, fill=tone, tags=tags
        )
    if shape.soon is not None:
        at = left + shape.soon * width
        canvas.create_line(at, top, at, bottom, fill=palette.ink, dash=(2, 2), tags=tags)
    at = left + shape.limit * width
    canvas.create_line(at, top - px(3), at, bottom + px(3), fill=palette.ink, width=px(2), tags=tags)


class GaugeView(tk.Canvas):
    """One gauge with its figure, mark and word behind it."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent, highlightthickness=0, borderwidth=0, takefocus=False)
        self._theme = theme
        self._gauge: Gauge | None = None
        self.configure(width=theme.px(WIDTH), height=theme.px(BAR_HEIGHT + 12))
        theme.draw_with(self, self._draw)

    def show(self, gauge: Gauge) -> None:
        """Draw this one."""
        self._gauge = gauge
        self._draw()

    def said(self) -> str:
        """What stands behind the bar."""
        return told_of_gauge(self._gauge) if self._gauge is not None else ""

    def _draw(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        self.configure(background=palette.ground)
        self.delete("all")
        if self._gauge is None:
            return
        width = self.winfo_width() * SHARE_OF_WIDTH
        left = width + px(2 + GAP)
        draw_gauge(self, self._theme, self._gauge, px(2), px(6), width)
        self.create_text(
            left,
            px(6 + BAR_HEIGHT / 2),
            anchor="w",
            text=self._theme.shortened(self.said(), self.winfo_width() - left - px(2), CAPTION),
            font=CAPTION,
            fill=palette.tone(sign(self._gauge.sign).hue),
        )


def told_of_gauge(gauge: Gauge) -> str:
    """Mark, word and figure: the verdict first, which must be seen where there is room for little."""
    return f"{sign(gauge.sign).text}: {gauge.figure}"
