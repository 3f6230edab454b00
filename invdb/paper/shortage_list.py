"""The shortage list on paper: which parts will be short, worst first, how sure that is, and what to do."""

from __future__ import annotations

from collections.abc import Iterator

from invdb.paper.chance_chart import chance_chart
from invdb.paper.sheet_columns import ALARM, DOUBT, SMALL, STRONG, TEXT, Ruled, section
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import AMBER, HAIR, INK, RED, Block, Cell, SheetHead, Style, pdf_of, room_width
from invdb.paper.sheet_words import PageName, instant_words
from invdb.paper.sheet_xlsx import BookHead, workbook_of
from invdb.paper.short_tables import short_tables
from invdb.paper.short_words import (
    NO_WAY_KNOWN,
    advice_words,
    chance_words,
    horizon_words,
    mean_words,
    month_words,
    need_words,
    pooled_words,
    rests_words,
    stops_words,
    summary,
    supply_words,
    threshold_words,
)
from invdb.rules.short_facts import ShortBoard, ShortList, ShortRow

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_CHANCE = Style(10, strong=True)
_BELIEF = Style(8, strong=True, colour=AMBER)
_LEGEND = (
    "The bars are the chance of being short by the end of each month, the first for now; a bar as high as "
    "its frame is certain. The broken lines are the two thresholds. Need is the average by the end of the "
    "last month, and in brackets the range that holds it with 80 %."
)

_CALM = "Below the threshold to watch"
_CALM_COLUMNS = (("Part", 40), ("Chance", 18), ("Need and supply", 40), ("What it rests on", 42))

_CHART_WIDTH, _CHART_HEIGHT = 100.0, 44.0
_PART_WIDTH, _FIGURES_WIDTH = 132.0, 125.0
_GUTTER = 9.0
_FIGURES_X = _PART_WIDTH + _GUTTER
_CHART_X = _FIGURES_X + _FIGURES_WIDTH + _GUTTER
_DO_X = _CHART_X + _CHART_WIDTH + _GUTTER


def write_shortage_list_pdf(short_list: ShortList, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the shortage list as PDF; Refused if the target cannot be written."""
    head = SheetHead(short_list.workshop, _title(short_list), instant_words(short_list.printed_at))
    write_whole(pdf_of(list(_blocks(short_list, room_width(page))), head, page), target)


def write_shortage_list_xlsx(short_list: ShortList, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the shortage list as a workbook with charts; Refused if the target cannot be written."""
    head = BookHead(short_list.workshop, _title(short_list), short_list.printed_at)
    write_whole(workbook_of(short_tables(short_list), head, page), target)


def _title(short_list: ShortList) -> str:
    only = f", only {short_list.only}" if short_list.only else ""
    return f"Shortage list of {short_list.board.day.isoformat()}{only}"


def _blocks(short_list: ShortList, width: float) -> Iterator[Block]:
    board = short_list.board
    yield Block([Cell(0, width).add("Shortage list", _TITLE)], pad=2, with_next=True)
    said = Cell(0, width).add(f"Only {short_list.only}" if short_list.only else "", _NAME)
    said.add(summary(board), _NAME).space(3)
    said.add(horizon_words(board), TEXT).add(threshold_words(board.settings), TEXT)
    yield Block([said.space(2).add(_LEGEND if board.rows else "", SMALL)], pad=4)
    if watched := [row for row in board.rows if row.first_watch is not None]:
        head = _column_head(board, width)
        yield head
        for row in watched:
            yield _row_block(row, board, width, head)
    if calm := [row for row in board.rows if row.first_watch is None]:
        yield from section(_CALM, _CALM_COLUMNS, map(_calm_row, calm), "", width)


def _calm_row(row: ShortRow) -> Ruled:
    return Ruled(
        (
            [(row.name, STRONG), f"{row.house_number} · {row.family}"],
            [chance_words(row.p_short)],
            [need_words(row), supply_words(row)],
            [(rests_words(row), SMALL if row.inspections else _BELIEF)],
        )
    )


def _column_head(board: ShortBoard, width: float) -> Block:
    spans = f"{month_words(board.months[0])} to {month_words(board.months[-1])}"
    cells = [
        Cell(0, _PART_WIDTH).add("Part, worst first", SMALL),
        Cell(_FIGURES_X, _FIGURES_WIDTH).add("Chance of being short, need and supply", SMALL),
        Cell(_CHART_X, _CHART_WIDTH).add(f"Chance by month, {spans}", SMALL),
        Cell(_DO_X, width - _DO_X).add("From when, what it would stop, what to do", SMALL),
    ]
    return Block(cells, pad=2, rule=INK, with_next=True)


def _row_block(row: ShortRow, board: ShortBoard, width: float, head: Block) -> Block:
    settings = board.settings
    part = Cell(0, _PART_WIDTH).add(row.name, STRONG).add(f"{row.house_number} · {row.family}", TEXT)
    part.add(pooled_words(row), SMALL)
    part.add(rests_words(row), SMALL if row.inspections else _BELIEF)
    figures = Cell(_FIGURES_X, _FIGURES_WIDTH)
    figures.add(f"{chance_words(row.p_short)} by {month_words(board.months[-1])}", _CHANCE)
    figures.add(need_words(row), TEXT).add(supply_words(row), TEXT)
    figures.add(f"{mean_words(row.expected_short, row.measure)} short on average", TEXT)
    chart = chance_chart(
        row.chances,
        board.months,
        (settings.watch_percent / 100, settings.short_percent / 100),
        _CHART_X,
        _CHART_WIDTH,
        _CHART_HEIGHT,
    )
    return Block(
        [part, figures, _to_do(row, width)],
        marks=[chart],
        height_min=_CHART_HEIGHT + 8,
        pad=4,
        rule=HAIR,
        edge=RED if row.first_short else AMBER if row.first_watch else None,
        column_head=head,
    )


def _to_do(row: ShortRow, width: float) -> Cell:
    cell = Cell(_DO_X, width - _DO_X)
    if row.first_short is not None:
        cell.add(f"SHORT from {month_words(row.first_short)}", ALARM)
    elif row.first_watch is not None:
        cell.add(f"To watch from {month_words(row.first_watch)}", DOUBT)
    cell.add(stops_words(row), STRONG if row.stops_flying else TEXT)
    for advice in row.advice:
        cell.add(f"– {advice_words(advice, row.measure)}", TEXT)
    if not row.advice and row.first_short is not None:
        cell.add(NO_WAY_KNOWN, TEXT)
    return cell
