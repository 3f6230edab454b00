"""A piece's life on its axis: every stretch can be pointed at, walked to and opened; gaps are hatched."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.shown import LifeLine, Moment, Stretch
from gui.widgets.life_line import LifeLineView, spread, told_of
from gui.widgets.time_axis import ticks_between
from tests.gui.desk import Desk

LIFE = LifeLine(
    today=date(2026, 5, 1),
    stretches=(
        Stretch(date(2012, 3, 1), date(2014, 1, 1), "in stores", "bin B-12", ref=12),
        Stretch(date(2014, 1, 1), date(2018, 6, 1), "fitted", "Linnet 118, cylinder 5", "214.30 hours", 88),
        Stretch(date(2018, 6, 1), date(2024, 6, 3), "history missing", "history missing"),
        Stretch(date(2024, 6, 3), None, "in stores", "bin C-2", ref=140),
    ),
    holds=(Stretch(date(2025, 2, 1), date(2025, 9, 1), "on hold", "suspected porous casting", ref=150),),
    moments=(Moment(date(2016, 5, 1), "inspection", "crack test, magnetic", ref=97),),
)


def shown(desk: Desk) -> tuple[LifeLineView, list[Any]]:
    opened: list[Any] = []
    view = LifeLineView(desk.root, desk.theme, on_open=opened.append)
    view.pack(fill="x")
    view.show(LIFE)
    desk.root.update()
    view.focus_force()
    desk.root.update()
    return view, opened


def test_it_begins_at_the_latest_and_walks_back_through_everything(desk: Desk) -> None:
    view, opened = shown(desk)
    read = [view.reading()]
    for _ in range(5):
        desk.press("<Left>")
        read.append(view.reading())
    assert [each.split(": ")[1].split(", ")[0].split("\n")[0] for each in read] == [
        "⊘ on hold",
        "⌂ in stores",
        "▧ history missing",
        "⌕ inspection",
        "⚙ fitted",
        "⌂ in stores",
    ]
    desk.press("<Right>", "<Return>")
    assert opened == [88]


def test_pointing_at_a_stretch_reads_its_entry(desk: Desk) -> None:
    view, opened = shown(desk)
    part = next(each for each in view._parts if each.item is LIFE.stretches[1])
    x, y = (part.left + part.right) / 3, (part.top + part.bottom) / 2
    view.event_generate("<Motion>", x=round(x), y=round(y))
    desk.root.update()
    assert view.reading() == "2014-01-01 to 2018-06-01: ⚙ fitted, Linnet 118, cylinder 5\n214.30 hours"
    desk.click(view, x, y, times=2)
    assert opened == [88]


def test_only_a_gap_is_hatched(desk: Desk) -> None:
    view, _opened = shown(desk)
    part = next(each for each in view._parts if each.item is LIFE.stretches[2])
    box = (part.left + 2, part.top + 2, part.right - 2, part.bottom - 2)
    hatching = [item for item in view.find_enclosed(*(box[0] - 3, box[1] - 3, box[2] + 3, box[3] + 3))]
    assert sum(str(view.type(item)) == "line" for item in hatching) > 10
    fitted = next(each for each in view._parts if each.item is LIFE.stretches[1])
    inside = view.find_enclosed(fitted.left, fitted.top, fitted.right, fitted.bottom)
    assert not [item for item in inside if str(view.type(item)) == "line"]


def test_it_stays_within_its_width(desk: Desk) -> None:
    for width in (320, 700, 1600):
        desk.root.geometry(f"{width}x300")
        view, _opened = shown(desk)
        left, _top, right, bottom = view.bbox("all")
        assert left >= 0
        assert bottom <= view.winfo_height()
        marks = [item for item in view.find_all() if "reading" not in view.gettags(item)]
        assert max(view.bbox(item)[2] for item in marks) <= view.winfo_width()
        assert right > 0
        view.destroy()


def test_a_piece_booked_in_today_has_a_life_too(desk: Desk) -> None:
    view, _opened = shown(desk)
    view.show(LifeLine(date(2026, 5, 1), (Stretch(date(2026, 5, 1), None, "in stores", "bin A-1"),)))
    desk.root.update()
    desk.press("<Home>")
    assert view.reading() == "2026-05-01 to today: ⌂ in stores, bin A-1"


def test_a_gap_is_told_with_its_days() -> None:
    assert told_of(LIFE.stretches[2]) == "2018-06-01 to 2024-06-03: ▧ history missing"


@given(st.dates(date(1900, 1, 1), date(2090, 1, 1)), st.integers(1, 60_000), st.integers(1, 40))
def test_ticks_are_round_days_in_order_within_the_axis_and_not_too_many(
    first: date, days: int, most: int
) -> None:
    last = min(first + timedelta(days=days), date(2200, 1, 1))
    ticks = ticks_between(first, last, most)
    shown_days = [day for day, _word in ticks]
    assert shown_days == sorted(set(shown_days))
    assert all(first <= day <= last and day.day == 1 for day in shown_days)
    assert len(ticks) <= most + 1


def test_a_narrow_band_names_the_engine_alone(desk: Desk) -> None:
    desk.root.geometry("420x300")
    desk.root.update()
    view, _opened = shown(desk)
    texts = [view.itemcget(item, "text") for item in view.find_all() if str(view.type(item)) == "text"]
    assert "⚙ Linnet 118" in texts
    assert "⚙ Linnet 118, cylinder 5" not in texts
    desk.root.geometry("1000x300")
    desk.root.update()
    texts = [view.itemcget(item, "text") for item in view.find_all() if str(view.type(item)) == "text"]
    assert "⚙ Linnet 118, cylinder 5" in texts


def test_what_happened_within_days_can_be_told_apart(desk: Desk) -> None:
    view, opened = shown(desk)
    marks = tuple(
        Moment(date(2026, 4, day), "inspection", f"crack test {day}", ref=day) for day in range(20, 27)
    )
    view.show(LifeLine(LIFE.today, LIFE.stretches, (), marks))
    desk.root.update()
    boxes = [part for part in view._parts if part.item in marks]
    assert [part.item for part in boxes] == list(marks)
    assert all(one.right <= other.left + 1 for one, other in pairwise(boxes))
    for part in boxes:
        desk.click(view, (part.left + part.right) / 2, (part.top + part.bottom) / 2, times=2)
    assert opened == list(range(20, 27))


@given(st.lists(st.floats(0, 500), max_size=60), st.floats(1, 30))
def test_marks_are_spread_within_the_line_in_their_order(places: list[float], apart: float) -> None:
    places.sort()
    found = spread(places, apart, 0, 500)
    assert len(found) == len(places)
    assert all(-1e-6 <= place <= 500 for place in found)
    as_far = min(apart, 500 / max(1, len(places) - 1))
    assert all(other - one >= as_far - 1e-6 for one, other in pairwise(found))
    if all(other - one >= apart for one, other in pairwise(places)):
        assert found == pytest.approx(places)
