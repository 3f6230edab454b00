"""Rows of unlike heights one beneath the other, and which of them a window shows: figures only, no Tk."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate


class RowStack:
    """Heights in pixels, and how far the whole is scrolled (``offset``, 0 for not at all)."""

    def __init__(self, heights: Sequence[int] = (), offset: int = 0) -> None:
        self._tops = [0, *accumulate(heights)]
        self._seen = 0
        self.offset = offset

    @property
    def height(self) -> int:
        """Of all rows together."""
        return self._tops[-1]

    @property
    def count(self) -> int:
        """How many rows there are."""
        return len(self._tops) - 1

    def show(self, seen: int) -> None:
        """Tell how high the window is; what would leave room beneath the last row is scrolled back."""
        self._seen = max(seen, 1)
        self.scroll_to(self.offset)

    def scroll_to(self, offset: float) -> None:
        """Scroll to there, or as near as there is anything."""
        self.offset = max(0, min(round(offset), self.height - self._seen))

    def see(self, row: int) -> None:
        """Scroll just so far that the row, counted from 0, is seen whole."""
        top, bottom = self._tops[row], self._tops[row + 1]
        if top < self.offset:
            self.scroll_to(top)
        elif bottom > self.offset + self._seen:
            self.scroll_to(bottom - self._seen)

    def top_of(self, row: int) -> int:
        """Where the row begins in the window; below 0 for one above it."""
        return self._tops[row] - self.offset

    def height_of(self, row: int) -> int:
        """How high the row is."""
        return self._tops[row + 1] - self._tops[row]

    def in_sight(self) -> range:
        """The rows of which anything is seen."""
        if not self.count:
            return range(0)
        first = self.at(0)
        last = self.at(self._seen - 1)
        return range(first if first is not None else 0, (last if last is not None else self.count - 1) + 1)

    def at(self, y: float) -> int | None:
        """The row at that height of the window, or None beneath the last."""
        row = bisect_right(self._tops, y + self.offset) - 1
        return row if 0 <= row < self.count else None

    def page(self, row: int, way: int) -> int:
        """The row a window's height further (1) or back (-1)."""
        target = self._tops[row] + way * self._seen
        return max(0, min(bisect_right(self._tops, target) - 1, self.count - 1))

    def bar(self) -> tuple[float, float]:
        """What a scroll bar shows: the first and the last share of the whole that is seen."""
        if self.height <= self._seen:
            return 0.0, 1.0
        return self.offset / self.height, (self.offset + self._seen) / self.height
