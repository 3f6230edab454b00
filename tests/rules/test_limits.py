"""At a limit, just inside it and just outside it: what a bore, a pin or a mass is judged to be."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.limits import LineLimits, Reading, Verdict, check_limits, judge, judge_line, suspicious
from invdb.rules.measuring import in_base_units, kept, read_measured
from invdb.terms import FieldRefused

BORE = LineLimits(
    "bore",
    "in",
    new_low="4.8750",
    new_high="4.8765",
    worn_high="4.8830",
    oval_max="0.003",
    taper_max="0.004",
    points=("top", "bottom"),
    directions=("fore and aft", "athwart"),
)
LEAST = Fraction(1, 10**9)


@pytest.mark.parametrize(
    ("at", "inside", "outside"),
    [
        ("4.8750", Verdict.NEW, Verdict.OUT),
        ("4.8765", Verdict.NEW, Verdict.WORN),
        ("4.8830", Verdict.WORN, Verdict.OUT),
    ],
)
def test_a_limit_is_within_and_the_least_beyond_it_is_not(at: str, inside: Verdict, outside: Verdict) -> None:
    value = kept(at, "in").value
    inward = LEAST if at == "4.8750" else -LEAST
    assert judge(value, BORE).verdict is inside
    assert judge(value + inward, BORE).verdict is inside
    assert judge(value - inward, BORE).verdict is outside


@pytest.mark.parametrize("other", ["mm", "thou"])
def test_a_limit_read_in_another_unit_is_the_same_limit(other: str) -> None:
    exact = kept("4.8830", "in").value / in_base_units(other)
    text = f"{exact.numerator * 10**6 // exact.denominator / 10**6:.6f}"
    assert read_measured(text, other).value == kept("4.8830", "in").value
    assert judge(read_measured(text, other).value, BORE).verdict is Verdict.WORN


@pytest.mark.parametrize(
    ("figure", "verdict"),
    [
        ("133.35 mm", Verdict.NEW),
        ("133.3500000001 mm", Verdict.NEW),
        ("133.3499999999 mm", Verdict.WORN),
        ("133.2738 mm", Verdict.WORN),
        ("133.2737999999 mm", Verdict.OUT),
        ("133388.1 µm", Verdict.NEW),
        ("133388.1000001 µm", Verdict.OUT),
        ("5251.5 thou", Verdict.NEW),
        ("5 1/4", Verdict.NEW),
    ],
)
def test_a_limit_in_fractions_of_an_inch_is_judged_exactly_in_millimetres(
    figure: str, verdict: Verdict
) -> None:
    land = LineLimits("land", "in", new_low="5 1/4", new_high="5.2515", worn_low="5.2470")
    assert judge(read_measured(figure, "in").value, land).verdict is verdict


def test_the_least_beyond_a_limit_is_never_said_to_be_nothing() -> None:
    land = LineLimits("land", "in", new_low="5 1/4", worn_low="5.2470")
    said = judge(read_measured("133.2737999999 mm", "in").value, land).words
    assert said == "less than 0.000001 in below the lower worn limit"
    said = judge(read_measured("133.2737 mm", "in").value, land).words
    assert said == "0.000004 in below the lower worn limit"


def test_it_says_by_how_much_in_the_unit_that_is_published() -> None:
    assert judge(kept("4.885", "in").value, BORE).words == "0.002 in over the upper worn limit"
    assert judge(kept("4.877", "in").value, BORE).words == "worn 0.0005 in over the upper new limit"
    assert judge(kept("4.874", "in").value, BORE).words == "0.001 in below the lower new limit"


def test_nothing_is_judged_where_no_limits_are() -> None:
    assert judge(Fraction(5), LineLimits("length", "mm")).verdict is Verdict.UNJUDGED


def test_what_has_worn_limits_alone_is_never_called_new() -> None:
    assert judge(Fraction(5), LineLimits("length", "mm", worn_low="4")).verdict is Verdict.WORN


def readings(*figures: tuple[str, str, str]) -> list[Reading]:
    return [Reading(point, way, read_measured(text, "in")) for point, way, text in figures]


def test_a_bore_round_and_straight_is_judged_by_its_worst_figure() -> None:
    judged = judge_line(
        readings(
            ("top", "fore and aft", "4.878"),
            ("top", "athwart", "4.8775"),
            ("bottom", "fore and aft", "4.8755"),
            ("bottom", "athwart", "4.876"),
        ),
        BORE,
    )
    assert judged.verdict is Verdict.WORN
    assert judged.ovality is not None
    assert judged.ovality.words == "ovality 0.0005 in"
    assert judged.taper is not None
    assert judged.taper.words == "taper 0.0025 in"
    assert judged.missing == ()


def test_an_oval_bore_is_out_though_each_figure_is_within() -> None:
    judged = judge_line(readings(("top", "fore and aft", "4.876"), ("top", "athwart", "4.8795")), BORE)
    assert judged.verdict is Verdict.OUT
    assert judged.words == "ovality 0.0035 in, 0.0005 in over its limit"
    assert judged.missing == (("bottom", "fore and aft"), ("bottom", "athwart"))


def test_ovality_at_its_limit_is_within() -> None:
    at = judge_line(readings(("top", "fore and aft", "4.876"), ("top", "athwart", "4.879")), BORE)
    beyond = judge_line(readings(("top", "fore and aft", "4.876"), ("top", "athwart", "4.879001")), BORE)
    assert (at.verdict, beyond.verdict) == (Verdict.WORN, Verdict.OUT)


def test_one_figure_has_no_ovality() -> None:
    judged = judge_line(readings(("top", "athwart", "4.876")), BORE)
    assert judged.ovality is None
    assert judged.taper is None


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"new_low": "4.9"}, "new_high"),
        ({"worn_low": "4.88", "worn_high": "4.87"}, "worn_high"),
        ({"worn_low": "4.8751"}, "worn_low"),
        ({"worn_high": "4.8764"}, "worn_high"),
        ({"oval_max": "-0.1"}, "oval_max"),
    ],
)
def test_limits_that_contradict_one_another_are_refused(changed: dict[str, str], field: str) -> None:
    with pytest.raises(FieldRefused) as refused:
        check_limits(replace(BORE, **changed))  # type: ignore[arg-type]
    assert refused.value.field == field


def test_a_worn_limit_inside_the_new_ones_is_said_to_be_so() -> None:
    with pytest.raises(FieldRefused, match=r"upper worn limit of bore, 4\.8764 in, is inside its new"):
        check_limits(replace(BORE, worn_high="4.8764"))
    with pytest.raises(FieldRefused, match=r"lower worn limit of bore, 4\.8751 in, is inside its new"):
        check_limits(replace(BORE, worn_low="4.8751"))
    with pytest.raises(FieldRefused, match=r"new limits of bore are swapped: 4\.9 is more than 4\.8765 in"):
        check_limits(replace(BORE, new_low="4.9"))


def test_a_figure_of_nothing_is_asked_about_where_a_lower_limit_stands() -> None:
    assert "far from the limits of bore" in (suspicious(read_measured("0", "in"), BORE) or "")
    bend = LineLimits("bend", "mm", new_high="0.03", worn_high="0.08")
    assert suspicious(read_measured("0", "mm"), bend) is None
    assert "ten times too big" in (suspicious(read_measured("0.5", "mm"), bend) or "")


def test_sound_limits_are_taken() -> None:
    check_limits(BORE)
    check_limits(LineLimits("mass", "g"))


def test_a_reading_ten_times_too_big_is_asked_about() -> None:
    assert "ten times too big" in (suspicious(read_measured("48.76", "in"), BORE) or "")
    assert "ten times too small" in (suspicious(read_measured("0.4876", "in"), BORE) or "")
    assert "25.4 times" in (suspicious(read_measured("123.86", "in"), BORE) or "")
    assert "far from" in (suspicious(read_measured("20", "in"), BORE) or "")
    assert suspicious(read_measured("4.90", "in"), BORE) is None
    assert suspicious(read_measured("123.86 mm", "in"), BORE) is None
    assert suspicious(read_measured("20", "in"), LineLimits("length", "in")) is None


@given(
    st.integers(0, 1000), st.integers(0, 300), st.integers(0, 300), st.integers(0, 300), st.integers(0, 3000)
)
def test_the_verdict_is_where_the_figure_lies(
    worn_low: int, low_gap: int, width: int, high_gap: int, value: int
) -> None:
    new_low, new_high = worn_low + low_gap, worn_low + low_gap + width
    worn_high = new_high + high_gap
    line = LineLimits("x", "µm", str(new_low), str(new_high), str(worn_low), str(worn_high))
    check_limits(line)
    expected = (
        Verdict.NEW
        if new_low <= value <= new_high
        else Verdict.WORN
        if worn_low <= value <= worn_high
        else Verdict.OUT
    )
    assert judge(kept(str(value), "µm").value, line).verdict is expected
