"""The traceability sheet on paper: what a piece or a batch is, where it came from, and all that was done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date

from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    AMBER,
    AMBER_PALE,
    HAIR,
    INK,
    QUIET,
    RED,
    RED_PALE,
    Block,
    Cell,
    SheetHead,
    Style,
    bar_code,
    box,
    pdf_of,
    room_width,
)
from invdb.paper.sheet_words import PageName, hazard_words, instant_words, standing_words
from invdb.paper.sheet_xlsx import BookHead, workbook_of
from invdb.paper.trace_tables import trace_tables
from invdb.paper.trace_words import (
    NEVER_IN_AN_ENGINE,
    SIGNED_FIELDS,
    concession_words,
    engine_time_words,
    event_words,
    facts,
    hold_words,
    inspection_lines,
    inspection_words,
    limit_line_words,
    paper_words,
    parts_besides,
)
from invdb.rules.history import EngineTime, Gap, Stretch, TraceEntry, TraceSheet
from invdb.rules.life import LifeVerdict
from invdb.rules.quantities import quantity_words

_TITLE = Style(20, strong=True)
_HEADING = Style(12, strong=True)
_NAME = Style(12, strong=True)
_STRONG = Style(9, strong=True)
_TEXT = Style(9)
_LABEL = Style(8, colour=QUIET)
_REVERSED = Style(9, strong=True, colour=QUIET)
_GAP = Style(9, strong=True, colour=AMBER, ground=AMBER_PALE)
_HAZARD = Style(9, strong=True, colour=RED, ground=RED_PALE)

_LABEL_WIDTH = 96.0
_DATE_WIDTH = 142.0
_TAG_WIDTH = 170.0
_GUTTER = 8.0
_BAR_CODE_HEIGHT = 30.0


def write_trace_sheet_pdf(sheet: TraceSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the traceability sheet as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def write_trace_sheet_xlsx(sheet: TraceSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the traceability sheet as a workbook; Refused if the target cannot be written."""
    head = BookHead(sheet.workshop, _title(sheet), sheet.printed_at)
    write_whole(workbook_of(trace_tables(sheet), head, page), target)


def _title(sheet: TraceSheet) -> str:
    return f"Traceability sheet {sheet.tag}: {sheet.part_name}"


def _blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    yield _identity_block(sheet, width)
    for words in hazard_words(sheet.hazards):
        yield Block([Cell(0, width).add(words, _HAZARD)], pad=2)
    yield from _hold_blocks(sheet, width)
    yield from _event_blocks(sheet, width)
    yield from _concession_blocks(sheet, width)
    yield from _gap_blocks(sheet.gaps, width)
    yield _heading("What it is and where it came from", width)
    yield from _fact_blocks(facts(sheet), width)
    yield from _limit_blocks(sheet, width)
    if sheet.compliances:
        yield _heading("Directives complied with on it", width)
        lines = [
            f"{line.directive}, {line.complied_on.isoformat()} by {line.complied_by}: {line.method}"
            for line in sheet.compliances
        ]
        yield from _list_blocks(lines, "", width)
    if sheet.inspections:
        yield _heading("What it measured and how it was tested", width)
        for done in sheet.inspections:
            yield from _fact_blocks([(done.inspected_on.isoformat(), inspection_words(done))], width)
            yield from _list_blocks(inspection_lines(done), "No figures", width)
    if sheet.is_batch:
        yield from _quantity_blocks(sheet, width)
    yield _heading("Papers", width)
    yield from _list_blocks([paper_words(paper) for paper in sheet.papers], "No papers on file", width)
    # A batch is in many places at once, so it is told by its quantities and its entries.
    if sheet.stays or not sheet.is_batch:
        yield _heading("Where it has been", width)
        yield from _stretch_blocks(sheet.stays, width)
    yield _heading("In which engines, and what they ran", width)
    yield from _engine_time_blocks(sheet.engine_times, width)
    if inside := parts_besides(sheet):
        yield _heading("What it was part of besides", width)
        yield from _stretch_blocks(inside, width)
    yield _heading("Every entry, in order", width)
    yield from _entry_blocks(sheet.entries, width)
    yield _ledger_block(sheet, width)
    yield _signature_block(width)


def _heading(text: str, width: float) -> Block:
    return Block([Cell(0, width).space(7).add(text, _HEADING)], pad=3, rule=INK, with_next=True)


