"""The shortage list as tables for the workbook: the parts, their chances by month, and a chart for each."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from openpyxl.chart import BarChart, LineChart
from openpyxl.chart.data_source import StrData, StrRef, StrVal
from openpyxl.chart.marker import Marker
from openpyxl.chart.series import Series
from openpyxl.chart.series_factory import SeriesFactory
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText, Text
from openpyxl.chart.title import Title
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Paragraph, ParagraphProperties
from openpyxl.utils import get_column_letter

from invdb.paper.sheet_xlsx import FIRST_ROW, CellValue, Column, Kind, Mark, Row, Table, cell_text
from invdb.paper.short_words import (
    NO_WAY_KNOWN,
    NOTHING_SHORT,
    advice_words,
    horizon_words,
    in_unit,
    month_words,
    rests_words,
    rounded,
    summary,
    unit_of,
)
from invdb.rules.short_facts import ShortBoard, ShortList, ShortRow

# A workbook with thousands of charts opens in no useful time; the figures of the rest are by month.
CHARTS_MAX = 100

_BY_MONTH = "By month"
_MONTHS_FROM_COLUMN = 3
_CHART_LINES = 11
_CHART_CENTIMETRES = (14, 5)
_AXIS_POINTS = 8
_BAR_COLOUR, _WATCH_COLOUR, _SHORT_COLOUR = "5C6168", "854A00", "9E0F14"


def short_tables(short_list: ShortList) -> list[Table]:
    """A worksheet each: the parts, the chances by month, the charts, and by what it was reckoned."""
    board = short_list.board
    return [_part_table(board), _month_table(board), _chart_table(board), _setting_table(short_list)]


def _part_table(board: ShortBoard) -> Table:
    columns = (
        Column("Part number", 14),
        Column("Part", 24),
        Column("Family", 14),
        Column("Chance of being short", 10, Kind.PERCENT),
        Column("Short on average", 10, Kind.NUMBER),
        Column("SHORT from", 11, Kind.DATE),
        Column("To watch from", 11, Kind.DATE),
        Column("Need on average", 10, Kind.NUMBER),
        Column("Need, low end of 80 %", 10, Kind.NUMBER),
        Column("Need, high end of 80 %", 10, Kind.NUMBER),
        Column("Free", 8, Kind.NUMBER),
        Column("Coming", 8, Kind.NUMBER),
        Column("Unit", 6),
        Column("Would stop", 24),
        Column("Stops a flying engine", 10),
        Column("What to do", 50),
        Column("Shares its stock with", 18),
        Column("What it rests on", 30),
    )
    return Table(
        "Short", summary(board), columns, [Row(_values(row), _mark(row)) for row in board.rows], NOTHING_SHORT
    )


def _mark(row: ShortRow) -> Mark:
    return Mark.SHORT if row.first_short else Mark.ALTERNATE if row.first_watch else Mark.NONE


def _values(row: ShortRow) -> Sequence[CellValue]:
    to_do = [advice_words(advice, row.measure) for advice in row.advice]
    if not to_do and row.first_short is not None:
        to_do = [NO_WAY_KNOWN]
    return (
        row.house_number,
        row.name,
        row.family,
        _chance(row.p_short),
        rounded(row.expected_short, row.measure),
        row.first_short,
        row.first_watch,
        rounded(row.need_mean, row.measure),
        in_unit(row.need_low, row.measure),
        in_unit(row.need_high, row.measure),
        in_unit(row.free, row.measure),
        in_unit(row.coming, row.measure),
        unit_of(row.measure),
        ", ".join(row.engines),
        "yes" if row.stops_flying else "no",
        "\n".join(to_do),
        ", ".join(row.pooled),
        rests_words(row),
    )


def _chance(chance: float) -> Decimal:
    return Decimal(f"{chance:.6f}")


def _month_table(board: ShortBoard) -> Table:
    """A row for each part, and below them the thresholds that its charts draw across."""
    columns = [Column("Part number", 14), Column("Part", 24)]
    columns += [Column(month_words(month), 8, Kind.PERCENT) for month in board.months]
    rows = [
        Row((row.house_number, row.name, *(_chance(chance) for chance in row.chances))) for row in board.rows
    ]
    settings = board.settings
    for words, percent in (("watched from", settings.watch_percent), ("short from", settings.short_percent)):
        threshold = (_chance(percent / 100),) * len(board.months)
        rows.append(Row(("Threshold", words, *threshold), Mark.QUIET))
    # Its charts find a part by its row, so no filter here invites anyone to sort it.
    return Table(
        _BY_MONTH, "the chance of being short by the end of each month", columns, rows, filtered=False
    )


def _chart_table(board: ShortBoard) -> Table:
    shown = board.rows[:CHARTS_MAX]
    title = "the chance of being short by month"
    if len(shown) < len(board.rows):
        title += f", of the {CHARTS_MAX} worst; of all {len(board.rows)} on the sheet {_BY_MONTH}"
    columns = (Column("Part number", 14), Column("Part", 30), Column("Chance by month", 76))
    return Table(
        "Charts",
        title,
        columns,
        [Row((row.house_number, row.name, ""), lines_min=_CHART_LINES) for row in shown],
        NOTHING_SHORT,
        filtered=False,
        charts=[_chart(board, place) for place in range(len(shown))],
    )


def _chart(board: ShortBoard, place: int) -> BarChart:
    """The chances of one part as bars and both thresholds as lines, beside its name."""
    row = board.rows[place]
    bars = BarChart()
    bars.gapWidth = 25
    bars.legend = None
    bars.width, bars.height = _CHART_CENTIMETRES
    bars.anchor = f"C{FIRST_ROW + place}"
    bars.title = _title(FIRST_ROW + place, row.name)
    bars.y_axis.scaling.min, bars.y_axis.scaling.max = 0, 1
    bars.y_axis.majorUnit = 0.5
    bars.y_axis.number_format = "0%"
    # Left as they come, both axes are marked as taken away and no program draws them.
    bars.y_axis.delete = bars.x_axis.delete = False
    bars.x_axis.tickLblSkip = bars.x_axis.tickMarkSkip = max(1, len(board.months) // 6)
    bars.x_axis.txPr = bars.y_axis.txPr = _letters(_AXIS_POINTS)
    bars.append(_series(board, FIRST_ROW + place))
    bars.series[0].graphicalProperties = GraphicalProperties(solidFill=_BAR_COLOUR)
    bars.set_categories(_months(board, _HEADINGS_ROW))
    lines = LineChart()
    for below, colour in enumerate((_WATCH_COLOUR, _SHORT_COLOUR)):
        line = _series(board, FIRST_ROW + len(board.rows) + below)
        line.marker = Marker(symbol="none")
        line.smooth = False
        line.graphicalProperties = GraphicalProperties(
            ln=LineProperties(solidFill=colour, prstDash="dash", w=12_700)
        )
        lines.append(line)
    bars += lines
    return bars


def _title(number: int, name: str) -> Title:
    """The name from its own cell, so that it stays the one whose figures are drawn."""
    kept = StrData(ptCount=1, pt=[StrVal(idx=0, v=cell_text(name))])
    title = Title(tx=Text(strRef=StrRef(f"'{_BY_MONTH}'!$B${number}", strCache=kept)))
    title.overlay = False
    title.txPr = _letters(10)
    return title


def _letters(points: int) -> RichText:
    """Letters of a size for what stands in or along a chart, which otherwise takes the chart's room."""
    size = CharacterProperties(sz=points * 100, b=points > _AXIS_POINTS)
    return RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=size), endParaRPr=size)])


_HEADINGS_ROW = FIRST_ROW - 1


def _months(board: ShortBoard, number: int) -> str:
    first, last = (
        get_column_letter(column)
        for column in (_MONTHS_FROM_COLUMN, _MONTHS_FROM_COLUMN + len(board.months) - 1)
    )
    return f"'{_BY_MONTH}'!${first}${number}:${last}${number}"


def _series(board: ShortBoard, number: int) -> Series:
    series: Series = SeriesFactory(_months(board, number))
    return series


def _setting_table(short_list: ShortList) -> Table:
    board = short_list.board
    settings = board.settings
    rows = [
        Row(("Horizon", horizon_words(board))),
        Row(("Shown", f"only {short_list.only}" if short_list.only else "every part that matters")),
        Row(("Watched from a chance of", f"{settings.watch_percent} %")),
        Row(("Short from a chance of", f"{settings.short_percent} %")),
        Row(("Days to deliver, of a firm without a record", str(settings.lead_days))),
        Row(("Days to turn work round, of a firm without a record", str(settings.turn_round_days))),
    ]
    return Table("Reckoned by", "by what it was reckoned", (Column("What", 50), Column("As set", 60)), rows)
