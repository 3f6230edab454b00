"""Laying out the sheet of an inspection from the specification: for a piece, a batch, any piece of a part."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.hold import Subject, raise_hold
from invdb.acts.inspection_sheet import inspection_sheet, sheet_for_part
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.rules.inspection_sheet import SheetToFill
from invdb.rules.limits import Verdict
from invdb.terms import Condition, FieldRefused, Refused, SpecKind
from tests.bench_shop import BORE, MASS, SOURCE, SPEC_FROM, BenchShop, bores, furnished
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
OVERSIZE = "0.25 mm oversize"


@pytest.fixture
def bench(shop: Shop) -> BenchShop:
    return furnished(shop)


def sheet(bench: BenchShop, on: date | None = None) -> SheetToFill:
    with bench.shop.store.reading() as session:
        return inspection_sheet(session, bench.barrel, on)


def oversize(session: Session, bench: BenchShop) -> None:
    """A later revision, in which the oversize has a bore of its own."""
    shop = bench.shop
    add_part_size(session, NewPartSize(shop.barrel, OVERSIZE), shop.by())
    wide = replace(BORE, size_class=OVERSIZE, new_low="105.25", new_high="105.28", worn_high="105.40")
    spec = NewSpec(shop.barrel, "B", TODAY - DAY, SOURCE, (BORE, wide, MASS))
    add_spec(session, spec, shop.by())


def test_the_sheet_has_every_line_of_the_specification_in_force(bench: BenchShop) -> None:
    laid_out = sheet(bench)
    assert [each.line.name for each in laid_out.measured] == ["bore", "mass"]
    assert [each.line.name for each in laid_out.tested] == ["water jacket", "cracks"]
    assert [each.line.name for each in laid_out.stated] == ["studs"]
    assert (laid_out.revision, laid_out.source, laid_out.spec) == ("A", SOURCE, bench.spec)
    assert laid_out.measured[0].line.limits.places == (
        ("top", "along"),
        ("top", "across"),
        ("bottom", "along"),
        ("bottom", "across"),
    )


def test_it_says_whose_sheet_it_is_and_what_is_still_to_be_checked(bench: BenchShop) -> None:
    laid_out = sheet(bench)
    assert laid_out.workshop == "Harrowmere Flying Museum"
    assert (laid_out.part_name, laid_out.where) == ("Cylinder barrel", "A-01-01")
    assert (laid_out.condition, laid_out.scope, laid_out.is_batch) == (Condition.UNINSPECTED, None, False)
    # The barrel has no hazards, so that check isn't asked for.
    assert laid_out.checks_missing == ("the right part", "the papers", "damage")
    bench.inspect()
    laid_out = sheet(bench)
    assert (laid_out.condition, laid_out.checks_missing) == (Condition.SERVICEABLE, ())


def test_it_tells_what_each_line_read_last_and_how_that_stands_now(bench: BenchShop) -> None:
    assert sheet(bench).measured[0].last == ()
    bench.inspect(TODAY - 3 * DAY)
    worn = bores("105.02", top_across="105.05")
    bench.inspect(TODAY - DAY, readings=worn, reason="Measured again at the bench")
    bore, mass = sheet(bench).measured
    assert [(each.point, each.direction, each.figure, each.unit) for each in bore.last] == [
        ("top", "along", "105.02", "mm"),
        ("top", "across", "105.05", "mm"),
        ("bottom", "along", "105.02", "mm"),
        ("bottom", "across", "105.02", "mm"),
    ]
    assert {each.measured_on for each in bore.last} == {TODAY - DAY}
    assert [each.judged.verdict for each in bore.last].count(Verdict.WORN) == 1
    assert mass.last == ()
    assert [each.figure for each in sheet(bench, TODAY - 2 * DAY).measured[0].last] == ["105.01"] * 4


def test_an_instrument_out_of_calibration_is_marked(bench: BenchShop) -> None:
    (gauge,) = sheet(bench).instruments
    assert (gauge.number, gauge.out) == ("M-03", "")
    bench.shop.clock.instant += 101 * DAY
    (gauge,) = sheet(bench).instruments
    assert gauge.out.startswith("was out of calibration")


def test_what_stands_against_it_is_said(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        raise_hold(session, (Subject(piece=bench.barrel.piece),), "dropped on the floor", bench.shop.by())
    assert sheet(bench).against == ("it is on hold: dropped on the floor",)


def test_the_hazards_of_the_part_stand_on_its_sheet(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = shop.piece(session)
        laid_out = inspection_sheet(session, Thing(piece=valve))
    assert [(each.word, each.caution) for each in laid_out.hazards] == [
        ("sodium-filled", "Do not cut the stem.")
    ]
    assert "hazards" in laid_out.checks_missing
    assert (laid_out.spec, laid_out.revision, laid_out.lines) == (None, "", ())


def test_an_earlier_day_has_the_revision_of_that_day(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        oversize(session, bench)
    assert sheet(bench).revision == "B"
    assert sheet(bench, TODAY - 2 * DAY).revision == "A"
    with pytest.raises(FieldRefused, match="came on"):
        sheet(bench, SPEC_FROM)


def test_a_part_has_a_sheet_for_each_of_its_sizes(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        oversize(session, bench)
        own = sheet_for_part(session, bench.shop.barrel)
        wide = sheet_for_part(session, bench.shop.barrel, OVERSIZE.upper().replace(" ", "  "))
        assert sheet_for_part(session, bench.shop.barrel, "Standard size").size_class == ""
    assert (own.tag, own.size_class, own.condition) == ("", "", None)
    assert own.measured[0].line.limits.new_low == "105.00"
    assert (wide.size_class, wide.measured[0].line.limits.new_low) == (OVERSIZE, "105.25")
    assert [each.line.name for each in wide.lines] == ["bore", "mass"]


def test_a_size_that_the_part_is_not_made_in_is_refused(bench: BenchShop) -> None:
    with bench.shop.store.reading() as session, pytest.raises(FieldRefused) as caught:
        sheet_for_part(session, bench.shop.barrel, "1 mm oversize")
    assert caught.value.field == "size_class"
    assert "none but the standard one" in str(caught.value)


def test_a_batch_has_a_sheet_of_its_own(shop: Shop) -> None:
    length = NewSpecLine(SpecKind.DIMENSION, "free length", unit="mm", new_low="48.0", new_high="49.0")
    with shop.store.writing() as session:
        spec = NewSpec(shop.spring, "A", SPEC_FROM, SOURCE, (length,))
        add_spec(session, spec, shop.by(SPEC_FROM))
        laid_out = inspection_sheet(session, Thing(batch=shop.batch(session)))
    assert (laid_out.is_batch, [each.line.name for each in laid_out.measured]) == (True, ["free length"])


def test_what_is_in_the_scrap_drum_has_no_sheet(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        move(session, (Shift(bench.barrel),), bench.shop.scrap, bench.shop.by())
    with pytest.raises(Refused, match="scrap drum"):
        sheet(bench)