def _identity_block(sheet: TraceSheet, width: float) -> Block:
    code = bar_code(sheet.tag, width - _TAG_WIDTH, _TAG_WIDTH, _BAR_CODE_HEIGHT)
    left = Cell(0, width - _TAG_WIDTH - 2 * _GUTTER)
    left.add(f"{'Batch' if sheet.is_batch else 'Piece'} {sheet.tag}", _TITLE)
    left.add(sheet.part_name, _NAME).add(sheet.part_number, _TEXT)
    if sheet.serial:
        left.add(f"Serial {sheet.serial}", _TEXT)
    left.add(standing_words(sheet.condition, sheet.scope), _STRONG)
    left.add(f"Now at {sheet.where_now}", _STRONG)
    right = Cell(width - _TAG_WIDTH, _TAG_WIDTH, space_above=_BAR_CODE_HEIGHT + 6)
    right.add(f"Owner: {sheet.owner}", _TEXT)
    if not code:
        right.add("The tag cannot be set as a bar code", _LABEL)
    return Block([left, right], marks=[code] if code else [], pad=6, rule=HAIR)


def _hold_blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    for hold in sheet.holds:
        style, edge = (_HAZARD, RED) if hold.cleared_on is None else (_TEXT, None)
        yield Block([Cell(0, width).add(hold_words(hold), style)], pad=3, edge=edge)


def _event_blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    for event in sheet.events:
        style, edge = (_HAZARD, RED) if event.cleared_on is None else (_TEXT, None)
        yield Block([Cell(0, width).add(event_words(event), style)], pad=3, edge=edge)


def _concession_blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    for line in sheet.concessions:
        style, edge = (_GAP, AMBER) if line.in_force else (_TEXT, None)
        yield Block([Cell(0, width).add(concession_words(line), style)], pad=3, edge=edge)


def _limit_blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    if sheet.limits:
        yield _heading("Limits of its life", width)
    for line in sheet.limits:
        within = line.depends or line.verdict is LifeVerdict.WITHIN
        style, edge = (_TEXT, None) if within else (_HAZARD, RED)
        yield Block([Cell(0, width).add(limit_line_words(line), style)], pad=2, edge=edge)


def _gap_blocks(gaps: Sequence[Gap], width: float) -> Iterator[Block]:
    yield _heading("Gaps in its history", width)
    if not gaps:
        yield Block([Cell(0, width).add("None found in what is recorded", _TEXT)])
    for gap in gaps:
        dates = Cell(0, _DATE_WIDTH).add(_span(gap.from_on, gap.to_on), _STRONG)
        why = Cell(_DATE_WIDTH + _GUTTER, width - _DATE_WIDTH - _GUTTER).add(f"GAP: {gap.why}", _GAP)
        yield Block([dates, why], edge=AMBER)


def _span(from_on: date | None, to_on: date | None) -> str:
    """'1964-05-01 to 2019-03-02', 'until 1964-05-01', '2019-04-11 to now', or that neither day is known."""
    if from_on is None:
        return f"until {to_on.isoformat()}" if to_on else "dates not known"
    return f"{from_on.isoformat()} to {to_on.isoformat() if to_on else 'now'}"


def _fact_blocks(lines: Sequence[tuple[str, str]], width: float) -> Iterator[Block]:
    # Two facts side by side while both are short, so that the sheet is read at a glance.
    half = width / 2
    room = half - _LABEL_WIDTH - _GUTTER
    waiting: list[Cell] = []
    for label, words in lines:
        narrow = len(_TEXT.face.wrap(words, _TEXT.size, room)) <= 2
        if not narrow and waiting:
            yield Block(waiting, pad=2)
            waiting = []
        x = half if waiting else 0.0
        value_width = room if narrow else width - _LABEL_WIDTH
        waiting += [
            Cell(x, _LABEL_WIDTH - _GUTTER).add(label, _LABEL),
            Cell(x + _LABEL_WIDTH, value_width).add(words, _TEXT),
        ]
        if not narrow or x:
            yield Block(waiting, pad=2, whole=narrow)
            waiting = []
    if waiting:
        yield Block(waiting, pad=2)


def _quantity_blocks(sheet: TraceSheet, width: float) -> Iterator[Block]:
    yield _heading("How much, and where", width)
    lines = []
    for at in sheet.quantities:
        words = f"{quantity_words(at.quantity, sheet.measure)} at {at.place}"
        if at.reserved:
            words += f", of which {quantity_words(at.reserved, sheet.measure)} reserved"
        lines.append(words)
    yield from _list_blocks(lines, "None left anywhere", width)
    if sheet.kin:
        yield _heading("Split from, and split into", width)
    for kin in sheet.kin:
        words = f"{kin.relation} {kin.tag}, {kin.condition}"
        if kin.quantity is not None:
            words += f", {quantity_words(kin.quantity, sheet.measure)}"
        yield Block([Cell(0, width).add(f"{words}, on {kin.on}" if kin.on else words, _TEXT)], pad=2)


