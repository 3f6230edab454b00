"""Words over several lines of a drawing, and no more of them than there is room for."""

from __future__ import annotations

from gui.theme import CAPTION, Theme


def wrapped(theme: Theme, text: str, width: int, lines_max: int = 0, name: str = CAPTION) -> list[str]:
    """The text in lines of that width in pixels, in one of the named fonts; with ``lines_max``, at most so
    many.

    What does not fit the last line, or is wider than a line by itself, is shortened with an ellipsis.
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and theme.measure(longer, name) <= width:
            lines[-1] = longer
        elif lines_max and len(lines) == lines_max:
            # All that is left is put there, and cut off where the room ends.
            lines[-1] = longer
        else:
            lines.append(word)
    return [theme.shortened(line, width, name) for line in lines]
