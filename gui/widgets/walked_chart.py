"""A chart whose points are walked by the arrows; what is told of the one that one stands on is beneath."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk

from gui.theme import BODY, CAPTION, Theme
from gui.widgets.deed_menu import held
from gui.widgets.tip import PartTips
from gui.widgets.wrapped import wrapped

TOLD_LINES_MAX = 2


def _nothing() -> None:
    pass


class WalkedChart(ttk.Frame):
    """What such charts have in common; each says what is told of its points, where they are, and draws them.

    ``on_leave`` is Escape, ``on_open`` is Enter.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_leave: Callable[[], None] = _nothing,
        on_open: Callable[[], None] = _nothing,
    ) -> None:
        super().__init__(parent)
        self._theme, self._on_leave, self._on_open = theme, on_leave, on_open
        self._empty = ""
        self._chosen = -1
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

    def told(self) -> str:
        """What is told of the point one stands on."""
        points = self._told_of_points()
        return points[self._chosen] if points else self._empty

    def _told_of_points(self) -> Sequence[str]:
        """What is told of each point; none while nothing is drawn."""
        raise NotImplementedError

    def _at(self, x: float) -> int | None:
        """Which point is there, if any."""
        raise NotImplementedError

    def _draw_points_above(self, bottom: float) -> None:
        """Draw all that stands above what is told, which begins at that height."""
        raise NotImplementedError

    def _draw(self) -> None:
        canvas, theme, px = self.canvas, self._theme, self._theme.px
        canvas.configure(background=theme.palette.ground)
        canvas.delete("all")
        width, height = canvas.winfo_width(), canvas.winfo_height()
        if not self._told_of_points():
            canvas.create_text(
                width / 2, height / 2, text=self._empty, width=max(width - px(40), px(100)), justify="center",
                font=BODY, fill=theme.palette.dim, tags="told",
            )  # fmt: skip
            return
        told = wrapped(theme, self.told(), width - px(8), TOLD_LINES_MAX)
        top = height - len(told) * theme.line_height(CAPTION)
        self._draw_points_above(top)
        for at, line in enumerate(told):
            y = top + at * theme.line_height(CAPTION)
            canvas.create_text(
                px(4), y, anchor="nw", text=line, font=CAPTION, fill=theme.palette.ink, tags="told"
            )

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self._at(event.x)
        self._tips.pointed(event, self._told_of_points()[at] if at is not None else "")

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        at = self._at(event.x)
        if at is not None:
            self._go_to(at)

    def _go_to(self, at: int) -> None:
        last = len(self._told_of_points()) - 1
        if last >= 0:
            self._chosen = max(0, min(at, last))
            self._draw()

    def _pressed(self, event: tk.Event[tk.Misc]) -> bool:
        last = len(self._told_of_points()) - 1
        target = {"Left": self._chosen - 1, "Right": self._chosen + 1, "Home": 0, "End": last}.get(
            event.keysym
        )
        if held(event):
            return False
        if target is not None:
            self._go_to(target)
        elif event.keysym in ("Return", "KP_Enter"):
            self._on_open()
        elif event.keysym == "Escape":
            self._on_leave()
        else:
            return False
        return True
