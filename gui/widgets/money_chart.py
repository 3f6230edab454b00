"""What shortage is left for how much money: a curve whose points can be walked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from gui.shown_need import MoneyCurve, MoneyPoint
from gui.signs import BLUE
from gui.theme import CAPTION, has_focus
from gui.widgets.need_chart import Panel, ticks_of
from gui.widgets.walked_chart import WalkedChart

LEFT, RIGHT, HEAD, FOOT = 52, 24, 26, 30
LINES_MAX = 5
REACH = 14
HEADING = "Shortage left, weighed, by the money spent"


class MoneyChart(WalkedChart):
    """Sum by sum; see :class:`gui.widgets.walked_chart.WalkedChart`."""

    _curve: MoneyCurve | None = None

    def show(self, curve: MoneyCurve) -> None:
        """Draw this one, standing on the sum that was asked about."""
        self._curve, self._empty = curve, ""
        self._chosen = curve.asked or 0
        self._draw()

    def say(self, words: str) -> None:
        """Draw nothing and say why."""
        self._curve, self._empty = None, words
        self._draw()

    def _told_of_points(self) -> Sequence[str]:
        return [point.told for point in self._curve.points] if self._curve is not None else ()

    def _draw_points_above(self, bottom: float) -> None:
        px, curve = self._theme.px, self._curve
        assert curve is not None, "nothing is drawn"
        most = max(max(point.left for point in curve.points) * 1.1, 0.01)
        panel = Panel(most, px(HEAD), bottom - px(FOOT))
        self._draw_axes(panel)
        self._draw_points(curve, panel)

    def _across(self, point: MoneyPoint) -> float:
        px = self._theme.px
        return px(LEFT) + point.money * max(self.canvas.winfo_width() - px(LEFT + RIGHT), px(60))

    def _draw_axes(self, panel: Panel) -> None:
        assert self._curve is not None, "nothing is drawn"
        canvas, palette, px = self.canvas, self._theme.palette, self._theme.px
        canvas.create_text(
            px(4), px(HEAD / 2), anchor="w", text=HEADING, font=CAPTION, fill=palette.dim, tags="legend"
        )
        right = canvas.winfo_width() - px(RIGHT)
        for value in ticks_of(panel.most, LINES_MAX):
            y = panel.at(value)
            canvas.create_line(px(LEFT), y, right, y, fill=palette.line if value else palette.dim)
            canvas.create_text(px(LEFT - 6), y, anchor="e", text=f"{value:g}", font=CAPTION, fill=palette.dim)
        taken: list[tuple[float, float]] = []
        for point in self._labelled():
            half = self._theme.measure(point.word, CAPTION) / 2
            x = min(max(self._across(point), half + px(2)), canvas.winfo_width() - half - px(2))
            if all(x + half + px(10) <= begun or ended <= x - half - px(10) for begun, ended in taken):
                taken.append((x - half, x + half))
                canvas.create_text(
                    x, panel.bottom + px(13), text=point.word, font=CAPTION, fill=palette.dim, tags="axis"
                )

    def _labelled(self) -> list[MoneyPoint]:
        """The points by how much their sum is worth writing: the one asked about, the ends, the others."""
        assert self._curve is not None, "nothing is drawn"
        points, asked = self._curve.points, self._curve.asked
        first = [points[asked]] if asked is not None else []
        return [*first, points[0], points[-1], *points[1:-1]]

    def _draw_points(self, curve: MoneyCurve, panel: Panel) -> None:
        canvas, palette, px = self.canvas, self._theme.palette, self._theme.px
        tone = palette.tone(BLUE)
        if curve.asked is not None:
            x = self._across(curve.points[curve.asked])
            canvas.create_line(x, panel.top, x, panel.bottom, fill=palette.dim, dash=(4, 3), tags="asked")
        for one, other in pairwise(curve.points):
            canvas.create_line(
                self._across(one), panel.at(one.left), self._across(other), panel.at(other.left), fill=tone,
                width=px(2), tags="curve",
            )  # fmt: skip
        for at, point in enumerate(curve.points):
            x, y = self._across(point), panel.at(point.left)
            radius = px(5) if at == self._chosen else px(3)
            ring = palette.accent if at == self._chosen and has_focus(canvas) else tone
            canvas.create_oval(
                x - radius, y - radius, x + radius, y + radius, fill=tone, outline=ring, width=px(2),
                tags="point",
            )  # fmt: skip

    def _at(self, x: float) -> int | None:
        points = self._curve.points if self._curve is not None else ()
        near = [(abs(self._across(point) - x), at) for at, point in enumerate(points)]
        return min(near)[1] if near and min(near)[0] <= self._theme.px(REACH) else None
