"""What a grid of figures by month shows, as plain values."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class GridCell:
    """A figure as written; not ``given``: it stands until somebody gives another."""

    text: str
    given: bool


@dataclass(frozen=True)
class GridRow:
    """A row with a cell for each column; ``told`` is what pointing at its name tells."""

    key: Hashable
    name: str
    told: str
    cells: tuple[GridCell, ...]


Changes = Mapping[tuple[Hashable, int], str | None]
"""What was typed at a row's key and a column; None where what was given is taken back."""
