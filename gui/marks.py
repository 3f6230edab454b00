"""Drawn marks: one for each view on the rail, and the coloured chip before a row of a list."""

from __future__ import annotations

import math
import struct
import tkinter as tk
import zlib
from base64 import b64encode
from collections.abc import Callable

GRID = 24
CHIP_RADIUS_SHARE = 0.36

Draw = Callable[["Pen"], None]


class Pen:
    """Draws on a canvas in a square of 24 units whose corner is at ``left``, ``top``."""

    def __init__(self, canvas: tk.Canvas, left: float, top: float, size: float, colour: str) -> None:
        self._canvas, self._left, self._top, self._colour = canvas, left, top, colour
        self._unit = size / GRID
        self._width = max(1.0, 1.7 * self._unit)

    def line(self, *points: float, closed: bool = False, filled: bool = False) -> None:
        """A stroke through the points x, y, x, y …; closed or filled if said."""
        placed = self._placed(points)
        if closed or filled:
            fill = self._colour if filled else ""
            self._canvas.create_polygon(
                *placed, fill=fill, outline=self._colour, width=self._width, joinstyle="round", tags="mark"
            )
        else:
            self._canvas.create_line(
                *placed,
                fill=self._colour,
                width=self._width,
                capstyle="round",
                joinstyle="round",
                tags="mark",
            )

    def circle(self, x: float, y: float, radius: float, *, filled: bool = False) -> None:
        """A circle about x, y."""
        placed = self._placed((x - radius, y - radius, x + radius, y + radius))
        fill = self._colour if filled else ""
        self._canvas.create_oval(*placed, outline=self._colour, fill=fill, width=self._width, tags="mark")

    def _placed(self, points: tuple[float, ...]) -> list[float]:
        corner = (self._left, self._top)
        return [round(corner[at % 2] + value * self._unit) for at, value in enumerate(points)]


def _stores(pen: Pen) -> None:
    pen.line(3, 3, 3, 21)
    pen.line(21, 3, 21, 21)
    for shelf in (11, 19):
        pen.line(3, shelf, 21, shelf)
    pen.line(6, 11, 6, 6, 11, 6, 11, 11)
    pen.line(14, 11, 14, 8, 18, 8, 18, 11)
    pen.line(6, 19, 6, 15, 13, 15, 13, 19)


def _bench(pen: Pen) -> None:
    pen.line(2, 14, 22, 14)
    pen.line(5, 14, 5, 21)
    pen.line(19, 14, 19, 21)
    pen.line(9, 14, 9, 10, 17, 10, 17, 14)
    pen.line(9, 10, 6, 10, 6, 5, 10, 5)
    pen.line(14, 10, 14, 5, 18, 5)
    pen.line(10, 7, 14, 7)


def _engines(pen: Pen) -> None:
    pen.circle(12, 12, 3.4)
    for spoke in range(7):
        angle = math.radians(spoke * 360 / 7)
        across, along = math.cos(angle), math.sin(angle)
        points: list[float] = []
        for out, side in ((4.6, -1.7), (10.4, -2.1), (10.4, 2.1), (4.6, 1.7)):
            points += [12 + along * out + across * side, 12 - across * out + along * side]
        pen.line(*points, closed=True)


def _buying(pen: Pen) -> None:
    pen.line(2, 4, 5, 4, 8, 15, 19, 15, 21, 7, 6, 7)
    pen.circle(10, 19, 1.8)
    pen.circle(17, 19, 1.8)


def _catalogue(pen: Pen) -> None:
    pen.line(12, 6, 8, 4, 2, 4, 2, 19, 8, 19, 12, 21, 16, 19, 22, 19, 22, 4, 16, 4, 12, 6)
    pen.line(12, 6, 12, 21)
    pen.line(5, 8, 9, 8)
    pen.line(5, 12, 9, 12)
    pen.line(15, 8, 19, 8)
    pen.line(15, 12, 19, 12)


MARKS: dict[str, Draw] = {
    "stores": _stores,
    "bench": _bench,
    "engines": _engines,
    "buying": _buying,
    "catalogue": _catalogue,
}


def draw_mark(canvas: tk.Canvas, name: str, left: float, top: float, size: float, colour: str) -> None:
    """Draw the mark of that name, one of :data:`MARKS`, with the canvas tag "mark"."""
    MARKS[name](Pen(canvas, left, top, size, colour))


def chip_png(size: int, colour: str) -> str:
    """A disc of the colour in a square of ``size`` pixels, smooth-edged, as base64 of a PNG."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    middle, radius = (size - 1) / 2, size * CHIP_RADIUS_SHARE
    lines = b""
    for y in range(size):
        lines += b"\0"
        for x in range(size):
            inside = min(1.0, max(0.0, radius + 0.5 - math.hypot(x - middle, y - middle)))
            lines += bytes((red, green, blue, round(255 * inside)))
    return png_of(size, size, lines)


def png_of(width: int, height: int, lines: bytes) -> str:
    """A picture as base64 of a PNG; each of its lines is a zero and four bytes a pixel: R, G, B, opacity.

    Source of the layout: W3C, Portable Network Graphics (PNG) Specification, third edition.
    """
    header = struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(lines)), (b"IEND", b""))
    data = b"\x89PNG\r\n\x1a\n"
    for kind, body in chunks:
        data += struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return b64encode(data).decode("ascii")
