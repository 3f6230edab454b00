"""A slider over time with a mark for each day on which something changed, and the day typed beside it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from datetime import date, timedelta
from tkinter import ttk

from gui.theme import CAPTION, Theme, has_focus
from gui.widgets.dates import read_date
from gui.widgets.day_steps import DaySteps
from gui.widgets.field_keys import select_all_by_key
from gui.widgets.time_axis import TimeAxis
from gui.widgets.tip import PartTips, explain
from invdb.terms import Refused

HEIGHT = 46
MARGIN = 12
TRACK = 14
KNOB = 7
TICK_WIDTH_MIN = 56
NEAR = 4
HOW_TO_GO = "Drag it, or Left and Right by a day, with Ctrl by change; Page Up and Down by a month"


class DateSlider(ttk.Frame):
    """Left and Right go by a day, with Ctrl to the change before or after, Page Up and Down by a month.

    Home and End go to the first and the last day. ``on_change`` gets each day one goes to, ``refuse`` the
    sentence that says why what was typed is no day, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_change: Callable[[date], None] = lambda _day: None,
        refuse: Callable[[str], None] = lambda _sentence: None,
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._on_change, self._refuse, self._on_leave = on_change, refuse, on_leave
        self._steps: DaySteps | None = None
        self.day = date.min
        self.entry = ttk.Entry(self, width=11)
        self.entry.pack(side="left")
        self.canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=True)
        self.canvas.configure(height=theme.px(HEIGHT), width=theme.px(200))
        self.canvas.pack(side="left", fill="x", expand=True, padx=theme.px(6))
        self.last = ttk.Button(self, text="Today", command=self.go_to_last)
        self.last.pack(side="left")
        self._tips = PartTips(self.canvas)
        explain(self.entry, "The day shown: type year-month-day or day.month.year, and Enter", "Ctrl+G")
        explain(self.last, "Back to how it is today", "End")
        theme.draw_with(self.canvas, self._draw)
        self._listen()

    def show(self, steps: DaySteps, day: date) -> None:
        """Go over these days, and stand at that one; tells nobody."""
        self._steps = steps
        self._stand(steps.within(day))

    def at_last(self) -> bool:
        """Whether it stands at the last day, which is today."""
        return self._steps is None or self.day == self._steps.last

    def focus_slider(self) -> None:
        """Go over the days with the keys from here on."""
        self.canvas.focus_set()

    def focus_day(self) -> None:
        """Begin to type a day."""
        self.entry.focus_set()
        self.entry.selection_range(0, "end")

    def go_to(self, day: date) -> None:
        """Go to that day, as near as the slider reaches, and tell of it if it is another."""
        if self._steps is None:
            return
        day = self._steps.within(day)
        if day != self.day:
            self._stand(day)
            self._on_change(day)
        else:
            self._stand(day)

    def go_to_last(self) -> None:
        """Go to the last day."""
        if self._steps is not None:
            self.go_to(self._steps.last)

    def _stand(self, day: date) -> None:
        self.day = day
        self.entry.delete(0, "end")
        self.entry.insert(0, day.isoformat())
        self.last.state(["disabled" if self.at_last() else "!disabled"])
        self._draw()

    def _axis(self, steps: DaySteps) -> TimeAxis:
        margin, width = self._theme.px(MARGIN), self.canvas.winfo_width()
        last = max(steps.last, steps.first + timedelta(days=1))
        return TimeAxis(steps.first, last, margin, max(width - margin, margin + 1))

    def _draw(self) -> None:
        canvas, palette, px, steps = self.canvas, self._theme.palette, self._theme.px, self._steps
        canvas.configure(background=palette.ground)
        canvas.delete("all")
        if steps is None:
            return
        axis, middle = self._axis(steps), px(TRACK)
        for mark in steps.marks:
            if steps.first <= mark.on <= steps.last:
                x = axis.across(mark.on)
                canvas.create_line(
                    x, middle - px(9), x, middle + px(9), fill=palette.dim, width=px(1), tags="mark"
                )
        canvas.create_line(axis.left, middle, axis.right, middle, fill=palette.line, width=px(3))
        here = axis.across(self.day)
        canvas.create_line(axis.left, middle, here, middle, fill=palette.accent, width=px(3))
        radius = px(KNOB)
        ring = palette.ink if has_focus(canvas) else palette.accent
        canvas.create_oval(
            here - radius, middle - radius, here + radius, middle + radius, fill=palette.accent,
            outline=ring, width=px(3 if has_focus(canvas) else 1), tags="knob",
        )  # fmt: skip
        for day, word in axis.ticks(px(TICK_WIDTH_MIN)):
            half = self._theme.measure(word, CAPTION) / 2
            x = min(max(axis.across(day), half + px(1)), canvas.winfo_width() - half - px(1))
            canvas.create_text(x, px(HEIGHT - 9), text=word, font=CAPTION, fill=palette.dim)

    def _listen(self) -> None:
        canvas = self.canvas
        canvas.bind("<KeyPress>", self._key)
        canvas.bind("<Button-1>", self._pressed)
        canvas.bind("<B1-Motion>", self._dragged)
        canvas.bind("<Motion>", self._moved)
        canvas.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        canvas.bind("<FocusIn>", lambda _event: self._draw())
        canvas.bind("<FocusOut>", lambda _event: self._draw())
        for key in ("<Return>", "<KP_Enter>"):
            self.entry.bind(key, lambda _event: self._read())
        self.entry.bind("<FocusOut>", lambda _event: self._put_back())
        self.entry.bind("<Escape>", lambda _event: self._leave())
        canvas.bind("<Escape>", lambda _event: self._leave())
        select_all_by_key(self.entry)

    def _key(self, event: tk.Event[tk.Misc]) -> str | None:
        steps, control = self._steps, bool(int(event.state) & 0x4)
        if steps is None:
            return None
        target = {
            "Left": steps.to_mark(self.day, -1) if control else steps.by_days(self.day, -1),
            "Right": steps.to_mark(self.day, 1) if control else steps.by_days(self.day, 1),
            "Prior": steps.by_months(self.day, -1),
            "Next": steps.by_months(self.day, 1),
            "Home": steps.first,
            "End": steps.last,
        }.get(event.keysym)
        if target is None:
            return None
        self.go_to(target)
        return "break"

    def _pressed(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        self._dragged(event)

    def _dragged(self, event: tk.Event[tk.Misc]) -> None:
        if self._steps is not None:
            self.go_to(self._axis(self._steps).day_at(event.x))

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        if self._steps is None:
            return
        axis = self._axis(self._steps)
        slack = axis.day_at(event.x + self._theme.px(NEAR)) - axis.day_at(event.x)
        self._tips.pointed(event, self._steps.told_on(axis.day_at(event.x), slack) or HOW_TO_GO)

    def _read(self) -> str:
        try:
            day = read_date(self.entry.get())
        except Refused as refused:
            self._refuse(str(refused))
            return "break"
        if day is not None:
            self.go_to(day)
        self._put_back()
        return "break"

    def _put_back(self) -> None:
        """What was typed and not taken gives way to the day that is shown."""
        if self._steps is not None and self.entry.get() != self.day.isoformat():
            self._stand(self.day)

    def _leave(self) -> str:
        self._put_back()
        self._on_leave()
        return "break"
