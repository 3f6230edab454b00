"""The chart of fits by cylinder: figures lie where they belong, and the keys go along them."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from gui.shown import ChartBand, ChartLine, ChartPoint, ChartStrip
from gui.widgets.fit_chart import FitChart, scale_of, told_of
from tests.gui.desk import Desk

figures = st.floats(-1000, 1000)


def point(name: str, mean: float | None, sign: str = "within new limits") -> ChartPoint:
    figure = "" if mean is None else f"{mean:.3f}"
    return ChartPoint(name, mean, mean, mean, figure, sign, mean is not None, f"T{name} is meant")


SKIRT = ChartStrip(
    "skirt",
    "piston in bore",
    "0.30 to 0.40 mm",
    "1 too loose",
    "too loose",
    (ChartBand(0.30, 0.40, "within new limits"), ChartBand(0.40, 0.55, "within worn limits")),
    (ChartLine(0.30, "minimum 0.300", "out of limits"), ChartLine(0.33, "target 0.330")),
    (point("1", 0.31), point("2", 0.58, "too loose"), point("3", None, "to be measured")),
)
MASS = ChartStrip("mass", "masses", "within 5 g", "", "within new limits", (), (), (point("1", 1200.0),))


def shown(desk: Desk) -> tuple[FitChart, list[tuple[str, str]], list[str]]:
    chosen: list[tuple[str, str]] = []
    opened: list[str] = []
    chart = FitChart(
        desk.root,
        desk.theme,
        on_choose=lambda strip, each: chosen.append((strip.name, each.name)),
        on_open=lambda _strip, each: opened.append(each.name),
    )
    chart.pack(fill="both", expand=True)
    chart.show((SKIRT, MASS))
    desk.root.update()
    chart.canvas.focus_force()
    desk.root.update()
    return chart, chosen, opened


def texts(chart: FitChart, tag: str) -> list[str]:
    return [str(chart.canvas.itemcget(item, "text")) for item in chart.canvas.find_withtag(tag)]


def test_every_cylinder_has_its_figure_with_its_mark(desk: Desk) -> None:
    chart, _chosen, _opened = shown(desk)
    assert texts(chart, "figure") == ["✓ 0.310", "✕ 0.580", "?", "✓ 1200.000"]
    assert texts(chart, "words")[:3] == ["piston in bore", "0.30 to 0.40 mm", "1 too loose"]
    assert texts(chart, "limit_words") == ["target 0.330", "minimum 0.300"]


def test_of_twelve_cylinders_every_figure_can_be_read(desk: Desk) -> None:
    chart, _chosen, _opened = shown(desk)
    banks = tuple(point(f"{bank}{at}", 0.3012) for bank in "AB" for at in range(1, 7))
    chart.show((replace(SKIRT, points=banks),))
    desk.root.geometry("620x400")
    desk.root.update()
    assert texts(chart, "figure") == ["✓ 0.301"] * 12
    boxes = [chart.canvas.bbox(item) for item in chart.canvas.find_withtag("figure")]
    assert len({box[1] for box in boxes}) == 2, "every other one stands lower"
    for one, other in combinations(boxes, 2):
        beside = one[2] <= other[0] or other[2] <= one[0]
        assert beside or one[3] <= other[1] or other[3] <= one[1], "no figure lies upon another"


def test_what_is_chosen_is_in_sight_when_it_is_read_again(desk: Desk) -> None:
    chart, _chosen, _opened = shown(desk)
    many = tuple(replace(SKIRT, key=at, name=f"fit {at}") for at in range(12))
    chart.show(many)
    chart.choose(11, "2")
    chart.stack.scroll_to(0)
    chart.show(many)
    desk.root.update()
    assert "fit 11" in texts(chart, "words")


def test_what_is_larger_lies_higher_and_what_is_not_known_is_not_drawn(desk: Desk) -> None:
    chart, _chosen, _opened = shown(desk)
    means = [chart.canvas.coords(item)[1] for item in chart.canvas.find_withtag("mean")]
    assert len(means) == 3
    limits = [chart.canvas.coords(item)[1] for item in chart.canvas.find_withtag("limit")]
    minimum, target = limits
    assert means[1] < target < means[0] < minimum


def test_the_arrows_go_from_cylinder_to_cylinder_and_from_row_to_row(desk: Desk) -> None:
    chart, chosen, opened = shown(desk)
    desk.press("<Right>", "<Right>", "<Right>", "<Down>", "<Up>", "<Left>", "<Return>")
    assert chosen == [
        ("piston in bore", "1"),
        ("piston in bore", "2"),
        ("piston in bore", "3"),
        ("piston in bore", "3"),
        ("masses", "1"),
        ("piston in bore", "1"),
        ("piston in bore", "1"),
    ]
    assert opened == ["1"]
    assert chart.chosen() is not None


def test_a_click_chooses_the_cylinder_and_it_stays_chosen_when_read_again(desk: Desk) -> None:
    chart, chosen, _opened = shown(desk)
    left, top, right, bottom = chart.canvas.bbox(chart.canvas.find_withtag("mean")[1])
    desk.click(chart.canvas, (left + right) / 2, (top + bottom) / 2)
    assert chosen[-1] == ("piston in bore", "2")
    chart.show((MASS, SKIRT))
    assert chart.chosen() == (SKIRT, SKIRT.points[1])


def test_pointing_tells_the_pieces_and_beside_them_the_row(desk: Desk) -> None:
    chart, _chosen, _opened = shown(desk)
    left, _top, right, _bottom = chart.canvas.bbox(chart.canvas.find_withtag("mean")[1])
    chart.pointed_x = (left + right) // 2
    assert chart.told_at(0) == "piston in bore, 2: ✕ too loose\nT2 is meant"
    chart.pointed_x = 4
    assert chart.told_at(0) == "piston in bore\n0.30 to 0.40 mm\n1 too loose"
    assert told_of(MASS, MASS.points[0]).startswith("masses, 1: ✓")


def test_a_chart_with_nothing_in_it_takes_the_keys_without_harm(desk: Desk) -> None:
    chart, chosen, _opened = shown(desk)
    chart.show(())
    before = len(chosen)
    desk.press("<Right>", "<Down>", "<Return>")
    assert len(chosen) == before and chart.chosen() is None


@given(st.lists(figures, max_size=6), figures, figures)
def test_all_that_a_row_shows_lies_within_it(means: list[float], low: float, high: float) -> None:
    points = tuple(point(str(at), mean) for at, mean in enumerate(means))
    strip = ChartStrip("x", "x", "", "", "", (), (ChartLine(low, "low"), ChartLine(high, "high")), points)
    scale = scale_of(strip, 20.0, 120.0)
    for value in (*means, low, high):
        assert 20.0 <= scale.at(value) <= 120.0
