"""The pick list on paper: one walk through the stores for one pull or several."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    AMBER,
    AMBER_PALE,
    GREY_PALE,
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
from invdb.paper.sheet_words import (
    FITS_NOT_CHECKED,
    PageName,
    hazard_words,
    instant_words,
    standing_words,
)
from invdb.paper.sheet_xlsx import BookHead, Column, Kind, Mark, Row, Table, workbook_of
from invdb.rules.pick_list import PickList, PickRow, PullHead, ShortRow, in_walking_order
from invdb.rules.quantities import quantity_and_unit, quantity_words
from invdb.rules.told import counted
from invdb.terms import Tracking

_TITLE = Style(20, strong=True)
_HEADING = Style(12, strong=True)
_LABEL = Style(7.5, colour=QUIET)
_BIN = Style(13, strong=True)
_NAME = Style(10.5, strong=True)
_NUMBER = Style(10)
_STATION = Style(9.5)
_DETAIL = Style(8.5)
_QUIET_DETAIL = Style(8.5, colour=QUIET)
_ALTERNATE = Style(8.5, strong=True, colour=AMBER, ground=AMBER_PALE)
_SHORT = Style(10, strong=True, colour=RED, ground=RED_PALE)
_HAZARD = Style(8.5, strong=True, colour=RED, ground=RED_PALE)
_REMARK = Style(8.5, strong=True, colour=INK, ground=GREY_PALE)

_PROPOSED = "Proposed; nothing is reserved"
_NOTHING_LIKE_IT = "Nothing like it is held"
_NOT_KNOWN = "not known"
_SHORT_NAMED_MAX = 3

_TICK_BOX = 19.0
_BIN_X, _BIN_WIDTH = 30.0, 74.0
_PART_X = 112.0
_QUANTITY_WIDTH = 64.0
_TAG_WIDTH = 136.0
_GUTTER = 8.0
_BAR_CODE_HEIGHT = 25.0


def write_pick_list_pdf(pick_list: PickList, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the pick list as PDF; Refused if the target cannot be written."""
    head = SheetHead(
        workshop=pick_list.workshop,
        title=_title(pick_list),
        printed_at=instant_words(pick_list.printed_at),
        warning="" if pick_list.fits_checked else FITS_NOT_CHECKED,
    )
    write_whole(pdf_of(list(_blocks(pick_list, room_width(page))), head, page), target)


def _title(pick_list: PickList) -> str:
    """'Pick list P-0012: Linnet PL-0117, cylinder 5', or all the pulls' numbers if there are several."""
    match pick_list.pulls:
        case (pull,):
            number = ", proposed" if pull.proposed else f" {pull.number}"
            return f"Pick list{number}: {pull.engine}, {pull.position}"
        case pulls if _of_one_engine(pulls) and all(pull.proposed for pull in pulls):
            names = ", ".join(pull.position for pull in pulls)
            return f"Pick list, proposed: {pulls[0].engine}, {names}"
        case pulls:
            names = ", ".join(f"{p.engine}, {p.position}" if p.proposed else p.number for p in pulls)
            return f"Pick list for {counted(len(pulls), 'pull', 'pulls')}: {names}"


def _of_one_engine(pulls: Sequence[PullHead]) -> bool:
    return len({pull.engine for pull in pulls}) == 1


def _where(pick_list: PickList) -> dict[str, str]:
    """The engine and position of each pull, by its number."""
    return {pull.number: f"{pull.engine}, {pull.position}" for pull in pick_list.pulls}


def _where_briefly(pick_list: PickList) -> dict[str, str]:
    """What tells the pulls of one page apart: nothing of one alone, of one engine's only the position."""
    if len(pick_list.pulls) == 1:
        return {pick_list.pulls[0].number: ""}
    if _of_one_engine(pick_list.pulls):
        return {pull.number: pull.position for pull in pick_list.pulls}
    return _where(pick_list)


def _alternate_words(row: PickRow) -> list[str]:
    if not row.alternate_for:
        return []
    allowed = f"allowed by {row.authority}" if row.authority else "no authority recorded"
    return [f"ALTERNATE for {row.alternate_for}, {allowed}"]


