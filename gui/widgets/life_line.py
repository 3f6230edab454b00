"""The life of a piece on a time axis: where it was, what was held against it, and what happened when."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from gui.shown import LifeLine, Moment, Stretch
from gui.signs import sign
from gui.theme import BODY, CAPTION, Theme, has_focus
from gui.widgets.hatching import hatch
from gui.widgets.time_axis import ticks_between
from gui.widgets.tip import PartTips

MARGIN = 14
HOLD_HEIGHT = 8
BAND_HEIGHT = 34
MOMENT_ROOM = 26
MOMENT_WIDTH = 15
AXIS_ROOM = 20
HEIGHT = 152
# The line beneath the axis is broken into three at the most, which words never fill to the end.
READING_WIDTHS = 2.7
HATCH_STEP = 7
HOW_TO_READ = "Point at a stretch, or walk there with the arrow keys, to read of it."
TICK_WIDTH_MIN = 58
MISSING = "history missing"


@dataclass(frozen=True)
class _Part:
    """Something one can point at or walk to: its box in pixels, and what it tells."""

    item: Stretch | Moment
    left: float
    top: float
    right: float
    bottom: float


class LifeLineView(tk.Canvas):
    """Bands for stretches, thin bands above them for holds, marks beneath them for moments.

    Pointing at one, or walking to it with the arrow keys, writes what it tells in the line beneath the axis.
    ``on_open`` gets the ``ref`` of the one on which Enter is pressed or which is double-clicked.
    """

    def __init__(
        self, parent: tk.Misc, theme: Theme, *, on_open: Callable[[Any], None] = lambda _ref: None
    ) -> None:
        super().__init__(parent, highlightthickness=0, borderwidth=0, takefocus=True)
        self.configure(height=theme.px(HEIGHT), width=theme.px(400))
        self._theme = theme
        self._on_open = on_open
        self._life: LifeLine | None = None
        self._parts: list[_Part] = []
        self._chosen = -1
        self._pointed = -1
        self._tips = PartTips(self)
        theme.draw_with(self, self._draw)
        self.bind("<Motion>", self._moved)
        self.bind("<Leave>", self._moved)
        self.bind("<Button-1>", self._clicked)
        self.bind("<Double-Button-1>", lambda _event: self._open())
        self.bind("<KeyPress>", self._key)
        self.bind("<FocusIn>", lambda _event: self._focused())
        self.bind("<FocusOut>", lambda _event: self._draw())

    def show(self, life: LifeLine) -> None:
        """Draw this life, with nothing chosen."""
        self._life = life
        self._chosen = self._pointed = -1
        self._draw()

    def reading(self) -> str:
        """What the line beneath the axis tells just now."""
        at = self._pointed if self._pointed >= 0 else self._chosen
        return told_of(self._parts[at].item) if 0 <= at < len(self._parts) else ""

    def _span(self, life: LifeLine) -> tuple[date, date]:
        begun = [each.since for each in (*life.stretches, *life.holds)] + [each.on for each in life.moments]
        ended = [each.until or life.today for each in (*life.stretches, *life.holds)]
        ended += [each.on for each in life.moments]
        first, last = min(begun, default=life.today), max([*ended, life.today])
        return first, last if last > first else date.fromordinal(first.toordinal() + 1)

    def _draw(self) -> None:
        palette, px = self._theme.palette, self._theme.px
        self.configure(background=palette.ground)
        self.delete("all")
        self._parts = []
        life = self._life
        if life is None:
            return
        first, last = self._span(life)
        margin, width = px(MARGIN), self.winfo_width() - 2 * px(MARGIN)
        days = last.toordinal() - first.toordinal()

        def across(day: date) -> float:
            return margin + width * (day.toordinal() - first.toordinal()) / days

        top = px(6)
        if life.holds:
            for hold in life.holds:
                self._draw_band(hold, across, life.today, top, px(HOLD_HEIGHT))
            top += px(HOLD_HEIGHT) + px(4)
        for stretch in life.stretches:
            self._draw_band(stretch, across, life.today, top, px(BAND_HEIGHT))
        top += px(BAND_HEIGHT)
        self._draw_moments(life.moments, across, top)
        top += px(MOMENT_ROOM)
        self._draw_axis(first, last, across, top)
        self._parts.sort(key=lambda part: (part.left, part.top))
        self._draw_chosen()
        self.create_text(
            margin,
            top + px(AXIS_ROOM + 6),
            text=self._theme.shortened(
                self.reading().replace("\n", "; ") or HOW_TO_READ, width * READING_WIDTHS, CAPTION
            ),
            anchor="nw",
            width=width,
            font=CAPTION,
            fill=palette.ink if self.reading() else palette.dim,
            tags="reading",
        )

    def _draw_band(
        self, stretch: Stretch, across: Callable[[date], float], today: date, top: float, height: float
    ) -> None:
        palette, px = self._theme.palette, self._theme.px
        shown = sign(stretch.sign)
        left = across(stretch.since)
        right = max(across(stretch.until or today), left + px(3))
        missing = stretch.sign == MISSING
        fill = palette.ground if missing else palette.tint(shown.hue)
        line = palette.tone(shown.hue)
        self.create_rectangle(left, top, right, top + height, fill=fill, outline="")
        if missing:
            hatch(self, (left, top, right, top + height), px(HATCH_STEP), line)
        self.create_rectangle(left, top, right, top + height, outline=line, width=px(1))
        if height >= px(BAND_HEIGHT):
            brief = stretch.word.partition(",")[0].partition(":")[0]
            for text in (f"{shown.mark} {stretch.word}", f"{shown.mark} {brief}", shown.mark):
                wide = self._theme.measure(text, CAPTION)
                if wide + px(8) <= right - left:
                    middle, centre = (left + right) / 2, top + height / 2
                    if missing:
                        half = (wide / 2 + px(4), self._theme.line_height(CAPTION) / 2)
                        box = (middle - half[0], centre - half[1], middle + half[0], centre + half[1])
                        self.create_rectangle(*box, fill=palette.ground, outline="")
                    colour = palette.on_tint(shown.hue) if missing else palette.ink
                    self.create_text(middle, centre, text=text, font=CAPTION, fill=colour)
                    break
        self._parts.append(_Part(stretch, left, top, right, top + height))

    def _draw_moments(self, moments: tuple[Moment, ...], across: Callable[[date], float], top: float) -> None:
        palette, px = self._theme.palette, self._theme.px
        ordered = sorted(moments, key=lambda moment: moment.on)
        ends = px(MARGIN), max(px(MARGIN), self.winfo_width() - px(MARGIN))
        places = spread([across(moment.on) for moment in ordered], px(MOMENT_WIDTH), *ends)
        for moment, x in zip(ordered, places, strict=True):
            shown, day = sign(moment.sign), across(moment.on)
            colour = palette.tone(shown.hue)
            self.create_line(day, top, x, top + px(7), fill=colour, width=px(1))
            self.create_text(x, top + px(15), text=shown.mark, font=BODY, fill=colour)
            self._parts.append(_Part(moment, x - px(7), top + px(2), x + px(7), top + px(MOMENT_ROOM - 2)))

    def _draw_axis(self, first: date, last: date, across: Callable[[date], float], top: float) -> None:
        palette, px = self._theme.palette, self._theme.px
        self.create_line(across(first), top, across(last), top, fill=palette.line)
        ticks = ticks_between(first, last, int((across(last) - across(first)) / px(TICK_WIDTH_MIN)))
        for day, word in ticks:
            x = across(day)
            self.create_line(x, top, x, top + px(4), fill=palette.dim)
            half = self._theme.measure(word, CAPTION) / 2
            x = max(half + px(2), min(self.winfo_width() - half - px(2), x))
            self.create_text(x, top + px(12), text=word, font=CAPTION, fill=palette.dim)

    def _draw_chosen(self) -> None:
        px = self._theme.px
        for at, width in ((self._pointed, 1.5), (self._chosen, 2.5)):
            if 0 <= at < len(self._parts):
                part = self._parts[at]
                colour = self._theme.palette.accent if has_focus(self) else self._theme.palette.ink
                box = (part.left - px(1), part.top - px(1), part.right + px(1), part.bottom + px(1))
                self.create_rectangle(*box, outline=colour, width=px(width))

    def _at(self, x: float, y: float) -> int:
        slack = self._theme.px(2)
        for at in reversed(range(len(self._parts))):
            part = self._parts[at]
            if part.left - slack <= x <= part.right + slack and part.top <= y <= part.bottom:
                return at
        return -1

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self._at(event.x, event.y) if event.type is tk.EventType.Motion else -1
        if at != self._pointed:
            self._pointed = at
            self._draw()
        self._tips.pointed(event, told_of(self._parts[at].item) if at >= 0 else "")

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.focus_set()
        at = self._at(event.x, event.y)
        if at >= 0:
            self._chosen = at
            self._draw()

    def _focused(self) -> None:
        if self._chosen < 0 and self._parts:
            self._chosen = len(self._parts) - 1
        self._draw()

    def _open(self) -> None:
        if 0 <= self._chosen < len(self._parts):
            ref = self._parts[self._chosen].item.ref
            if ref is not None:
                self._on_open(ref)

    def _key(self, event: tk.Event[tk.Misc]) -> str | None:
        last = len(self._parts) - 1
        target = {
            "Left": self._chosen - 1,
            "Right": self._chosen + 1,
            "Home": 0,
            "End": last,
        }.get(event.keysym)
        if event.keysym in ("Return", "KP_Enter", "space"):
            self._open()
        elif target is not None and last >= 0:
            self._chosen = max(0, min(last, target))
            self._pointed = -1
            self._draw()
        else:
            return None
        return "break"


def spread(places: Sequence[float], apart: float, first: float, last: float) -> list[float]:
    """Places between the first and the last, in rising order, moved aside so that they stand so far apart.

    Where there is no room for all of them, they stand as close as it takes.
    """
    if len(places) > 1:
        apart = min(apart, (last - first) / (len(places) - 1))
    found: list[float] = []
    for place in places:
        found.append(max(place, found[-1] + apart) if found else place)
    end = last
    for at in reversed(range(len(found))):
        found[at] = min(found[at], end)
        end = found[at] - apart
    return found


def told_of(item: Stretch | Moment) -> str:
    """What pointing at a stretch or a moment tells: its days, what it is, and its detail."""
    shown = sign(item.sign)
    if isinstance(item, Moment):
        when = item.on.isoformat()
    else:
        when = f"{item.since.isoformat()} to {item.until.isoformat() if item.until else 'today'}"
    said = item.word if shown.word in item.word else f"{shown.word}, {item.word}"
    head = f"{when}: {shown.mark} {said}"
    return f"{head}\n{item.detail}" if item.detail else head
