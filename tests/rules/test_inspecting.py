"""What an inspection calls for: pressure tests by their readings, and the condition proposed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.inspecting import (
    LineFound,
    PressureTerms,
    Proposal,
    drop_words,
    judge_pressure,
    propose,
    time_words,
)
from invdb.rules.limits import LineLimits, Reading, judge_line
from invdb.rules.measuring import Measured, in_base_units, kept
from invdb.terms import Condition, SpecKind

LEAK = PressureTerms("leak test", "bar", "6.0", 600, "0.15", "air")
BORE = LineLimits(
    "bore",
    "mm",
    "98.00",
    "98.03",
    worn_high="98.20",
    points=("top", "foot"),
    directions=("along", "across"),
)


def bore(*figures: str) -> LineFound:
    readings = [
        Reading(point, way, kept(figure, "mm"))
        for (point, way), figure in zip(BORE.places, figures, strict=False)
    ]
    return LineFound(SpecKind.DIMENSION, "bore", judge_line(readings, BORE))


def cracks(passed: bool | None, words: str = "") -> LineFound:
    return LineFound(SpecKind.CRACK_TEST, "flange cracks", None, passed, words)


@pytest.mark.parametrize(
    ("start", "end", "held", "passed", "words"),
    [
        ("6.0", "6.0", 600, True, "no drop of the 0.15 bar allowed"),
        ("6.0", "5.85", 600, True, "a drop of 0.15 bar of the 0.15 bar allowed"),
        (
            "6.0",
            "5.849999",
            600,
            False,
            "a drop of 0.150001 bar, 0.000001 bar more than the 0.15 bar allowed",
        ),
        ("6.1", "5.96", 601, True, "a drop of 0.14 bar of the 0.15 bar allowed"),
        ("5.999", "5.999", 600, False, "begun at 5.999 bar, below the 6.0 bar asked for"),
        ("6.0", "6.0", 599, False, "held for 9 min 59 s of the 10 min asked for"),
    ],
)
def test_a_pressure_test_is_judged_by_its_drop_its_pressure_and_its_time(
    start: str, end: str, held: int, passed: bool, words: str
) -> None:
    judged = judge_pressure(LEAK, kept(start, "bar"), kept(end, "bar"), held)
    assert (judged.passed, judged.words) == (passed, words)


def test_readings_in_another_unit_are_compared_exactly() -> None:
    terms = PressureTerms("leak test", "lbf/in²", "90", 60, "2")
    two_pounds = in_base_units("lbf/in²") * 2
    start = kept("7", "bar")
    just = Measured("", "bar", start.value - two_pounds)
    beyond = Measured("", "bar", just.value - Fraction(1, 10**15))
    assert judge_pressure(terms, start, just, 60).passed is True
    assert judge_pressure(terms, start, beyond, 60).passed is False


def test_where_no_drop_is_published_a_person_says_whether_it_passed() -> None:
    terms = PressureTerms("oil way flow", "bar", "3", 60)
    judged = judge_pressure(terms, kept("3", "bar"), kept("2.5", "bar"), 60)
    assert (judged.passed, judged.words) == (None, "a drop of 0.5 bar; what is allowed is not published")
    assert judge_pressure(terms, kept("3", "bar"), kept("2.5", "bar"), 59).passed is False


def test_a_rise_is_called_one() -> None:
    assert drop_words(Fraction(-1, 10), "bar") == "a rise of 0.1 bar"


def test_times_read_as_a_clock_on_the_bench_does() -> None:
    assert [time_words(each) for each in (0, 45, 90, 600, 3600, 7505)] == [
        "0 s",
        "45 s",
        "1 min 30 s",
        "10 min",
        "1 h",
        "2 h 5 min 5 s",
    ]


def test_all_within_new_limits_and_passed_calls_for_serviceable() -> None:
    found = propose([bore("98.00", "98.01", "98.02", "98.03"), cracks(True)])
    assert found == Proposal(
        Condition.SERVICEABLE, ("everything is within new limits and every test passed",)
    )


def test_what_is_worn_is_named_and_still_serviceable() -> None:
    found = propose([bore("98.00", "98.20", "98.02", "98.03")])
    assert found.condition is Condition.SERVICEABLE
    assert found.words == ("everything is within worn limits; bore: worn 0.17 mm over the upper new limit")


def test_anything_out_calls_for_unserviceable_even_where_more_is_missing() -> None:
    found = propose([bore("98.21"), cracks(None)])
    assert found.condition is Condition.UNSERVICEABLE
    assert found.out == ("bore: 0.01 mm over the upper worn limit",)
    assert found.missing == (
        "bore at top, across",
        "bore at foot, along",
        "bore at foot, across",
        "flange cracks",
    )
    assert found.words.startswith(
        "bore: 0.01 mm over the upper worn limit; not measured or tested: bore at top"
    )


def test_a_test_not_passed_calls_for_unserviceable() -> None:
    found = propose([bore("98", "98", "98", "98"), cracks(False, "crack of 4 mm at the third stud")])
    assert found.condition is Condition.UNSERVICEABLE
    assert found.out == ("flange cracks not passed: crack of 4 mm at the third stud",)


def test_what_is_missing_leaves_it_uninspected_and_is_named() -> None:
    found = propose([LineFound(SpecKind.DIMENSION, "bore"), cracks(True)])
    assert (found.condition, found.words) == (Condition.UNINSPECTED, "not measured or tested: bore")


def test_many_that_are_missing_are_counted() -> None:
    lines = [LineFound(SpecKind.DIMENSION, f"width {number}") for number in range(1, 15)]
    assert propose(lines).words.endswith("width 11, width 12, and 2 more")


def test_without_a_specification_nothing_is_proposed_but_uninspected() -> None:
    material = LineFound(SpecKind.MATERIAL, "material")
    for lines in ([], [material]):
        found = propose(lines)
        assert (found.condition, found.words) == (
            Condition.UNINSPECTED,
            "there is no specification to judge by",
        )


def test_figures_without_limits_call_for_nothing_worse() -> None:
    mass = LineLimits("mass", "g")
    judged = judge_line([Reading("", "", kept("512", "g"))], mass)
    found = propose([LineFound(SpecKind.MASS, "mass", judged)])
    assert (found.condition, found.words) == (Condition.SERVICEABLE, "no limits are published")


FIGURES = st.lists(st.sampled_from(["97.99", "98.00", "98.03", "98.10", "98.20", "98.21"]), max_size=4)


@given(FIGURES, st.sampled_from([True, False, None]))
def test_it_never_proposes_serviceable_with_anything_out_or_missing(
    figures: list[str], passed: bool | None
) -> None:
    found = propose([bore(*figures), cracks(passed)])
    out = passed is False or "97.99" in figures or "98.21" in figures
    whole = len(figures) == 4 and passed is not None
    expected = Condition.UNSERVICEABLE if out else Condition.SERVICEABLE if whole else Condition.UNINSPECTED
    assert found.condition is expected
    assert found.reasons
