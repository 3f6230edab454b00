"""What a status sheet makes of figures and of a build: totals, what is missing, what stands alike."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from invdb.rules.build import Build, BuiltPosition, BuiltStation, BuiltThing, Presumed, WantedLine
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.running import Ran, Span
from invdb.rules.status import (
    DirectiveLine,
    PresumedPositions,
    PresumedStation,
    RunTotals,
    directives_together,
    incomplete_positions,
    presumed_positions,
)
from invdb.terms import HoursKnown, Measure, PriorLife

UNKNOWN = PriorLife(HoursKnown.UNKNOWN)


def test_the_total_joins_what_was_run_before_the_log_and_since() -> None:
    logged = Ran(Span(312_50, 312_50), Span(12_10, 20_10), Span(402, 402))
    totals = RunTotals(PriorLife(HoursKnown.BETWEEN, 800_00, 950_00), UNKNOWN, logged, date(2018, 4, 1))
    assert totals.hours == PriorLife(HoursKnown.BETWEEN, 1124_60, 1282_60)
    assert totals.starts == PriorLife(HoursKnown.AT_LEAST, 402)
    assert RunTotals(UNKNOWN, UNKNOWN).hours == UNKNOWN


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


def presumed_at(
    position: str, *stations: str, renewed: str = "", on: date = date(2024, 3, 25)
) -> list[PresumedStation]:
    return [
        PresumedStation("cylinder", position, station, "1 off Part", on, station in renewed.split())
        for station in stations
    ]


def test_what_is_presumed_alike_at_several_positions_is_told_once() -> None:
    late = date(2024, 6, 1)
    assert presumed_positions(
        [
            *presumed_at("1", "barrel", "pins", "pins", "gasket", "wire", renewed="gasket wire"),
            *presumed_at("2", "barrel", "rod"),
            *presumed_at("3", "barrel", "pins", "pins", "gasket", "wire", renewed="gasket wire"),
            *presumed_at("4", "barrel", "rod", on=late),
            *presumed_at("5", "gasket", renewed="gasket"),
        ]
    ) == (
        PresumedPositions("cylinder 1, 3", True, 5, date(2024, 3, 25), ("barrel", "pins"), 2),
        PresumedPositions("cylinder 2", False, 2, date(2024, 3, 25), ("barrel", "rod"), 0),
        PresumedPositions("cylinder 4", False, 2, late, ("barrel", "rod"), 0),
        PresumedPositions("cylinder 5", False, 1, date(2024, 3, 25), (), 1),
    )
    assert presumed_positions([]) == ()


def test_a_directive_that_stands_alike_on_many_pieces_is_one_line_and_its_worst_standing_comes_first() -> (
    None
):
    def on_pin(tag: str, verdict: DirectiveVerdict, due: str) -> DirectiveLine:
        pieces = (f"{tag} (cylinder {tag[-1]})",)
        return DirectiveLine(
            "HD 9", "1", "Pins", "look", "Gudgeon pin", pieces, next_due=due, verdict=verdict
        )

    later, over = DirectiveVerdict.DUE_LATER, DirectiveVerdict.OVERDUE
    not_for = DirectiveLine("HD 1", "1", "Floats", "weigh", not_applicable="only for the Twelve")
    engine = DirectiveLine("HD 10", "1", "Screen", "look", verdict=over, next_due="was due")
    found = directives_together(
        [
            not_for,
            on_pin("T1", later, "90.00 h left"),
            on_pin("T2", later, "100.00 h left"),
            on_pin("T3", later, "90.00 h left"),
            on_pin("T4", over, "was due"),
            engine,
        ]
    )
    assert [(line.subject, line.next_due) for line in found[:3]] == [
        ("Gudgeon pin: T4 (cylinder 4)", "was due"),
        ("Gudgeon pin: T1 (cylinder 1), T3 (cylinder 3)", "90.00 h left"),
        ("Gudgeon pin: T2 (cylinder 2)", "100.00 h left"),
    ]
    assert found[3:] == (engine, not_for)
    assert replace(engine, not_applicable="").subject == ""
