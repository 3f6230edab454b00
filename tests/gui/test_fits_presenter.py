"""What the fit view makes of an engine's fits and masses, with no window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import ChartStrip
from gui.sitting import Sitting
from gui.views.fits_presenter import FitsPresenter, FitsShown, strip_of_fit, strip_of_masses
from invdb.acts.engine_fits import EngineFits, FitPoint, FitRow, MassPoint, MassRow
from invdb.acts.engine_list import engines
from invdb.acts.proposed import Gain, Proposal
from invdb.rules.fits import FitVerdict
from invdb.rules.kit_sums import FITS
from invdb.terms import FitKind
from tests.gui.stores_shop import sit
from tests.shop import TODAY, Shop, sqlite_shop

POSITIONS = ("1", "2", "3")


def mm(figure: str) -> Fraction:
    return Fraction(figure)


def point(position: str, figure: str | None, verdict: FitVerdict, *, measured: bool = True) -> FitPoint:
    value = None if figure is None else mm(figure)
    words = "to be measured" if figure is None else f"{figure} mm"
    return FitPoint(
        position, (f"T{position}-B", f"T{position}-P"), value, value, value, measured, verdict, words
    )


def skirt(*points: FitPoint, worn: str = "0.55", kind: FitKind = FitKind.AS_FOUND) -> FitRow:
    return FitRow(
        "piston in bore",
        kind,
        ("cylinder barrel", "piston"),
        "mm",
        mm("0.30"),
        mm("0.33"),
        mm("0.40"),
        mm(worn),
        "0.30 to 0.40 mm, target 0.33 mm, worn 0.55 mm",
        "",
        points,
    )


GOOD = point("1", "0.34", FitVerdict.NEW)
LOOSE = point("2", "0.58", FitVerdict.LOOSE)
UNMEASURED = point("3", "0.38", FitVerdict.UNMEASURED, measured=False)


def lines(strip: ChartStrip) -> dict[str, float]:
    return {line.word: line.value for line in strip.lines}


def test_a_fit_is_drawn_against_its_minimum_target_maximum_and_worn_limit() -> None:
    strip = strip_of_fit(skirt(GOOD, LOOSE, UNMEASURED), POSITIONS)
    assert lines(strip) == {
        "minimum 0.300 mm": 0.30,
        "target 0.330 mm": 0.33,
        "maximum 0.400 mm": 0.40,
        "worn 0.550 mm": 0.55,
    }
    assert [(band.low, band.high, band.sign) for band in strip.bands] == [
        (0.30, 0.40, "within new limits"),
        (0.40, 0.55, "within worn limits"),
    ]
    assert strip.caption.splitlines() == [
        "piston in cylinder barrel",
        "0.30 to 0.40 mm, target 0.33 mm, worn 0.55 mm",
    ]


def test_what_goes_in_what_is_not_said_twice() -> None:
    named = replace(skirt(GOOD), name="piston in cylinder barrel")
    assert strip_of_fit(named, POSITIONS).caption == "0.30 to 0.40 mm, target 0.33 mm, worn 0.55 mm"


@pytest.mark.parametrize(
    ("low", "mean", "high", "verdict", "figure"),
    [
        ("0.54", "0.545", "0.56", FitVerdict.LOOSE, "0.560"),
        ("0.38", "0.395", "0.41", FitVerdict.WORN, "0.410"),
        ("0.29", "0.31", "0.33", FitVerdict.TIGHT, "0.290"),
        ("0.41", "0.43", "0.45", FitVerdict.WORN, "0.430"),
        ("0.32", "0.34", "0.36", FitVerdict.NEW, "0.340"),
        ("0.400", "0.4004", "0.41", FitVerdict.WORN, "0.4004"),
        ("0.399", "0.3997", "0.40", FitVerdict.NEW, "0.3997"),
        ("0.40", "0.40", "0.40", FitVerdict.NEW, "0.400"),
    ],
)
def test_the_figure_beneath_a_cylinder_is_one_that_its_verdict_agrees_with(
    low: str, mean: str, high: str, verdict: FitVerdict, figure: str
) -> None:
    one = replace(GOOD, low=mm(low), mean=mm(mean), high=mm(high), verdict=verdict)
    assert strip_of_fit(skirt(one), ("1",)).points[0].figure == figure


def test_without_a_worn_limit_the_maximum_is_the_end() -> None:
    strip = strip_of_fit(skirt(GOOD, worn="0.40"), POSITIONS)
    assert [band.sign for band in strip.bands] == ["within new limits"]
    assert next(line.sign for line in strip.lines if line.word.startswith("maximum")) == "out of limits"


def test_the_worst_cylinder_marks_the_whole_row_and_all_are_counted() -> None:
    strip = strip_of_fit(skirt(GOOD, LOOSE, UNMEASURED), POSITIONS)
    assert strip.sign == "too loose"
    assert strip.told == "1 too loose, 1 to be measured, 1 within new limits"


def test_a_cylinder_where_the_two_are_not_both_there_keeps_its_column() -> None:
    strip = strip_of_fit(skirt(GOOD, UNMEASURED), POSITIONS)
    assert [each.name for each in strip.points] == ["1", "2", "3"]
    assert strip.points[1].sign == "nothing recorded"
    assert strip.points[1].mean is None
    assert strip.sign == "to be measured", "what is not there is not what the row is marked by"


def test_what_follows_from_limits_alone_is_drawn_open_and_has_no_figure() -> None:
    shown = strip_of_fit(skirt(UNMEASURED), ("3",)).points[0]
    assert not shown.measured and shown.figure == ""
    assert "From the limits of the parts" in shown.detail


def test_a_measured_one_tells_its_pieces_and_the_other_unit() -> None:
    shown = strip_of_fit(skirt(GOOD), ("1",)).points[0]
    assert shown.figure == "0.340"
    assert "T1-P in T1-B: 0.34 mm" in shown.detail
    assert "0.01339 in" in shown.detail


def test_a_second_one_at_a_cylinder_stands_beside_the_first() -> None:
    strip = strip_of_fit(skirt(GOOD, point("1", "0.36", FitVerdict.NEW)), ("1",))
    assert [each.name for each in strip.points] == ["1", "1′"]


def test_an_interference_is_below_zero() -> None:
    guide = point("1", "-0.03", FitVerdict.NEW)
    assert strip_of_fit(skirt(guide), ("1",)).points[0].figure == "−0.030"


def masses(*grams: str | None, spread: str = "5", target: str | None = None) -> MassRow:
    points = tuple(
        MassPoint(str(at), None if gram is None else mm(gram), "not weighed" if gram is None else f"{gram} g")
        for at, gram in enumerate(grams, 1)
    )
    return MassRow("reciprocating mass", "g", mm(spread), None if target is None else mm(target), points)


def test_masses_agree_up_to_and_with_the_whole_spread() -> None:
    strip = strip_of_masses(masses("1200", "1205"))
    assert [each.sign for each in strip.points] == ["within new limits"] * 2
    assert strip.told == "5 g apart, of 5 g allowed"
    beyond = strip_of_masses(masses("1200", "1205.1"))
    assert [each.sign for each in beyond.points] == ["within new limits", "out of limits"]
    assert beyond.sign == "out of limits"


def test_masses_with_a_target_are_held_against_it_both_ways() -> None:
    strip = strip_of_masses(masses("1194.9", "1195", "1205", target="1200"))
    assert [each.sign for each in strip.points] == ["out of limits", *["within new limits"] * 2]
    assert lines(strip) == {
        "target 1200.0 g": 1200.0,
        "at most 1205.0 g": 1205.0,
        "at least 1195.0 g": 1195.0,
    }


def test_a_mass_that_nobody_weighed_says_so() -> None:
    shown = strip_of_masses(masses("1200", None)).points[1]
    assert (shown.sign, shown.mean, shown.detail) == ("to be measured", None, "not weighed")


@pytest.fixture
def presenter() -> FitsPresenter:
    return FitsPresenter(Sitting(None))  # type: ignore[arg-type]


def engine_fits(*fits: FitRow, masses: tuple[MassRow, ...] = ()) -> EngineFits:
    return EngineFits(1, "Linnet 117", "cylinder", POSITIONS, fits, masses)


def test_it_is_told_how_many_fits_stand_how_and_which_masses_are_apart(presenter: FitsPresenter) -> None:
    presenter.shown = FitsShown(engine_fits(skirt(GOOD, LOOSE), masses=(masses("1200", "1210"),)))
    assert presenter.told() == (
        "1 too loose, 1 within new limits; masses: 0 of 1 sets agree; too far apart: reciprocating mass."
    )
    assert presenter.title() == "Fits and masses of Linnet 117, as built"
    assert presenter.gained() == ""
    assert presenter.nothing() is None


def test_a_proposal_tells_what_it_gained_and_whether_it_is_the_best(presenter: FitsPresenter) -> None:
    gained = (Gain(FITS, 12, 31, False),)
    presenter.shown = FitsShown(engine_fits(skirt(GOOD)), Proposal((), True, TODAY, gained))
    assert presenter.gained() == (
        "Over taking pieces in shelf order: fits off their targets, in half tolerances: 1.2 instead of 3.1."
        " No better choice exists."
    )
    presenter.shown = FitsShown(engine_fits(skirt(GOOD)), Proposal((), False, TODAY, (), "fits: 3 of 4"))
    assert presenter.gained() == "The best found in time, perhaps not the best: fits: 3 of 4."


def test_an_engine_without_fits_says_what_would_stand_there(presenter: FitsPresenter) -> None:
    presenter.shown = FitsShown(engine_fits())
    nothing = presenter.nothing()
    assert nothing is not None and "fitted in this engine" in nothing.headline
    presenter.as_proposed = True
    nothing = presenter.nothing()
    assert nothing is not None and "could be pulled" in nothing.headline


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def test_an_engine_that_is_read_from_the_store_has_its_positions(shop: Shop) -> None:
    presenter = FitsPresenter(sit(shop))
    with shop.store.reading() as session:
        engine = engines(session)[0]
    shown = presenter.read(Job(), engine, "cylinder")
    assert shown.fits.positions == tuple(str(at) for at in range(1, 8))
    assert shown.proposal is None
    presenter.as_proposed = True
    assert presenter.read(Job(), engine, "cylinder").proposal is not None
