"""What an inspection calls for: tests by their readings, the condition proposed, and what may be decided."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.inspecting import (
    JudgedTest,
    Proposed,
    RunOfTest,
    check_decision,
    judge_test,
    propose,
)
from invdb.rules.limits import LineLimits, Reading
from invdb.rules.measuring import Measured, in_base_units, kept
from invdb.rules.specification import SpecLineFacts, range_words, seconds_words
from invdb.terms import Condition, CrackMethod, FieldRefused, Scope, SpecKind

NONE = LineLimits("", "")
BORE_LIMITS = LineLimits(
    "bore",
    "mm",
    "98.00",
    "98.03",
    worn_high="98.20",
    oval_max="0.15",
    points=("top", "foot"),
    directions=("along", "across"),
)
BORE = SpecLineFacts(1, SpecKind.DIMENSION, "bore", "", "mm", BORE_LIMITS)
CRACKS = SpecLineFacts(2, SpecKind.CRACK_TEST, "flange cracks", "", "", NONE, wording="all over")
LEAK = SpecLineFacts(
    *(3, SpecKind.PRESSURE_TEST, "leak test", "", "bar", NONE),
    target="6.0",
    medium="air",
    hold_seconds=600,
    drop_max="0.15",
)
MASS = SpecLineFacts(4, SpecKind.MASS, "mass", "", "g", LineLimits("mass", "g"), spread_max="5")
MATERIAL = SpecLineFacts(5, SpecKind.MATERIAL, "material", "", "", NONE, wording="steel to PS 11")
LINES = (BORE, CRACKS, MASS, MATERIAL)


def bores(*figures: str) -> dict[str, list[Reading]]:
    return {
        "bore": [
            Reading(point, way, kept(figure, "mm"))
            for (point, way), figure in zip(BORE_LIMITS.places, figures, strict=False)
        ]
    }


def cracks(passed: bool | None, found: str = "") -> RunOfTest:
    return RunOfTest(SpecKind.CRACK_TEST, "flange cracks", passed, found, CrackMethod.DYE)


def leak(
    start: str, end: str, held: int, passed: bool | None = None, line: SpecLineFacts = LEAK
) -> JudgedTest:
    run = RunOfTest(
        SpecKind.PRESSURE_TEST,
        "leak test",
        passed,
        start=kept(start, "bar"),
        end=kept(end, "bar"),
        held_seconds=held,
    )
    return judge_test(line, run)


def called_for(
    figures: dict[str, list[Reading]], *tests: RunOfTest, standing: Condition = Condition.UNINSPECTED
) -> Proposed:
    return propose(LINES, figures, tests, standing)


@pytest.mark.parametrize(
    ("start", "end", "held", "passed", "words"),
    [
        ("6.0", "6.0", 600, True, "dropped 0 bar in 10 min"),
        ("6.0", "5.85", 600, True, "dropped 0.15 bar in 10 min"),
        ("6.0", "5.849999", 600, False, "dropped 0.150001 bar, 0.000001 bar more than is allowed"),
        ("6.0", "5.8499999", 600, False, "dropped 0.15 bar, less than 0.000001 bar more than is allowed"),
        ("6.0", "6.02", 600, True, "rose 0.02 bar in 10 min"),
        ("6.1", "5.96", 601, True, "dropped 0.14 bar in 10 min 1 s"),
        ("5.999", "5.999", 600, False, "begun at 5.999 bar, and 6.0 bar is asked"),
        ("6.0", "6.0", 599, False, "held for 9 min 59 s, and 10 min is asked"),
    ],
)
def test_a_pressure_test_is_judged_by_its_drop_its_pressure_and_its_time(
    start: str, end: str, held: int, passed: bool, words: str
) -> None:
    judged = leak(start, end, held)
    assert (judged.passed, judged.words) == (passed, words)


def test_a_pressure_in_another_unit_is_compared_exactly() -> None:
    pounds = replace(LEAK, unit="lbf/in²", target="90", drop_max="2")
    start = kept("7", "bar")
    just = Measured("", "bar", start.value - in_base_units("lbf/in²") * 2)
    beyond = Measured("", "bar", just.value - Fraction(1, 10**15))
    run = RunOfTest(SpecKind.PRESSURE_TEST, "leak test", start=start, held_seconds=600)
    assert judge_test(pounds, replace(run, end=just)).passed is True
    assert judge_test(pounds, replace(run, end=beyond)).passed is False


def test_where_no_drop_is_published_a_person_says_whether_it_passed() -> None:
    untold = replace(LEAK, drop_max=None)
    assert leak("6", "5.5", 600, line=untold).passed is None
    assert leak("6", "5.5", 600, True, line=untold).passed is True
    assert leak("6", "5.5", 599, line=untold).passed is False


def test_what_a_person_says_against_the_figures_is_known_to_be_so() -> None:
    judged = leak("6", "5", 600, True)
    assert (judged.passed, judged.against_figures, judged.bad) == (True, True, True)
    judged = leak("6", "6", 600, False)
    assert (judged.passed, judged.against_figures, judged.bad) == (False, False, True)


def test_times_read_as_a_clock_on_the_bench_does() -> None:
    assert [seconds_words(each) for each in (0, 45, 90, 600, 3600, 7505)] == [
        *("0 s", "45 s", "1 min 30 s", "10 min", "1 h", "2 h 5 min 5 s"),
    ]


def test_limits_are_said_both_ways() -> None:
    assert range_words("1", "2", "in") == "1 in (25.4 mm) to 2 in (50.8 mm)"
    assert range_words(None, "2", "in") == "at most 2 in (50.8 mm)"
    assert range_words("1", None, "in") == "at least 1 in (25.4 mm)"
    assert range_words(None, None, "in") == ""


def test_all_within_new_limits_and_passed_calls_for_serviceable() -> None:
    proposed = called_for(bores("98.00", "98.01", "98.02", "98.03"), cracks(True))
    assert proposed.condition is Condition.SERVICEABLE
    assert proposed.reasons == ("all figures are within new limits", "every test is passed")
    assert (proposed.bad, proposed.missing) == ((), ())


def test_what_is_worn_is_named_and_still_serviceable() -> None:
    proposed = called_for(bores("98.00", "98.10", "98.20", "98.20"), cracks(True))
    assert proposed.condition is Condition.SERVICEABLE
    assert proposed.reasons[0] == "all figures are within worn limits"
    assert "bore top across: worn 0.07 mm over the upper new limit" in proposed.reasons


def test_anything_out_calls_for_unserviceable_even_where_more_is_missing() -> None:
    proposed = called_for(bores("98.21"))
    assert proposed.condition is Condition.UNSERVICEABLE
    assert proposed.bad == ("bore top along: 0.01 mm over the upper worn limit",)
    assert proposed.missing == (
        "bore top across, foot along and foot across",
        "flange cracks",
    )


def test_too_oval_calls_for_unserviceable_except_in_a_sample() -> None:
    figures = bores("98.00", "98.16", "98.00", "98.00")
    (words,) = called_for(figures, cracks(True)).bad
    assert words == "bore: ovality 0.16 mm, 0.01 mm over its limit"
    sampled = propose(LINES, figures, [cracks(True)], Condition.UNINSPECTED, sampled=True)
    assert sampled.condition is Condition.SERVICEABLE


def test_a_test_not_passed_calls_for_unserviceable() -> None:
    whole = bores("98", "98", "98", "98")
    proposed = called_for(whole, cracks(False, "4 mm at the third stud"))
    assert proposed.condition is Condition.UNSERVICEABLE
    assert proposed.bad == ("flange cracks: not passed by dye penetrant: 4 mm at the third stud",)
    unasked = RunOfTest(SpecKind.LOOK, "fins", False, "three broken")
    assert called_for(whole, cracks(True), unasked).bad == ("fins: not passed: three broken",)


def test_what_is_missing_leaves_it_as_it_was_and_is_named() -> None:
    proposed = called_for({}, cracks(True))
    assert (proposed.condition, proposed.reasons) == (
        Condition.UNINSPECTED,
        ("not taken: bore", "so it stays uninspected"),
    )
    unsaid = called_for(bores("98", "98", "98", "98"), cracks(None))
    assert (unsaid.condition, unsaid.missing) == (Condition.UNINSPECTED, ("flange cracks",))
    assert called_for({}, standing=Condition.SERVICEABLE).condition is Condition.SERVICEABLE


def test_what_nothing_bounds_need_not_be_taken() -> None:
    assert not MASS.needed
    proposed = propose((MASS, MATERIAL), {}, (), Condition.UNINSPECTED)
    assert (proposed.condition, proposed.reasons) == (
        Condition.UNINSPECTED,
        ("nothing is asked of it, so it stays uninspected",),
    )


def test_figures_never_undo_that_a_piece_cannot_be_salvaged() -> None:
    whole = bores("98", "98", "98", "98")
    proposed = called_for(whole, cracks(True), standing=Condition.UNSALVAGEABLE)
    assert proposed.condition is Condition.UNSALVAGEABLE


def decided(proposed: Proposed, condition: Condition, scope: Scope | None = None, reason: str = "") -> str:
    """The field that is refused; '' where the decision stands."""
    try:
        check_decision(proposed, condition, scope, reason)
    except FieldRefused as refused:
        return refused.field
    return ""


def test_a_decision_by_the_figures_needs_no_reason_and_one_against_them_does() -> None:
    good = called_for(bores("98", "98", "98", "98"), cracks(True))
    assert decided(good, Condition.SERVICEABLE, Scope.FLIGHT) == ""
    assert decided(good, Condition.SERVICEABLE) == "scope"
    assert decided(good, Condition.UNSERVICEABLE, Scope.FLIGHT, "bent") == "scope"
    for other in set(Condition) - {Condition.SERVICEABLE}:
        assert decided(good, other) == "reason"
        assert decided(good, other, reason="the fins are bent") == ""


def test_what_is_out_is_never_for_flight_and_else_for_a_reason() -> None:
    out = called_for(bores("98.3", "98", "98", "98"), cracks(True))
    assert decided(out, Condition.UNSERVICEABLE) == ""
    assert decided(out, Condition.SERVICEABLE, Scope.FLIGHT, "the owner insists") == "decided"
    for scope in (Scope.GROUND_RUNNING, Scope.DISPLAY):
        assert decided(out, Condition.SERVICEABLE, scope) == "reason"
        assert decided(out, Condition.SERVICEABLE, scope, "short runs only") == ""


def test_a_test_said_to_be_passed_against_its_figures_needs_a_reason_whatever_is_decided() -> None:
    run = RunOfTest(
        *(SpecKind.PRESSURE_TEST, "leak test", True, "", None, kept("6", "bar"), kept("5", "bar"), 600)
    )
    proposed = propose((LEAK,), {}, (run,), Condition.UNINSPECTED)
    assert proposed.against_figures
    assert proposed.condition is Condition.UNSERVICEABLE
    assert decided(proposed, Condition.UNSERVICEABLE) == "reason"


FIGURES = st.lists(st.sampled_from(["97.99", "98.05", "98.10", "98.20", "98.21"]), max_size=4)
STANDING = st.sampled_from([Condition.UNINSPECTED, Condition.SERVICEABLE, Condition.UNSERVICEABLE])


@given(FIGURES, st.sampled_from([True, False, None]), STANDING)
def test_it_never_calls_for_serviceable_with_anything_out_and_never_for_unsalvageable(
    figures: list[str], passed: bool | None, standing: Condition
) -> None:
    proposed = called_for(bores(*figures), cracks(passed), standing=standing)
    oval = {frozenset({"98.05", "98.21"}), frozenset({"97.99", "98.20"}), frozenset({"97.99", "98.21"})}
    pairs = {frozenset(figures[at : at + 2]) for at in (0, 2) if len(figures) >= at + 2}
    out = passed is False or "97.99" in figures or "98.21" in figures or bool(pairs & oval)
    whole = len(figures) == 4 and passed is not None
    expected = Condition.UNSERVICEABLE if out else Condition.SERVICEABLE if whole else standing
    assert proposed.condition is expected
    assert proposed.reasons
    assert bool(proposed.bad) == out
    assert decided(proposed, Condition.SERVICEABLE, Scope.FLIGHT, "said so") == ("decided" if out else "")
