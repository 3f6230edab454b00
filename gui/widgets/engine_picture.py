"""An engine drawn from its data: each cylinder where it sits, filled by what it stands for in this view."""

from __future__ import annotations

import math
import tkinter as tk
from collections.abc import Callable, Sequence
from typing import Any

from gui.shown import Cylinder
from gui.signs import GREY, Sign, sign
from gui.theme import BODY, CAPTION, STRONG, Theme, has_focus
from gui.widgets.cylinder_shapes import (
    Placed,
    Point,
    case_circle,
    case_hull,
    hung_down,
    placed,
    room_between_banks,
    towards,
)
from gui.widgets.tip import PartTips
from invdb.terms import Layout

MARGIN = 20
CAPTION_ROOM = 26
TITLE_SHARE = 1.7
BANKS_SHARE = 0.6
TICK = "☑"
# Beyond the foot, upon the crankcase, where it takes no room from what the cylinder says.
TICK_ALONG = -0.13
SIDEWAYS = 0.7
# The corners of a block of lines are empty: its first and last line are seldom the longest.
HEIGHT_SHARE = 0.8
ARROWS: dict[str, Point] = {"Left": (-1, 0), "Right": (1, 0), "Up": (0, -1), "Down": (0, 1)}

Line = tuple[str, str, str]


