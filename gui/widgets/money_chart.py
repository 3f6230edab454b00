"""What shortage is left for how much money: a curve whose points can be walked."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from itertools import pairwise
from tkinter import ttk

from gui.shown_need import MoneyCurve, MoneyPoint
from gui.signs import BLUE
from gui.theme import BODY, CAPTION, Theme, has_focus
from gui.widgets.deed_menu import held
from gui.widgets.need_chart import Panel, ticks_of
from gui.widgets.tip import PartTips
from gui.widgets.wrapped import wrapped

LEFT, RIGHT, HEAD, FOOT = 52, 24, 26, 26
LINES_MAX = 5
REACH = 14
HEADING = "Shortage left, weighed, by the money spent"


class MoneyChart(ttk.Frame):
    """Go from sum to sum with the arrows; what is told of it stands beneath. ``on_leave`` is Escape."""

    def __init__(self, parent: tk.Misc, theme: Theme, *, on_leave: Callable[[], None] = lambda: None) -> None:
        super().__init__(parent)
        self._theme, self._on_leave = theme, on_leave
        self._curve: MoneyCurve | None = None
        self._empty = ""
        self._chosen = 0
        self.canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=True)
        self.canvas.configure(width=theme.px(300), height=theme.px(150))
        self.canvas.pack(fill="both", expand=True)
        self._tips = PartTips(self.canvas)
        theme.draw_with(self.canvas, self._draw)
        canvas = self.canvas
        canvas.bind("<KeyPress>", lambda event: "break" if self._pressed(event) else None)
        canvas.bind("<Button-1>", self._clicked)
        canvas.bind("<Motion>", self._moved)
        canvas.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        for change in ("<FocusIn>", "<FocusOut>"):
            canvas.bind(change, lambda _event: self._draw())

    def show(self, curve: MoneyCurve) -> None:
        """Draw this one, standing on the sum that was asked about."""
        self._curve, self._empty = curve, ""
        self._chosen = curve.asked or 0
        self._draw()

    def say(self, words: str) -> None:
        """Draw nothing and say why."""
        self._curve, self._empty = None, words
        self._draw()

    def told(self) -> str:
        """What is told of the sum one stands on."""
        return self._curve.points[self._chosen].told if self._curve is not None else self._empty

    def _draw(self) -> None:
        canvas, theme, px = self.canvas, self._theme, self._theme.px
        canvas.configure(background=theme.palette.ground)
        canvas.delete("all")
        width, height = canvas.winfo_width(), canvas.winfo_height()
        if self._curve is None:
            canvas.create_text(
                width / 2, height / 2, text=self._empty, width=max(width - px(40), px(100)), justify="center",
                font=BODY, fill=theme.palette.dim, tags="told",
            )  # fmt: skip
            return
        told = wrapped(theme, self.told(), width - px(8), 2)
        foot = px(FOOT) + len(told) * theme.line_height(CAPTION) + px(4)
        most = max(max(point.left for point in self._curve.points) * 1.1, 0.01)
        panel = Panel(most, px(HEAD), height - foot)
        self._draw_axes(panel)
        self._draw_points(self._curve, panel)
        for at, line in enumerate(told):
            y = height - (len(told) - at) * theme.line_height(CAPTION)
            canvas.create_text(
                px(4), y, anchor="nw", text=line, font=CAPTION, fill=theme.palette.ink, tags="told"
            )

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

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self._at(event.x)
        curve = self._curve
        self._tips.pointed(event, curve.points[at].told if at is not None and curve is not None else "")

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        at = self._at(event.x)
        if at is not None:
            self._go_to(at)

    def _go_to(self, at: int) -> None:
        if self._curve is not None:
            self._chosen = max(0, min(at, len(self._curve.points) - 1))
            self._draw()

    def _pressed(self, event: tk.Event[tk.Misc]) -> bool:
        last = len(self._curve.points) - 1 if self._curve is not None else 0
        target = {"Left": self._chosen - 1, "Right": self._chosen + 1, "Home": 0, "End": last}.get(
            event.keysym
        )
        if held(event):
            return False
        if target is not None:
            self._go_to(target)
        elif event.keysym == "Escape":
            self._on_leave()
        else:
            return False
        return True
