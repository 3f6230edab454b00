"""The inspection sheet on paper, blank, to be filled in by hand at the bench and entered afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from invdb.paper.measure_grid import BOX_HEIGHT, LABEL, TICK, TICK_WORD, empty_row, grid_head, line_blocks
from invdb.paper.sheet_columns import HEADING, SMALL, STRONG, TEXT, heading, named_line, plain
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    AMBER,
    AMBER_PALE,
    HAIR,
    RED,
    RED_PALE,
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
from invdb.paper.sheet_words import PageName, hazard_words, instant_words, standing_words
from invdb.rules.inspection_sheet import SheetToFill, asked_words, bounds_words
from invdb.rules.specification import SpecLineFacts
from invdb.terms import Condition, CrackMethod, Scope, SpecKind

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_GRAVE = Style(9, strong=True, colour=RED, ground=RED_PALE)
_NOTICE = Style(9, strong=True, colour=AMBER, ground=AMBER_PALE)

_TAG_WIDTH = 170.0
_BAR_CODE_HEIGHT = 30.0
_GUTTER = 9.0

_EMPTY_ROWS = 6
_ROWS_BESIDES = 2


def write_inspection_sheet_pdf(sheet: SheetToFill, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the blank sheet as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def _title(sheet: SheetToFill) -> str:
    """'Inspection sheet T00012-4: Cylinder barrel', or the part's number where it is for any piece."""
    return f"Inspection sheet {sheet.tag or sheet.part_number}: {sheet.part_name}"


def _blocks(sheet: SheetToFill, width: float) -> Iterator[Block]:
    yield _identity_block(sheet, width)
    for words in hazard_words(sheet.hazards):
        yield Block([Cell(0, width).add(words, _GRAVE)], pad=2)
    for words in sheet.against:
        yield Block([Cell(0, width).add(f"Stands against it: {words}", _NOTICE)], pad=2)
    yield from _measured_blocks(sheet, width)
    yield from _pressure_blocks(_of_kind(sheet, SpecKind.PRESSURE_TEST), width)
    yield from _crack_blocks(_of_kind(sheet, SpecKind.CRACK_TEST), width)
    yield from _look_blocks(_of_kind(sheet, SpecKind.LOOK), width)
    yield from _stated_blocks([each.line for each in sheet.stated], width)
    yield from _check_blocks(sheet.checks_missing, width)
    yield from _decision_blocks(width)
    yield _signature_block(width)
    yield from _instrument_blocks(sheet, width)


def _of_kind(sheet: SheetToFill, kind: SpecKind) -> list[SpecLineFacts]:
    return [each.line for each in sheet.lines if each.line.kind is kind]


def _identity_block(sheet: SheetToFill, width: float) -> Block:
    marks: list[Mark] = []
    left = Cell(0, width - _TAG_WIDTH - 2 * _GUTTER)
    right = Cell(width - _TAG_WIDTH, _TAG_WIDTH)
    if sheet.tag:
        code = bar_code(sheet.tag, width - _TAG_WIDTH, _TAG_WIDTH, _BAR_CODE_HEIGHT)
        if code:
            marks.append(code)
            right.space_above = _BAR_CODE_HEIGHT + 6
        left.add(f"{'Batch' if sheet.is_batch else 'Piece'} {sheet.tag}", _TITLE)
        left.add(sheet.part_name, _NAME).add(_part_words(sheet), TEXT)
        if sheet.serial:
            left.add(f"{'Maker’s batch' if sheet.is_batch else 'Serial'} {sheet.serial}", TEXT)
        if sheet.condition is not None:
            left.add(standing_words(sheet.condition, sheet.scope), STRONG)
        right.add(f"Owner: {sheet.owner}" if sheet.owner else "", TEXT)
        right.add(f"Now at {sheet.where}" if sheet.where else "", TEXT)
    else:
        left.add(sheet.part_name, _TITLE).add(_part_words(sheet), _NAME)
        right.add("Tag", LABEL).space(22).add("Serial", LABEL)
        marks += [box(width - _TAG_WIDTH, 11, _TAG_WIDTH, 19), box(width - _TAG_WIDTH, 43, _TAG_WIDTH, 19)]
    left.space(4).add(_by_which_words(sheet), TEXT)
    return Block([left, right], marks=marks, height_min=76, pad=6, rule=HAIR)


