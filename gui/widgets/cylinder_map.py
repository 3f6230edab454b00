"""One cylinder drawn upright, with a mark where each station sits that says how it stands."""

from __future__ import annotations

import math
import tkinter as tk
from collections.abc import Callable, Collection, Sequence
from typing import Any

from gui.shown import CylinderShape, FilledStation
from gui.signs import sign, urgency
from gui.theme import CAPTION, Theme
from gui.widgets.station_rows import told_of
from gui.widgets.tip import PartTips

WIDTH, HEIGHT = 206, 280
MARGIN = 14
DOT = 8
NEAR = 14
# In the cylinder's own square: x to the right and y upward, -1 to 1.
FOOT, HEAD_BEGINS, TOP = -0.6, 0.22, 0.98
BARREL, HEAD = 0.42, 0.7
FINS = 9
CASE_WIDTH, CASE_FOOT = 0.85, -0.98
SPAN_X, SPAN_Y = 0.92, 1.0

Point = tuple[float, float]


class CylinderMap(tk.Canvas):
    """Point at a mark to read of its station; ``on_choose`` gets the key of the one that is clicked."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, *, on_choose: Callable[[Any], None] = lambda _key: None
    ) -> None:
        super().__init__(parent, highlightthickness=0, borderwidth=0, takefocus=False)
        self.configure(width=theme.px(WIDTH), height=theme.px(HEIGHT))
        self._theme, self._on_choose = theme, on_choose
        self._stations: tuple[FilledStation, ...] = ()
        self._chosen: frozenset[Any] = frozenset()
        self._shape, self._title = CylinderShape.FINNED, ""
        self._tips = PartTips(self)
        theme.draw_with(self, self._draw)
        self.bind("<Motion>", self._moved)
        self.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        self.bind("<Button-1>", self._clicked)

    def show(self, stations: Sequence[FilledStation], shape: CylinderShape, title: str = "") -> None:
        """Draw a cylinder of that shape with these stations; ``title`` stands beneath it."""
        # What is to be looked at must not lie beneath what is in order.
        self._stations = tuple(sorted(stations, key=lambda each: urgency(each.sign)))
        self._shape, self._title = shape, title
        self._draw()

    def mark(self, keys: Collection[Any]) -> None:
        """Ring the stations with these keys."""
        self._chosen = frozenset(keys)
        self._draw()

    def place_of(self, key: Any) -> Point:
        """Where the station with that key is drawn, in pixels."""
        return self._pixel(next((each.x, each.y) for each in self._stations if each.key == key))

    def _pixel(self, point: Point) -> Point:
        px = self._theme.px
        wide = self.winfo_width() - 2 * px(MARGIN)
        high = self.winfo_height() - 2 * px(MARGIN) - self._theme.line_height(CAPTION)
        zoom = max(1.0, min(wide / (2 * SPAN_X), high / (2 * SPAN_Y)))
        return (
            self.winfo_width() / 2 + point[0] * zoom,
            px(MARGIN) + (TOP + 0.02 - point[1]) * zoom,
        )

    def _pixels(self, points: Sequence[Point]) -> list[float]:
        return [value for point in points for value in self._pixel(point)]

    def _draw(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        self.configure(background=palette.ground)
        self.delete("all")
        if not self._stations:
            return
        self._draw_cylinder()
        for each in self._stations:
            x, y = self._pixel((each.x, each.y))
            hue = sign(each.sign).hue
            radius = px(DOT) if each.gauge is not None else px(DOT * 0.6)
            if each.key in self._chosen:
                ring = radius + px(4)
                self.create_oval(
                    x - ring, y - ring, x + ring, y + ring, outline=palette.accent, width=px(2.5),
                    tags="chosen",
                )  # fmt: skip
            self.create_oval(
                x - radius, y - radius, x + radius, y + radius, fill=palette.tint(hue),
                outline=palette.tone(hue), width=px(1.5), tags="station",
            )  # fmt: skip
            if each.gauge is not None:
                self.create_text(x, y, text=sign(each.sign).mark, font=CAPTION, fill=palette.on_tint(hue))
        x, y = self._pixel((0, CASE_FOOT))
        title = self._theme.shortened(self._title, self.winfo_width() - px(8), CAPTION)
        self.create_text(x, y + self._theme.line_height(CAPTION), text=title, font=CAPTION, fill=palette.dim)

    def _draw_cylinder(self) -> None:
        palette, line = self._theme.palette, self._theme.px(1.5)
        if self._shape is CylinderShape.FINNED:
            for fin in range(FINS):
                y = FOOT + 0.07 + (HEAD_BEGINS - FOOT - 0.1) * fin / (FINS - 1)
                self.create_line(*self._pixels([(-HEAD, y), (HEAD, y)]), fill=palette.line, width=line)
        barrel = BARREL if self._shape is CylinderShape.FINNED else HEAD
        outline = [
            (-barrel, FOOT), (-barrel, HEAD_BEGINS), (-HEAD, HEAD_BEGINS), (-HEAD, TOP),
            (HEAD, TOP), (HEAD, HEAD_BEGINS), (barrel, HEAD_BEGINS), (barrel, FOOT),
        ]  # fmt: skip
        self.create_polygon(
            *self._pixels(outline), fill=palette.raised, outline=palette.dim, width=line, joinstyle="round"
        )
        case = [(-CASE_WIDTH, CASE_FOOT), (-CASE_WIDTH, FOOT), (CASE_WIDTH, FOOT), (CASE_WIDTH, CASE_FOOT)]
        self.create_line(*self._pixels(case), fill=palette.line, width=line, joinstyle="round")

    def _near(self, x: float, y: float) -> FilledStation | None:
        reach = self._theme.px(NEAR)
        best, best_away = None, float(reach)
        for each in self._stations:
            away = math.dist((x, y), self._pixel((each.x, each.y)))
            # Of two on the same spot the one on top, which is drawn last, is meant.
            if away <= best_away:
                best, best_away = each, away
        return best

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        near = self._near(event.x, event.y)
        self.configure(cursor="hand2" if near is not None else "")
        self._tips.pointed(event, told_of(near) if near is not None else "")

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        near = self._near(event.x, event.y)
        if near is not None:
            self._on_choose(near.key)
