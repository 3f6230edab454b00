"""Any type draws from its data: no cylinder touches another, and each can be reached and read."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.shown import Cylinder, CylinderShape
from gui.widgets.cylinder_shapes import Placed, Point, case_circle, case_hull, hung_down, placed
from gui.widgets.engine_picture import EnginePicture, told_of
from invdb.terms import Layout
from tests.gui.desk import Desk

STATES = (
    ("complete", 1.0, "14/14"),
    ("with alternate", 1.0, "14/14"),
    ("short", 12 / 14, "12/14"),
    ("blocked", 9 / 14, "9/14"),
)


def cylinder(name: str, x: float, y: float, angle: float, number: int) -> Cylinder:
    state, filled, figure = STATES[number % len(STATES)]
    return Cylinder(name, x, y, angle, CylinderShape.FINNED, filled, figure, state, "waits for two springs")


def radial(count: int) -> list[Cylinder]:
    turn = 2 * math.pi / count
    return [
        cylinder(str(n + 1), math.sin(n * turn), math.cos(n * turn), math.degrees(n * turn), n)
        for n in range(count)
    ]


def in_line(count: int) -> list[Cylinder]:
    return [cylinder(str(n + 1), float(n), 0.0, 0.0, n) for n in range(count)]


def vee(count: int) -> list[Cylinder]:
    """Two banks in plan: A above the crankshaft, B beneath it, number 1 at the left."""
    return [
        cylinder(f"{bank}{n + 1}", float(n), side * 1.3, 90 - side * 90, n)
        for bank, side in (("A", 1), ("B", -1))
        for n in range(count)
    ]


ENGINES = {
    "Linnet": (radial(7), Layout.RADIAL),
    "Dabchick": (in_line(4), Layout.IN_LINE),
    "Twelve": (vee(6), Layout.VEE),
}
every_engine = pytest.mark.parametrize("name", sorted(ENGINES))


def boxes(each: Placed) -> list[list[Point]]:
    """The barrel and the head of one cylinder, as the corners of two boxes; fins may pass each other."""
    outline = each.outline()
    return [[outline[0], outline[1], outline[-2], outline[-1]], outline[2:6]]


def apart(one: list[Point], other: list[Point]) -> bool:
    """Whether a line can be drawn between two boxes (the separating axis theorem)."""
    for shape in (one, other):
        for (ax, ay), (bx, by) in zip(shape, shape[1:] + shape[:1], strict=True):
            spans = [[(x * (by - ay) - y * (bx - ax)) for x, y in each] for each in (one, other)]
            if max(spans[0]) <= min(spans[1]) or max(spans[1]) <= min(spans[0]):
                return True
    return False


def none_touch(engine: list[Placed]) -> bool:
    pairs = combinations(engine, 2)
    return all(apart(mine, yours) for one, other in pairs for mine in boxes(one) for yours in boxes(other))


@given(st.integers(3, 11))
def test_a_radial_of_any_size_has_room_for_each(count: int) -> None:
    engine = placed(radial(count), Layout.RADIAL)
    assert none_touch(engine)


@given(st.integers(1, 8))
def test_a_row_of_any_length_has_room_for_each(count: int) -> None:
    engine = placed(in_line(count), Layout.IN_LINE)
    assert none_touch(engine)


@given(st.integers(1, 8))
def test_two_banks_have_room_for_each(count: int) -> None:
    assert none_touch(placed(vee(count), Layout.VEE))
    assert none_touch(placed(hung_down(vee(count)), Layout.VEE))


def test_an_inverted_vee_hangs_downward_with_number_one_on_top() -> None:
    engine = {each.cylinder.name: each for each in placed(hung_down(vee(6)), Layout.VEE)}
    for name, each in engine.items():
        assert each.at(1, 0)[1] > each.at(0, 0)[1], name
        outward = each.at(1, 0)[0] - each.at(0, 0)[0]
        assert outward < 0 if name.startswith("A") else outward > 0
    assert engine["A1"].at(0.5, 0)[1] < engine["A2"].at(0.5, 0)[1]


def test_a_radials_case_is_round_and_its_cylinders_stand_on_it() -> None:
    engine = placed(radial(7), Layout.RADIAL)
    middle, radius = case_circle(engine)
    assert middle == pytest.approx((0, 0), abs=1e-9)
    for each in engine:
        assert math.dist(each.at(0, 0), middle) == pytest.approx(radius)


@every_engine
def test_the_case_holds_every_foot(name: str) -> None:
    engine = placed(*ENGINES[name])
    hull = case_hull(engine)

    def inside(point: Point) -> bool:
        turns = [
            (bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax)
            for (ax, ay), (bx, by) in zip(hull, hull[1:] + hull[:1], strict=True)
        ]
        return min(turns) >= -1e-9

    assert all(inside(each.at(0, 0)) for each in engine)


def shown(desk: Desk, name: str, *, size: str = "900x700") -> tuple[EnginePicture, list[str], list[str]]:
    desk.root.geometry(size)
    chosen: list[str] = []
    opened: list[str] = []
    picture = EnginePicture(desk.root, desk.theme, on_choose=chosen.append, on_open=opened.append)
    picture.pack(fill="both", expand=True)
    cylinders, layout = ENGINES[name]
    picture.show(cylinders, layout, inverted=name == "Twelve", title=name, caption="seen from the rear")
    desk.root.update()
    picture.focus_force()
    desk.root.update()
    return picture, chosen, opened


def texts(picture: EnginePicture) -> str:
    return " ".join(
        picture.itemcget(item, "text") for item in picture.find_all() if str(picture.type(item)) == "text"
    )


@every_engine
def test_each_cylinder_says_its_name_its_figure_and_its_state_in_words(desk: Desk, name: str) -> None:
    picture, _chosen, _opened = shown(desk, name, size="1280x900")
    said = texts(picture)
    for each in ENGINES[name][0]:
        assert each.name in said
    for word in ("12/14", "complete", "alternate", "short", "blocked", "✓", "⇄", "◔", "⊗"):
        assert word in said, word


@every_engine
@pytest.mark.parametrize("unit", [1.0, 0.001, 1000.0])
def test_all_of_it_stays_within_the_picture(desk: Desk, name: str, unit: float) -> None:
    for size in ("420x360", "1280x500", "500x900"):
        picture, _chosen, _opened = shown(desk, name, size=size)
        cylinders, layout = ENGINES[name]
        picture.show([replace(each, x=each.x * unit, y=each.y * unit) for each in cylinders], layout)
        left, top, right, bottom = picture.bbox("all")
        assert right - left > picture.winfo_width() / 3 or bottom - top > picture.winfo_height() / 3
        assert left >= 0 and top >= 0, size
        assert right <= picture.winfo_width() and bottom <= picture.winfo_height(), size
        picture.destroy()


@every_engine
def test_tab_walks_through_every_cylinder_and_then_on(desk: Desk, name: str) -> None:
    picture, chosen, opened = shown(desk, name)
    names = [each.name for each in ENGINES[name][0]]
    for _ in names:
        desk.press("<Tab>")
    assert chosen == names
    desk.press("<Return>")
    assert opened == [names[-1]]
    desk.press("<Tab>")
    assert picture.chosen() == names[-1]


def test_arrows_go_where_they_point(desk: Desk) -> None:
    picture, _chosen, _opened = shown(desk, "Linnet")
    desk.press("<Right>")
    assert picture.chosen() == "1"
    desk.press("<Right>")
    assert picture.chosen() == "2"
    desk.press("<Down>")
    assert picture.chosen() == "3"
    picture.choose("1")
    desk.press("<Up>")
    assert picture.chosen() == "1", "there is nothing above the top cylinder"


def test_from_one_bank_across_to_the_other(desk: Desk) -> None:
    picture, _chosen, _opened = shown(desk, "Twelve")
    picture.choose("A3")
    desk.press("<Right>")
    assert picture.chosen() == "B3"
    desk.press("<Down>", "<Left>")
    assert picture.chosen() == "A4"


def test_a_click_chooses_and_a_double_click_opens(desk: Desk) -> None:
    picture, chosen, opened = shown(desk, "Dabchick")
    left, top, right, bottom = picture.bbox("cylinder2")
    desk.click(picture, (left + right) / 2, (top + bottom) / 2)
    assert chosen == ["3"] and opened == []
    left, top, right, bottom = picture.bbox("cylinder0")
    desk.click(picture, (left + right) / 2, (top + bottom) / 2, times=2)
    assert chosen == ["3", "1"] and opened == ["1"]


def test_the_chosen_one_is_outlined_and_stays_so_when_read_again(desk: Desk) -> None:
    picture, _chosen, _opened = shown(desk, "Linnet")
    assert not picture.find_withtag("chosen")
    picture.choose("4")
    assert picture.find_withtag("chosen")
    picture.show(radial(7), Layout.RADIAL)
    assert picture.chosen() == "4"
    picture.show(in_line(3), Layout.IN_LINE)
    assert picture.chosen() is None


def test_it_wears_the_themes_colours_at_once(desk: Desk) -> None:
    picture, _chosen, _opened = shown(desk, "Linnet")
    desk.theme.set_dark(True)
    desk.root.update()
    assert picture.cget("background") == desk.theme.palette.ground


def test_pointing_tells_all_of_it() -> None:
    assert told_of(cylinder("5", 0, 0, 0, 2)) == "Cylinder 5: 12/14, ◔ short\nwaits for two springs"
