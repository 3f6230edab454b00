"""Boxes for what is measured: one for each point and direction of a line, beside its limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from invdb.paper.sheet_columns import SMALL, STRONG
from invdb.paper.sheet_pdf import HAIR, QUIET, Block, Cell, Mark, Style, box
from invdb.rules.inspection_sheet import LastReading, SheetLine, asked_words, bounds_words
from invdb.rules.measuring import both_ways, kept
from invdb.rules.specification import SpecLineFacts

LABEL = Style(7.5, colour=QUIET)
TICK_WORD = Style(8.5)
TICK = 9.0
# A figure such as 3.93725 written by hand wants some 45 points by 15.
BOX_HEIGHT = 18.0

_BOX_WIDTH_MAX = 74.0
_NAME_WIDTH = 176.0
_POINT_WIDTH_MIN, _POINT_WIDTH_MAX = 52.0, 100.0
# Below this a figure written by hand has no room.
_STEP_MIN = 45.0
_WITH_WIDTH = 92.0
_VERDICT_WIDTH = 44.0
_GUTTER = 9.0
_DIRECTIONS_A_ROW = 3
_POINTS_A_BLOCK = 16


def _grid_x() -> float:
    return _NAME_WIDTH + _GUTTER


def _with_x(width: float) -> float:
    return width - _VERDICT_WIDTH - _GUTTER / 2 - _WITH_WIDTH


def grid_head(width: float) -> Block:
    labels = (
        (0.0, _NAME_WIDTH, "What, its limits, and what it read last"),
        (_grid_x(), _with_x(width) - _grid_x() - _GUTTER, "What it reads"),
        (_with_x(width), _WITH_WIDTH, "Instrument; calibrated until"),
        (width - _VERDICT_WIDTH, _VERDICT_WIDTH, "Verdict"),
    )
    cells = [Cell(x, room).add(label, LABEL) for x, room, label in labels]
    return Block(cells, pad=2, rule=HAIR, with_next=True)


def line_blocks(each: SheetLine, head: Block, width: float) -> Iterator[Block]:
    """The boxes of a line for each point and direction; many of them go on in further blocks."""
    limits = each.line.limits
    points, directions = limits.points or ("",), limits.directions or ("",)
    room = _with_x(width) - _grid_x() - _GUTTER
    names = _names_room(points)
    a_row = max(1, min(_DIRECTIONS_A_ROW, int((room - names) // _STEP_MIN)))
    first = True
    for across in range(0, len(directions), a_row):
        for down in range(0, len(points), _POINTS_A_BLOCK):
            grid = _Grid(
                points[down : down + _POINTS_A_BLOCK], directions[across : across + a_row], room, names
            )
            yield _grid_block(each, grid, head, width, first=first)
            first = False


def _names_room(points: Sequence[str]) -> float:
    """What the names of points need to stand in full, as far as there is room for them."""
    if not any(points):
        return 0.0
    widest = max(LABEL.face.width(LABEL.face.printable(name), LABEL.size) for name in points) + 5
    return min(max(widest, _POINT_WIDTH_MIN), _POINT_WIDTH_MAX)


class _Grid:
    """Boxes for points, one below the other, by directions, side by side, with their names."""

    def __init__(
        self, points: Sequence[str], directions: Sequence[str], room: float, names_room: float
    ) -> None:
        self.points, self.directions = points, directions
        self.names_room = names_room
        self.step = min((room - self.names_room) / len(directions), _BOX_WIDTH_MAX)
        self.top = LABEL.leading * self._lines_above() if any(directions) else 0.0

    def _lines_above(self) -> int:
        return max(len(LABEL.face.wrap(name, LABEL.size, self.step - 3)) for name in self.directions)

    def cells(self) -> Iterator[Cell]:
        """The names, above the boxes and to the left of them."""
        for place, name in enumerate(self.directions):
            x = _grid_x() + self.names_room + place * self.step
            yield Cell(x, self.step - 3).add(name, LABEL)
        for place, name in enumerate(self.points):
            above = self.top + place * BOX_HEIGHT + 4
            # What a box's height has no room for is shortened; the form on screen has it in full.
            words = LABEL.face.shorten(name, LABEL.size, self.names_room - 3) if name else ""
            yield Cell(_grid_x(), self.names_room, space_above=above).add(words, LABEL)

    def marks(self) -> Iterator[Mark]:
        """The boxes."""
        for row in range(len(self.points)):
            for column in range(len(self.directions)):
                yield box(
                    _grid_x() + self.names_room + column * self.step,
                    self.top + row * BOX_HEIGHT,
                    self.step - 3,
                    BOX_HEIGHT - 3,
                )

    @property
    def height(self) -> float:
        """Of all of it."""
        return self.top + len(self.points) * BOX_HEIGHT


def _grid_block(each: SheetLine, grid: _Grid, head: Block, width: float, *, first: bool) -> Block:
    line = each.line
    name = Cell(0, _NAME_WIDTH)
    if first:
        name.add(f"{line.name}, {line.unit}", STRONG)
        for words in _limit_words(line):
            name.add(words, SMALL)
        for words in _last_words(each.last):
            name.add(words, SMALL)
    else:
        name.add(f"{line.name}, continued", SMALL)
    cells = [name, *grid.cells()]
    marks = [*grid.marks(), *_with_marks(width)]
    bottom = grid.height
    if first:
        after, more = _difference_boxes(line, grid.height)
        cells += after
        marks += more
        bottom += BOX_HEIGHT if after else 0.0
        if _is_judged(line):
            cells.append(_verdict_cell(("new", "worn", "out"), width))
            marks += _verdict_marks(3, width)
    return Block(
        cells, marks=marks, height_min=max(bottom, 2 * BOX_HEIGHT) + 8, pad=4, rule=HAIR, column_head=head
    )


def _is_judged(line: SpecLineFacts) -> bool:
    return line.limits.limited or line.limits.oval_max is not None or line.limits.taper_max is not None


def _with_marks(width: float) -> Iterator[Mark]:
    for row in range(2):
        yield box(_with_x(width), row * BOX_HEIGHT, _WITH_WIDTH, BOX_HEIGHT - 3)


def _difference_boxes(line: SpecLineFacts, top: float) -> tuple[list[Cell], list[Mark]]:
    """Boxes for the ovality and the taper, where these are limited."""
    cells: list[Cell] = []
    marks: list[Mark] = []
    x = _grid_x()
    for label, most in (("ovality", line.limits.oval_max), ("taper", line.limits.taper_max)):
        if most is None:
            continue
        cells.append(Cell(x, 36, space_above=top + 4).add(label, LABEL))
        marks.append(box(x + 36, top, 58, BOX_HEIGHT - 3))
        x += 36 + 58 + _GUTTER
    return cells, marks


def _verdict_cell(words: Sequence[str], width: float) -> Cell:
    cell = Cell(width - _VERDICT_WIDTH + TICK + 4, _VERDICT_WIDTH - TICK - 4)
    for word in words:
        cell.add(word, TICK_WORD)
    return cell


def _verdict_marks(count: int, width: float) -> Iterator[Mark]:
    for row in range(count):
        yield box(width - _VERDICT_WIDTH, row * TICK_WORD.leading + 1, TICK, TICK)


def _limit_words(line: SpecLineFacts) -> Iterator[str]:
    limits = line.limits
    for label, low, high in (
        ("new", limits.new_low, limits.new_high),
        ("worn", limits.worn_low, limits.worn_high),
    ):
        published, other = bounds_words(low, high, limits.unit)
        if published:
            yield f"{label} {published}" + (f" ({other})" if other else "")
    if not limits.limited:
        yield "no limits are published"
    for label, most in (("ovality", limits.oval_max), ("taper", limits.taper_max)):
        if most is not None:
            yield f"{label} at most {both_ways(kept(most, limits.unit))}"
    if asked_words(line):
        yield asked_words(line)


def _last_words(last: Sequence[LastReading]) -> Iterator[str]:
    """``last, on 2025-03-01: top 98.02 / 98.03 mm, foot …``: of each point its directions, in their order."""
    if not last:
        return
    units = {each.unit for each in last}
    by_point: dict[str, list[str]] = {}
    for each in last:
        words = each.figure if len(units) == 1 else f"{each.figure} {each.unit}"
        by_point.setdefault(each.point, []).append(words)
    said = ", ".join(f"{point} {' / '.join(figures)}".strip() for point, figures in by_point.items())
    unit = f" {last[0].unit}" if len(units) == 1 else ""
    yield f"last, on {last[0].measured_on.isoformat()}: {said}{unit}"


def empty_row(head: Block, width: float) -> Block:
    """An empty row, for what the specification doesn't name."""
    room = _with_x(width) - _grid_x() - _GUTTER
    marks = [box(0, 0, _NAME_WIDTH, BOX_HEIGHT - 3), box(_grid_x(), 0, room, BOX_HEIGHT - 3)]
    marks.append(box(_with_x(width), 0, _WITH_WIDTH, BOX_HEIGHT - 3))
    return Block([], marks=marks, height_min=BOX_HEIGHT + 4, pad=3, column_head=head)
