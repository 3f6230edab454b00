"""Clearances at their limits, as found, machined and selected, and what the target is worth."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.fits import (
    TENTHS_MAX,
    FitTerms,
    FitVerdict,
    Spread,
    check_terms,
    clearance,
    judge_fit,
    limits_spread,
    measured_spread,
    selected_range,
)
from invdb.rules.limits import LineLimits
from invdb.terms import FieldRefused, FitKind

SKIRT = FitTerms("piston in barrel", FitKind.AS_FOUND, "mm", "0.30", "0.40", "0.55", "0.33")
GUIDE = FitTerms("guide in head", FitKind.AS_FOUND, "mm", "-0.05", "-0.02")
RING = FitTerms("ring gap", FitKind.MACHINED, "mm", "0.40", "0.60", "0.90", "0.45", "file the gap")
SHIM = FitTerms("end float", FitKind.SELECTED, "mm", "0.05", "0.15")
LEAST = Fraction(1, 10**9)


def exactly(figure: str) -> Spread:
    value = Fraction(figure)
    return Spread(value, value, value, True)


@pytest.mark.parametrize(
    ("figure", "verdict"),
    [
        ("0.30", FitVerdict.NEW),
        ("0.299999", FitVerdict.TIGHT),
        ("0.40", FitVerdict.NEW),
        ("0.400001", FitVerdict.WORN),
        ("0.55", FitVerdict.WORN),
        ("0.550001", FitVerdict.LOOSE),
    ],
)
def test_a_clearance_at_inside_and_outside_each_limit(figure: str, verdict: FitVerdict) -> None:
    judged = judge_fit(SKIRT, exactly(figure))
    assert judged.verdict is verdict
    assert judged.may_go is (verdict not in {FitVerdict.TIGHT, FitVerdict.LOOSE})


def test_the_least_beyond_a_limit_of_a_fit_is_never_said_to_be_nothing() -> None:
    terms = FitTerms("piston in bore", FitKind.AS_FOUND, "mm", "0.28", "0.34", "0.40")
    for figure, said in (
        ("0.40000001", "0.40 mm, less than 0.0001 mm too loose"),
        ("0.27999999", "0.28 mm, less than 0.0001 mm too tight"),
        ("0.41", "0.41 mm, 0.01 mm too loose"),
    ):
        found = measured_spread([Fraction(figure)])
        assert judge_fit(terms, found).words == said


def test_a_tapered_piston_is_judged_at_its_tight_and_its_loose_end() -> None:
    bore = measured_spread([Fraction("140.02"), Fraction("140.00")])
    piston = measured_spread([Fraction("139.71"), Fraction("139.60")])
    found = clearance(bore, piston)
    assert found == Spread(Fraction("0.29"), Fraction("0.355"), Fraction("0.42"), True)
    assert judge_fit(SKIRT, found).verdict is FitVerdict.TIGHT
    assert judge_fit(SKIRT, found).words == "0.29 mm to 0.42 mm, 0.01 mm too tight"


def test_an_interference_is_a_clearance_below_zero() -> None:
    assert judge_fit(GUIDE, exactly("-0.03")).words == "0.03 mm interference"
    assert judge_fit(GUIDE, exactly("-0.03")).verdict is FitVerdict.NEW
    assert judge_fit(GUIDE, exactly("-0.051")).verdict is FitVerdict.TIGHT
    assert judge_fit(GUIDE, exactly("-0.01")).verdict is FitVerdict.LOOSE


def test_what_is_machined_goes_together_while_there_is_metal() -> None:
    tight = judge_fit(RING, exactly("0.10"))
    assert tight.verdict is FitVerdict.MACHINED
    assert tight.words == "0.10 mm as it is; file the gap to 0.45 mm"
    assert judge_fit(RING, exactly("0.50")).verdict is FitVerdict.NEW
    assert judge_fit(RING, exactly("0.90")).verdict is FitVerdict.WORN
    assert judge_fit(RING, exactly("0.91")).verdict is FitVerdict.LOOSE


def test_what_is_selected_makes_up_the_measured_gap() -> None:
    assert judge_fit(SHIM, exactly("1.2")).verdict is FitVerdict.SELECTED
    assert selected_range(SHIM, exactly("1.2")) == (Fraction("1.05"), Fraction("1.15"))
    unmeasured = Spread(Fraction("1.0"), Fraction("1.2"), Fraction("1.4"), False)
    assert selected_range(SHIM, unmeasured) == (Fraction("0.85"), Fraction("1.35"))


def test_unmeasured_pieces_are_to_be_measured_unless_their_limits_bar_them() -> None:
    bore = limits_spread(LineLimits("bore", "mm", "140.00", "140.02", worn_high="140.15"))
    standard = limits_spread(LineLimits("skirt", "mm", "139.66", "139.70", worn_low="139.60"))
    oversize = limits_spread(LineLimits("skirt", "mm", "139.91", "139.95", worn_low="139.86"))
    assert judge_fit(SKIRT, clearance(bore, standard)).verdict is FitVerdict.UNMEASURED
    assert judge_fit(SKIRT, clearance(bore, oversize)).verdict is FitVerdict.TIGHT
    assert judge_fit(SKIRT, None).verdict is FitVerdict.UNMEASURED
    assert limits_spread(LineLimits("skirt", "mm", "139.66")) is None


def test_the_distance_from_the_target_is_in_tenths_of_the_half_tolerance() -> None:
    assert [judge_fit(SKIRT, exactly(each)).tenths for each in ("0.33", "0.335", "0.331", "0.38")] == [
        *(0, 1, 1, 10)
    ]
    narrow = replace(SKIRT, low="0.33", high="0.33")
    assert judge_fit(narrow, exactly("0.33")).tenths == 0
    assert judge_fit(narrow, exactly("0.34")).tenths == TENTHS_MAX


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"low": "0.5"}, "high"),
        ({"worn_high": "0.39"}, "worn_high"),
        ({"target": "0.41"}, "target"),
        ({"target": "0.29"}, "target"),
    ],
)
def test_terms_that_contradict_one_another_are_refused(changed: dict[str, str], field: str) -> None:
    with pytest.raises(FieldRefused) as refused:
        check_terms(replace(SKIRT, **changed))  # type: ignore[arg-type]
    assert refused.value.field == field


def test_sound_terms_are_taken() -> None:
    for terms in (SKIRT, GUIDE, RING, SHIM):
        check_terms(terms)


@given(*(st.fractions(0, 2) for _ in range(4)))
def test_a_measured_pair_outside_its_limits_never_goes(
    a: Fraction, b: Fraction, c: Fraction, d: Fraction
) -> None:
    outer, inner = measured_spread([a + 1, b + 1]), measured_spread([c, d])
    found = clearance(outer, inner)
    assert found is not None
    worst = (min(a, b) + 1 - max(c, d), max(a, b) + 1 - min(c, d))
    goes = worst[0] >= Fraction("0.30") and worst[1] <= Fraction("0.55")
    assert judge_fit(SKIRT, found).may_go is goes
