"""Whether a calibration can be relied on, on its last day and about it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.calendar import months_after
from invdb.rules.calibration import CalibrationState, calibration_state, next_due

DAY = timedelta(days=1)
DUE = date(2026, 5, 31)
BEGAN = date(2025, 5, 1)
days = st.dates(date(1990, 1, 1), date(2090, 1, 1))


@pytest.mark.parametrize(
    ("on", "state"),
    [
        (date(2026, 2, 27), CalibrationState.IN_DATE),
        (date(2026, 2, 28), CalibrationState.IN_DATE),
        (date(2026, 3, 30), CalibrationState.IN_DATE),
        (date(2026, 3, 31), CalibrationState.DUE_SOON),
        (DUE, CalibrationState.DUE_SOON),
        (DUE + DAY, CalibrationState.OUT),
    ],
)
def test_it_is_due_soon_two_months_before_its_last_day_which_still_counts(
    on: date, state: CalibrationState
) -> None:
    assert calibration_state(BEGAN, DUE, on, 2) is state


def test_what_was_never_calibrated_is_told_from_what_holds_for_good() -> None:
    assert calibration_state(None, None, DUE, 3) is CalibrationState.NEVER
    assert calibration_state(BEGAN, None, DUE, 3) is CalibrationState.IN_DATE


def test_without_any_warning_only_the_last_day_itself_is_due_soon() -> None:
    assert calibration_state(BEGAN, DUE, DUE - DAY, 0) is CalibrationState.IN_DATE
    assert calibration_state(BEGAN, DUE, DUE, 0) is CalibrationState.DUE_SOON


@given(days, days, st.integers(0, 24))
def test_as_days_go_by_it_only_gets_worse(due_on: date, on: date, soon_months: int) -> None:
    order = (CalibrationState.IN_DATE, CalibrationState.DUE_SOON, CalibrationState.OUT)
    today, tomorrow = (calibration_state(BEGAN, due_on, each, soon_months) for each in (on, on + DAY))
    assert order.index(today) <= order.index(tomorrow)


@pytest.mark.parametrize(
    ("calibrated_on", "due_on", "again_on", "expected"),
    [
        (date(2025, 2, 16), date(2028, 3, 16), date(2028, 3, 10), date(2031, 4, 10)),
        (date(2025, 5, 13), date(2026, 5, 13), date(2026, 5, 13), date(2027, 5, 13)),
        (date(2025, 5, 13), date(2025, 5, 20), date(2025, 5, 21), date(2025, 5, 28)),
        (date(2025, 5, 31), date(2025, 6, 30), date(2025, 7, 1), date(2025, 8, 1)),
    ],
)
def test_the_next_calibration_holds_as_long_as_the_last(
    calibrated_on: date, due_on: date, again_on: date, expected: date
) -> None:
    assert next_due(calibrated_on, due_on, again_on) == expected


@given(days, st.integers(1, 60), days)
def test_a_calibration_of_whole_months_is_offered_again_for_as_many(
    calibrated_on: date, months: int, again_on: date
) -> None:
    due_on = months_after(calibrated_on, months)
    assert next_due(calibrated_on, due_on, again_on) == months_after(again_on, months)