def _summary(pick_list: PickList) -> str:
    if not pick_list.rows and not pick_list.short_rows:
        return "Nothing to fetch and nothing short."
    bins = len({row.bin_name for row in pick_list.rows})
    parts = [f"{len(pick_list.rows)} to fetch from {counted(bins, 'bin', 'bins')}"]
    if alternates := sum(bool(row.alternate_for) for row in pick_list.rows):
        parts.append(counted(alternates, "alternate", "alternates"))
    parts.append(_short_words(pick_list) if pick_list.short_rows else "none short")
    return " · ".join(parts)


def _short_words(pick_list: PickList) -> str:
    """'1 SHORT: master rod', so that the first page says it; of many, the first few."""
    named = list(dict.fromkeys(short.station for short in pick_list.short_rows))
    more = len(named) - _SHORT_NAMED_MAX
    tail = f" and {more} more" if more > 0 else ""
    return f"{len(pick_list.short_rows)} SHORT: {', '.join(named[:_SHORT_NAMED_MAX])}{tail}"


def _blocks(pick_list: PickList, width: float) -> Iterator[Block]:
    yield Block([Cell(0, width).add("Pick list", _TITLE)], pad=2, with_next=True)
    for pull in pick_list.pulls:
        yield _pull_block(pull, width)
    yield Block([Cell(0, width).add(_summary(pick_list), _NAME)], pad=7, with_next=bool(pick_list.rows))
    where = _where_briefly(pick_list)
    head = _column_head(width)
    rows = in_walking_order(pick_list.rows)
    if rows:
        yield head
    for row in rows:
        yield _row_block(row, where[row.pull_number], width, head)
    if pick_list.short_rows:
        yield Block(
            [Cell(0, width).add("Short: not in the stores to fetch", _HEADING)], pad=9, with_next=True
        )
    for short in pick_list.short_rows:
        yield _short_block(short, where[short.pull_number], width)
    yield from _fit_blocks(pick_list, where, width)
    yield _hand_over_block(width)


def _pull_block(pull: PullHead, width: float) -> Block:
    number = "" if pull.proposed else pull.number
    code = bar_code(number, width - _TAG_WIDTH, _TAG_WIDTH, _BAR_CODE_HEIGHT)
    left, middle = width * 0.4, width - _TAG_WIDTH - _GUTTER
    return Block(
        [
            Cell(0, left - _GUTTER)
            .add(f"{pull.engine}, {pull.position}", _HEADING)
            .add(f"{pull.engine_type}, for {pull.use}", _DETAIL),
            Cell(left, middle - left)
            .add(f"Asked by {pull.asked_by}", _DETAIL)
            .add(f"on {pull.asked_on.isoformat()}", _DETAIL),
            Cell(width - _TAG_WIDTH, _TAG_WIDTH, space_above=_BAR_CODE_HEIGHT + 2 if code else 0.0).add(
                _PROPOSED if pull.proposed else f"Pull {number}", _NAME
            ),
        ],
        marks=[code] if code else [],
        pad=5,
        rule=HAIR,
    )


def _column_head(width: float) -> Block:
    quantity_x = width - _TAG_WIDTH - _GUTTER - _QUANTITY_WIDTH
    labels = (
        (0.0, _BIN_X, "Got"),
        (_BIN_X, _BIN_WIDTH, "Bin"),
        (_PART_X, quantity_x - _PART_X, "Part, and where it goes"),
        (quantity_x, _QUANTITY_WIDTH, "Quantity"),
        (width - _TAG_WIDTH, _TAG_WIDTH, "Tag"),
    )
    cells = [Cell(x, cell_width).add(label, _LABEL) for x, cell_width, label in labels]
    return Block(cells, pad=2, rule=INK, with_next=True)


