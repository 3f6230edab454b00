"""A recall on paper: a letter that says why, what is concerned, where each is now, and what was done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from invdb.paper.sheet_columns import (
    ALARM,
    SMALL,
    STRONG,
    TEXT,
    Ruled,
    Said,
    heading,
    named_line,
    plain,
    section,
)
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    RED,
    RED_PALE,
    Block,
    Cell,
    SheetHead,
    Style,
    box,
    pdf_of,
    room_width,
)
from invdb.paper.sheet_words import PageName, instant_words
from invdb.paper.sheet_xlsx import BookHead, Column, Kind, Mark, Row, Table, workbook_of
from invdb.rules.life import prior_hours_words
from invdb.rules.quantities import quantity_and_unit, quantity_words
from invdb.rules.recall import (
    RecallLetter,
    RecallLine,
    RecallWhere,
    alike,
    count_words,
    parts_words,
    run_words,
    split_words,
    where_words,
)
from invdb.rules.told import counted

TO_WHOM = "To whom it may concern"
_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_BODY = Style(10)
_LABEL = Style(8, colour=SMALL.colour)
_REASON = Style(10.5, strong=True, colour=RED, ground=RED_PALE)
_DATE_WIDTH = 120.0
_GUTTER = 9.0
_COLUMNS = (
    ("Tag (serial or mark)", 34),
    ("Where it is now", 36),
    ("Engines it was in, and hours", 34),
    ("What was done", 22),
)

_NOTHING = "Nothing is concerned, so far as recorded"
_NEVER_RAN = "in no engine, so far as recorded"
_NOT_HELD = "not on hold yet"
_SIGNED_FIELDS = (("Name", "Licence number"), ("Signature", "Date"))


def write_recall_letter_pdf(letter: RecallLetter, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the letter as PDF; Refused if the target cannot be written."""
    head = SheetHead(letter.report.workshop, _title(letter), instant_words(letter.report.made_at))
    write_whole(pdf_of(list(_blocks(letter, room_width(page))), head, page), target)