def _part_words(sheet: SheetToFill) -> str:
    return ", ".join(
        part for part in (sheet.part_number, sheet.size_class or "standard size", sheet.finish) if part
    )


def _by_which_words(sheet: SheetToFill) -> str:
    if not sheet.revision:
        return f"It has no specification in force on {sheet.on.isoformat()}: write down the limits used."
    document = f", document {sheet.document}" if sheet.document else ""
    return (
        f"Judged by revision {sheet.revision}, {sheet.source}{document}, in force on {sheet.on.isoformat()}"
    )


def _measured_blocks(sheet: SheetToFill, width: float) -> Iterator[Block]:
    yield heading("To measure", width)
    yield plain(
        "Write each figure with all its digits; a unit only where it is another than the box’s.", width, SMALL
    )
    head = grid_head(width)
    yield head
    for each in sheet.measured:
        yield from line_blocks(each, head, width)
    besides = _EMPTY_ROWS if not sheet.measured else _ROWS_BESIDES
    for _ in range(besides):
        yield empty_row(head, width)


_PRESSURE_BOXES = (
    ("Medium", 62),
    ("Pressure", 62),
    ("Start", 62),
    ("End", 62),
    ("Held", 54),
    ("Drop", 54),
    ("Gauge", 70),
    ("Calibrated until", 76),
)


def _pressure_blocks(lines: Sequence[SpecLineFacts], width: float) -> Iterator[Block]:
    if not lines:
        return
    yield heading("Pressure tests", width)
    for line in lines:
        words = Cell(0, width - 2 * _OUTCOME_WIDTH).add(line.name, STRONG).add(asked_words(line), SMALL)
        outcome, marks = _outcome(width)
        yield Block([words, *outcome], marks=marks, pad=4, with_next=True)
        yield _boxes_block(_PRESSURE_BOXES, width)


def _boxes_block(labels: Sequence[tuple[str, int]], width: float) -> Block:
    """Boxes side by side, each with its label above it and its share of the width."""
    room = (width - 4 * (len(labels) - 1)) / sum(share for _, share in labels)
    cells, marks = [], []
    x = 0.0
    for label, share in labels:
        cells.append(Cell(x, share * room).add(label, LABEL))
        marks.append(box(x, 11, share * room, BOX_HEIGHT))
        x += share * room + 4
    return Block(cells, marks=marks, height_min=11 + BOX_HEIGHT + 10, pad=3, rule=HAIR)


_OUTCOME_WIDTH = 70.0


def _outcome(width: float) -> tuple[list[Cell], list[Mark]]:
    """'passed' and 'not passed', each with its box to tick, at the right."""
    cells: list[Cell] = []
    marks: list[Mark] = []
    for place, word in enumerate(("passed", "not passed")):
        x = width - (2 - place) * _OUTCOME_WIDTH
        cells.append(Cell(x + TICK + 4, _OUTCOME_WIDTH - TICK - 4).add(word, TICK_WORD))
        marks.append(box(x, 1, TICK, TICK))
    return cells, marks


def _crack_blocks(lines: Sequence[SpecLineFacts], width: float) -> Iterator[Block]:
    if not lines:
        return
    yield heading("Crack tests", width)
    for line in lines:
        words = Cell(0, width - 2 * _OUTCOME_WIDTH).add(line.name, STRONG).add(asked_words(line), SMALL)
        outcome, marks = _outcome(width)
        yield Block([words, *outcome], marks=marks, pad=4, with_next=True)
        yield _ticks_block([str(method) for method in CrackMethod], width)
        yield _boxes_block((("Found", 1),), width)


