"""A sheet as a workbook: tables with a frozen head, real dates and numbers, and print set-up.

No text becomes a formula, whatever it begins with; a character that XML cannot hold is written as its
code point.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from io import BytesIO
from typing import NamedTuple, cast

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.chart._chart import ChartBase
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet
from openpyxl.worksheet.dimensions import SheetFormatProperties
from openpyxl.worksheet.header_footer import HeaderFooterItem
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from invdb.paper.lettering import code_point
from invdb.paper.sheet_words import PageName, instant_words
from invdb.terms import SAFETY_LINE

CellValue = str | int | Decimal | date | datetime | None

CELL_LETTERS_MAX = 32767
# The calendar of workbooks begins here, with a leap day in 1900 that never was.
_FIRST_DAY = date(1900, 3, 1)
_PAPER_SIZES: dict[PageName, int] = {"Letter": 1, "A4": 9}

_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
# Readers take _x000D_ in a text for the character it names (ECMA-376, ST_Xstring).
_READ_AS_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_TAKEN_FOR_FORMULA = ("=", "+", "-", "@", "\t")


class Kind(Enum):
    """What a column holds, as its number format."""

    TEXT = "@"
    NUMBER = "General"
    WHOLE = "0"
    PERCENT = "0.0%"
    AMOUNT = "0.00##"
    DATE = "yyyy-mm-dd"
    INSTANT = "yyyy-mm-dd hh:mm:ss"


class Mark(Enum):
    """What a row is marked with besides its words: the letters' colour and the ground."""

    NONE = (None, None)
    ALTERNATE = ("854A00", "FFF0CC")
    SHORT = ("9E0F14", "FFE8E6")
    QUIET = ("5C6168", None)

    def __init__(self, letters: str | None, ground: str | None) -> None:
        self.letters = letters
        self.ground = ground


@dataclass(frozen=True)
class Column:
    """A column's heading, what it holds, and its width in letters."""

    heading: str
    width: float
    kind: Kind = Kind.TEXT


class Row(NamedTuple):
    """One row of a table: a value a column, its mark, and how many lines high it is at the least."""

    values: Sequence[CellValue]
    mark: Mark = Mark.NONE
    lines_min: int = 1


@dataclass(frozen=True)
class Table:
    """One worksheet: its name, the title above the table, its columns and rows; what it says with no rows.

    A chart hangs from the cell that it names as its anchor.
    """

    name: str
    title: str
    columns: Sequence[Column]
    rows: Sequence[Row] = field(default_factory=tuple)
    nothing: str = "None recorded"
    filtered: bool = True
    charts: Sequence[ChartBase] = ()


@dataclass(frozen=True)
class BookHead:
    """What every worksheet says: whose it is, when it was printed in the shop's zone, a warning if any."""

    workshop: str
    title: str
    printed_at: datetime
    warning: str = ""


_LETTER_SIZE = 10.0
_LINE_HEIGHT = 13.0
_ROW_PADDING = 3.0
_TITLE_HEIGHT = 22.0
# No program shows a row higher than this.
_ROW_HEIGHT_MAX = 409.0
# Title, safety words, when printed, warning, headings.
_HEAD_ROW = 5
FIRST_ROW = _HEAD_ROW + 1


def workbook_of(tables: Sequence[Table], head: BookHead, page: PageName) -> bytes:
    """The tables as a workbook file, a worksheet each."""
    book = Workbook(write_only=True)
    book.properties.title = cell_text(head.title)
    book.properties.creator = cell_text(head.workshop)
    book.properties.description = SAFETY_LINE
    book.properties.created = _naive(head.printed_at)
    for table in tables:
        sheet = book.create_sheet(table.name)
        _set_up(sheet, table, page)
        _write_top(sheet, table, head)
        _write_rows(sheet, table)
        for chart in table.charts:
            cast(Worksheet, sheet).add_chart(chart)
    buffer = BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def cell_text(text: str) -> str:
    """A text as a cell holds it: what XML cannot carry as its code point, and too long a one cut in words."""
    if len(text) <= CELL_LETTERS_MAX and text.isprintable() and "_x" not in text:
        return text
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = _NOT_IN_XML.sub(lambda found: code_point(found.group()), text)
    text = _READ_AS_ESCAPE.sub("_x005F_", text)
    if len(text) > CELL_LETTERS_MAX:
        left_off = f" … (a cell holds no more; {len(text)} letters in all, see the PDF)"
        text = text[: CELL_LETTERS_MAX - len(left_off)] + left_off
    return text


def _set_up(write_only: WriteOnlyWorksheet, table: Table, page: PageName) -> None:
    # The type hints of the library leave out what a write-only worksheet shares with any other.
    sheet = cast(Worksheet, write_only)
    # Rows are written as they come, so all that stands before them in the file is set first.
    sheet.freeze_panes = f"A{FIRST_ROW}"
    for index, column in enumerate(table.columns, start=1):
        sheet.column_dimensions[get_column_letter(index)].width = column.width
    sheet.sheet_format = SheetFormatProperties(
        defaultRowHeight=_LINE_HEIGHT + _ROW_PADDING, customHeight=True
    )
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = str(_PAPER_SIZES[page])
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins = PageMargins(left=0.4, right=0.4, top=0.5, bottom=0.7, header=0.3, footer=0.3)
    sheet.row_dimensions[1].height = _TITLE_HEIGHT
    sheet.print_options.gridLines = True
    sheet.print_title_rows = f"1:{_HEAD_ROW}"
    if table.filtered:
        last = get_column_letter(len(table.columns))
        sheet.auto_filter.ref = f"A{_HEAD_ROW}:{last}{_HEAD_ROW + len(table.rows)}"
    footer = HeaderFooterItem()
    footer.left.text = SAFETY_LINE
    footer.left.size = 7
    footer.right.text = "page &P of &N"
    sheet.HeaderFooter.oddFooter = footer