def write_recall_letter_xlsx(letter: RecallLetter, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the same as a workbook; Refused if the target cannot be written."""
    head = BookHead(letter.report.workshop, _title(letter), letter.report.made_at)
    tables = [_letter_table(letter), _thing_table(letter), _place_table(letter), _run_table(letter)]
    write_whole(workbook_of(tables, head, page), target)


def _title(letter: RecallLetter) -> str:
    return f"Recall: {letter.report.asked}"


def _blocks(letter: RecallLetter, width: float) -> Iterator[Block]:
    report = letter.report
    left = Cell(0, width - _DATE_WIDTH - _GUTTER).add(report.workshop, _NAME)
    right = Cell(width - _DATE_WIDTH, _DATE_WIDTH).add(report.made_at.date().isoformat(), _NAME)
    yield Block([left, right], pad=8)
    yield Block([Cell(0, width).add(letter.addressee or TO_WHOM, _BODY)], pad=6)
    yield Block([Cell(0, width).add("Recall", _TITLE).add(report.asked, _NAME)], pad=4, with_next=True)
    yield heading("Reason", width)
    yield Block([Cell(0, width).add(letter.reason, _REASON)], pad=3, edge=RED)
    if letter.request:
        yield heading("What we ask", width)
        yield plain(letter.request, width, _BODY)
    if report.lines:
        yield heading("What is concerned", width)
        yield plain(_summary(letter), width, _BODY)
        for count in report.counts:
            yield plain(f"– {count_words(count)}", width, _BODY)
        yield from section("Each piece and batch", _COLUMNS, _rows(letter), _NOTHING, width)
    else:
        yield named_line("What is concerned", _NOTHING, width)
    words = Cell(0, width).space(4)
    words.add(f"Drawn from the ledger up to entry {report.last_entry}, whose hash is", _LABEL)
    yield Block([words.add(report.last_hash, Style(8))], pad=5, with_next=True)
    yield _signature_block(letter, width)


def _summary(letter: RecallLetter) -> str:
    lines = letter.report.lines
    if not lines:
        return _NOTHING
    pieces = sum(line.piece is not None for line in lines)
    kinds = [
        counted(count, one, many)
        for count, one, many in (
            (pieces, "piece", "pieces"),
            (len(lines) - pieces, "batch", "batches"),
        )
        if count
    ]
    of = f" of {part}" if (part := parts_words(lines)) else ""
    return f"{' and '.join(kinds)}{of}, of which"


def _rows(letter: RecallLetter) -> Iterator[Ruled]:
    one_part = parts_words(letter.report.lines)
    for same in alike(letter.report.lines):
        yield _row(same, one_part, letter.report.workshop)


def _row(same: Sequence[RecallLine], one_part: str, workshop: str) -> Ruled:
    """What is alike in all but its tag takes one row; a part that is the only one is named above them all."""
    line = same[0]
    tags = ", ".join(
        f"{each.tag}\N{NO-BREAK SPACE}({each.serial})" if each.serial else each.tag for each in same
    )
    named: list[Said] = [(tags, STRONG)]
    if not one_part:
        named.append(f"{line.part_name} {line.part_number}")
    owner = f", {line.owner}" if line.owner != workshop else ""
    named.append((f"{line.condition}{owner}", SMALL))
    fitted = any(at.where is RecallWhere.FITTED for at in line.at)
    where: list[Said] = [
        (words, ALARM) if at.where is RecallWhere.FITTED else words
        for at, words in zip(line.at, where_words(line), strict=True)
    ]
    where += [(words, SMALL) for words in split_words(line)]
    runs: list[Said] = [run_words(line, run) for run in line.runs]
    done: list[Said] = list(line.held)
    if not done:
        done = [] if line.gone else [(_NOT_HELD, ALARM)]
    return Ruled((named, where, runs or [(_NEVER_RAN, SMALL)], done), alarm=fitted)


def _signature_block(letter: RecallLetter, width: float) -> Block:
    cells = [Cell(0, width).add(f"For {letter.report.workshop}", Style(12, strong=True))]
    marks = []
    field_width = (width - _GUTTER) / 2
    filled = {"Name": letter.signed_by, "Licence number": letter.licence}
    top, gap, line_height = 24.0, 12.0, 27.0
    for pair in _SIGNED_FIELDS:
        for place, label in enumerate(pair):
            x = place * (field_width + _GUTTER)
            cells.append(Cell(x, field_width).space(top).add(label, _LABEL))
            written = TEXT.face.shorten(filled.get(label, ""), TEXT.size, field_width - 12)
            cells.append(Cell(x + 6, field_width - 12).space(top + gap + 8).add(written, TEXT))
            marks.append(box(x, top + gap, field_width, line_height))
        top += gap + line_height + 5
    return Block(cells, marks=marks, height_min=top + 20, pad=10)


def _letter_table(letter: RecallLetter) -> Table:
    rows = [
        Row(("To", letter.addressee or TO_WHOM)),
        Row(("What is recalled", letter.report.asked)),
        Row(("Reason", letter.reason), Mark.SHORT),
        Row(("What we ask", letter.request)),
        Row(("Concerned", _summary(letter).removesuffix(", of which"))),
    ]
    rows += [Row(("Where", count_words(count))) for count in letter.report.counts]
    rows += [
        Row(("Last entry of the ledger", letter.report.last_entry)),
        Row(("Hash of that entry", letter.report.last_hash)),
        Row(("Name", letter.signed_by), lines_min=3),
        Row(("Licence number", letter.licence), lines_min=3),
        Row(("Signature", ""), lines_min=3),
        Row(("Date", ""), lines_min=3),
    ]
    return Table("Letter", "the letter", (Column("What", 30), Column("As recorded", 90)), rows)


def _thing_table(letter: RecallLetter) -> Table:
    columns = (
        Column("Tag", 13),
        Column("Part number", 14),
        Column("Part", 18),
        Column("Serial or mark", 14),
        Column("Received", 10, Kind.NUMBER),
        Column("Unit", 6),
        Column("Condition", 14),
        Column("Owner", 18),
        Column("Where it is now", 38),
        Column("Split", 22),
        Column("What was done", 30),
    )
    rows = []
    for line in letter.report.lines:
        figure, unit = quantity_and_unit(line.received, line.measure)
        values = (
            line.tag,
            line.part_number,
            line.part_name,
            line.serial,
            figure,
            unit,
            str(line.condition),
            line.owner,
            "\n".join(where_words(line)),
            "\n".join(split_words(line)),
            "\n".join(line.held) or ("" if line.gone else _NOT_HELD),
        )
        rows.append(Row(values, Mark.NONE if line.held or line.gone else Mark.SHORT))
    return Table("Things", "each piece and batch", columns, rows, _NOTHING)


def _place_table(letter: RecallLetter) -> Table:
    columns = (
        Column("Tag", 13),
        Column("Standing", 24),
        Column("Engine or firm", 28),
        Column("Place", 60),
        Column("Quantity", 10, Kind.NUMBER),
        Column("Unit", 6),
        Column("Reserved for", 20),
    )
    rows = []
    for line in letter.report.lines:
        for at in line.at:
            figure, unit = quantity_and_unit(at.quantity, line.measure)
            values = (line.tag, str(at.where), at.at, at.path, figure, unit, ", ".join(at.reserved_for))
            rows.append(Row(values, Mark.SHORT if at.where is RecallWhere.FITTED else Mark.NONE))
    return Table("Places", "where each is now", columns, rows, _NOTHING)


def _run_table(letter: RecallLetter) -> Table:
    columns = (
        Column("Tag", 13),
        Column("Engine", 28),
        Column("Quantity", 12),
        Column("From", 12, Kind.DATE),
        Column("To", 12, Kind.DATE),
        Column("Hours", 40),
    )
    rows = [
        Row(
            (
                line.tag,
                run.engine,
                quantity_words(run.quantity, line.measure),
                run.from_on,
                run.to_on or "now",
                prior_hours_words(run.ran.hours.known()),
            )
        )
        for line in letter.report.lines
        for run in line.runs
    ]
    return Table("Engines", "the engines they were in", columns, rows, "In no engine, so far as recorded")
