"""When an engine is due for overhaul, by what it uses up of its limits."""

from __future__ import annotations

from itertools import accumulate

from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.overhaul_due import Due, Wearing, overhauls_due, used_up_in

HOURS = Wearing(100.0, 25.0, (10.0,) * 24)
CALENDAR = Wearing(12.0, 6.0, (1.0,) * 24)


def test_it_is_due_in_the_month_that_uses_up_the_rest_and_again_a_whole_amount_later() -> None:
    assert overhauls_due([HOURS], 24) == (Due(3, 0), Due(13, 0), Due(23, 0))
    assert overhauls_due([HOURS], 12) == (Due(3, 0),)


def test_whichever_limit_runs_out_first_brings_it_and_all_begin_anew() -> None:
    slow = Wearing(100.0, 95.0, (10.0,) * 24)
    assert overhauls_due([slow, CALENDAR], 24) == (Due(6, 1), Due(16, 0))


def test_what_is_used_up_is_due_now_and_what_is_not_used_never() -> None:
    assert overhauls_due([Wearing(100.0, -3.0, ())], 5) == (Due(0, 0),)
    assert overhauls_due([Wearing(100.0, 3.0, ())], 5) == ()
    assert overhauls_due([], 5) == ()


def test_what_is_planned_goes_first_and_counts_begin_anew_in_its_month() -> None:
    assert overhauls_due([HOURS], 24, planned=8) == (Due(18, 0),)
    assert overhauls_due([HOURS], 24, planned=0) == (Due(10, 0), Due(20, 0))
    assert overhauls_due([HOURS], 24, planned=30) == ()


@given(st.integers(-50, 200), st.lists(st.integers(0, 40), max_size=24))
def test_the_first_is_when_the_rest_is_used_up(left: int, uses: list[int]) -> None:
    wearing = Wearing(500.0, left, tuple(float(each) for each in uses))
    totals = [0, *accumulate(uses)]
    first = next((month for month, used in enumerate(totals) if used >= left), None)
    assert used_up_in(wearing) == first
    due = overhauls_due([wearing], len(uses))
    assert (due[0].month if due else None) == first
