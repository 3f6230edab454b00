"""What a kit sheet says of how its pieces fit together, proposed and pulled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from gui.job import Job
from gui.sitting import Sitting
from gui.views.bench_presenter import BenchPresenter
from gui.views.kit_fits import COMPLETE, best_words, gained_words, noted_at, told_at, worst_of
from gui.views.kit_sheet_presenter import COLUMNS, RowKey, Sheet, sheet_of_proposal
from gui.views.kit_sheet_pulls import sheet_of_pulls
from invdb.acts.proposed import FitShown, Gain, Proposal
from invdb.acts.pull import order_of, reserve
from invdb.rules.fits import FitVerdict
from invdb.rules.kit_model import Balance, KitRequest, Need, Pairing, PositionRequest
from invdb.rules.kit_sums import FITS, MASSES, UNWEIGHED, steps_of
from invdb.terms import FitKind
from tests.fits_shop import FitsShop, furnish_fits
from tests.shop import TODAY, sqlite_shop

SKIRT = FitShown(
    "piston in bore",
    FitKind.AS_FOUND,
    "barrel",
    "T00001-T",
    "piston",
    "T00002-R",
    FitVerdict.NEW,
    "0.31 mm",
    True,
    "",
    "0.30 mm",
)
RING = replace(
    SKIRT,
    name="ring gap",
    kind=FitKind.MACHINED,
    other_station="top ring",
    other_tag="T00003-P",
    verdict=FitVerdict.MACHINED,
    words="0.38 mm as it is",
    operation="File the gap",
    target="0.45 mm",
)


FIT = [column.name for column in COLUMNS].index("fit")


@pytest.fixture
def fits(tmp_path: Path) -> Iterator[FitsShop]:
    with sqlite_shop(tmp_path) as opened:
        yield furnish_fits(opened)


def test_a_station_tells_each_of_its_fits_by_the_other_piece_and_what_is_to_be_done() -> None:
    assert told_at("barrel", (SKIRT, RING)) == (
        "piston in bore with T00002-R: ✓ 0.31 mm.",
        "ring gap with T00003-P: ⚒ 0.38 mm as it is. File the gap to 0.45 mm.",
    )
    assert told_at("piston", (SKIRT, RING)) == ("piston in bore with T00001-T: ✓ 0.31 mm.",)
    assert told_at("rod", (SKIRT, RING)) == ()


def test_only_what_is_not_as_new_is_to_be_read_first() -> None:
    assert noted_at("barrel", (SKIRT,)) == ""
    assert noted_at("barrel", (SKIRT, RING)).startswith("ring gap")


def test_the_worst_fit_gives_the_kit_its_sign() -> None:
    unmeasured = replace(SKIRT, verdict=FitVerdict.UNMEASURED)
    assert worst_of((SKIRT, unmeasured)) == "to be measured"
    assert worst_of((SKIRT, replace(SKIRT, verdict=FitVerdict.WORN), unmeasured)) == "within worn limits"
    assert worst_of((SKIRT,)) == "within new limits"
    assert worst_of(()) == ""


def gained(*gains: Gain) -> str:
    return gained_words(Proposal((), True, TODAY, gains))


def test_what_was_gained_is_told_in_what_a_mechanic_weighs() -> None:
    assert gained(
        Gain("complete positions of priority -1", 4, 3, True),
        Gain("complete positions of priority -3", 2, 1, True),
        Gain(FITS, 88, 163, False),
        Gain(MASSES, 4, 7, False),
        Gain("oldest receipt", 3837, 3804, False),
    ) == (
        "Over taking pieces in shelf order: complete kits 6 instead of 4; fits off their targets, in half"
        " tolerances: 8.8 instead of 16.3; masses apart, in allowed spreads: 1 instead of 1.75"
    )


def test_what_only_breaks_ties_is_no_gain() -> None:
    assert gained(Gain("earliest shelf expiry", 4, 9, False)) == ""
    one, other = (Gain(f"complete positions of priority {at}", at, 3 - at, True) for at in (1, 2))
    assert gained(one, other) == "", "as many are complete either way"
    assert gained(Gain("lines filled", 41, 40, True)).endswith("lines filled 41 instead of 40")


def test_every_sum_that_is_told_is_one_that_the_choice_weighs() -> None:
    weighed = KitRequest(
        (PositionRequest(5, -1),),
        (Need(1, 5, 1, ()), Need(2, 5, 1, ())),
        (),
        (),
        (Pairing(1, 2),),
        (Balance(1, 5_000, {}),),
    )
    complete, *names = [step.name for step in steps_of(weighed)]
    assert complete.startswith(COMPLETE)
    assert {FITS, MASSES, UNWEIGHED, "lines filled", "mates back to their own station"} <= set(names)


def test_how_sure_it_is_that_it_is_the_best() -> None:
    proposal = Proposal((), False, TODAY, (), "lines filled: 3 reached, 4 at best")
    assert best_words(proposal).endswith("perhaps not the best: lines filled: 3 reached, 4 at best")
    assert best_words(Proposal((), True, TODAY)) == "no better choice exists"
    assert gained_words(Proposal((), True, TODAY)) == ""


def measured_pair(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        fits.measured(session, "barrel", bore="100.01", float_gap="1.20")
        fits.measured(session, "piston", skirt="99.71", mass="520")
        fits.measured(session, "rod", small_end_mass="330")


def said_of(sheet: Sheet, station: str) -> str:
    row = next(row for row in sheet.rows(None, "") if row.cells[0].strip() == station)
    assert isinstance(row.key, RowKey)
    return sheet.said_of(row.key)


def test_the_sheet_of_a_proposal_tells_its_fits(fits: FitsShop) -> None:
    measured_pair(fits)
    with fits.shop.store.reading() as session:
        sheet = sheet_of_proposal(fits.proposed(session, "1"))
    assert sheet.fits == "within new limits"
    assert "piston in barrel with" in said_of(sheet, "barrel")
    assert "0.30 mm" in said_of(sheet, "piston")


def test_a_station_is_marked_by_its_worst_fit_and_the_sheet_counts_them_all(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        fits.measured(session, "barrel", bore="100.01", float_gap="1.20")
        fits.measured(session, "piston", mass="520")
        fits.measured(session, "rod", small_end_mass="330")
    with fits.shop.store.reading() as session:
        sheet = sheet_of_proposal(fits.proposed(session, "1"))
    marks = {row.cells[0].strip(): row.cells[FIT] for row in sheet.rows(None, "")}
    assert (marks["barrel"], marks["piston"], marks["rod"]) == ("?", "?", "")
    assert "Fits: 1 to be measured" in sheet.remark


def test_the_sheet_of_a_pull_tells_them_too(fits: FitsShop) -> None:
    measured_pair(fits)
    with fits.shop.store.writing() as session:
        proposal = fits.proposed(session, "1")
        (made,) = reserve(session, tuple(order_of(kit) for kit in proposal.kits), fits.shop.by())
    pulled = BenchPresenter(Sitting(fits.shop.store)).read_pulled(Job(), (made.pull,))
    sheet = sheet_of_pulls(pulled)
    assert sheet.fits == "within new limits"
    assert "piston in barrel with" in said_of(sheet, "barrel")


def test_a_kit_without_fits_on_record_says_none(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        fits.measured(session, "rod", small_end_mass="330")
    with fits.shop.store.reading() as session:
        assert sheet_of_proposal(fits.proposed(session, "1")).fits == ""