def _row_block(row: PickRow, where: str, width: float, head: Block) -> Block:
    quantity_x = width - _TAG_WIDTH - _GUTTER - _QUANTITY_WIDTH
    part = Cell(_PART_X, quantity_x - _PART_X - _GUTTER)
    part.add(row.part_name, _NAME)
    station = f"{where}: {row.station}" if where else row.station
    part.add(f"{row.part_number} · goes to {station}", _STATION)
    for alternate in _alternate_words(row):
        part.add(alternate, _ALTERNATE)
    for hazard in hazard_words(row.hazards):
        part.add(hazard, _HAZARD)
    for remark in row.remarks:
        part.add(remark, _REMARK)
    hours = f"hours {row.hours}" if row.hours == _NOT_KNOWN else row.hours
    details = (standing_words(row.condition, row.scope), row.papers or "no papers", hours, row.why)
    part.add(" · ".join(detail for detail in details if detail), _QUIET_DETAIL)

    quantity = Cell(quantity_x, _QUANTITY_WIDTH).add(quantity_words(row.quantity, row.measure), _BIN)
    marks = [box(0, 1, _TICK_BOX, _TICK_BOX)]
    if row.tracking is Tracking.BATCH:
        # What was really taken from a batch is written in, since it may be less than was asked for.
        box_top = quantity.height + 3
        marks.append(box(quantity_x, box_top, _QUANTITY_WIDTH - 10, _TICK_BOX))
        quantity.space(_TICK_BOX + 5).add("taken", _LABEL)

    code = bar_code(row.tag, width - _TAG_WIDTH, _TAG_WIDTH, _BAR_CODE_HEIGHT)
    tag = Cell(width - _TAG_WIDTH, _TAG_WIDTH)
    if code:
        marks.append(code)
        tag.space_above = _BAR_CODE_HEIGHT + 2
    tag.add(row.tag, _NAME)
    if not code:
        tag.add("cannot be set as a bar code", _LABEL)
    mark = "maker's batch" if row.tracking is Tracking.BATCH else "serial"
    tag.add(f"{mark} {row.serial}" if row.serial else str(row.tracking), _DETAIL)
    bin_cell = Cell(_BIN_X, _BIN_WIDTH).add(row.bin_name, _BIN)
    return Block(
        [bin_cell, part, quantity, tag],
        marks=marks,
        height_min=_TICK_BOX + 10,
        pad=5,
        rule=HAIR,
        edge=AMBER if row.alternate_for else None,
        column_head=head,
    )


def _short_block(short: ShortRow, where: str, width: float) -> Block:
    near = Cell(_PART_X + 180, width - _PART_X - 180)
    near.add("Nearest, and what bars each" if short.near_misses else _NOTHING_LIKE_IT, _LABEL)
    for miss in short.near_misses:
        near.add(f"{miss.what}: {miss.bar}", _DETAIL)
    return Block(
        [
            Cell(0, _BIN_X + _BIN_WIDTH)
            .add("SHORT", _SHORT)
            .add(quantity_words(short.quantity_missing, short.measure), _BIN)
            .add("missing", _LABEL),
            Cell(_PART_X, 180 - _GUTTER)
            .add(short.part_name, _NAME)
            .add(short.part_number, _NUMBER)
            .add(f"For {where}: {short.station}" if where else f"For {short.station}", _STATION),
            near,
        ],
        pad=5,
        rule=HAIR,
        edge=RED,
    )


def _fit_blocks(pick_list: PickList, where: Mapping[str, str], width: float) -> Iterator[Block]:
    """How what is fetched fits together, and what is done about it on assembly."""
    if not pick_list.fits:
        return
    name_width, figure_x = width * 0.42, width * 0.44
    yield Block([Cell(0, width).add("Fits", _HEADING)], pad=9, with_next=True)
    head = Block(
        [
            Cell(0, name_width).add("Fit, and between which two", _LABEL),
            Cell(figure_x, width - figure_x).add("Clearance, and what to do on assembly", _LABEL),
        ],
        pad=2,
        rule=INK,
        with_next=True,
    )
    yield head
    for fit in pick_list.fits:
        at = where[fit.pull_number]
        left = Cell(0, name_width).add(f"{at}: {fit.name}" if at else fit.name, _NAME)
        left.add(fit.between, _DETAIL)
        right = Cell(figure_x, width - figure_x)
        right.add(str(fit.sign).capitalize(), _ALTERNATE if fit.to_do or not fit.measured else _NAME)
        right.add(fit.words, _DETAIL)
        if fit.to_do:
            right.add(fit.to_do, _STATION)
        yield Block([left, right], pad=4, rule=HAIR, column_head=head)


def _hand_over_block(width: float) -> Block:
    third = width / 3
    cells, marks = [], []
    for place, label in enumerate(("Fetched by", "Checked by", "Date")):
        cells.append(Cell(place * third, third - _GUTTER).add(label, _LABEL))
        marks.append(box(place * third, 13, third - _GUTTER, 24))
    return Block(cells, marks=marks, height_min=58, pad=10)