def _write_top(sheet: WriteOnlyWorksheet, table: Table, head: BookHead) -> None:
    lines = (
        (f"{head.title} · {table.title}" if table.title else head.title, _font(bold=True, size=14)),
        (SAFETY_LINE, _font(italic=True)),
        (f"{head.workshop} · printed {instant_words(head.printed_at)}", _font()),
        (head.warning.upper(), _font(bold=True, color=Mark.ALTERNATE.letters)),
    )
    for text, font in lines:
        cell = WriteOnlyCell(sheet)
        _set_text(cell, cell_text(text))
        cell.font = font
        sheet.append([cell])
    headings = []
    for column in table.columns:
        heading = WriteOnlyCell(sheet, column.heading)
        heading.font = _font(bold=True)
        heading.fill = PatternFill("solid", fgColor="E9EBEE")
        heading.border = Border(bottom=Side("medium"))
        heading.alignment = Alignment(wrap_text=True, vertical="bottom")
        headings.append(heading)
    sheet.append(headings)


def _write_rows(sheet: WriteOnlyWorksheet, table: Table) -> None:
    if not table.rows:
        # An empty sheet would leave open whether there is nothing or it was left out.
        sheet.append([WriteOnlyCell(sheet, table.nothing)])
        return
    # A row is in the file once it is appended, so the next row takes the same cells, styled already.
    forms = {
        (mark, quoted): [_styled(sheet, column.kind, mark, quoted) for column in table.columns]
        for mark in {row.mark for row in table.rows}
        for quoted in (False, True)
    }
    letters = [max(1, int(column.width) - 1) for column in table.columns]
    heights = cast(Worksheet, sheet).row_dimensions
    for number, row in enumerate(table.rows, start=FIRST_ROW):
        plain, quoted = forms[row.mark, False], forms[row.mark, True]
        cells: list[Cell | None] = []
        lines = row.lines_min
        for index, value in enumerate(row.values):
            if value is None or value == "":
                # Only a ground has to show where there is nothing to say.
                cells.append(plain[index] if row.mark.ground else None)
                plain[index].value = None
            elif isinstance(value, str):
                text = cell_text(value)
                cell = (quoted if text.startswith(_TAKEN_FOR_FORMULA) else plain)[index]
                cell.hold_text(text)
                if len(text) > letters[index] or "\n" in text:
                    lines = max(lines, _line_count(text, letters[index]))
                cells.append(cell)
            else:
                _set_figure(plain[index], value)
                cells.append(plain[index])
        if lines > 1:
            # Not every program grows a row to its text.
            heights[number].height = min(lines * _LINE_HEIGHT + _ROW_PADDING, _ROW_HEIGHT_MAX)
        sheet.append(cells)


def _line_count(text: str, letters: int) -> int:
    """About how many lines a text takes in a column of so many letters, rather too many than too few."""
    return sum(1 + len(paragraph) // letters for paragraph in text.split("\n"))


def _font(
    *, bold: bool = False, italic: bool = False, size: float = _LETTER_SIZE, color: str | None = None
) -> Font:
    return Font(name="Arial", bold=bold, italic=italic, size=size, color=color)


class _FormCell(Cell):
    """A cell styled once and written row after row, so its style's number is looked up only once.

    A write-only worksheet first tries each cell as a bare value and words a fault that nobody reads, so the
    cell's own words are short.
    """

    _style_number: int | None = None

    @property
    def style_id(self) -> int:
        if self._style_number is None:
            self._style_number = super().style_id
        return self._style_number

    def hold_text(self, text: str) -> None:
        """Hold a text that ``cell_text`` has passed as it is: no formula, no fault, not looked at again."""
        self._value = text
        self.data_type = "s"

    def __repr__(self) -> str:
        return "a cell"


def _styled(sheet: WriteOnlyWorksheet, kind: Kind, mark: Mark, quoted: bool) -> _FormCell:
    cell = _FormCell(sheet, row=1, column=1)
    cell.number_format = kind.value
    cell.alignment = Alignment(wrap_text=kind is Kind.TEXT, vertical="top")
    cell.font = _font(color=mark.letters)
    if mark.ground:
        cell.fill = PatternFill("solid", fgColor=mark.ground)
    if quoted:
        cell.quotePrefix = True
    return cell


def _set_text(cell: Cell, text: str) -> None:
    cell.value = text
    # Else what begins with an equals sign would be a formula, and #N/A a fault.
    cell.data_type = "s"


def _set_figure(cell: Cell, value: int | Decimal | date | datetime | None) -> None:
    if isinstance(value, datetime):
        cell.value = _naive(value)
    elif isinstance(value, date) and value < _FIRST_DAY:
        _set_text(cell, value.isoformat())
    else:
        cell.value = value


def _naive(instant: datetime) -> datetime:
    """A workbook's instants have no zone; the sheet says which one it is in."""
    return instant.replace(tzinfo=None)
