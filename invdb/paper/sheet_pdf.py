"""A sheet as PDF: blocks of wrapped text that flow down pages, with what stands on every page.

Lengths are points; y runs upward from the foot of the page. Text is drawn on the canvas as it is, so
nothing a person typed is ever read as mark-up. A block that a page cannot hold goes on on the next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from io import BytesIO
from itertools import groupby
from operator import itemgetter

from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas

from invdb.paper import lettering
from invdb.paper.sheet_words import PageName
from invdb.terms import SAFETY_LINE

Colour = tuple[float, float, float]
Mark = Callable[[Canvas, float, float], None]

PAGE_SIZES: dict[PageName, tuple[float, float]] = {"A4": A4, "Letter": LETTER}

INK: Colour = (0.09, 0.10, 0.12)
QUIET: Colour = (0.36, 0.38, 0.41)
HAIR: Colour = (0.72, 0.74, 0.76)
AMBER: Colour = (0.52, 0.29, 0.0)
AMBER_PALE: Colour = (1.0, 0.94, 0.80)
RED: Colour = (0.62, 0.06, 0.08)
RED_PALE: Colour = (1.0, 0.91, 0.90)
GREY_PALE: Colour = (0.93, 0.94, 0.95)

MARGIN = 34.0
_HEAD_HEIGHT = 30.0
_FOOT_HEIGHT = 40.0
_LEADING = 1.28

# ISO/IEC 15417 asks for ten modules of quiet on either side; below half a point a worn reader loses bars.
_QUIET_MODULES = 10
_MODULE_MIN = 0.5
_MODULE_MAX = 1.0


@dataclass(frozen=True)
class Style:
    """How a line is set; ``ground`` colours the width of its cell behind it."""

    size: float
    strong: bool = False
    colour: Colour = INK
    ground: Colour | None = None

    @property
    def face(self) -> lettering.Face:
        """The weight it is set in."""
        return lettering.bold() if self.strong else lettering.regular()

    @property
    def leading(self) -> float:
        """From the top of one line to the top of the next."""
        return self.size * _LEADING


@dataclass
class Cell:
    """A column of lines within a block, ``x`` from the left margin; a line is its text and style."""

    x: float
    width: float
    lines: list[tuple[str, Style]] = field(default_factory=list)
    # Left free above the first line, for a mark such as a bar code.
    space_above: float = 0.0

    def add(self, text: str, style: Style) -> Cell:
        """Wrap a text to the width and set it below what is there; an empty text adds nothing."""
        inset = 2 * _GROUND_INSET if style.ground else 0.0
        self.lines.extend((line, style) for line in style.face.wrap(text, style.size, self.width - inset))
        return self

    def space(self, points: float) -> Cell:
        """Leave points free below what is there."""
        self.lines.append(("", Style(points / _LEADING)))
        return self

    @property
    def height(self) -> float:
        """From its top to the foot of its last line."""
        return self.space_above + sum(style.leading for _, style in self.lines)


_GROUND_INSET = 4.0


@dataclass
class Block:
    """What stands side by side on a sheet: cells, and marks drawn once, from the block's own top left.

    ``column_head`` is set again above the block wherever a page begins with it. A block ``with_next`` is
    never left alone at the foot of a page. ``whole`` blocks move to the next page rather than be parted.
    """

    cells: list[Cell] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    height_min: float = 0.0
    pad: float = 3.0
    rule: Colour | None = None
    edge: Colour | None = None
    column_head: Block | None = None
    with_next: bool = False
    whole: bool = True

    @property
    def height(self) -> float:
        """Of all of it, padding included."""
        tallest = max((cell.height for cell in self.cells), default=0.0)
        return max(tallest + 2 * self.pad, self.height_min)

    def part(self, room: float) -> tuple[Block, Block]:
        """The block in two, the first no higher than ``room`` unless a single line is higher than that."""
        heads, rests = [], []
        taken = False
        for cell in self.cells:
            used, count = cell.space_above + 2 * self.pad, 0
            for _, style in cell.lines:
                if used + style.leading > room:
                    break
                used += style.leading
                count += 1
            taken = taken or count > 0
            heads.append(replace(cell, lines=cell.lines[:count]))
            rests.append(replace(cell, lines=cell.lines[count:], space_above=0.0))
        if not taken:
            heads = [replace(cell, lines=cell.lines[:1]) for cell in self.cells]
            rests = [replace(cell, lines=cell.lines[1:], space_above=0.0) for cell in self.cells]
        head = replace(self, cells=heads, rule=None, height_min=min(self.height_min, room))
        return head, replace(self, cells=rests, marks=[], height_min=0.0)


@dataclass(frozen=True)
class SheetHead:
    """What every page of a sheet says: whose it is, what it is, when it was printed, and a warning if any."""

    workshop: str
    title: str
    printed_at: str
    warning: str = ""


Placed = tuple[float, Block]


def flow(blocks: Sequence[Block], height: float) -> list[list[Placed]]:
    """The blocks on pages with room of ``height`` points, each with how far its top is below the room's."""
    pages: list[list[Placed]] = [[]]
    used = 0.0

    def place(block: Block) -> None:
        nonlocal used
        if not pages[-1] and block.column_head is not None:
            pages[-1].append((0.0, block.column_head))
            used = block.column_head.height
        pages[-1].append((used, block))
        used += block.height

    def turn() -> None:
        nonlocal used
        pages.append([])
        used = 0.0

    for index, block in enumerate(blocks):
        needed, last = block.height, index
        while blocks[last].with_next and last + 1 < len(blocks):
            last += 1
            needed += min(blocks[last].height, height / 4)
        head = block.column_head.height if block.column_head else 0.0
        if pages[-1] and used + needed > height and (block.whole or height - used < _ROOM_WORTH_USING):
            turn()
        rest = block
        while used + (0.0 if pages[-1] else head) + rest.height > height and any(c.lines for c in rest.cells):
            first, rest = rest.part(height - used - (0.0 if pages[-1] else head))
            place(first)
            turn()
            if not any(cell.lines for cell in rest.cells):
                break
        else:
            place(rest)
    if len(pages) > 1 and not pages[-1]:
        pages.pop()
    return pages


