"""What falls due on its axis: worst first as given, a range for each, and today and the threshold marked."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from gui.shown import Deed, DueBar
from gui.widgets.due_chart import DueChart, days_words, told_of
from gui.widgets.due_span import AHEAD, ahead_for, axis_of, ends_of
from tests.gui.desk import Desk

TODAY = date(2026, 3, 2)


def days(count: int) -> date:
    return TODAY + timedelta(days=count)


OVER = DueBar(1, "Linnet 117", "T00312-K exhaust valve", "expired", TODAY, TODAY, "over by 4.00 h")
NEAR = DueBar(2, "Linnet 142", "T00567-P barrel", "due soon", days(20), days(80), "12.50 h left")
LATER = DueBar(3, "Twelve 204", "AD 7 crack test", "within limits", days(200), None, "40.00 h left")
NOBODY_KNOWS = DueBar(4, "Dabchick 31", "T00700-L rod", "unknown", None, None, "how much is not known", "why")
BARS = (OVER, NOBODY_KNOWS, NEAR, LATER)


def shown(desk: Desk, bars: tuple[DueBar, ...] = BARS) -> tuple[DueChart, list[DueBar]]:
    opened: list[DueBar] = []
    chart = DueChart(
        desk.root,
        desk.theme,
        on_open=opened.append,
        deeds_for=lambda bar: [Deed("Open", lambda: opened.append(bar), "Ctrl+O")],
    )
    chart.pack(fill="both", expand=True)
    chart.show(bars, TODAY, days(60))
    desk.root.update()
    chart.canvas.focus_force()
    desk.root.update()
    return chart, opened


def texts(chart: DueChart) -> str:
    canvas = chart.canvas
    return " ".join(
        canvas.itemcget(item, "text") for item in canvas.find_all() if str(canvas.type(item)) == "text"
    )


def test_each_row_says_its_engine_its_state_and_what_is_left(desk: Desk) -> None:
    desk.root.geometry("1200x600")
    chart, _opened = shown(desk)
    said = texts(chart)
    for words in (
        "Linnet 117: expired, over by 4.00 h",
        "◷",
        "!",
        "?",
        "no day can be told",
        "T00567-P barrel",
    ):
        assert words in said, words
    assert chart.canvas.find_withtag("today") and chart.canvas.find_withtag("threshold")


def test_a_bar_lies_between_its_days_and_an_open_one_goes_on_beyond(desk: Desk) -> None:
    chart, _opened = shown(desk)
    assert len(chart.canvas.find_withtag("bar")) == 3
    assert len(chart.canvas.find_withtag("beyond")) == 1
    today = chart.canvas.bbox("today")
    bars = [chart.canvas.bbox(item) for item in chart.canvas.find_withtag("bar")]
    assert all(left >= today[0] - 3 for left, *_rest in bars)


def test_the_keys_walk_and_open_and_do(desk: Desk) -> None:
    chart, opened = shown(desk)
    assert chart.chosen() == OVER, "the keys begin at the worst"
    desk.press("<Down>", "<Down>", "<Return>", "<End>", "<Control-o>", "<Home>", "<Up>", "<Return>")
    assert opened == [NEAR, LATER, OVER]


def test_plus_and_minus_look_less_far_and_farther(desk: Desk) -> None:
    chart, _opened = shown(desk)
    before = chart.ahead_days()
    desk.press("<minus>")
    assert chart.ahead_days() > before
    desk.press("<plus>", "<plus>")
    assert chart.ahead_days() < before


def test_a_click_chooses_and_what_is_chosen_stays_when_read_again(desk: Desk) -> None:
    chart, _opened = shown(desk)
    desk.click(chart.canvas, 40, 44 * 2 + 20)
    assert chart.chosen() == NEAR
    chart.show((NEAR, LATER), TODAY)
    assert chart.chosen() == NEAR
    chart.show((LATER,), TODAY)
    assert chart.chosen() is None


def test_it_wears_the_themes_colours_at_once(desk: Desk) -> None:
    chart, _opened = shown(desk)
    desk.theme.set_dark(True)
    desk.root.update()
    assert chart.canvas.cget("background") == desk.theme.palette.ground


def test_a_forecast_is_told_as_a_range_and_never_as_a_bare_day() -> None:
    assert days_words(NEAR) == "Between 2026-03-22 and 2026-05-21 by its use so far."
    assert days_words(LATER).startswith("Not before 2026-09-18")
    assert days_words(NOBODY_KNOWS) == "No day can be told."
    assert told_of(NOBODY_KNOWS).endswith("why")


def test_it_looks_as_far_ahead_as_most_of_it_begins() -> None:
    assert AHEAD[ahead_for([NEAR], TODAY)].days >= 20
    far = DueBar(9, "", "", "within limits", days(365 * 8), None, "")
    assert AHEAD[ahead_for([far], TODAY)].days >= 365 * 8
    assert ahead_for([NOBODY_KNOWS], TODAY) == ahead_for([], TODAY)


dates = st.dates(date(1950, 1, 1), date(2150, 1, 1))


@given(dates, dates | st.none(), st.sampled_from(AHEAD))
def test_no_bar_leaves_the_axis(earliest: date, latest: date | None, ahead: timedelta) -> None:
    if latest is not None and latest < earliest:
        latest = earliest
    axis = axis_of(TODAY, ahead, 100, 500)
    ends = ends_of(DueBar(1, "", "", "unknown", earliest, latest, ""), axis)
    assert ends is not None
    assert 100 <= ends.left <= ends.right <= 500
    assert ends.beyond == (latest is None or latest > axis.last)
