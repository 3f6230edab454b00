"""A purchase order on paper: what is ordered of a firm, at what price, by when, and on what conditions."""

from __future__ import annotations

from collections.abc import Iterator

from invdb.paper.order_words import (
    KIND_CONDITIONS,
    KIND_TITLES,
    NO_STAND_IN,
    TRACEABLE,
    WHEN_NOT_SAID,
    closed_words,
    currency_words,
    figure_of,
    given_words,
    has_decimals,
    part_lines,
)
from invdb.paper.sheet_columns import ALARM, SMALL, STRONG, TEXT, Ruled, Said, heading, plain, table
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import HAIR, Block, Cell, SheetHead, Style, bar_code, box, pdf_of, room_width
from invdb.paper.sheet_words import PageName, hazard_words, instant_words
from invdb.paper.sheet_xlsx import BookHead, CellValue, Column, Kind, Mark, Row, Table, workbook_of
from invdb.rules.money import PRICED_BY, money_words, price_words
from invdb.rules.order_sheet import OrderSheet, OrderSheetLine
from invdb.rules.quantities import quantity_and_unit, quantity_words
from invdb.rules.told import counted

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_BODY = Style(10)
_SIDE_WIDTH = 170.0
_GUTTER = 9.0
_BAR_CODE_HEIGHT = 30.0
_COLUMNS = (("Line", 8), ("What is ordered", 64), ("Quantity", 20), ("Price", 28), ("Amount", 26))
_NO_PRICE = "to be agreed"
_NEVER_PRICED = "none agreed"
_SIGNED_FIELDS = ("For us, signature", "Confirmed by the firm, signature and date")


