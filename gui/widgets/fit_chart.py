"""Clearances and masses of an engine by cylinder, each row against its limits: tight and loose are seen."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from gui.shown import ChartPoint, ChartStrip, Deed
from gui.signs import sign
from gui.theme import BODY, CAPTION, STRONG, Theme, has_focus
from gui.widgets.drawn_rows import DrawnRows
from gui.widgets.life_line import spread

STRIP_HEIGHT = 176
WORDS_SHARE = 0.26
WORDS_WIDTH = (150, 250)
# Beside the figures stand the words of the limits, behind a line that leads to each.
LEAD = 9
HEAD, FOOT = 20, 40
BAR_WIDTH = 12
TICK_WIDTH = 20
COLUMN_WIDTH_MAX = 120
# How much of its height a strip leaves free above and below its figures.
FREE_SHARE = 0.08


@dataclass(frozen=True)
class Scale:
    """How figures lie in a strip: ``low`` at the height ``bottom`` and ``high`` at ``top``, in pixels."""

    low: float
    high: float
    top: float
    bottom: float

    def at(self, value: float) -> float:
        """The height at which a figure lies."""
        return self.bottom - (value - self.low) / (self.high - self.low) * (self.bottom - self.top)


def scale_of(strip: ChartStrip, top: float, bottom: float) -> Scale:
    """The scale on which all that the strip shows has room."""
    values = [line.value for line in strip.lines]
    values += [end for band in strip.bands for end in (band.low, band.high)]
    for point in strip.points:
        values += [end for end in (point.low, point.mean, point.high) if end is not None]
    low, high = min(values, default=0.0), max(values, default=1.0)
    free = (high - low) * FREE_SHARE or 1.0
    return Scale(low - free, high + free, top, bottom)


class FitChart(DrawnRows):
    """Walk it with the arrows: up and down from row to row, left and right from cylinder to cylinder.

    ``on_choose`` gets the row and the point that become chosen, ``on_open`` those on which Enter is pressed
    or which are double-clicked, ``deeds_for`` names what fits them, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_choose: Callable[[ChartStrip, ChartPoint], None] = lambda _strip, _point: None,
        on_open: Callable[[ChartStrip, ChartPoint], None] = lambda _strip, _point: None,
        deeds_for: Callable[[ChartStrip, ChartPoint], list[Deed]] = lambda _strip, _point: [],
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent, theme)
        self._on_choose, self._on_open = on_choose, on_open
        self._deeds_for, self._on_leave = deeds_for, on_leave
        self._strips: tuple[ChartStrip, ...] = ()
        self._limits_width = 0
        self._row, self._column = -1, 0

    def show(self, strips: Sequence[ChartStrip]) -> None:
        """Draw these in the order given; what is chosen stays chosen, by key and name, if it is there yet."""
        before = self.chosen()
        self._strips = tuple(strips)
        words = {line.word for strip in self._strips for line in strip.lines}
        self._limits_width = max((self.theme.measure(word, CAPTION) for word in words), default=0)
        self._row, self._column = -1, 0
        for at, strip in enumerate(self._strips):
            if before is not None and strip.key == before[0].key:
                names = [point.name for point in strip.points]
                self._row = at
                self._column = names.index(before[1].name) if before[1].name in names else 0
        self.lay([self.theme.px(STRIP_HEIGHT)] * len(self._strips))
        if self._row >= 0:
            self.stack.see(self._row)
        self.draw()

    def chosen(self) -> tuple[ChartStrip, ChartPoint] | None:
        """The chosen row and point, or None."""
        if self._row < 0 or not self._strips[self._row].points:
            return None
        strip = self._strips[self._row]
        return strip, strip.points[min(self._column, len(strip.points) - 1)]

    def choose(self, key: Any, name: str) -> None:
        """Choose a point by its strip's key and its cylinder's name, and bring it into sight."""
        row = [strip.key for strip in self._strips].index(key)
        self._move(row, [point.name for point in self._strips[row].points].index(name))

    def _sides(self) -> tuple[float, float]:
        """Where the figures begin and end, across."""
        px, width = self.theme.px, self.canvas.winfo_width()
        narrowest, widest = WORDS_WIDTH
        left = min(px(widest), max(px(narrowest), width * WORDS_SHARE))
        return left, max(width - self._limits_width - px(2 * LEAD), left + px(80))

    def _staggered(self, strip: ChartStrip) -> bool:
        """Whether its figures have no room side by side, and every other one stands a line lower."""
        room = self._column_width(strip) - self.theme.px(4)
        return any(self.theme.measure(_marked(point), CAPTION) > room for point in strip.points)

    def _middles(self, strip: ChartStrip) -> list[float]:
        """Where each point of a strip lies, across; never so far apart that a row of few is torn."""
        left, right = self._sides()
        wide = min((right - left) / max(len(strip.points), 1), self.theme.px(COLUMN_WIDTH_MAX))
        return [left + wide * (at + 0.5) for at in range(len(strip.points))]

    def _column_width(self, strip: ChartStrip) -> float:
        left, right = self._sides()
        return min((right - left) / max(len(strip.points), 1), self.theme.px(COLUMN_WIDTH_MAX))

    def _column_at(self, strip: ChartStrip, x: float) -> int | None:
        half = self._column_width(strip) / 2
        return next((at for at, mid in enumerate(self._middles(strip)) if abs(x - mid) <= half), None)

    def draw_row(self, at: int) -> None:
        strip, top, px = self._strips[at], self.stack.top_of(at), self.theme.px
        staggered = self._staggered(strip)
        lower = self.theme.line_height(CAPTION) if staggered else 0
        scale = scale_of(strip, top + px(HEAD), top + px(STRIP_HEIGHT - FOOT) - lower)
        self._draw_words(strip, top)
        self._draw_bands(strip, scale)
        if at == self._row:
            self._draw_chosen(strip, top)
        names = top + px(STRIP_HEIGHT - 13)
        for nth, (point, middle) in enumerate(zip(strip.points, self._middles(strip), strict=True)):
            raised = lower if nth % 2 == 0 else 0
            self._draw_words_of(point, middle, names, raised, self._column_width(strip), staggered)
            self._draw_point(point, middle, scale, self._column_width(strip))
        foot = top + px(STRIP_HEIGHT) - 1
        self.canvas.create_line(0, foot, self.canvas.winfo_width(), foot, fill=self.theme.palette.line)

    def _draw_chosen(self, strip: ChartStrip, top: float) -> None:
        palette, px, canvas = self.theme.palette, self.theme.px, self.canvas
        outline = palette.accent if has_focus(canvas) else palette.line
        if strip.points:
            middle = self._middles(strip)[min(self._column, len(strip.points) - 1)]
            half = self._column_width(strip) / 2 - px(1)
            canvas.create_rectangle(
                middle - half, top + px(3), middle + half, top + px(STRIP_HEIGHT - 4), outline=outline,
                width=px(2), tags="chosen",
            )  # fmt: skip
        canvas.create_rectangle(
            0, top + px(6), px(3), top + px(STRIP_HEIGHT - 7), fill=outline, outline="", tags="chosen"
        )

    def _draw_words(self, strip: ChartStrip, top: float) -> None:
        palette, px, canvas, shown = self.theme.palette, self.theme.px, self.canvas, sign(strip.sign)
        room = self._sides()[0] - px(40)
        canvas.create_text(px(18), top + px(18), text=shown.mark, font=BODY, fill=palette.tone(shown.hue))
        y = top + px(9)
        for words, font, colour in (
            (strip.name, STRONG, palette.ink),
            (strip.caption, CAPTION, palette.dim),
            (strip.told, CAPTION, palette.tone(shown.hue)),
        ):
            item = canvas.create_text(
                px(32), y, text=words, anchor="nw", width=room, font=font, fill=colour, tags="words"
            )
            y = canvas.bbox(item)[3] + px(3)

    def _draw_bands(self, strip: ChartStrip, scale: Scale) -> None:
        palette, px, canvas = self.theme.palette, self.theme.px, self.canvas
        left, right = self._sides()
        right = min(right, (self._middles(strip)[-1:] or [left])[0] + self._column_width(strip) / 2)
        for band in strip.bands:
            canvas.create_rectangle(
                left, scale.at(band.high), right, scale.at(band.low), fill=palette.tint(sign(band.sign).hue),
                outline="", tags="band",
            )  # fmt: skip
        for line in strip.lines:
            colour = palette.tone(sign(line.sign).hue) if line.sign else palette.ink
            y = scale.at(line.value)
            dash = () if line.sign else (5, 3)
            canvas.create_line(left, y, right, y, fill=colour, width=px(1), dash=dash, tags="limit")
        lines = sorted(strip.lines, key=lambda line: -line.value)
        heights = spread(
            [scale.at(line.value) for line in lines],
            self.theme.line_height(CAPTION),
            scale.top - px(HEAD / 2),
            scale.bottom + px(FOOT / 2),
        )
        for line, y in zip(lines, heights, strict=True):
            colour = palette.tone(sign(line.sign).hue) if line.sign else palette.ink
            canvas.create_line(right, scale.at(line.value), right + px(6), y, fill=colour)
            canvas.create_text(
                right + px(LEAD), y, text=line.word, anchor="w", font=CAPTION, fill=colour, tags="limit_words"
            )

    def _draw_words_of(
        self, point: ChartPoint, middle: float, y: float, raised: float, wide: float, staggered: bool
    ) -> None:
        """The cylinder's name, and above it its figure with the mark, or what there is room for of that."""
        room = wide - self.theme.px(4)
        name = self.theme.shortened(point.name, room, CAPTION)
        self.canvas.create_text(middle, y, text=name, font=CAPTION, fill=self.theme.palette.dim)
        room = 2 * wide - self.theme.px(6) if staggered else room
        fitting = (
            text for text in (_marked(point), point.figure) if self.theme.measure(text, CAPTION) <= room
        )
        tone = self.theme.palette.tone(sign(point.sign).hue)
        above = y - self.theme.line_height(CAPTION) - raised
        self.canvas.create_text(
            middle, above, text=next(fitting, sign(point.sign).mark), font=CAPTION, fill=tone, tags="figure"
        )

    def _draw_point(self, point: ChartPoint, middle: float, scale: Scale, wide: float) -> None:
        palette, px, canvas, shown = self.theme.palette, self.theme.px, self.canvas, sign(point.sign)
        tone, room = palette.tone(shown.hue), wide - px(4)
        if point.low is None or point.high is None or point.mean is None:
            return
        half, tick = px(BAR_WIDTH) / 2, min(px(TICK_WIDTH), room) / 2
        low, high, mean = scale.at(point.low), scale.at(point.high), scale.at(point.mean)
        # A figure without a range is still to be seen as one.
        low, high = max(low, mean + px(4)), min(high, mean - px(4))
        fill, dash = (palette.tint(shown.hue), ()) if point.measured else ("", (3, 3))
        canvas.create_rectangle(
            middle - half, high, middle + half, low, fill=fill, outline=tone, width=px(1.5),
            dash=dash, tags="point",
        )  # fmt: skip
        canvas.create_line(middle - tick, mean, middle + tick, mean, fill=tone, width=px(3), tags="mean")

    def focused(self) -> None:
        if self._row < 0 and self._strips:
            self._move(0, 0)
        self.draw()

    def _move(self, row: int, column: int) -> None:
        if not self._strips:
            return
        self._row = max(0, min(row, len(self._strips) - 1))
        self._column = max(0, min(column, len(self._strips[self._row].points) - 1))
        self.stack.see(self._row)
        self.draw()
        chosen = self.chosen()
        if chosen is not None:
            self._on_choose(*chosen)

    def opened(self) -> None:
        chosen = self.chosen()
        if chosen is not None:
            self._on_open(*chosen)

    def pressed(self, event: tk.Event[tk.Misc]) -> bool:
        control = bool(int(event.state) & 0x4)
        row, aside = self.target_of(event), {"Left": -1, "Right": 1}.get(event.keysym)
        if row is not None and not control:
            self._move(row, self._column)
        elif aside is not None and not control:
            self._move(max(self._row, 0), self._column + aside)
        elif event.keysym in ("Return", "KP_Enter") and not control:
            self.opened()
        elif event.keysym == "Escape":
            self._on_leave()
        else:
            return self.done_by_key(event)
        return True

    def clicked(self, at: int, event: tk.Event[tk.Misc]) -> None:
        column = self._column_at(self._strips[at], event.x)
        self._move(at, self._column if column is None else column)

    def menu_chosen(self, at: int) -> None:
        self._move(at, self._column)

    def cursor(self) -> int:
        return self._row

    def told_at(self, at: int) -> str:
        strip = self._strips[at]
        column = self._column_at(strip, self.pointed_x)
        if column is None:
            return "\n".join(part for part in (strip.name, strip.caption, strip.told) if part)
        return told_of(strip, strip.points[column])

    def deeds(self) -> list[Deed]:
        chosen = self.chosen()
        return self._deeds_for(*chosen) if chosen is not None else []


def _marked(point: ChartPoint) -> str:
    return f"{sign(point.sign).mark} {point.figure}".strip()


def told_of(strip: ChartStrip, point: ChartPoint) -> str:
    """What pointing at a point tells: the row, the cylinder, how it stands, and why."""
    head = f"{strip.name}, {point.name}: {sign(point.sign).text}"
    return f"{head}\n{point.detail}" if point.detail else head
