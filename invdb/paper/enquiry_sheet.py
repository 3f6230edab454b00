"""An enquiry on paper: one sheet for each firm asked, with room for its prices, minimum, time and remarks."""

from __future__ import annotations

from collections.abc import Iterator

from invdb.paper.order_words import NO_STAND_IN, TRACEABLE, part_lines
from invdb.paper.sheet_columns import SMALL, STRONG, TEXT, heading, plain
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    HAIR,
    INK,
    Block,
    Cell,
    Mark,
    SheetHead,
    Style,
    bar_code,
    box,
    pdf_of,
    room_width,
)
from invdb.paper.sheet_words import PageName, instant_words
from invdb.paper.sheet_xlsx import BookHead, Column, Kind, Row, Table, workbook_of
from invdb.rules.enquiry_sheet import EnquirySheet
from invdb.rules.money import PRICED_BY
from invdb.rules.order_sheet import OrderedPart
from invdb.rules.quantities import quantity_and_unit, quantity_words

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_BODY = Style(10)
_SIDE_WIDTH = 170.0
_GUTTER = 8.0
_BAR_CODE_HEIGHT = 30.0
# So many prices by quantity can be filled in for a part.
_PRICES = 3
_BOX_HEIGHT, _BOX_GAP = 20.0, 4.0
_PART_WIDTH = 176.0
_FILLED = (("From quantity", 62.0), ("Price", 74.0), ("Minimum", 52.0), ("Lead time, days", 52.0))
_ANSWER_FIELDS = (
    ("Currency of all prices", "Valid until", "Your reference"),
    ("Name", "Signature", "Date"),
)
_ASKED = (
    "Please fill in for each part: the price at one or several quantities, the fewest that you sell or make, "
    "how many days from order to here, and what we should know."
)