class EnginePicture(tk.Canvas):
    """A picture to point at and to walk with the arrow keys or Tab.

    ``on_choose`` gets the name of a cylinder when it becomes the chosen one, ``on_open`` when Enter, Space or
    a double click asks to go on with it.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_choose: Callable[[str], None] = lambda _name: None,
        on_open: Callable[[str], None] = lambda _name: None,
    ) -> None:
        super().__init__(parent, highlightthickness=0, borderwidth=0, takefocus=True)
        self.configure(width=theme.px(460), height=theme.px(420))
        self._theme = theme
        self._on_choose, self._on_open = on_choose, on_open
        self._engine: list[Placed] = []
        self._layout = Layout.IN_LINE
        self._title = self._caption = ""
        self._chosen = -1
        self._pointed = -1
        self._zoom, self._shift = 1.0, (0.0, 0.0)
        self._tips = PartTips(self)
        theme.draw_with(self, self._draw)
        self.bind("<Motion>", self._moved)
        self.bind("<Leave>", self._moved)
        self.bind("<Button-1>", self._clicked)
        self.bind("<Double-Button-1>", lambda _event: self._open())
        self.bind("<KeyPress>", self._key)
        self.bind("<FocusIn>", lambda _event: self._draw())
        self.bind("<FocusOut>", lambda _event: self._draw())

    def show(
        self,
        cylinders: Sequence[Cylinder],
        layout: Layout | str,
        *,
        inverted: bool = False,
        title: str = "",
        caption: str = "",
    ) -> None:
        """Draw these; the chosen one stays chosen if there is still one of its name.

        ``inverted`` hangs the two banks of a vee downward. ``title`` stands on the crankcase, ``caption``
        beneath the picture ("seen from the rear").
        """
        name = self.chosen()
        self._layout = Layout(layout)
        hangs = inverted and self._layout is Layout.VEE
        self._engine = placed(hung_down(cylinders) if hangs else cylinders, self._layout)
        self._title, self._caption = title, caption
        self._pointed = -1
        names = [cylinder.name for cylinder in cylinders]
        self._chosen = names.index(name) if name in names else -1
        self._draw()

    def chosen(self) -> str | None:
        """The name of the chosen cylinder, or None."""
        return self._engine[self._chosen].cylinder.name if self._chosen >= 0 else None

    def name_at(self, x: float, y: float) -> str | None:
        """The name of the cylinder at that place of the picture, or None."""
        at = self._cylinder_at(x, y)
        return self._engine[at].cylinder.name if at >= 0 else None

    def choose(self, name: str) -> None:
        """Choose the cylinder of that name, as a click does."""
        names = [each.cylinder.name for each in self._engine]
        self._choose(names.index(name))

    def _choose(self, at: int) -> None:
        if at == self._chosen:
            return
        self._chosen = at
        self._draw()
        self._on_choose(self._engine[at].cylinder.name)

    def _open(self) -> None:
        name = self.chosen()
        if name is not None:
            self._on_open(name)

    def _fit(self) -> None:
        points = [point for each in self._engine for point in (*each.outline(), each.at(-0.1, 0))]
        if self._layout is not Layout.RADIAL:
            points += case_hull(self._engine)
        left, right = min(x for x, _ in points), max(x for x, _ in points)
        top, bottom = min(y for _, y in points), max(y for _, y in points)
        margin = self._theme.px(MARGIN)
        wide = self.winfo_width() - 2 * margin
        beyond = 0
        if self._words_beyond():
            words = {sign(each.cylinder.sign).text for each in self._engine if each.cylinder.sign}
            beyond = max((self._theme.measure(text, CAPTION) for text in words), default=0)
        high = self.winfo_height() - 2 * margin - self._theme.px(CAPTION_ROOM)
        # A window that is not laid out yet has no room; any zoom will do until it has.
        self._zoom = max(1e-6, min((wide - 2 * beyond) / (right - left), high / (bottom - top)))
        self._shift = (
            margin + (wide - (right - left) * self._zoom) / 2 - left * self._zoom,
            margin + (high - (bottom - top) * self._zoom) / 2 - top * self._zoom,
        )

    def _pixels(self, points: Sequence[Point]) -> list[float]:
        return [
            value * self._zoom + self._shift[axis] for point in points for axis, value in enumerate(point)
        ]

    def _draw(self) -> None:
        palette = self._theme.palette
        self.configure(background=palette.ground)
        self.delete("all")
        if not self._engine:
            return
        self._fit()
        titled = self._draw_case()
        for at, each in enumerate(self._engine):
            self._draw_cylinder(at, each)
        beneath = self._caption if titled else " · ".join(filter(None, (self._title, self._caption)))
        self.create_text(
            self.winfo_width() / 2,
            self.winfo_height() - self._theme.px(CAPTION_ROOM) / 2,
            text=beneath,
            font=CAPTION,
            fill=palette.dim,
            width=self.winfo_width(),
        )

    def _draw_case(self) -> bool:
        """Draw what the cylinders stand on. True if there was room for the title on it."""
        palette, line = self._theme.palette, self._theme.px(1)
        if self._layout is Layout.RADIAL:
            middle, radius = case_circle(self._engine)
            corners = [(middle[0] + way * radius, middle[1] + way * radius) for way in (-1, 1)]
            self.create_oval(*self._pixels(corners), fill=palette.shade, outline=palette.line, width=line)
            room = radius * TITLE_SHARE
        else:
            hull = case_hull(self._engine)
            self.create_polygon(
                *self._pixels(hull), fill=palette.shade, outline=palette.line, width=line, joinstyle="round"
            )
            xs, ys = [x for x, _ in hull], [y for _, y in hull]
            middle = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
            # The barrels of two banks lean into the room between their feet.
            room = room_between_banks(self._engine) * BANKS_SHARE or max(xs) - min(xs)
        fits = self._theme.measure(self._title, CAPTION) < room * self._zoom
        if fits:
            at = self._pixels([middle])
            self.create_text(*at, text=self._title, font=CAPTION, fill=palette.dim, justify="center")
        return fits

    def _draw_cylinder(self, at: int, each: Placed) -> None:
        palette, px = self._theme.palette, self._theme.px
        shown = sign(each.cylinder.sign) if each.cylinder.sign else None
        hue = shown.hue if shown else GREY
        tag = f"cylinder{at}"
        line = palette.tone(hue)
        for fin in each.fins():
            self.create_line(*self._pixels(fin), fill=palette.line, width=px(1.5), tags=tag)
        whole = self._pixels(each.outline())
        self.create_polygon(*whole, fill=palette.raised, outline="", tags=tag)
        if each.cylinder.filled > 0:
            part = each.outline(min(1.0, each.cylinder.filled))
            self.create_polygon(*self._pixels(part), fill=palette.tint(hue), outline="", tags=tag)
        chosen, pointed = at == self._chosen, at == self._pointed
        if chosen:
            ring = palette.accent if has_focus(self) else palette.ink
            self.create_polygon(
                *whole, fill="", outline=ring, width=px(6), joinstyle="round", tags=(tag, "chosen")
            )
            self.create_polygon(
                *whole, fill="", outline=palette.ground, width=px(2.5), joinstyle="round", tags=tag
            )
        self.create_polygon(
            *whole, fill="", outline=line, width=px(3 if pointed else 1.5), joinstyle="round", tags=tag
        )
        self._write_in(each, shown, tag)
        if each.cylinder.ticked:
            x, y = self._pixels([each.at(TICK_ALONG, 0)])
            self.create_text(x, y, text=TICK, font=STRONG, fill=palette.ink, tags=(tag, "ticked"))

    def _write_in(self, each: Placed, shown: Sign | None, tag: str) -> None:
        """Write the fullest of the ways to say it that there is room for."""
        ways = self._ways_to_say(each.cylinder, shown)
        lines = next((way for way in ways if self._fits(each, way)), ways[-1])
        if shown and self._words_beyond():
            self._write_beyond(each, shown, tag)
        heights = [self._theme.line_height(font) for _text, font, _colour in lines]
        x, y = self._pixels([each.at(0.5, 0)])
        y -= sum(heights) / 2
        for (text, font, colour), height in zip(lines, heights, strict=True):
            self.create_text(x, y + height / 2, text=text, font=font, fill=colour, tags=tag)
            y += height

    def _write_beyond(self, each: Placed, shown: Sign, tag: str) -> None:
        """Write the sign past a head that points sideways, where there is room kept for it."""
        anchor: Any = "w" if math.sin(math.radians(each.cylinder.angle)) > 0 else "e"
        x, y = self._pixels([each.at(1.0, 0)])
        x += self._theme.px(8) if anchor == "w" else -self._theme.px(8)
        colour = self._theme.palette.tone(shown.hue)
        self.create_text(x, y, text=shown.text, anchor=anchor, font=CAPTION, fill=colour, tags=tag)

    def _words_beyond(self) -> bool:
        """Whether all heads point to the left or the right, so that words may stand past them."""
        return all(abs(math.sin(math.radians(each.cylinder.angle))) > SIDEWAYS for each in self._engine)

    def _ways_to_say(self, cylinder: Cylinder, shown: Sign | None) -> list[list[Line]]:
        """Name, figure and sign, from the fullest to the shortest; the mark is never left out."""
        palette = self._theme.palette
        name = (cylinder.name, STRONG, palette.ink)
        figure = [(cylinder.figure, BODY, palette.ink)] if cylinder.figure else []
        if shown is None:
            return [[name, *figure], [name]]
        colour = palette.on_tint(shown.hue)
        words = [(text, CAPTION, colour) for text in (shown.mark, *shown.word.split())]
        marked = (f"{cylinder.name} {shown.mark}", STRONG, palette.ink)
        in_words = [
            [name, *figure, (shown.text, CAPTION, colour)],
            [name, *figure, *words],
            [marked, *figure, *words[1:]],
        ]
        return [
            *([] if self._words_beyond() else in_words),
            [marked, *figure],
            [marked, *[(text, CAPTION, ink) for text, _font, ink in figure]],
            [marked],
            [(f"{cylinder.name}{shown.mark}", CAPTION, palette.ink)],
        ]

    def _fits(self, each: Placed, lines: list[Line]) -> bool:
        wide = max(self._theme.measure(text, font) for text, font, _colour in lines)
        high = sum(self._theme.line_height(font) for _text, font, _colour in lines)
        wide += self._theme.px(6)
        return each.holds(wide / self._zoom, high * HEIGHT_SHARE / self._zoom)

    def _cylinder_at(self, x: float, y: float) -> int:
        for item in reversed(self.find_overlapping(x, y, x, y)):
            for tag in self.gettags(item):
                if tag.startswith("cylinder"):
                    return int(tag.removeprefix("cylinder"))
        return -1

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self._cylinder_at(event.x, event.y) if event.type is tk.EventType.Motion else -1
        if at != self._pointed:
            self._pointed = at
            self.configure(cursor="hand2" if at >= 0 else "")
            self._draw()
        self._tips.pointed(event, told_of(self._engine[at].cylinder) if at >= 0 else "")

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.focus_set()
        at = self._cylinder_at(event.x, event.y)
        if at >= 0:
            self._choose(at)

    def _key(self, event: tk.Event[tk.Misc]) -> str | None:
        if not self._engine:
            return None
        if event.keysym in ("Return", "KP_Enter", "space"):
            self._open()
        elif event.keysym in ARROWS:
            self._choose(
                towards(self._engine, self._chosen, ARROWS[event.keysym]) if self._chosen >= 0 else 0
            )
        elif event.keysym in ("Tab", "ISO_Left_Tab"):
            back = event.keysym == "ISO_Left_Tab" or bool(int(event.state) & 0x1)
            following = self._chosen + (-1 if back else 1)
            if not 0 <= following < len(self._engine):
                return None
            self._choose(following)
        elif event.keysym in ("Home", "End"):
            self._choose(0 if event.keysym == "Home" else len(self._engine) - 1)
        else:
            return None
        return "break"


def told_of(cylinder: Cylinder) -> str:
    """What pointing at a cylinder tells."""
    said = [part for part in (cylinder.figure, sign(cylinder.sign).text if cylinder.sign else "") if part]
    head = f"Cylinder {cylinder.name}" + (f": {', '.join(said)}" if said else "")
    return f"{head}\n{cylinder.detail}" if cylinder.detail else head
