"""A table kept as a CSV file, read so that every complaint names file, line, column and value."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from importlib.resources.abc import Traversable
from typing import TypeVar

from invdb.rules.life import read_prior
from invdb.rules.numbering import NumberKind, read_number, right_number
from invdb.rules.quantities import read_quantity
from invdb.terms import FieldRefused, Measure, PriorLife, Refused

ROWS_MAX = 200_000
TABLE_BYTES_MAX = 64 * 1024 * 1024
CELL_LENGTH_MAX = 2_000
SHOWN_LENGTH_MAX = 60

W = TypeVar("W", bound=StrEnum)
T = TypeVar("T")


@dataclass(frozen=True)
class Row:
    """One line of a table, its cells by the heading they stand under."""

    file: str
    line: int
    cells: Mapping[str, str]

    def refuse(self, column: str, said: str, remedy: str) -> Refused:
        """The refusal of one cell: where it stands, what it holds, what is wrong and what to do."""
        shown = _clipped(self.cells[column])
        return Refused(f"{self.file}, line {self.line}, column {column}: {shown!r} {said}.", remedy)

    def _refuse_unknown(self, column: str, what: str) -> Refused:
        return self.refuse(column, f"is no {what} known here", f"Correct it, or add the {what}.")

    def text(self, column: str) -> str:
        """What the cell holds, '' for nothing."""
        return self.cells[column]

    def needed(self, column: str) -> str:
        """What the cell holds; refused when that is nothing."""
        if not self.cells[column]:
            raise self.refuse(column, "is empty", "Fill it in.")
        return self.cells[column]

    def maybe(self, column: str) -> str | None:
        """What the cell holds, None for nothing."""
        return self.cells[column] or None

    def day(self, column: str) -> date:
        """A date, year first: 2024-05-31."""
        try:
            return date.fromisoformat(self.needed(column))
        except ValueError as error:
            raise self.refuse(column, "is no date", "Write it year first, as 2024-05-31.") from error

    def day_or_none(self, column: str) -> date | None:
        """A date, or None for an empty cell."""
        return self.day(column) if self.cells[column] else None

    def booked(self, happened: str) -> date:
        """The day under ``Booked on``, which is not before the day under ``happened``."""
        booked = self.day("Booked on")
        if booked < self.day(happened):
            raise self.refuse("Booked on", "is before it happened", "Look at both dates.")
        return booked

    def yes(self, column: str) -> bool:
        """``yes`` is true, nothing or ``no`` is false."""
        if self.cells[column] not in {"", "yes", "no"}:
            raise self.refuse(column, "is neither yes nor no", "Write yes, or leave it empty.")
        return self.cells[column] == "yes"

    def whole(self, column: str) -> int:
        """A whole number, with a minus sign if it is below zero."""
        if re.fullmatch(r"-?[0-9]{1,9}", self.needed(column)) is None:
            raise self.refuse(column, "is no whole number", "Write digits only.")
        return int(self.cells[column])

    def whole_or_none(self, column: str) -> int | None:
        """A whole number, or None for an empty cell."""
        return self.whole(column) if self.cells[column] else None

    def word(self, column: str, words: type[W]) -> W:
        """One of the words of the trade that the column takes."""
        try:
            return words(self.needed(column))
        except ValueError as error:
            known = ", ".join(words)
            raise self.refuse(column, "is not a word used here", f"Use one of: {known}.") from error

    def word_or_none(self, column: str, words: type[W]) -> W | None:
        """One of the words of the trade, or None for an empty cell."""
        return self.word(column, words) if self.cells[column] else None

    def number(self, column: str, kind: NumberKind) -> str:
        """A number of our own of that kind, its check character right."""
        text = self.needed(column)
        try:
            number = right_number(text)
        except Refused as error:
            raise self.refuse(column, "is mistyped or no number of ours", error.remedy) from error
        if number != text or read_number(text).kind is not kind:
            raise self.refuse(column, f"is not how a {kind} is written", f"Write it like {number}.")
        return number

    def one_of(self, column: str, known: Mapping[str, T], what: str) -> T:
        """What is known under the name in the cell; refused when nothing is."""
        try:
            return known[self.needed(column)]
        except KeyError as error:
            raise self._refuse_unknown(column, what) from error

    def name_of(self, column: str, known: Collection[str], what: str) -> str:
        """The name in the cell, which must be among the known."""
        if self.needed(column) not in known:
            raise self._refuse_unknown(column, what)
        return self.cells[column]

    def name_or_none(self, column: str, known: Collection[str], what: str) -> str | None:
        """The name in the cell, which must be among the known, or None for an empty cell."""
        return self.name_of(column, known, what) if self.cells[column] else None

    def names(self, column: str, known: Collection[str], what: str, separator: str) -> tuple[str, ...]:
        """The names in the cell, each of which must be among the known and none named twice."""
        names = tuple(name.strip() for name in self.cells[column].split(separator) if name.strip())
        for name in names:
            if name not in known:
                raise self.refuse(column, f"names {name!r}, no {what} known here", f"Add the {what} first.")
        if len(set(names)) < len(names):
            raise self.refuse(column, f"names a {what} twice", "Name it once.")
        return names

    def quantity(self, column: str, measure: Measure) -> int:
        """A quantity in the smallest unit of its measure, from ``12``, ``450 mm``, ``1.5 kg``."""
        try:
            return read_quantity(self.needed(column), measure)
        except Refused as error:
            raise self.refuse(column, f"does not measure this by {measure}", error.remedy) from error

    def hundredths(self, column: str) -> int:
        """Hours with at most two decimals, in hundredths."""
        try:
            hundredths = Decimal(self.needed(column)) * 100
        except InvalidOperation as error:
            raise self.refuse(column, "is no figure", "Write hours, such as 412.5.") from error
        if not hundredths.is_finite() or hundredths < 0 or hundredths != int(hundredths):
            raise self.refuse(column, "is below zero or too fine", "Write hours, such as 412.5.")
        return int(hundredths)

    def hundredths_or_none(self, column: str) -> int | None:
        """Hours in hundredths, or None for an empty cell."""
        return self.hundredths(column) if self.cells[column] else None

    def prior_life(self, column: str, scale: int) -> PriorLife:
        """``412.5``, ``between 300 and 450``, ``at least 300`` or ``unknown``, times ``scale``."""
        try:
            return read_prior(self.needed(column), column, scale)
        except FieldRefused as error:
            raise self.refuse(column, "can't be read as what it ran before", error.remedy) from error


def read_table(folder: Traversable, file: str, columns: tuple[str, ...]) -> Iterator[Row]:
    """The lines of one CSV file (UTF-8, comma, header row) under exactly these headings.

    Lines without any cell are passed over. Refused when the file is missing, too large or not UTF-8, when its
    headings differ, when a line has too many or too few cells, holds control characters or a cell of more
    than 2,000 characters.
    """
    try:
        with (folder / file).open("rb") as opened:
            read = opened.read(TABLE_BYTES_MAX + 1)
        if len(read) > TABLE_BYTES_MAX:
            raise Refused(f"{file} has more than {TABLE_BYTES_MAX // 1024**2} MB.", "Split it.")
        content = read.decode("utf-8-sig")
    except FileNotFoundError as error:
        raise Refused(f"{file} is missing.", "Put it with the others.") from error
    except UnicodeDecodeError as error:
        raise Refused(f"{file} is not UTF-8 text.", "Save it again as CSV in UTF-8.") from error
    lines = csv.reader(io.StringIO(content, newline=""), strict=True)
    try:
        headings = tuple(next(lines, []))
        if len(headings) == 1 < len(columns) and len(headings[0].split(";")) == len(columns):
            raise Refused(f"{file}, line 1: its cells are parted by semicolons.", "Save it with commas.")
        if headings != columns:
            wrong = sorted(map(_clipped, set(headings) ^ set(columns))) or ["their order"]
            raise Refused(
                f"{file}, line 1: the headings are not those expected; look at {', '.join(wrong)}.",
                f"They are: {', '.join(columns)}.",
            )
        for count, cells in enumerate(filter(None, lines), start=1):
            yield _row(file, lines.line_num, columns, cells)
            if count > ROWS_MAX:
                raise Refused(f"{file} has more than {ROWS_MAX:,} lines.", "Split it.")
    except csv.Error as error:
        raise Refused(f"{file}, line {lines.line_num}: {error}.", "Look at its quotation marks.") from error


def _clipped(value: str) -> str:
    return value if len(value) <= SHOWN_LENGTH_MAX else value[:SHOWN_LENGTH_MAX] + "…"


def _row(file: str, line: int, columns: tuple[str, ...], cells: list[str]) -> Row:
    if len(cells) != len(columns):
        raise Refused(
            f"{file}, line {line}: {len(cells)} cells stand under {len(columns)} headings.",
            "Look for a comma outside quotation marks.",
        )
    plain = [unicodedata.normalize("NFC", cell.strip()) for cell in cells]
    row = Row(file, line, dict(zip(columns, plain, strict=True)))
    for column, cell in row.cells.items():
        if len(cell) > CELL_LENGTH_MAX:
            raise row.refuse(column, f"is longer than {CELL_LENGTH_MAX:,} characters", "Shorten it.")
        if any(unicodedata.category(character) == "Cc" for character in cell):
            raise row.refuse(column, "holds a control character", "Type it afresh.")
    return row


def unique(rows: list[tuple[Row, str]], column: str, what: str) -> None:
    """Refuse the first row whose name was given before in the same table."""
    lines: dict[str, int] = {}
    for row, name in rows:
        if name in lines:
            raise row.refuse(column, f"stands in line {lines[name]} already", f"Give each {what} once.")
        lines[name] = row.line
