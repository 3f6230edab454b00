"""What a status sheet makes of figures: totals, what is left of a limit, what stands against the engine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.history import HoldLine
from invdb.rules.life import LifeVerdict, life_verdict
from invdb.rules.running import Ran, Span
from invdb.rules.status import (
    LimitStanding,
    RunTotals,
    against,
    amount_words,
    least_left,
    left_words,
    limit_words,
)
from invdb.terms import HoursKnown, LifeMeasure, LifeSince, PriorLife, RunningCounted
from tests.paper.status import BARE, LINNET, exactly

BETWEEN = PriorLife(HoursKnown.BETWEEN, 500_00, 590_00)
AT_LEAST = PriorLife(HoursKnown.AT_LEAST, 300_00)
UNKNOWN = PriorLife(HoursKnown.UNKNOWN)


def of_600_hours(used: PriorLife) -> LimitStanding:
    return LimitStanding(LifeMeasure.HOURS, used, 600_00, life_verdict(used, 600_00))


@pytest.mark.parametrize(
    ("used", "words", "least"),
    [
        (exactly(512_50), "87.50 h", 87_50),
        (exactly(600_00), "none", 0),
        (exactly(603_00), "none, over by 3.00 h", -3_00),
        (BETWEEN, "between 10.00 h and 100.00 h", 10_00),
        (PriorLife(HoursKnown.BETWEEN, 590_00, 610_00), "between none and 10.00 h", -10_00),
        (AT_LEAST, "at most 300.00 h, how much is not known", None),
        (PriorLife(HoursKnown.AT_LEAST, 640_00), "none, over by 40.00 h", -40_00),
        (UNKNOWN, "not known", None),
    ],
)
def test_what_is_left_is_never_more_than_is_known(used: PriorLife, words: str, least: int | None) -> None:
    assert left_words(of_600_hours(used)) == words
    assert least_left(of_600_hours(used)) == least


@given(st.integers(0, 900_00), st.integers(0, 900_00), st.booleans())
def test_something_is_left_at_the_worst_only_of_what_is_within_limits(
    low: int, more: int, open_: bool
) -> None:
    used = Span(low, low + more, int(open_)).known()
    standing = of_600_hours(used)
    least = least_left(standing)
    assert (least is not None and least > 0) == (standing.verdict is LifeVerdict.WITHIN)
    assert (least is None) == (standing.verdict is LifeVerdict.UNKNOWN)


def test_a_limit_by_the_calendar_says_its_day() -> None:
    standing = LimitStanding(
        LifeMeasure.MONTHS, exactly(54), 120, LifeVerdict.WITHIN, due_on=date(2029, 12, 1)
    )
    assert left_words(standing) == "until 2029-12-01"
    assert left_words(replace(standing, verdict=LifeVerdict.EXPIRED)) == "none, since 2029-12-01"
    assert limit_words(standing) == "120 months since new"


def test_a_limit_says_what_it_counts_and_from_when() -> None:
    standing = of_600_hours(BETWEEN)
    assert limit_words(standing) == "600.00 h since new"
    flight = replace(standing, counted=RunningCounted.FLIGHT, since=LifeSince.OVERHAUL)
    assert limit_words(flight) == "600.00 h since overhaul, flight only"
    assert limit_words(replace(flight, measure=LifeMeasure.STARTS, limit=1)) == "1 start since overhaul"


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (exactly(1), "1 month"),
        (PriorLife(HoursKnown.BETWEEN, 1, 24), "between 1 month and 24 months"),
        (PriorLife(HoursKnown.AT_LEAST, 30), "at least 30 months, no upper end known"),
        (UNKNOWN, "not known"),
    ],
)
def test_months_read_as_hours_do(amount: PriorLife, words: str) -> None:
    assert amount_words(amount, LifeMeasure.MONTHS) == words


def test_the_total_joins_what_was_run_before_the_log_and_since() -> None:
    logged = Ran(Span(312_50, 312_50), Span(12_10, 20_10), Span(402, 402))
    totals = RunTotals(PriorLife(HoursKnown.BETWEEN, 800_00, 950_00), UNKNOWN, logged, date(2018, 4, 1))
    assert totals.hours == PriorLife(HoursKnown.BETWEEN, 1124_60, 1282_60)
    assert totals.starts == PriorLife(HoursKnown.AT_LEAST, 402)


def test_all_that_stands_against_an_engine_is_said_first() -> None:
    assert against(LINNET) == (
        "On hold, batch B000017-X: A spring of its batch broke",
        "Master rod T000301-M, cylinder 1, master rod: expired (200.00 h since overhaul, flight only)",
        "Magneto coupling T000388-P, rear cover, magneto coupling: unknown (1200 starts since new)",
        "Directive HD 2024-01 is overdue: was due 2024-05-01",
        "Propeller strike of 2021-08-14 is not cleared",
        "1 station is incomplete",
        "1 station holds what nobody has identified",
        "3 gaps in the history are known",
    )
    assert against(BARE) == ()


def test_many_holds_for_one_reason_are_said_once() -> None:
    holds = tuple(
        HoldLine("Springs shear", date(2024, 5, 20), "Tom Arlow", subject)
        for subject in ("", "batch B000017-X")
    )
    assert against(replace(BARE, holds=holds)) == ("On hold, 2 things: Springs shear",)
    assert against(replace(BARE, holds=holds[:1])) == ("On hold, the engine: Springs shear",)


def test_an_ended_concession_and_a_used_up_overhaul_life_stand_against_it() -> None:
    concession = replace(LINNET.concessions[0], ended=True)
    overhaul = replace(
        LINNET.overhaul, limits=(replace(LINNET.overhaul.limits[0], verdict=LifeVerdict.EXPIRED),)
    )
    said = against(replace(BARE, concessions=(concession,), overhaul=overhaul))
    assert said == (
        "Overhaul life: expired (500.00 h since overhaul)",
        "Concession C-2024/7 for Cylinder barrel T000077-5 has ended: "
        "after 50.00 h from 2024-01-15, or on 2024-12-31",
    )
