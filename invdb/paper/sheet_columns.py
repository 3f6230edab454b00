"""Rows of wrapped text under headings that every page repeats."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from invdb.paper.sheet_pdf import AMBER, HAIR, INK, QUIET, RED, Block, Cell, Style

TEXT = Style(9)
STRONG = Style(9, strong=True)
SMALL = Style(8, colour=QUIET)
HEADING = Style(12, strong=True)
ALARM = Style(9, strong=True, colour=RED)
DOUBT = Style(9, strong=True, colour=AMBER)

_GUTTER = 9.0
# Where the sentence of a section without rows begins, as a share of the width.
_BESIDE = 0.36

Said = str | tuple[str, Style]


@dataclass(frozen=True)
class Ruled:
    """One row: for each column its lines, each plain or with a style; and an edge to mark the row by."""

    columns: Sequence[Sequence[Said]]
    alarm: bool = False
    doubt: bool = False


def heading(text: str, width: float) -> Block:
    """A section's name, never alone at the foot of a page."""
    return Block([Cell(0, width).space(7).add(text, HEADING)], pad=3, rule=INK, with_next=True)


def named_line(name: str, sentence: str, width: float) -> Block:
    """A section that one sentence says all of, beside its name."""
    # The sentence's smaller letters stand on the same line as the name's.
    lower = HEADING.size - TEXT.size
    beside = width * _BESIDE
    cells = [
        Cell(0, beside - _GUTTER).space(7).add(name, HEADING),
        Cell(beside, width - beside).space(7 + lower).add(sentence, TEXT),
    ]
    return Block(cells, pad=3, rule=INK)


def plain(text: str, width: float, style: Style = TEXT) -> Block:
    """One text over the whole width."""
    return Block([Cell(0, width).add(text, style)], pad=2)


def section(
    name: str, columns: Sequence[tuple[str, int]], rows: Iterable[Ruled], none: str, width: float
) -> Iterator[Block]:
    """A heading, then the rows under their columns' headings; or one sentence where there are none.

    Each column is its heading and its share of the width.
    """
    rows = tuple(rows)
    if not rows:
        yield named_line(name, none, width)
        return
    yield heading(name, width)
    yield from table(columns, rows, width)


def table(columns: Sequence[tuple[str, int]], rows: Iterable[Ruled], width: float) -> Iterator[Block]:
    """The rows under their columns' headings."""
    head = _head(columns, width)
    yield head
    for row in rows:
        yield _row(columns, row, width, head)


def _spans(columns: Sequence[tuple[str, int]], width: float) -> list[tuple[float, float]]:
    """From where to where each column runs; between two of them stays a gutter."""
    shares = sum(share for _, share in columns)
    room = width - _GUTTER * (len(columns) - 1)
    spans, x = [], 0.0
    for _, share in columns:
        spans.append((x, room * share / shares))
        x += room * share / shares + _GUTTER
    return spans


def _head(columns: Sequence[tuple[str, int]], width: float) -> Block:
    spans = _spans(columns, width)
    cells = [Cell(x, room).add(label, SMALL) for (x, room), (label, _) in zip(spans, columns, strict=True)]
    return Block(cells, pad=2, rule=HAIR, with_next=True)


def _row(columns: Sequence[tuple[str, int]], row: Ruled, width: float, head: Block) -> Block:
    cells = []
    for (x, room), lines in zip(_spans(columns, width), row.columns, strict=True):
        cell = Cell(x, room)
        for line in lines:
            cell.add(*((line, TEXT) if isinstance(line, str) else line))
        cells.append(cell)
    edge = RED if row.alarm else AMBER if row.doubt else None
    return Block(cells, pad=3, rule=HAIR, edge=edge, column_head=head)