def write_order_sheet_pdf(sheet: OrderSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the order as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def write_order_sheet_xlsx(sheet: OrderSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the order as a workbook; Refused if the target cannot be written."""
    head = BookHead(sheet.workshop, _title(sheet), sheet.printed_at)
    write_whole(workbook_of([_order_table(sheet), _line_table(sheet)], head, page), target)


def _title(sheet: OrderSheet) -> str:
    return f"{KIND_TITLES[sheet.kind]} {sheet.number} to {sheet.firm}"


def _blocks(sheet: OrderSheet, width: float) -> Iterator[Block]:
    code = bar_code(sheet.number, width - _SIDE_WIDTH, _SIDE_WIDTH, _BAR_CODE_HEIGHT)
    left = Cell(0, width - _SIDE_WIDTH - 2 * _GUTTER).add(KIND_TITLES[sheet.kind], _TITLE)
    left.add(sheet.workshop, _NAME)
    right = Cell(width - _SIDE_WIDTH, _SIDE_WIDTH, space_above=_BAR_CODE_HEIGHT + 4 if code else 0.0)
    right.add(f"Order {sheet.number}", _NAME).add(f"of {sheet.ordered_on.isoformat()}", TEXT)
    yield Block([left, right], marks=[code] if code else [], pad=6, rule=HAIR)
    to = Cell(0, width - _SIDE_WIDTH - 2 * _GUTTER).add("To", SMALL).add(sheet.firm, _NAME)
    to.add(sheet.town, _BODY).add(f"Your reference: {sheet.reference}" if sheet.reference else "", TEXT)
    by = Cell(width - _SIDE_WIDTH, _SIDE_WIDTH).add("Wanted here by", SMALL).add(_wanted_by(sheet), _NAME)
    by.add(f"All prices in {currency_words(sheet.currency)}", TEXT).add(
        f"Ordered by {sheet.ordered_by}", TEXT
    )
    yield Block([to, by], pad=6)
    rows = [_row(number, line) for number, line in enumerate(sheet.lines, start=1)]
    yield from table(_COLUMNS, [*rows, _total_row(sheet)], width)
    yield heading("Conditions", width)
    for condition in _conditions(sheet):
        yield plain(f"– {condition}", width, _BODY)
    yield _signature_block(width)


def _wanted_by(sheet: OrderSheet) -> str:
    return sheet.due_on.isoformat() if sheet.due_on else WHEN_NOT_SAID


def _conditions(sheet: OrderSheet) -> tuple[str, ...]:
    return tuple(each for each in (TRACEABLE, NO_STAND_IN, KIND_CONDITIONS[sheet.kind], sheet.note) if each)


def _row(number: int, line: OrderSheetLine) -> Ruled:
    what: list[Said] = [(line.part.name, STRONG), *part_lines(line.part)]
    if line.given is not None:
        what.append((given_words(line.given), STRONG))
        what += [(words, ALARM) for words in hazard_words(line.given.hazards)]
    if line.closed_on is not None:
        what.append((closed_words(line.closed_on), ALARM))
    amount = line.amount
    columns = (
        [str(number)],
        what,
        [(quantity_words(line.part.quantity, line.part.measure), STRONG)],
        [_no_price(line) if line.price is None else price_words(line.price, line.part.measure)],
        [_no_price(line) if amount is None else money_words(amount)],
    )
    return Ruled(columns, alarm=line.closed_on is not None)


def _no_price(line: OrderSheetLine) -> str:
    return _NO_PRICE if line.closed_on is None else _NEVER_PRICED


def _total_row(sheet: OrderSheet) -> Ruled:
    total = _NO_PRICE if sheet.total is None else money_words(sheet.total)
    return Ruled(([], [("Total", STRONG), *_total_remarks(sheet)], [], [], [(total, STRONG)]))


def _total_remarks(sheet: OrderSheet) -> list[str]:
    """What the total leaves out, and what it still has in it."""
    remarks = []
    if sheet.unpriced and sheet.total is not None:
        remarks.append(f"without {counted(sheet.unpriced, 'line', 'lines')} to be agreed")
    if any(line.closed_on is not None and line.price is not None for line in sheet.lines):
        remarks.append("as ordered, with what was closed since")
    return remarks


def _signature_block(width: float) -> Block:
    cells, marks = [], []
    field_width = (width - _GUTTER) / len(_SIGNED_FIELDS)
    for place, label in enumerate(_SIGNED_FIELDS):
        x = place * (field_width + _GUTTER)
        cells.append(Cell(x, field_width).space(8).add(label, SMALL))
        marks.append(box(x, 20, field_width, 34))
    return Block(cells, marks=marks, height_min=72, pad=8)


def _order_table(sheet: OrderSheet) -> Table:
    rows = [
        Row(("Order", sheet.number)),
        Row(("Of", sheet.workshop)),
        Row(("Ordered on", sheet.ordered_on.isoformat())),
        Row(("Ordered by", sheet.ordered_by)),
        Row(("To", ", ".join(part for part in (sheet.firm, sheet.town) if part))),
        Row(("Your reference", sheet.reference)),
        Row(("Wanted here by", _wanted_by(sheet))),
        Row(("Total", _NO_PRICE if sheet.total is None else money_words(sheet.total))),
    ]
    rows += [Row(("Condition", condition)) for condition in _conditions(sheet)]
    rows += [Row((label, ""), lines_min=3) for label in _SIGNED_FIELDS]
    columns = (Column("What", 40), Column("As ordered", 80))
    return Table("Order", "the order", columns, rows, filtered=False)


def _line_table(sheet: OrderSheet) -> Table:
    unit = currency_words(sheet.currency)
    amount = Kind.AMOUNT if has_decimals(sheet.currency) else Kind.NUMBER
    columns = (
        Column("Line", 6, Kind.WHOLE),
        Column("Our number", 14),
        Column("Your number", 16),
        Column("Part", 26),
        Column("Other numbers", 24),
        Column("Quantity", 10, Kind.NUMBER),
        Column("Unit", 6),
        Column(f"Price, {unit}", 14, amount),
        Column("Price for", 12),
        Column(f"Amount, {unit}", 14, amount),
        Column("Wanted", 30),
        Column("Our old piece", 30),
        Column("Look out", 30),
        Column("Standing", 22),
    )
    rows = [Row(_values(number, line), _mark(line)) for number, line in enumerate(sheet.lines, 1)]
    if sheet.total is not None:
        remarks = "\n".join(_total_remarks(sheet))
        total = (None, "", "", "Total", "", None, "", None, "", figure_of(sheet.total), remarks, "", "", "")
        rows.append(Row(total))
    # A filter would sort the total in among the lines.
    return Table("Lines", "what is ordered", columns, rows, filtered=False)


def _mark(line: OrderSheetLine) -> Mark:
    return Mark.QUIET if line.closed_on is not None else Mark.NONE


def _values(number: int, line: OrderSheetLine) -> tuple[CellValue, ...]:
    part, given = line.part, line.given
    figure, unit = quantity_and_unit(part.quantity, part.measure)
    amount = line.amount
    return (
        number,
        part.house_number,
        part.their_number,
        part.name,
        "\n".join(f"{kind} {other}" for kind, other in part.other_numbers),
        figure,
        unit,
        None if line.price is None else figure_of(line.price),
        _no_price(line) if line.price is None else PRICED_BY[part.measure],
        None if amount is None else figure_of(amount),
        part.wanted,
        given_words(given) if given is not None else "",
        "\n".join(hazard_words(given.hazards)) if given is not None else "",
        closed_words(line.closed_on) if line.closed_on is not None else "",
    )