def _list_blocks(lines: Sequence[str], none: str, width: float) -> Iterator[Block]:
    for line in lines or (none,):
        yield Block([Cell(0, width).add(line, _TEXT)], pad=2)


def _stretch_blocks(stretches: Sequence[Stretch], width: float) -> Iterator[Block]:
    if not stretches:
        yield Block([Cell(0, width).add("No place recorded", _TEXT)], pad=2)
    for stretch in stretches:
        yield _dated_block(stretch.from_on, stretch.to_on, f"{stretch.place} ({stretch.kind})", width)


def _engine_time_blocks(times: Sequence[EngineTime], width: float) -> Iterator[Block]:
    if not times:
        yield Block([Cell(0, width).add(NEVER_IN_AN_ENGINE, _TEXT)], pad=2)
    for time in times:
        yield _dated_block(time.from_on, time.to_on, engine_time_words(time), width)


def _dated_block(from_on: date | None, to_on: date | None, words: str, width: float) -> Block:
    dates = Cell(0, _DATE_WIDTH).add(_span(from_on, to_on), _TEXT)
    said = Cell(_DATE_WIDTH + _GUTTER, width - _DATE_WIDTH - _GUTTER).add(words, _TEXT)
    return Block([dates, said], pad=2)


def _entry_blocks(entries: Sequence[TraceEntry], width: float) -> Iterator[Block]:
    who_width = 130.0
    what_x, who_x = 112.0, width - who_width
    labels = ((0.0, 40.0, "Entry"), (42.0, 66.0, "Date"), (what_x, 200.0, "What was done"))
    head = Block(
        [
            *(Cell(x, label_width).add(label, _LABEL) for x, label_width, label in labels),
            Cell(who_x, who_width).add("By whom; certificate", _LABEL),
        ],
        pad=2,
        rule=HAIR,
        with_next=True,
    )
    yield head
    for entry in entries:
        what = Cell(what_x, who_x - what_x - _GUTTER)
        what.add(entry.kind, _STRONG).add(entry.what, _TEXT)
        what.add(f"Note: {entry.note}" if entry.note else "", _TEXT)
        if entry.reverses is not None:
            what.add(f"Reverses entry {entry.reverses}", _REVERSED)
        if entry.reversed_by is not None:
            what.add(f"REVERSED by entry {entry.reversed_by}: no longer holds", _REVERSED)
        recorded = entry.recorded_at.astimezone(UTC) if entry.recorded_at.tzinfo else entry.recorded_at
        who = Cell(who_x, who_width).add(entry.who, _TEXT)
        who.add(entry.licence or "no certificate recorded", _TEXT if entry.licence else _LABEL)
        who.add(f"recorded {recorded:%Y-%m-%d %H:%M} UTC", _LABEL)
        number = Cell(0, 40).add(str(entry.number), _STRONG)
        happened = Cell(42, 66).add(entry.happened_on.isoformat(), _TEXT)
        yield Block([number, happened, what, who], pad=4, rule=HAIR, column_head=head)
    if not entries:
        yield Block([Cell(0, width).add("No entry concerns it", _TEXT)])


def _ledger_block(sheet: TraceSheet, width: float) -> Block:
    words = Cell(0, width).space(4)
    words.add(f"The ledger ended with entry {sheet.last_entry} when this was printed; its hash is", _LABEL)
    return Block([words.add(sheet.last_hash, Style(8))], pad=5)


def _signature_block(width: float) -> Block:
    """The record of 14 CFR 43.9, to be filled in and signed by hand."""
    cells = [Cell(0, width).add("Record of work, to be signed", _HEADING)]
    marks = []
    line_height, gap = 27.0, 12.0
    top = 24.0
    for fields in SIGNED_FIELDS:
        part = width / len(fields)
        height = line_height * (2 if len(fields) == 1 else 1)
        for place, label in enumerate(fields):
            field_width = part - (_GUTTER if place < len(fields) - 1 else 0)
            cells.append(Cell(place * part, field_width).space(top).add(label, _LABEL))
            marks.append(box(place * part, top + gap, field_width, height))
        top += gap + height + 5
    return Block(cells, marks=marks, height_min=top + 20, pad=10)