def _ticks_block(words: Sequence[str], width: float, label: str = "Method") -> Block:
    """Words to tick, in as many rows as they need."""
    cells = [Cell(0, 44).add(label, LABEL)]
    marks: list[Mark] = []
    x, y = 44.0, 0.0
    for word in words:
        run = TICK + 4 + TICK_WORD.face.width(word, TICK_WORD.size) + 12
        if x + run > width:
            x, y = 44.0, y + 15
        cells.append(Cell(x + TICK + 4, run - TICK, space_above=y).add(word, TICK_WORD))
        marks.append(box(x, y + 1, TICK, TICK))
        x += run
    return Block(cells, marks=marks, height_min=y + 18, pad=3, with_next=True)


def _look_blocks(lines: Sequence[SpecLineFacts], width: float) -> Iterator[Block]:
    if not lines:
        return
    yield heading("To look over", width)
    for line in lines:
        words = Cell(0, width - 2 * _OUTCOME_WIDTH).add(line.name, STRONG).add(asked_words(line), SMALL)
        outcome, marks = _outcome(width)
        yield Block([words, *outcome], marks=marks, pad=4, with_next=True)
        yield _boxes_block((("Found", 1),), width)


def _stated_blocks(lines: Sequence[SpecLineFacts], width: float) -> Iterator[Block]:
    if not lines:
        return
    yield heading("What else the specification says", width)
    for line in lines:
        said = [part for part in (bounds_words(line.limits.new_low, line.limits.new_high, line.unit)) if part]
        words = "; ".join(part for part in (" / ".join(said), asked_words(line)) if part)
        yield plain(f"{line.name} ({line.kind}): {words}", width)


def _check_blocks(missing: Sequence[str], width: float) -> Iterator[Block]:
    """The checks of receipt that must be recorded before it is accepted (FAA AC 20-154)."""
    if not missing:
        return
    yield heading("Checks on receipt, not recorded yet", width)
    yield _boxes_block([(word.capitalize(), 1) for word in missing], width)


def _decision_blocks(width: float) -> Iterator[Block]:
    yield heading("Condition decided", width)
    serviceable = [f"{Condition.SERVICEABLE}, for {scope}" for scope in Scope]
    others = [str(each) for each in Condition if each is not Condition.SERVICEABLE]
    yield _ticks_block([*serviceable, *others], width, "Tick one")
    yield _boxes_block((("Reason, where it is against the figures; remarks", 3), ("Goes to", 1)), width)
    yield plain(
        "What is out of limits or failed a test is never accepted for flight; for ground running and display "
        "only with a reason.",
        width,
        SMALL,
    )


def _signature_block(width: float) -> Block:
    """The record of 14 CFR 43.9, to be signed by hand."""
    cells = [Cell(0, width).space(4).add("Signed for this inspection", HEADING)]
    marks: list[Mark] = []
    top = 26.0
    for labels in (
        ("Inspected by", "Licence or certificate number", "Kind"),
        ("Date", "Signature", "Entered by, and as entry"),
    ):
        part = (width + _GUTTER) / len(labels)
        for place, label in enumerate(labels):
            cells.append(Cell(place * part, part - _GUTTER).space(top).add(label, LABEL))
            marks.append(box(place * part, top + 12, part - _GUTTER, 24))
        top += 12 + 24 + 5
    return Block(cells, marks=marks, height_min=top + 10, pad=6)


def _instrument_blocks(sheet: SheetToFill, width: float) -> Iterator[Block]:
    if not sheet.instruments:
        yield named_line("Instruments", "None are on record; write down what was used", width)
        return
    yield heading("Instruments on record", width)
    for each in sheet.instruments:
        until = f", calibrated until {each.calibration_due_on.isoformat()}" if each.calibration_due_on else ""
        yield plain(
            f"{each.number}  {each.name}{until}" + (f": {each.out}" if each.out else ""),
            width,
            _NOTICE if each.out else TEXT,
        )