def write_pick_list_xlsx(pick_list: PickList, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the pick list as a workbook; Refused if the target cannot be written."""
    warning = "" if pick_list.fits_checked else FITS_NOT_CHECKED
    head = BookHead(pick_list.workshop, _title(pick_list), pick_list.printed_at, warning)
    tables = [
        _fetch_table(pick_list),
        _short_table(pick_list),
        _fit_table(pick_list),
        _pull_table(pick_list),
    ]
    write_whole(workbook_of(tables, head, page), target)


def _fetch_table(pick_list: PickList) -> Table:
    columns = (
        Column("Got", 5),
        Column("Bin", 11),
        Column("Tag", 14),
        Column("Quantity", 9, Kind.NUMBER),
        Column("Unit", 6),
        Column("Taken", 8, Kind.NUMBER),
        Column("Part number", 14),
        Column("Part", 20),
        Column("Goes to", 22),
        Column("Pull", 10),
        Column("Look out", 24),
        Column("Standing", 18),
        Column("Serial", 12),
        Column("Papers", 20),
        Column("Hours", 12),
        Column("Why this one", 24),
    )
    where = _where(pick_list)
    rows = []
    for row in in_walking_order(pick_list.rows):
        figure, unit = quantity_and_unit(row.quantity, row.measure)
        values = (
            "☐",
            row.bin_name,
            row.tag,
            figure,
            unit,
            None,
            row.part_number,
            row.part_name,
            f"{where[row.pull_number]}: {row.station}",
            row.pull_number,
            "\n".join([*_alternate_words(row), *hazard_words(row.hazards), *row.remarks]),
            standing_words(row.condition, row.scope),
            row.serial,
            row.papers,
            row.hours,
            row.why,
        )
        rows.append(Row(values, Mark.ALTERNATE if row.alternate_for else Mark.NONE))
    return Table("To fetch", _summary(pick_list), columns, rows)


def _short_table(pick_list: PickList) -> Table:
    columns = (
        Column("Pull", 11),
        Column("Goes to", 32),
        Column("Part number", 16),
        Column("Part", 28),
        Column("SHORT by", 10, Kind.NUMBER),
        Column("Unit", 6),
        Column("Nearest, and what bars each", 70),
    )
    where = _where(pick_list)
    rows = []
    for short in pick_list.short_rows:
        figure, unit = quantity_and_unit(short.quantity_missing, short.measure)
        near = "\n".join(f"{miss.what}: {miss.bar}" for miss in short.near_misses) or _NOTHING_LIKE_IT
        station = f"{where[short.pull_number]}: {short.station}"
        values = (short.pull_number, station, short.part_number, short.part_name, figure, unit, near)
        rows.append(Row(values, Mark.SHORT))
    return Table("Short", "what is short", columns, rows)


def _fit_table(pick_list: PickList) -> Table:
    columns = (
        Column("Pull", 11),
        Column("Goes to", 30),
        Column("Fit", 26),
        Column("Between", 40),
        Column("Stands", 20),
        Column("Clearance", 44),
        Column("To do on assembly", 40),
    )
    where = _where(pick_list)
    rows = [
        Row(
            (
                fit.pull_number,
                where[fit.pull_number],
                fit.name,
                fit.between,
                str(fit.sign),
                fit.words,
                fit.to_do,
            ),
            Mark.ALTERNATE if fit.to_do or not fit.measured else Mark.NONE,
        )
        for fit in pick_list.fits
    ]
    return Table("Fits", "the fits", columns, rows)


def _pull_table(pick_list: PickList) -> Table:
    columns = (
        Column("Pull", 11),
        Column("Engine", 24),
        Column("Engine type", 18),
        Column("Position", 18),
        Column("Use", 16),
        Column("Asked by", 24),
        Column("Asked on", 12, Kind.DATE),
        Column("Stands as", 30),
    )
    rows = [
        Row(
            (
                pull.number,
                pull.engine,
                pull.engine_type,
                pull.position,
                str(pull.use),
                pull.asked_by,
                pull.asked_on,
                _PROPOSED if pull.proposed else "Reserved or issued",
            )
        )
        for pull in pick_list.pulls
    ]
    return Table("Pulls", "the pulls", columns, rows)