def write_enquiry_sheet_pdf(sheet: EnquirySheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the enquiry to one firm as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def write_enquiry_sheet_xlsx(sheet: EnquirySheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the enquiry to one firm as a workbook; Refused if the target cannot be written."""
    head = BookHead(sheet.workshop, _title(sheet), sheet.printed_at)
    write_whole(workbook_of([_part_table(sheet), _answer_table(sheet)], head, page), target)


def _title(sheet: EnquirySheet) -> str:
    return f"Enquiry {sheet.number} to {sheet.firm}"


def _answer_by(sheet: EnquirySheet) -> str:
    return sheet.answer_by.isoformat() if sheet.answer_by else "as soon as you can"


def _blocks(sheet: EnquirySheet, width: float) -> Iterator[Block]:
    code = bar_code(sheet.number, width - _SIDE_WIDTH, _SIDE_WIDTH, _BAR_CODE_HEIGHT)
    left = Cell(0, width - _SIDE_WIDTH - 2 * _GUTTER).add("Enquiry", _TITLE).add(sheet.workshop, _NAME)
    left.add("This is a question, not an order.", TEXT)
    right = Cell(width - _SIDE_WIDTH, _SIDE_WIDTH, space_above=_BAR_CODE_HEIGHT + 4 if code else 0.0)
    right.add(f"Enquiry {sheet.number}", _NAME).add(f"of {sheet.asked_on.isoformat()}", TEXT)
    yield Block([left, right], marks=[code] if code else [], pad=6, rule=HAIR)
    to = Cell(0, width - _SIDE_WIDTH - 2 * _GUTTER).add("To", SMALL).add(sheet.firm, _NAME)
    to.add(sheet.town, _BODY)
    by = Cell(width - _SIDE_WIDTH, _SIDE_WIDTH).add("Please answer by", SMALL).add(_answer_by(sheet), _NAME)
    by.add(f"Asked by {sheet.asked_by}", TEXT)
    yield Block([to, by], pad=6)
    if sheet.wording:
        yield plain(sheet.wording, width, _BODY)
    yield plain(_ASKED, width, _BODY)
    head = _column_head(width)
    yield head
    for number, part in enumerate(sheet.parts, start=1):
        yield _part_block(number, part, width, head)
    yield heading("Conditions", width)
    for condition in (TRACEABLE, NO_STAND_IN):
        yield plain(f"– {condition}", width, _BODY)
    yield _answer_block(width)


def _spans(width: float) -> list[tuple[str, float, float]]:
    """The columns to fill in, with where each begins and how wide it is; the last takes what is left."""
    spans, x = [], _PART_WIDTH + _GUTTER
    for label, room in _FILLED:
        spans.append((label, x, room))
        x += room + _GUTTER
    return [*spans, ("Remarks", x, width - x)]


def _column_head(width: float) -> Block:
    cells = [Cell(0, _PART_WIDTH).add("What we ask for", SMALL)]
    cells += [Cell(x, room).add(label, SMALL) for label, x, room in _spans(width)]
    return Block(cells, pad=2, rule=INK, with_next=True)


def _part_block(number: int, part: OrderedPart, width: float, head: Block) -> Block:
    named = Cell(0, _PART_WIDTH).add(f"{number}. {part.name}", STRONG)
    named.add(f"{quantity_words(part.quantity, part.measure)} wanted", STRONG)
    for line in part_lines(part):
        named.add(line, TEXT)
    cells, marks = [named], []
    high = _PRICES * (_BOX_HEIGHT + _BOX_GAP) - _BOX_GAP
    for label, x, room in _spans(width):
        if label in {"From quantity", "Price"}:
            marks += [box(x, place * (_BOX_HEIGHT + _BOX_GAP), room, _BOX_HEIGHT) for place in range(_PRICES)]
        else:
            marks.append(box(x, 0, room, high))
        if label == "Price":
            # What the price is for stands below, so that no metre is priced as a coil.
            cells.append(Cell(x + 4, room - 8).space(high + 1).add(PRICED_BY[part.measure], SMALL))
    return Block(cells, marks=marks, height_min=high + 16, pad=5, rule=HAIR, column_head=head)


def _answer_block(width: float) -> Block:
    cells: list[Cell] = [Cell(0, width).add("Your answer", _NAME)]
    marks: list[Mark] = []
    top, gap, height = 20.0, 12.0, 26.0
    for fields in _ANSWER_FIELDS:
        room = (width - _GUTTER * (len(fields) - 1)) / len(fields)
        for place, label in enumerate(fields):
            x = place * (room + _GUTTER)
            cells.append(Cell(x, room).space(top).add(label, SMALL))
            marks.append(box(x, top + gap, room, height))
        top += gap + height + 5
    return Block(cells, marks=marks, height_min=top + 18, pad=8)


def _part_table(sheet: EnquirySheet) -> Table:
    columns = [
        Column("Line", 6, Kind.WHOLE),
        Column("Our number", 14),
        Column("Your number", 16),
        Column("Part", 26),
        Column("Other numbers", 24),
        Column("Quantity wanted", 10, Kind.NUMBER),
        Column("Unit", 6),
        Column("What it must be", 30),
        Column("Price for", 11),
    ]
    for place in range(1, _PRICES + 1):
        columns += [
            Column(f"From quantity ({place})", 10, Kind.NUMBER),
            Column(f"Price ({place})", 12, Kind.AMOUNT),
        ]
    columns += [
        Column("Minimum", 10, Kind.NUMBER),
        Column("Lead time, days", 10, Kind.WHOLE),
        Column("Remarks", 40),
    ]
    rows = []
    for number, part in enumerate(sheet.parts, start=1):
        figure, unit = quantity_and_unit(part.quantity, part.measure)
        others = "\n".join(f"{kind} {other}" for kind, other in part.other_numbers)
        asked = (
            number,
            part.house_number,
            part.their_number,
            part.name,
            others,
            figure,
            unit,
            part.wanted,
            PRICED_BY[part.measure],
        )
        rows.append(Row((*asked, *(None,) * (len(columns) - len(asked)))))
    return Table("Parts", "what we ask for", columns, rows)


def _answer_table(sheet: EnquirySheet) -> Table:
    rows = [
        Row(("Enquiry", sheet.number)),
        Row(("Of", sheet.workshop)),
        Row(("Asked on", sheet.asked_on.isoformat())),
        Row(("Asked by", sheet.asked_by)),
        Row(("To", ", ".join(part for part in (sheet.firm, sheet.town) if part))),
        Row(("Please answer by", _answer_by(sheet))),
        Row(("What we ask", "\n".join(part for part in (sheet.wording, _ASKED) if part))),
        Row(("Condition", TRACEABLE)),
        Row(("Condition", NO_STAND_IN)),
    ]
    rows += [Row((label, ""), lines_min=2) for fields in _ANSWER_FIELDS for label in fields]
    columns = (Column("What", 30), Column("Said", 90))
    return Table("Answer", "the enquiry and your answer", columns, rows, filtered=False)
