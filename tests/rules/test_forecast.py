"""A forecast is a range of months by the engine's own recent use, never a date."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.forecast import (
    TOO_SHORT,
    Pace,
    Window,
    forecast,
    forecast_line,
    pace,
    windows_covered,
    windows_words,
)
from invdb.rules.life_limits import Limit, Lived, Serving, limit_lines
from invdb.rules.running import Ran, Span
from invdb.terms import LifeMeasure, RunningCounted

ON = date(2026, 3, 2)
HOURS, STARTS, MONTHS = LifeMeasure


def window(days: int, flight: int, ground: int = 0, starts: int = 0) -> Window:
    return Window(days, Ran(Span(flight, flight), Span(ground, ground), Span(starts, starts)))


def test_the_windows_are_those_that_the_log_covers() -> None:
    assert windows_covered(None, ON) == ()
    assert windows_covered(ON - timedelta(days=89), ON) == ()
    assert windows_covered(ON - timedelta(days=90), ON) == (90,)
    assert windows_covered(date(2024, 3, 1), ON) == (90, 180, 365, 730)


def test_the_pace_is_between_the_slowest_and_the_fastest_window() -> None:
    windows = [window(90, 9_00, ground=90, starts=18), window(180, 36_00, ground=90)]
    assert pace(windows, HOURS) == Pace(Fraction(11), Fraction(3690, 180), "the last 90 to 180 days")
    assert pace(windows, HOURS, RunningCounted.FLIGHT) == Pace(
        Fraction(10), Fraction(20), "the last 90 to 180 days"
    )
    assert pace(windows[:1], STARTS) == Pace(Fraction(1, 5), Fraction(1, 5), "the last 90 days")
    assert pace([], HOURS) is None


@pytest.mark.parametrize(
    ("worst", "best", "windows", "said", "earliest", "latest"),
    [
        (
            100_00,
            100_00,
            [window(90, 18_00), window(365, 36_50)],
            "between Jul 2027 and Nov 2028 at the pace of the last 90 to 365 days",
            date(2027, 7, 15),
            date(2028, 11, 26),
        ),
        (
            4_00,
            4_20,
            [window(90, 18_00)],
            "in Mar 2026 at the pace of the last 90 days",
            date(2026, 3, 22),
            date(2026, 3, 23),
        ),
        (
            100_00,
            100_00,
            [window(90, 0), window(180, 36_00)],
            "not before Jul 2027, perhaps never, at the pace of the last 90 to 180 days",
            date(2027, 7, 15),
            None,
        ),
        (100_00, 100_00, [window(90, 0)], "not while it stands as in the last 90 days", None, None),
        (0, 0, [window(90, 0)], "used up now", ON, ON),
        (0, 0, [], "used up now", ON, ON),
        (
            -5_00,
            18_00,
            [window(90, 90_00)],
            "between now and Mar 2026 at the pace of the last 90 days",
            ON,
            date(2026, 3, 20),
        ),
        (
            None,
            18_00,
            [window(90, 90_00)],
            "between now and Mar 2026 at the pace of the last 90 days",
            ON,
            date(2026, 3, 20),
        ),
        (100_00, 100_00, [], TOO_SHORT.words, None, None),
        (
            900_00,
            900_00,
            [window(90, 1)],
            "not for a hundred years at the pace of the last 90 days",
            None,
            None,
        ),
    ],
)
def test_a_forecast_is_a_range_in_words(
    worst: int | None,
    best: int,
    windows: list[Window],
    said: str,
    earliest: date | None,
    latest: date | None,
) -> None:
    found = forecast(worst, best, pace(windows, HOURS), ON)
    assert (found.words, found.earliest, found.latest) == (said, earliest, latest)


@pytest.mark.parametrize(
    ("left", "windows", "when"),
    [
        (100_00, [window(90, 18_00), window(365, 36_50)], "between Jul 2027 and Nov 2028"),
        (4_00, [window(90, 18_00)], "in Mar 2026"),
        (100_00, [window(90, 0), window(180, 36_00)], "not before Jul 2027, perhaps never"),
        (
            6_000_00,
            [window(90, 18_00), window(180, 6_00)],
            "not before Apr 2108, perhaps not for a hundred years",
        ),
        (900_00, [window(90, 1)], "not for a hundred years"),
        (100_00, [window(90, 0)], "not at this pace"),
        (100_00, [], "no forecast"),
        (0, [window(90, 18_00)], ""),
    ],
)
def test_a_list_that_says_the_pace_once_says_only_the_range(
    left: int, windows: list[Window], when: str
) -> None:
    assert forecast(left, left, pace(windows, HOURS), ON).when == when


def test_what_an_engine_ran_of_late_is_said_window_by_window() -> None:
    assert windows_words([window(90, 3_00, 50, 4), Window(180, Ran(Span(9_00, 9_00, 1)))]) == (
        "3.50 h and 4 starts in 90 days, at least 9.00 h, no upper end known and 0 starts in 180 days"
    )
    assert windows_words([]) == ""


def test_where_nobody_knows_what_was_run_of_late_it_may_be_any_time() -> None:
    lost = Window(90, Ran(Span(9_00, 9_00, 1)))
    found = forecast(100_00, 100_00, pace([lost], HOURS), ON)
    assert (found.earliest, found.latest) == (ON, date(2028, 11, 26))


def test_the_calendar_runs_whether_the_engine_does_or_not() -> None:
    (line,) = limit_lines(Lived(made_on=date(2020, 1, 31)), [Limit(MONTHS, 85)], ON, Serving(1))
    found = forecast_line(line, [], ON)
    assert (found.earliest, found.latest) == (date(2027, 2, 28), date(2027, 2, 28))
    assert (found.words, found.when) == ("by the calendar, on 2027-02-28", "")


@given(
    st.integers(1, 500_00),
    st.integers(0, 100_00),
    st.lists(st.integers(0, 50_00), min_size=1, max_size=4),
)
def test_an_engine_that_keeps_to_one_of_its_paces_runs_out_in_the_range(
    worst: int, more: int, ran: list[int]
) -> None:
    best = worst + more
    windows = [window(days, hours) for days, hours in zip((90, 180, 365, 730), ran, strict=False)]
    found = forecast(worst, best, pace(windows, HOURS), ON)
    for each in windows:
        a_day = Fraction(each.ran.flight.low, each.days)
        for left in (worst, best):
            if a_day == 0:
                assert found.latest is None
            elif found.earliest is None:
                assert Fraction(left) / a_day > 36_525
            else:
                day = Fraction(left) / a_day
                assert (found.earliest - ON).days <= day
                assert found.latest is None or day <= (found.latest - ON).days
