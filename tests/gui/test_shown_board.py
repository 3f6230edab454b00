"""What the shortage board says of each part, by hand-made values and without a window."""

from __future__ import annotations

from dataclasses import replace

from gui.shown import Sort
from gui.shown_need import Spread, standing_of
from gui.views.shown_board import (
    BELIEF_ALONE,
    NOT_READ,
    NOTHING_FITS,
    NOTHING_HERE,
    BoardFilter,
    ShownBoard,
)
from tests.gui.board_values import BOARD, SPRING, VALVE, WIRE, reasons


def board() -> ShownBoard:
    shown = ShownBoard()
    shown.set_board(BOARD)
    return shown


def said(shown: ShownBoard, with_reasons: bool = False, row=VALVE) -> str:
    return "\n".join(
        part for each in shown.words(row, with_reasons) for part in (each.heading, *each.lines) if part
    )


def test_each_row_says_need_stock_chance_and_from_when_by_mark_and_word() -> None:
    page = board().page(0, 10, None, "")
    assert [row.cells for row in page.rows] == [
        ("LV0432-5", "exhaust valve", "4.2 (2 to 7)", "1", "2", "62 %", "! short 2026-06",
         "Linnet One, Linnet Two (one flies)"),
        ("LS0410-2", "valve spring", "6.1 (4 to 9)", "9", "0", "8 %", "◷ watch 2026-07", "Dabchick One"),
        ("LW0001-8", "locking wire", "1.25 (0.5 to 2) m", "25 m", "0 m", "0 %", "✓ enough", ""),
    ]  # fmt: skip
    assert [row.sign for row in page.rows] == ["runs short", "to watch", "enough in sight"]


def test_the_worst_stand_first_and_a_heading_sorts_by_figures() -> None:
    by_need = board().page(0, 10, Sort("need", descending=True), "")
    assert [row.key for row in by_need.rows] == [SPRING.part, VALVE.part, WIRE.part]
    assert [row.key for row in board().page(0, 10, None, "spring").rows] == [SPRING.part]


def test_the_filters_let_through_an_engine_a_family_and_what_stops_one_that_flies() -> None:
    shown = board()
    assert [each.key for each in shown.engines()] == ["Dabchick One", "Linnet One", "Linnet Two"]
    shown.filter = BoardFilter(engine="Dabchick One")
    assert shown.shown() == (SPRING,)
    shown.filter = BoardFilter(family="LV valves", flying=True)
    assert shown.shown() == (VALVE,)
    assert shown.filter.words == "of LV valves, what stops a flying engine"
    shown.filter = BoardFilter(engine="Dabchick One", flying=True)
    assert shown.first_part() is None
    assert shown.empty() == NOTHING_FITS


def test_a_filter_that_a_new_board_does_not_have_is_taken_away() -> None:
    shown = board()
    shown.filter = BoardFilter("Dabchick One", "LS springs", True)
    shown.set_board(replace(BOARD, rows=(VALVE,)))
    assert shown.filter == BoardFilter(flying=True)


def test_an_empty_board_says_what_would_stand_there_and_a_board_to_come_that_it_comes() -> None:
    shown = ShownBoard()
    assert shown.empty() == NOT_READ
    shown.set_board(replace(BOARD, rows=()))
    assert shown.empty() == NOTHING_HERE
    assert shown.tab_words() == ""


def test_the_head_counts_and_names_what_the_shop_has_chosen() -> None:
    shown = board()
    assert shown.told().startswith("3 parts: 1 short, of which 1 would stop a flying engine; 1 to watch.")
    assert "5 %" in shown.told_thresholds()
    assert shown.tab_words() == "! 1 short"


def test_of_the_chosen_part_it_is_said_how_sure_what_it_stops_and_what_to_do() -> None:
    words = said(board())
    assert words.startswith(
        "62 % chance of running short by the end of 2026-08: 4.2 off wanted on average, 2 to 7 with 80 %;"
        " 1 off free, 2 off coming."
    )
    assert "Would stop a flying engine: Linnet One, Linnet Two." in words
    assert "LV0432-6" in words
    assert "• Have made, 12 off: Alder Foundry makes no fewer, 84.00 GBP each." in words
    assert "it is to be watched" in said(board(), row=SPRING)
    assert "enough in sight" in said(board(), row=WIRE)
    assert "ask round" in said(board(), row=replace(VALVE, advice=()))


def test_what_it_rests_on_is_said_when_asked_with_every_ground_and_their_sum() -> None:
    shown = board()
    assert "being worked out" in said(shown, True)
    shown.reasons = reasons(VALVE)
    words = said(shown, True)
    assert "What will be wanted by the end of 2026-08\n• 3.6 off: Linnet One is opened" in words
    assert "4.2 off altogether, on average." in words
    assert "• 2.0 off: order D00004 of Alder Foundry, due 2026-05-01." in words
    assert "3.0 off altogether" in words
    assert "The rate rests on 14 pieces looked at." in words
    assert "being worked out" in said(shown, True, SPRING), "those are another part's reasons"


def test_where_the_belief_alone_speaks_or_it_is_simulated_it_says_so() -> None:
    shown = board()
    shown.reasons = reasons(SPRING)
    assert BELIEF_ALONE in said(shown, True, SPRING)
    shown.reasons = reasons(WIRE)
    assert "simulated, ± 0.4 % (one standard error)" in said(shown, True, WIRE)
    assert "1 piece looked at" in said(shown, True, WIRE)


def test_the_chart_has_the_chances_at_once_and_need_and_supply_when_they_are_read() -> None:
    shown = board()
    first = shown.picture(VALVE)
    assert [month.chance for month in first.months] == list(VALVE.chances)
    assert [month.sign for month in first.months[2:5]] == ["enough in sight", "to watch", "runs short"]
    assert (first.watch, first.short, first.unit) == (0.05, 0.2, "off")
    assert first.months[-1].need is None
    shown.reasons = reasons(VALVE)
    last = shown.picture(VALVE).months[-1]
    assert (last.need, last.supply) == (Spread(2, 4.2, 7), Spread(1, 3, 3))
    assert last.told == (
        "By the end of 2026-08: 62 % chance of running short."
        " Wanted: 4.2 off (2 to 7). There will be: 3.0 off (1 to 3)."
    )
    shown.reasons = reasons(WIRE)
    assert shown.picture(WIRE).months[-1].need == Spread(0.5, 1.25, 2.0), "in metres"


def test_a_chance_on_a_threshold_has_reached_it() -> None:
    assert standing_of(0.2, 0.05, 0.2) == "runs short"
    assert standing_of(0.05, 0.05, 0.2) == "to watch"
    assert standing_of(0.0499, 0.05, 0.2) == "enough in sight"
