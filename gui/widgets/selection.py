"""Which rows of a long list are chosen, by their places, without holding the rows."""

from __future__ import annotations


class Selection:
    """Single places and one run of places between an anchor and the cursor, all counted from 0."""

    def __init__(self) -> None:
        self.cursor = 0
        self._anchor: int | None = None
        self._singles: set[int] = set()

    def clear(self) -> None:
        """Choose nothing, and stand at the start."""
        self.cursor, self._anchor, self._singles = 0, None, set()

    def set(self, index: int) -> None:
        """Choose that one alone."""
        self.cursor, self._anchor, self._singles = index, index, set()

    def extend(self, index: int) -> None:
        """Choose all from where the choosing began to there."""
        if self._anchor is None:
            self._anchor = self.cursor
        self.cursor = index

    def toggle(self, index: int) -> None:
        """Choose that one too, or no longer."""
        chosen = set(self._run()) | self._singles
        self.cursor, self._anchor, self._singles = index, None, chosen ^ {index}

    def clamp(self, count: int) -> None:
        """Let go of places beyond a list of that length."""
        self._singles = {index for index in self._singles if index < count}
        if count == 0:
            self.clear()
        elif self.cursor >= count or (self._anchor or 0) >= count:
            self.cursor = min(self.cursor, count - 1)
            self._anchor = None if self._anchor is None else min(self._anchor, count - 1)

    def has(self, index: int) -> bool:
        """Whether that place is chosen."""
        return index in self._run() or index in self._singles

    def count(self) -> int:
        """How many are chosen."""
        run = self._run()
        return len(run) + sum(index not in run for index in self._singles)

    def indices(self, count: int) -> list[int]:
        """The chosen places of a list of that length, rising."""
        return sorted(index for index in {*self._run(), *self._singles} if index < count)

    def _run(self) -> range:
        if self._anchor is None:
            return range(0)
        return range(min(self._anchor, self.cursor), max(self._anchor, self.cursor) + 1)
