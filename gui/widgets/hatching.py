"""Slanting lines for what is not known, drawn one by one since not every window system has a stipple."""

from __future__ import annotations

import tkinter as tk

Box = tuple[float, float, float, float]


def hatch(canvas: tk.Canvas, box: Box, step: float, colour: str, tags: str = "") -> None:
    """Fill a box (left, top, right, bottom) with lines ``step`` pixels apart that rise to the right."""
    left, top, right, bottom = box
    height = bottom - top
    for number in range(1 + int((right - left + height) / step)):
        foot = left - height + number * step
        start, end = max(foot, left), min(foot + height, right)
        if start < end:
            canvas.create_line(
                start, bottom - (start - foot), end, bottom - (end - foot), fill=colour, tags=tags
            )
