"""What a status sheet makes of figures: totals, what is left of a limit, what stands against the engine."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from invdb.rules.build import Build, BuiltPosition, BuiltStation, BuiltThing, Presumed, WantedLine
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.history import HoldLine
from invdb.rules.life_limits import Limit
from invdb.rules.running import Ran, Span
from invdb.rules.status import (
    RunTotals,
    StatusGap,
    against,
    incomplete_positions,
    life_gaps,
    log_gaps,
    together,
)
from invdb.terms import HoursKnown, LifeMeasure, LifeSince, Measure, PriorLife
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
    concession = replace(LINNET.concessions[0], verdict=ConcessionVerdict.ENDED)
    used_up = by_hours(exactly(500_00), Limit(LifeMeasure.HOURS, 500_00, since=LifeSince.OVERHAUL))
    overhaul = replace(LINNET.overhaul, limits=(used_up,))
    said = against(replace(BARE, concessions=(concession,), overhaul=overhaul))
    assert said == (
        "Overhaul life: expired (500.00 h since overhaul)",
        "Concession C-2024/7 for Cylinder barrel T000077-5 has ended: "
        "after 50.00 h from 2024-01-15, or on 2024-12-31",
    )


def test_what_nobody_knows_stands_against_it_too() -> None:
    directive = replace(LINNET.directives[0], verdict=DirectiveVerdict.UNKNOWN, next_due="within 50.00 h")
    concession = replace(LINNET.concessions[0], verdict=ConcessionVerdict.UNKNOWN, left="used?")
    assert against(replace(BARE, directives=(directive,), concessions=(concession,))) == (
        "When directive HD 2019-04 on Exhaust valve T000140-2 is due is not known: within 50.00 h",
        "Whether concession C-2024/7 for Cylinder barrel T000077-5 still holds is not known: used?",
    )


VALVE, SPRING, SEAT, WIRE = 1, 2, 3, 4


def wanted(part: int, quantity: int = 1, measure: Measure = Measure.COUNT) -> WantedLine:
    return WantedLine(part, part, f"X{part}", f"Part {part}", quantity, measure, False)


def there(part: int, quantity: int = 1) -> BuiltThing:
    return BuiltThing(
        None, 9, "B9", "", part, f"X{part}", f"Part {part}", quantity, Measure.COUNT, date(2024, 1, 1), 1
    )


def built(*stations: BuiltStation) -> Build:
    position = BuiltPosition(5, "cylinder", "5", stations)
    return Build(1, "Linnet One", "L1", "Linnet", date(2024, 5, 31), None, frozenset(), (position,))


def missing(*stations: BuiltStation) -> list[tuple[str, int, tuple[str, ...]]]:
    return [(at.position, at.stations, at.missing) for at in incomplete_positions(built(*stations))]


FULL = BuiltStation(1, "valve", (wanted(VALVE),), (there(VALVE),))


def test_a_station_with_less_than_its_kit_asks_for_is_incomplete() -> None:
    springs = BuiltStation(2, "springs", (wanted(SPRING, 2), wanted(SEAT)), (there(SPRING),))
    assert missing(FULL, springs) == [("cylinder 5", 1, ("springs (Part 2): 1 of 2", "springs (Part 3)"))]
    locked = BuiltStation(3, "lock", (wanted(WIRE, 1_500_000, Measure.LENGTH),), ())
    assert missing(FULL, locked) == [("cylinder 5", 1, ("lock: 1.5 m of 1.5 m",))]


def test_what_rides_in_a_piece_and_what_stands_in_fill_a_station() -> None:
    riding = BuiltStation(2, "springs", (wanted(SPRING, 2),), (), (there(SPRING, 2),))
    alternate = BuiltStation(3, "seat", (wanted(SEAT),), (there(VALVE),))
    assert missing(FULL, riding, alternate) == []


def test_what_is_presumed_at_a_station_is_not_missing_from_it() -> None:
    presumed = Presumed(7, SPRING, "X2", "Part 2", 2, Measure.COUNT, date(2024, 1, 1))
    assert missing(FULL, BuiltStation(2, "springs", (wanted(SPRING, 2),), presumed=(presumed,))) == []


def test_a_position_with_nothing_at_all_is_said_once() -> None:
    empty = BuiltStation(1, "valve", (wanted(VALVE),)), BuiltStation(2, "springs", (wanted(SPRING, 2),))
    assert missing(*empty) == [("cylinder 5", 2, ("all of its kit: nothing is recorded here",))]
    assert missing(BuiltStation(4, "unused")) == []


def test_what_ran_before_us_is_a_gap_where_it_has_no_upper_end() -> None:
    on = date(2019, 3, 2)
    between = PriorLife(HoursKnown.BETWEEN, 100, 200)
    assert life_gaps("rod", "T1", on, between, exactly(40)) == ()
    assert life_gaps("rod", "T1", on, PriorLife(HoursKnown.AT_LEAST, 300_00), UNKNOWN) == (
        StatusGap(
            "rod", None, on, "hours run before it was received: at least 300.00 h, no upper end known", "T1"
        ),
        StatusGap("rod", None, on, "starts run before it was received: not known", "T1"),
    )


def test_the_same_gap_of_several_pieces_is_told_once() -> None:
    on = date(2019, 3, 2)
    gaps = [StatusGap("rod", None, on, "hours"), StatusGap("pin", None, None, "hours")]
    assert together([*gaps, StatusGap("bolt", None, on, "hours")]) == (
        StatusGap("rod; bolt", None, on, "hours"),
        gaps[1],
    )
    many = [StatusGap(f"rod T{each}", None, on, "hours", f"T{each}") for each in range(4)]
    assert together(many) == (StatusGap("4 pieces: T0, T1, T2, T3", None, on, "hours"),)
    assert together(many[:3])[0].of == "rod T0; rod T1; rod T2"


def test_a_lost_log_book_is_a_gap_even_where_a_range_is_known() -> None:
    assert log_gaps(LINNET.totals) == (
        StatusGap(
            "the engine",
            None,
            date(2018, 4, 1),
            "hours run before its log began: between 800.00 h and 950.00 h",
        ),
        StatusGap("the engine", None, date(2018, 4, 1), "starts run before its log began: not known"),
    )
    assert log_gaps(RunTotals(exactly(0), exactly(0), log_begun_on=date(2018, 4, 1))) == ()
    assert [gap.why for gap in log_gaps(BARE.totals)] == ["no log is kept: what it ran is not known"]
