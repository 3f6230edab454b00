"""What the lines of a specification ask for in a form, as plain values."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gui.shown import Choice, Values


@dataclass(frozen=True)
class Cell:
    """One text of a line: its name, the word above it, its width in letters, and what it is for."""

    name: str
    word: str
    width: int = 9
    hint: str = ""


@dataclass(frozen=True)
class LineKind:
    """A kind of line: its key and word, the units it may be measured in, and the texts it says."""

    key: object
    word: str
    units: tuple[str, ...]
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class SpecLinesAsked:
    """What a form asks of the lines of a specification, each a dict by the names of its texts.

    A line's own names are "kind", "name", "size_class" and "unit". ``sizes`` are those of the part.
    ``figure_wrong`` gets a line and the name of one of its texts, ``line_wrong`` a line that has been left;
    both say what is wrong with it, or "". ``told`` says its figures the other way, or "".
    """

    kinds: tuple[LineKind, ...]
    sizes: tuple[Choice, ...]
    figure_wrong: Callable[[Values, str], str]
    line_wrong: Callable[[Values], str]
    told: Callable[[Values], str]

    def kind(self, key: object) -> LineKind | None:
        """The kind with that key, None for none."""
        return next((each for each in self.kinds if each.key == key), None)
