"""How far an instrument's calibration can be relied on at a day."""

from __future__ import annotations

from datetime import date
from enum import StrEnum

from invdb.rules.calendar import months_after, months_between


class CalibrationState(StrEnum):
    """How an instrument stands: whether what it says counts."""

    IN_DATE = "in calibration"
    DUE_SOON = "calibration due soon"
    OUT = "out of calibration"
    NEVER = "never calibrated"
    WITHDRAWN = "withdrawn"


def calibration_state(
    calibrated_on: date | None, due_on: date | None, on: date, soon_months: int
) -> CalibrationState:
    """How an instrument stands on a day by its last calibration, of which the last day still counts.

    It is due soon from so many calendar months before that day. Without a last day it holds for good.
    """
    if calibrated_on is None:
        return CalibrationState.NEVER
    if due_on is None:
        return CalibrationState.IN_DATE
    if due_on < on:
        return CalibrationState.OUT
    return CalibrationState.DUE_SOON if due_on <= months_after(on, soon_months) else CalibrationState.IN_DATE


def next_due(calibrated_on: date, due_on: date, again_on: date) -> date:
    """Until when a calibration of ``again_on`` holds if it holds as long as the last, in whole months.

    Where the last held for less than a month, it is as many days.
    """
    months = months_between(calibrated_on, due_on)
    if months < 1:
        return again_on + (due_on - calibrated_on)
    return months_after(again_on, months)
