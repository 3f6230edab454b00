"""A small chart of a chance by month: bars from nothing to certain, with the thresholds drawn across."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from reportlab.pdfgen.canvas import Canvas

from invdb.paper import lettering
from invdb.paper.sheet_pdf import AMBER, HAIR, INK, QUIET, RED, Colour, Mark

_CALM: Colour = (0.55, 0.58, 0.62)
_YEAR_SIZE = 6.0
_YEAR_ROOM = _YEAR_SIZE + 2.0
_BAR_SHARE = 0.8


def chance_chart(
    chances: Sequence[float],
    months: Sequence[date],
    thresholds: tuple[float, float],
    x: float,
    width: float,
    height: float,
) -> Mark:
    """A mark that draws a bar a month from ``x``; lengths are points.

    A bar as high as the room is a chance of 1, so that the charts of two parts compare. ``thresholds`` are
    the chances from which a part is watched and from which it is short: each is a line across, and a bar
    that reaches it takes its colour. A year stands under its first month, where there is room for it.
    """
    step = width / max(len(months), 1)
    room = height - _YEAR_ROOM
    watch, short = thresholds

    def colour_of(chance: float) -> Colour:
        return RED if chance >= short else AMBER if chance >= watch else _CALM

    def draw(canvas: Canvas, left: float, top: float) -> None:
        base, start = top - room, left + x
        for coloured, run in groupby(enumerate(chances), key=lambda each: colour_of(each[1])):
            canvas.setFillColorRGB(*coloured)
            for place, chance in run:
                canvas.rect(
                    start + (place + (1 - _BAR_SHARE) / 2) * step,
                    base,
                    step * _BAR_SHARE,
                    min(max(chance, 0.0), 1.0) * room,
                    stroke=0,
                    fill=1,
                )
        _draw_frame(canvas, start, base, width, room, thresholds)
        _draw_years(canvas, months, start, base, step, width)

    return draw


def _draw_frame(
    canvas: Canvas, start: float, base: float, width: float, room: float, thresholds: tuple[float, float]
) -> None:
    canvas.setLineWidth(0.4)
    canvas.setStrokeColorRGB(*HAIR)
    canvas.line(start, base + room, start + width, base + room)
    for chance, colour in zip(thresholds, (AMBER, RED), strict=True):
        canvas.setStrokeColorRGB(*colour)
        canvas.setDash(2, 1.5)
        canvas.line(start, base + chance * room, start + width, base + chance * room)
    canvas.setDash()
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(0.7)
    canvas.line(start, base, start + width, base)


def _draw_years(
    canvas: Canvas, months: Sequence[date], start: float, base: float, step: float, width: float
) -> None:
    face = lettering.regular()
    canvas.setFont(face.name, _YEAR_SIZE)
    canvas.setFillColorRGB(*QUIET)
    free_from = start
    for place, month in enumerate(months):
        at, words = start + place * step, str(month.year)
        if month.month != 1 and place:
            continue
        run = face.width(words, _YEAR_SIZE)
        if at >= free_from and at + run <= start + width:
            canvas.line(at, base, at, base - 2)
            canvas.drawString(at + 1, base - _YEAR_SIZE, words)
            free_from = at + run + 4
