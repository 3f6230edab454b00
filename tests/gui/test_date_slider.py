"""Going over the days of an engine: by keys, by the pointer, from change to change, or to a day one types."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from gui.shown import DayMark
from gui.widgets.date_slider import DateSlider
from gui.widgets.day_steps import DaySteps, span_of
from gui.widgets.time_axis import TimeAxis
from tests.gui.desk import Desk

TODAY = date(2026, 3, 2)
FITTED = DayMark(date(2021, 5, 4), "T00312-K fitted, cylinder 5")
STRIPPED = DayMark(date(2024, 6, 3), "T00312-K stripped, cylinder 5")
STEPS = span_of([STRIPPED, FITTED], TODAY)


def shown(desk: Desk) -> tuple[DateSlider, list[date], list[str]]:
    gone_to: list[date] = []
    refused: list[str] = []
    slider = DateSlider(desk.root, desk.theme, on_change=gone_to.append, refuse=refused.append)
    slider.pack(fill="x")
    slider.show(STEPS, TODAY)
    desk.root.update()
    slider.canvas.focus_force()
    desk.root.update()
    return slider, gone_to, refused


def test_it_begins_with_the_first_change_and_ends_today(desk: Desk) -> None:
    slider, gone_to, _refused = shown(desk)
    assert (STEPS.first, STEPS.last) == (FITTED.on, TODAY)
    assert slider.at_last() and gone_to == []
    assert len(slider.canvas.find_withtag("mark")) == 2


def test_keys_go_by_days_by_months_and_from_change_to_change(desk: Desk) -> None:
    _slider, gone_to, _refused = shown(desk)
    desk.press("<Left>", "<Prior>", "<Control-Left>", "<Control-Left>", "<Control-Right>", "<End>")
    assert gone_to == [date(2026, 3, 1), date(2026, 2, 1), STRIPPED.on, FITTED.on, STRIPPED.on, TODAY]
    desk.press("<Right>")
    assert gone_to[-1] == TODAY and len(gone_to) == 6, "past the last day nothing is told"


def test_a_day_typed_is_gone_to_and_what_is_no_day_is_refused(desk: Desk) -> None:
    slider, gone_to, refused = shown(desk)
    slider.focus_day()
    desk.root.update()
    desk.type("3.6.2024")
    desk.press("<Return>")
    assert gone_to == [STRIPPED.on] and slider.entry.get() == "2024-06-03"
    slider.focus_day()
    desk.type("when")
    desk.press("<Return>")
    assert refused == ["“when” is not a day. Write it as 1934-12-31 or 31.12.1934."]
    desk.press("<Escape>")
    assert slider.entry.get() == "2024-06-03"


def test_a_click_goes_there_and_today_comes_back(desk: Desk) -> None:
    slider, gone_to, _refused = shown(desk)
    desk.click(slider.canvas, slider.canvas.winfo_width() / 2, 14)
    assert len(gone_to) == 1 and FITTED.on < gone_to[0] < TODAY
    slider.last.invoke()
    assert slider.day == TODAY and gone_to[-1] == TODAY


def test_pointing_near_a_mark_tells_what_changed() -> None:
    assert STEPS.told_on(date(2024, 6, 5), timedelta(days=3)) == f"2024-06-03: {STRIPPED.word}"
    assert STEPS.told_on(date(2024, 6, 5), timedelta(days=1)) == ""


def test_an_engine_of_which_nothing_is_recorded_has_the_last_year() -> None:
    steps = span_of([], TODAY)
    assert steps.first == TODAY - timedelta(days=365)
    assert steps.to_mark(TODAY, -1) == steps.first


days = st.dates(date(1900, 1, 1), date(2100, 1, 1))


@given(days, days, st.integers(-2000, 2000))
def test_no_step_leaves_the_slider(one: date, other: date, by: int) -> None:
    steps = DaySteps(min(one, other), max(one, other), (DayMark(one, ""), DayMark(other, "")))
    for day in (
        steps.by_days(one, by),
        steps.by_months(one, by),
        steps.to_mark(one, 1),
        steps.to_mark(one, -1),
    ):
        assert steps.first <= day <= steps.last


@given(days, days)
def test_what_lies_somewhere_is_read_back_from_there(first: date, last: date) -> None:
    first, last = min(first, last), max(first, last) + timedelta(days=1)
    axis = TimeAxis(first, last, 10, 10 + (last - first).days)
    assert axis.day_at(axis.across(first)) == first
    assert axis.day_at(axis.across(last)) == last
    assert axis.day_at(-1000) == first and axis.day_at(10**9) == last
