"""How figures and tests stand as they are typed, reckoned from the sheet alone."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.shown_inspection import DoneTest, Figure, Taken
from gui.views.inspection_lines import (
    IS_IT_SO,
    NO_FIGURE,
    NOT_TAKEN,
    captions_of,
    instrument_told,
    judge_box,
    judge_done,
    judge_figures,
    read_held,
)
from invdb.rules.inspection_sheet import InstrumentNote, LastReading, SheetLine
from invdb.rules.limits import Judged, LineLimits, Verdict
from invdb.rules.specification import SpecLineFacts
from invdb.terms import CrackMethod, FieldRefused, SpecKind
from tests.shop import TODAY

BORE = LineLimits(
    "bore",
    "mm",
    "105.00",
    "105.03",
    worn_high="105.15",
    oval_max="0.05",
    points=("top", "bottom"),
    directions=("along", "across"),
)
BORE_LINE = SpecLineFacts(1, SpecKind.DIMENSION, "bore", "", "mm", BORE)
WATER = SpecLineFacts(
    2,
    SpecKind.PRESSURE_TEST,
    "water jacket",
    "",
    "bar",
    LineLimits("water jacket", "bar"),
    target="1.6",
    medium="water",
    hold_seconds=1200,
    drop_max="0.05",
)
CRACKS = SpecLineFacts(3, SpecKind.CRACK_TEST, "cracks", "", "", LineLimits("cracks", ""))


@pytest.mark.parametrize(
    ("text", "sign"),
    [
        ("105.00", "within new limits"),
        ("105.03", "within new limits"),
        ("105.030001", "within worn limits"),
        ("105.15", "within worn limits"),
        ("105.150001", "out of limits"),
        ("104.999999", "out of limits"),
        ("4.134 in", "within new limits"),
        ("4134 thou", "within new limits"),
        ("4 1/8 in", "out of limits"),
        ("1050.1", IS_IT_SO),
        ("105,01", IS_IT_SO),
        ("4.134", IS_IT_SO),
        ("105.01.2", NO_FIGURE),
        ("1/0", NO_FIGURE),
        ("-105", NO_FIGURE),
        ("105 g", NO_FIGURE),
        ("105 mm 4 in", NO_FIGURE),
        ("about 105", NO_FIGURE),
    ],
)
def test_a_figure_stands_by_its_limits_or_says_what_is_wrong_with_it(text: str, sign: str) -> None:
    assert judge_box(text, BORE).sign == sign


def test_what_is_out_says_by_how_much_and_the_figure_both_ways() -> None:
    words = judge_box("105.17", BORE).words
    assert words == "105.17 mm (4.14055 in): 0.02 mm over the upper worn limit"


def taken(**places: str) -> Taken:
    where = {place: place.split("_") for place in places}
    return Taken(tuple(Figure(where[place][0], where[place][1], text) for place, text in places.items()))


def test_a_line_tells_its_worst_place_and_what_is_still_to_be_measured() -> None:
    found = judge_figures(taken(top_along="105.02", top_across="105.16"), BORE)
    assert found.sign == "out of limits"
    assert found.words == (
        "ovality 0.14 mm, 0.09 mm over its limit; top across 0.01 mm over the upper worn limit;"
        " still to measure: bottom along and bottom across"
    )


def test_a_line_within_new_limits_has_nothing_to_complain_of() -> None:
    found = judge_figures(
        taken(top_along="105.01", top_across="105.02", bottom_along="105.01", bottom_across="105.01"), BORE
    )
    assert (found.sign, found.words) == ("within new limits", "ovality 0.01 mm")


def test_what_cannot_be_read_is_told_before_any_verdict() -> None:
    found = judge_figures(taken(top_along="105.20", top_across="105.0.1"), BORE)
    assert found.sign == NO_FIGURE
    assert "top across: '105.0.1' is no figure." in found.words
    assert "And out of limits: top along, 105.20 mm" in found.words


def test_a_slip_of_the_pen_is_asked_about_and_nothing_typed_is_not_taken() -> None:
    assert judge_figures(taken(top_along="10.501"), BORE).sign == IS_IT_SO
    assert judge_figures(Taken(), BORE).sign == NOT_TAKEN


def test_several_of_the_worst_are_named_and_the_rest_counted() -> None:
    line = LineLimits("lift", "mm", "9", "10", points=tuple("abcde"))
    found = judge_figures(Taken(tuple(Figure(point, "", "10.5") for point in "abcde")), line)
    assert found.words.startswith("a 0.5 mm over the upper new limit; b 0.5")
    assert found.words.endswith("; and 2 more")


@given(st.decimals(104, 106, places=5))
def test_a_box_and_its_line_say_the_same_of_a_single_figure(figure: object) -> None:
    line = LineLimits("bore", "mm", "105.00", "105.03", worn_high="105.15")
    whole = judge_figures(Taken((Figure("", "", str(figure)),)), line)
    assert whole.sign == judge_box(str(figure), line).sign
    value = Fraction(str(figure))
    good = Fraction("105") <= value <= Fraction("105.15")
    assert (whole.sign != "out of limits") == good


def test_the_limits_of_a_line_and_what_it_read_last_are_told() -> None:
    last = LastReading("top", "along", "105.04", "mm", TODAY, Judged(Verdict.WORN, ""))
    captions = captions_of(SheetLine(BORE_LINE, (last,)))
    assert captions[0].startswith("new 105.00 to 105.03 mm (4.13386 to 4.13504 in) · worn at most 105.15 mm")
    assert captions[-1] == f"last, on {TODAY}: top along 105.04 mm"
    bare = SpecLineFacts(4, SpecKind.MASS, "mass", "", "g", LineLimits("mass", "g"))
    assert captions_of(SheetLine(bare)) == ("no limits are published",)


@pytest.mark.parametrize(
    ("done", "sign", "words"),
    [
        (DoneTest(medium="water"), NOT_TAKEN, ""),
        (DoneTest(start="1.62"), NOT_TAKEN, "begun at 1.62 bar (23.5 lbf/in²); read the pressure when"),
        (DoneTest(start="1.5"), "not passed", "begun at 1.5 bar (21.76 lbf/in²), and 1.6 bar is asked"),
        (DoneTest(start="1.62", end="1.57", held="20 min"), "passed", "dropped 0.05 bar in 20 min"),
        (DoneTest(start="1.62", end="1.56", held="20 min"), "not passed", "0.01 bar more than is allowed"),
        (DoneTest(start="1.62", end="1.60", held="19 min"), "not passed", "held for 19 min, and 20 min is"),
        (DoneTest(start="1.62", end="1.5.0", held="20 min"), NO_FIGURE, "'1.5.0' is no figure"),
        (DoneTest(start="1,62"), IS_IT_SO, "has a comma"),
        (DoneTest(start="1.62", end="1.60", held="long"), NO_FIGURE, "'long' is no time"),
        (
            DoneTest(start="1.62", end="1.50", held="20 min", passed=True),
            "not passed",
            "said to be passed against its figures",
        ),
    ],
)
def test_a_pressure_test_is_judged_as_its_readings_are_typed(done: DoneTest, sign: str, words: str) -> None:
    found = judge_done(WATER, done)
    assert found.sign == sign
    assert words in found.words


def test_a_test_without_an_outcome_asks_for_one_by_how_it_was_done() -> None:
    assert judge_done(CRACKS, DoneTest(method=CrackMethod.DYE)).words == (
        "by dye penetrant; say whether it was passed"
    )
    assert judge_done(CRACKS, DoneTest(found="a line at the flange")).words == (
        "a line at the flange; say whether it was passed"
    )


def test_a_crack_test_is_as_the_person_says() -> None:
    assert judge_done(CRACKS, DoneTest()).sign == NOT_TAKEN
    assert judge_done(CRACKS, DoneTest(method=CrackMethod.DYE)).sign == NOT_TAKEN
    good = judge_done(CRACKS, DoneTest(method=CrackMethod.DYE, passed=True))
    assert (good.sign, good.words) == ("passed", "passed by dye penetrant")
    assert (
        judge_done(CRACKS, DoneTest(method=CrackMethod.DYE, passed=False, found="6 mm")).sign == "not passed"
    )


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("20 min", 1200), ("20", 1200), ("90 s", 90), ("1 h 30 min", 5400), ("20:00", 1200), ("1:00:05", 3605)],
)
def test_a_time_is_read_as_people_write_it(text: str, seconds: int) -> None:
    assert read_held(text) == seconds


@pytest.mark.parametrize("text", ["", "0", "0 min", "twenty", "20 bar", "-5 min", "1000 h", "99999"])
def test_what_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(FieldRefused):
        read_held(text)


def test_an_instrument_tells_until_when_it_may_be_trusted() -> None:
    good = InstrumentNote(1, "M-03", "bore gauge", TODAY, TODAY)
    bad = InstrumentNote(2, "M-04", "bore gauge", out="has no calibration")
    assert instrument_told((good, bad), 1).words == f"calibrated {TODAY}, good until {TODAY}"
    assert instrument_told((good, bad), 2).sign == "expired"
    assert instrument_told((good, bad), None).words == ""
