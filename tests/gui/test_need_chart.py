"""The chart of need and supply, and the small one in each row of the board: drawn, and walked by the keys."""

from __future__ import annotations

from itertools import pairwise

import pytest

from gui.shown_need import NeedPicture
from gui.views.shown_board import ShownBoard
from gui.widgets.chance_picture import ChancePictures
from gui.widgets.need_chart import NeedChart, ticks_of
from tests.gui.board_values import BOARD, MONTHS, VALVE, reasons
from tests.gui.desk import Desk


def picture(*, with_reasons: bool = True) -> NeedPicture:
    shown = ShownBoard()
    shown.set_board(BOARD)
    shown.reasons = reasons(VALVE) if with_reasons else None
    return shown.picture(VALVE)


def drawn(desk: Desk, shown: NeedPicture) -> tuple[NeedChart, list[str]]:
    told: list[str] = []
    chart = NeedChart(
        desk.root, desk.theme, on_leave=lambda: told.append("left"), on_open=lambda: told.append("opened")
    )
    chart.pack(fill="both", expand=True)
    chart.show(shown)
    desk.root.update()
    chart.canvas.focus_force()
    desk.root.update()
    return chart, told


def texts(chart: NeedChart, tag: str) -> list[str]:
    return [str(chart.canvas.itemcget(item, "text")) for item in chart.canvas.find_withtag(tag)]


def test_both_thresholds_are_marked_and_the_chance_lies_above_those_it_has_passed(desk: Desk) -> None:
    chart, _told = drawn(desk, picture())
    assert texts(chart, "threshold_words") == ["! short from 20 %", "◷ watched from 5 %"]
    short, watch = (chart.canvas.coords(item)[1] for item in chart.canvas.find_withtag("threshold"))
    dots = [chart.canvas.coords(item) for item in chart.canvas.find_withtag("month")]
    heights = [(top + bottom) / 2 for _left, top, _right, bottom in dots]
    assert heights == sorted(heights, reverse=True), "the chance only grows"
    assert heights[4] < short < heights[3] < watch < heights[2]


def test_need_and_supply_are_drawn_once_they_are_known_each_with_its_range(desk: Desk) -> None:
    chart, _told = drawn(desk, picture(with_reasons=False))
    assert not chart.canvas.find_withtag("band")
    assert chart.canvas.find_withtag("chance")
    chart.show(picture())
    assert len(chart.canvas.find_withtag("band")) == 2
    assert len(chart.canvas.find_withtag("mean")) == 2 * (len(MONTHS) - 1)


def test_the_arrows_go_from_month_to_month_and_tell_each(desk: Desk) -> None:
    chart, told = drawn(desk, picture())
    assert chart.told().startswith("By the end of 2026-08: 62 %"), "one stands on the last month first"
    desk.press("<Left>", "<Left>")
    assert chart.told().startswith("By the end of 2026-06: 24 %")
    desk.press("<Home>")
    assert chart.told().startswith("By the end of 2026-02: 0 %")
    assert " ".join(texts(chart, "told")) == chart.told()
    desk.press("<Return>", "<Escape>")
    assert told == ["opened", "left"]


def test_a_click_chooses_the_month_under_the_pointer(desk: Desk) -> None:
    chart, _told = drawn(desk, picture())
    left, top, right, bottom = chart.canvas.bbox(chart.canvas.find_withtag("month")[3])
    desk.click(chart.canvas, (left + right) / 2, (top + bottom) / 2)
    assert chart.told().startswith("By the end of 2026-05: 11 %")


def test_the_words_of_a_small_chart_stay_apart(desk: Desk) -> None:
    desk.root.geometry("420x230")
    chart, _told = drawn(desk, picture())
    for tag in ("axis", "threshold_words"):
        boxes = [chart.canvas.bbox(item) for item in chart.canvas.find_withtag(tag)]
        for one, other in pairwise(boxes):
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
    assert max(chart.canvas.bbox(item)[2] for item in chart.canvas.find_withtag("threshold_words")) <= 420


def test_where_there_is_little_room_the_chances_have_it_to_themselves(desk: Desk) -> None:
    desk.root.geometry("420x150")
    chart, _told = drawn(desk, picture())
    assert chart.canvas.find_withtag("chance")
    assert not chart.canvas.find_withtag("mean")


@pytest.mark.parametrize(
    ("most", "least", "figures"),
    [
        (1.0, 1.0, [0, 1]),
        (7.7, 1.0, [0, 2, 4, 6]),
        (60.0, 1.0, [0, 20, 40, 60]),
        (0.9, 0.001, [0, 0.5]),
    ],
)
def test_figures_of_the_scale_are_round(most: float, least: float, figures: list[float]) -> None:
    assert ticks_of(most, 4, least) == pytest.approx(figures)


def test_a_row_is_drawn_a_bar_a_month_in_the_colours_of_the_theme(desk: Desk) -> None:
    pictures = ChancePictures(desk.theme)
    image = pictures.of((0.0, 1.0), 0.05, 0.2)
    assert pictures.of((0.0, 1.0), 0.05, 0.2) is image, "drawn once"
    width, height = image.width(), image.height()
    assert image.transparency_get(width // 4, 0), "no chance, no bar"
    assert not image.transparency_get(width * 3 // 4, 1)
    desk.theme.set_dark(True)
    assert pictures.of((0.0, 1.0), 0.05, 0.2).get(width * 3 // 4, height // 2) != image.get(
        width * 3 // 4, height // 2
    )
