"""What a status sheet makes of figures: totals, what is left of a limit, what stands against the engine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from invdb.rules.history import HoldLine
from invdb.rules.life_limits import Limit
from invdb.rules.running import Ran, Span
from invdb.rules.status import RunTotals, against
from invdb.terms import HoursKnown, LifeMeasure, LifeSince, PriorLife
from tests.paper.status import BARE, LINNET, by_hours, exactly

UNKNOWN = PriorLife(HoursKnown.UNKNOWN)


def test_the_total_joins_what_was_run_before_the_log_and_since() -> None:
    logged = Ran(Span(312_50, 312_50), Span(12_10, 20_10), Span(402, 402))
    totals = RunTotals(PriorLife(HoursKnown.BETWEEN, 800_00, 950_00), UNKNOWN, logged, date(2018, 4, 1))
    assert totals.hours == PriorLife(HoursKnown.BETWEEN, 1124_60, 1282_60)
    assert totals.starts == PriorLife(HoursKnown.AT_LEAST, 402)
    assert RunTotals(UNKNOWN, UNKNOWN).hours == UNKNOWN


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
    used_up = by_hours(exactly(500_00), Limit(LifeMeasure.HOURS, 500_00, since=LifeSince.OVERHAUL))
    overhaul = replace(LINNET.overhaul, limits=(used_up,))
    said = against(replace(BARE, concessions=(concession,), overhaul=overhaul))
    assert said == (
        "Overhaul life: expired (500.00 h since overhaul)",
        "Concession C-2024/7 for Cylinder barrel T000077-5 has ended: "
        "after 50.00 h from 2024-01-15, or on 2024-12-31",
    )