_ROOM_WORTH_USING = 80.0


def room_width(page: PageName) -> float:
    """Between the margins."""
    return PAGE_SIZES[page][0] - 2 * MARGIN


def pdf_of(blocks: Sequence[Block], head: SheetHead, page: PageName) -> bytes:
    """The sheet as a PDF file; the same blocks and head give the same bytes."""
    width, height = PAGE_SIZES[page]
    pages = flow(blocks, height - 2 * MARGIN - _HEAD_HEIGHT - _FOOT_HEIGHT)
    buffer = BytesIO()
    canvas = Canvas(buffer, pagesize=(width, height), invariant=1, pageCompression=1)
    canvas.setTitle(head.title)
    canvas.setAuthor(head.workshop)
    canvas.setSubject(SAFETY_LINE)
    canvas.setCreator("invdb")
    for number, placed in enumerate(pages, start=1):
        _draw_head(canvas, head, width, height)
        for top, block in placed:
            _draw_block(canvas, block, height - MARGIN - _HEAD_HEIGHT - top, width - 2 * MARGIN)
        _draw_foot(canvas, head, width, f"page {number} of {len(pages)}")
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def bar_code(text: str, x: float, width: float, height: float) -> Mark | None:
    """A mark that draws a text as Code 128 from ``x``, within a width that takes in the quiet zone behind it.

    The caller leaves the quiet zone before ``x`` free: ten points are always enough.
    None if the text is empty, has characters that Code 128 lacks, or would come out too fine to read.
    """
    if not text or not text.isascii() or not text.isprintable():
        return None
    code = Code128(text, barWidth=1.0, barHeight=height, quiet=0)
    module = min(width / (code.width + _QUIET_MODULES), _MODULE_MAX)
    if module < _MODULE_MIN:
        return None
    code.barWidth = module

    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setFillColorRGB(0, 0, 0)
        code.drawOn(canvas, left + x, top - height)

    return draw


def box(x: float, y_below_top: float, width: float, height: float) -> Mark:
    """A mark that draws an empty box to tick or to write in."""

    def draw(canvas: Canvas, left: float, top: float) -> None:
        canvas.setStrokeColorRGB(*INK)
        canvas.setLineWidth(1.1)
        canvas.rect(left + x, top - y_below_top - height, width, height, stroke=1, fill=0)

    return draw


