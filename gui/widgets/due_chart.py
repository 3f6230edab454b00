"""What falls due on a time axis: worst first, a bar from the earliest to the latest day that is likely."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from gui.shown import Deed, DueBar
from gui.signs import sign
from gui.theme import BODY, CAPTION, Theme, has_focus
from gui.widgets.drawn_rows import DrawnRows
from gui.widgets.due_span import AHEAD, ahead_for, axis_of, ends_of
from gui.widgets.time_axis import TimeAxis

ROW_HEIGHT = 44
AXIS_HEIGHT = 40
BAR_HEIGHT = 14
WORDS_SHARE = 0.46
WORDS_WIDTH_MIN = 260
TICK_WIDTH_MIN = 64
MARK_WIDTH = 26


class DueChart(DrawnRows):
    """Walk it with the arrows; + and - look less far and farther ahead.

    ``on_open`` gets the bar on which Enter is pressed or which is double-clicked, ``on_choose`` the one that
    becomes chosen, ``deeds_for`` names what fits it, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_open: Callable[[DueBar], None] = lambda _bar: None,
        on_choose: Callable[[DueBar], None] = lambda _bar: None,
        deeds_for: Callable[[DueBar], list[Deed]] = lambda _bar: [],
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent, theme)
        self._on_open, self._on_choose = on_open, on_choose
        self._deeds_for, self._on_leave = deeds_for, on_leave
        self._bars: tuple[DueBar, ...] = ()
        self._today = date.min
        self._soon_until: date | None = None
        self._ahead: int | None = None
        self._chosen = -1
        self._axis_canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=False)
        self._axis_canvas.configure(height=theme.px(AXIS_HEIGHT), width=theme.px(300))
        self._axis_canvas.grid(row=0, column=0, sticky="ew")

    def show(self, bars: Sequence[DueBar], today: date, soon_until: date | None = None) -> None:
        """Draw these in the order given; the chosen one stays chosen, by its key, if it is still there."""
        key = self._bars[self._chosen].key if self._chosen >= 0 else None
        self._bars, self._today, self._soon_until = tuple(bars), today, soon_until
        keys = [bar.key for bar in self._bars]
        self._chosen = keys.index(key) if key is not None and key in keys else -1
        if self._ahead is None and self._bars:
            self._ahead = ahead_for(self._bars, today)
        self.lay([self.theme.px(ROW_HEIGHT)] * len(self._bars))
        self.draw()

    def chosen(self) -> DueBar | None:
        """The chosen one, or None."""
        return self._bars[self._chosen] if self._chosen >= 0 else None

    def choose(self, key: Any) -> None:
        """Choose the one with that key, and bring it into sight."""
        self._move([bar.key for bar in self._bars].index(key))

    def ahead_days(self) -> int:
        """How many days ahead the axis looks."""
        return AHEAD[self._ahead if self._ahead is not None else 0].days

    def look(self, way: int) -> None:
        """Look farther ahead (1) or less far (-1)."""
        if self._ahead is not None:
            self._ahead = max(0, min(self._ahead + way, len(AHEAD) - 1))
            self.draw()

    def _axis(self) -> TimeAxis:
        px, width = self.theme.px, self.canvas.winfo_width()
        words = max(px(WORDS_WIDTH_MIN), round(width * WORDS_SHARE))
        ahead = AHEAD[self._ahead if self._ahead is not None else 0]
        return axis_of(self._today, ahead, words, width - px(22))

    def draw_behind(self) -> None:
        canvas = self._axis_canvas
        canvas.configure(background=self.theme.palette.ground)
        canvas.delete("all")
        if self._bars:
            axis = self._axis()
            self._draw_axis(axis)
            self._draw_lines(axis)

    def _draw_axis(self, axis: TimeAxis) -> None:
        palette, px, canvas = self.theme.palette, self.theme.px, self._axis_canvas
        foot = px(AXIS_HEIGHT)
        for day, word in axis.ticks(px(TICK_WIDTH_MIN)):
            x = axis.across(day)
            half = self.theme.measure(word, CAPTION) / 2
            canvas.create_line(x, foot - px(5), x, foot, fill=palette.dim)
            x = min(x, canvas.winfo_width() - half - px(2))
            canvas.create_text(x, foot - px(13), text=word, font=CAPTION, fill=palette.dim)
        canvas.create_line(axis.left, foot - 1, axis.right, foot - 1, fill=palette.line)
        said = f"today {self._today.isoformat()}"
        canvas.create_text(
            axis.across(self._today), px(9), text=said, font=CAPTION, fill=palette.ink,
        )  # fmt: skip
        if self._soon_until is not None and self._soon_until <= axis.last:
            x = axis.across(self._soon_until)
            left = axis.across(self._today) + self.theme.measure(said, CAPTION) / 2 + px(10)
            word = f"◷ due soon until {self._soon_until.isoformat()}"
            room = canvas.winfo_width() - left
            canvas.create_text(
                max(left, min(x, canvas.winfo_width() - self.theme.measure(word, CAPTION) - px(4))), px(9),
                anchor="w", text=self.theme.shortened(word, room, CAPTION), font=CAPTION,
                fill=palette.tone(sign("due soon").hue),
            )  # fmt: skip

    def _draw_lines(self, axis: TimeAxis) -> None:
        palette, px, canvas = self.theme.palette, self.theme.px, self.canvas
        bottom = min(canvas.winfo_height(), self.stack.height)
        for day, _word in axis.ticks(px(TICK_WIDTH_MIN)):
            x = axis.across(day)
            canvas.create_line(x, 0, x, bottom, fill=palette.shade)
        x = axis.across(self._today)
        canvas.create_line(x, 0, x, bottom, fill=palette.ink, width=px(1.5), tags="today")
        if self._soon_until is not None and self._soon_until <= axis.last:
            x = axis.across(self._soon_until)
            tone = palette.tone(sign("due soon").hue)
            canvas.create_line(x, 0, x, bottom, fill=tone, dash=(4, 3), width=px(1.5), tags="threshold")

    def draw_row(self, at: int) -> None:
        axis = self._axis()
        canvas, theme, palette, px = self.canvas, self.theme, self.theme.palette, self.theme.px
        bar, top = self._bars[at], self.stack.top_of(at)
        height, width = px(ROW_HEIGHT), canvas.winfo_width()
        if at == self._chosen:
            # Behind the words only: the lines of the days must still be seen beside the bar.
            canvas.create_rectangle(0, top, axis.left - px(6), top + height, fill=palette.chosen, outline="")
            outline = palette.accent if has_focus(canvas) else palette.line
            canvas.create_rectangle(
                px(1), top + px(1), width - px(2), top + height - px(1), outline=outline, width=px(1.5)
            )
        shown = sign(bar.sign)
        tone = palette.tone(shown.hue)
        room = axis.left - px(MARK_WIDTH + 10)
        first, second = top + px(14), top + px(31)
        canvas.create_text(px(MARK_WIDTH) / 2, first, text=shown.mark, font=BODY, fill=tone)
        canvas.create_text(
            px(MARK_WIDTH), first, anchor="w", text=theme.shortened(bar.what, room), font=BODY,
            fill=palette.ink,
        )  # fmt: skip
        said = f"{bar.engine}: {shown.word}, {bar.words}" if bar.words else f"{bar.engine}: {shown.word}"
        canvas.create_text(
            px(MARK_WIDTH), second, anchor="w", text=theme.shortened(said, room, CAPTION), font=CAPTION,
            fill=tone,
        )  # fmt: skip
        self._draw_bar(bar, axis, top + (height - px(BAR_HEIGHT)) / 2)

    def _draw_bar(self, bar: DueBar, axis: TimeAxis, top: float) -> None:
        canvas, palette, px = self.canvas, self.theme.palette, self.theme.px
        ends, hue = ends_of(bar, axis), sign(bar.sign).hue
        bottom, tone = top + px(BAR_HEIGHT), palette.tone(hue)
        if ends is None:
            x = axis.across(self._today) + px(8)
            canvas.create_text(
                x, (top + bottom) / 2, anchor="w", font=CAPTION, fill=palette.dim,
                text=self.theme.shortened("no day can be told", axis.right - x, CAPTION),
            )  # fmt: skip
            return
        right = max(ends.right, ends.left + px(4))
        if ends.left < axis.right:
            canvas.create_rectangle(
                ends.left, top, right, bottom, fill=palette.tint(hue), outline=tone, width=px(1.5), tags="bar"
            )
        if ends.beyond:
            middle, tip = (top + bottom) / 2, axis.right + px(12)
            canvas.create_polygon(
                axis.right, top, tip, middle, axis.right, bottom, fill=tone, outline=tone, tags="beyond"
            )

    def focused(self) -> None:
        if self._chosen < 0 and self._bars:
            self._move(0)
        self.draw()

    def _move(self, at: int) -> None:
        if not self._bars:
            return
        self._chosen = max(0, min(at, len(self._bars) - 1))
        self.stack.see(self._chosen)
        self.draw()
        self._on_choose(self._bars[self._chosen])

    def opened(self) -> None:
        if self._chosen >= 0:
            self._on_open(self._bars[self._chosen])

    def pressed(self, event: tk.Event[tk.Misc]) -> bool:
        control = bool(int(event.state) & 0x4)
        target = self.target_of(event)
        if target is not None and not control:
            self._move(target)
        elif event.char in ("+", "-") and not control:
            self.look(-1 if event.char == "+" else 1)
        elif event.keysym in ("Return", "KP_Enter") and not control:
            self.opened()
        elif event.keysym == "Escape":
            self._on_leave()
        else:
            return self.done_by_key(event)
        return True

    def clicked(self, at: int, event: tk.Event[tk.Misc]) -> None:
        self._move(at)

    def menu_chosen(self, at: int) -> None:
        self._move(at)

    def cursor(self) -> int:
        return self._chosen

    def told_at(self, at: int) -> str:
        return told_of(self._bars[at])

    def deeds(self) -> list[Deed]:
        chosen = self.chosen()
        return self._deeds_for(chosen) if chosen is not None else []


def told_of(bar: DueBar) -> str:
    """What pointing at a bar tells: what, where, how it stands, when, and the rest."""
    lines = [f"{bar.what}, {bar.engine}", f"{sign(bar.sign).text}: {bar.words or 'nothing more is known'}"]
    lines.append(days_words(bar))
    return "\n".join([*lines, bar.detail] if bar.detail else lines)


def days_words(bar: DueBar) -> str:
    """The forecast in words: always a range, never a bare day."""
    if bar.earliest is None:
        return "No day can be told."
    if bar.latest is None:
        return f"Not before {bar.earliest.isoformat()} by its use so far; how late cannot be told."
    if bar.latest == bar.earliest:
        return f"Due on {bar.earliest.isoformat()} by the calendar."
    return f"Between {bar.earliest.isoformat()} and {bar.latest.isoformat()} by its use so far."