def _draw_block(canvas: Canvas, block: Block, top: float, width: float) -> None:
    bottom = top - block.height
    if block.edge:
        canvas.setFillColorRGB(*block.edge)
        canvas.rect(MARGIN - 7, bottom + 2, 3, block.height - 4, stroke=0, fill=1)
    for cell in block.cells:
        _draw_cell(canvas, cell, top - block.pad - cell.space_above)
    for mark in block.marks:
        mark(canvas, MARGIN, top - block.pad)
    if block.rule:
        canvas.setStrokeColorRGB(*block.rule)
        canvas.setLineWidth(0.6)
        canvas.line(MARGIN, bottom, MARGIN + width, bottom)


def _draw_cell(canvas: Canvas, cell: Cell, top: float) -> None:
    x = MARGIN + cell.x
    ground_top = top
    for text, style in cell.lines:
        if style.ground and text:
            canvas.setFillColorRGB(*style.ground)
            canvas.rect(x, ground_top - style.leading, cell.width, style.leading, stroke=0, fill=1)
        ground_top -= style.leading
    # One text object for the cell, and one setting of the letters for each run of lines of a style.
    writing = canvas.beginText()
    colour: Colour | None = None
    for style, run in groupby(cell.lines, key=itemgetter(1)):
        if colour != style.colour:
            colour = style.colour
            writing.setFillColorRGB(*colour)
        writing.setFont(style.face.name, style.size, style.leading)
        writing.setTextOrigin(x + (_GROUND_INSET if style.ground else 0.0), top - style.size)
        for text, _ in run:
            writing.textLine(text)
            top -= style.leading
    canvas.drawText(writing)


def _draw_head(canvas: Canvas, head: SheetHead, width: float, height: float) -> None:
    top = height - MARGIN
    room = width - 2 * MARGIN
    if head.warning:
        face = lettering.bold()
        warning = face.shorten(head.warning.upper(), 10, room / 2)
        run = face.width(warning, 10) + 14
        canvas.setFillColorRGB(*AMBER_PALE)
        canvas.setStrokeColorRGB(*AMBER)
        canvas.setLineWidth(1.2)
        canvas.rect(width - MARGIN - run, top - 16, run, 17, stroke=1, fill=1)
        canvas.setFillColorRGB(*AMBER)
        canvas.setFont(face.name, 10)
        canvas.drawString(width - MARGIN - run + 7, top - 11, warning)
        room -= run + 12
    canvas.setFillColorRGB(*QUIET)
    canvas.setFont(lettering.regular().name, 8)
    canvas.drawString(MARGIN, top - 2, lettering.regular().shorten(head.workshop, 8, room))
    canvas.setFont(lettering.bold().name, 8.5)
    canvas.setFillColorRGB(*INK)
    canvas.drawString(MARGIN, top - 14, lettering.bold().shorten(head.title, 8.5, room))
    canvas.setStrokeColorRGB(*INK)
    canvas.setLineWidth(1.0)
    canvas.line(MARGIN, top - 21, width - MARGIN, top - 21)


def _draw_foot(canvas: Canvas, head: SheetHead, width: float, page_words: str) -> None:
    room = width - 2 * MARGIN
    face = lettering.regular()
    canvas.setStrokeColorRGB(*HAIR)
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, MARGIN + 31, width - MARGIN, MARGIN + 31)
    canvas.setFillColorRGB(*INK)
    canvas.setFont(face.name, 7.2)
    y = MARGIN + 20
    for line in face.wrap(SAFETY_LINE, 7.2, room):
        canvas.drawString(MARGIN, y, line)
        y -= 9.5
    canvas.setFillColorRGB(*QUIET)
    canvas.drawString(MARGIN, MARGIN - 1, face.shorten(f"Printed {head.printed_at}", 7.5, room / 2))
    canvas.setFillColorRGB(*INK)
    canvas.setFont(lettering.bold().name, 9)
    canvas.drawRightString(width - MARGIN, MARGIN - 1, page_words)
