"""What inspections found, read again later: by the revision of their day, and by the present one."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts.inspections_of import filled_sheet, inspections_of
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.typed_readings import TypedReading
from invdb.records.inspections import Inspection
from invdb.rules.inspection_sheet import InspectionDone
from invdb.rules.limits import Verdict
from invdb.terms import Condition, CrackMethod, PaperKind, Refused, Scope, SpecKind
from tests.bench_shop import BORE, HELD, MASS, NO_CRACKS, SOURCE, BenchShop, bores, furnished
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)


@pytest.fixture
def bench(shop: Shop) -> BenchShop:
    return furnished(shop)


def found(bench: BenchShop) -> tuple[InspectionDone, ...]:
    with bench.shop.store.reading() as session:
        return inspections_of(session, bench.barrel)


def test_an_inspection_is_read_as_it_was_entered(bench: BenchShop) -> None:
    with_gauge = tuple(replace(each, instrument=bench.gauge) for each in bores("105.10"))
    photograph = NewPaper(PaperKind.PHOTOGRAPH, "bore, from below")
    made = bench.inspect(readings=with_gauge, photographs=(photograph,), note="honed before")
    (done,) = found(bench)
    assert (done.id, done.inspected_on, done.inspected_by) == (made, TODAY, "Ada Farrow")
    assert (done.licence_number, done.decided, done.scope) == ("HL 2041", Condition.SERVICEABLE, Scope.FLIGHT)
    assert (done.revision, done.revision_present) == (f"revision A, {SOURCE}", f"revision A, {SOURCE}")
    assert (done.papers, done.note) == (("photograph bore, from below",), "honed before")
    (bore,) = done.lines
    assert (bore.kind, bore.name, len(bore.readings)) == (SpecKind.DIMENSION, "bore", 4)
    assert bore.then is not None and bore.then.verdict is Verdict.WORN
    first = bore.readings[0]
    assert (first.point, first.direction, first.figure, first.unit) == ("top", "along", "105.10", "mm")
    assert first.then is not None and first.then.words == "worn 0.07 mm over the upper new limit"
    assert first.instrument.startswith("M-03 bore gauge, calibrated on ")
    water, cracks = done.tests
    assert (water.start, water.end, water.unit, water.held_seconds) == ("1.62", "1.60", "bar", 1200)
    assert water.words == "dropped 0.02 bar in 20 min"
    assert (cracks.method, cracks.passed) == (CrackMethod.DYE, True)
    assert done.differs == ()


def test_it_is_judged_again_by_the_present_revision(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 2 * DAY, readings=bores("105.10"))
    with bench.shop.store.writing() as session:
        tighter = NewSpec(
            bench.shop.barrel, "B", TODAY - DAY, "bulletin 9", (replace(BORE, worn_high="105.08"), MASS)
        )
        add_spec(session, tighter, bench.shop.by())
    (done,) = found(bench)
    assert (done.revision, done.revision_present) == (f"revision A, {SOURCE}", "revision B, bulletin 9")
    (bore,) = done.lines
    assert bore.then is not None and bore.present is not None
    assert (bore.then.verdict, bore.present.verdict) == (Verdict.WORN, Verdict.OUT)
    assert done.differs == ("bore: within worn limits then, out of limits by the present revision",)
    with bench.shop.store.reading() as session:
        (before,) = inspections_of(session, bench.barrel, TODAY - 2 * DAY)
    assert before.differs == (), "by what was present on that day"


def test_a_line_that_a_revision_has_no_more_is_judged_by_nothing_now(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 2 * DAY)
    with bench.shop.store.writing() as session:
        add_spec(session, NewSpec(bench.shop.barrel, "B", TODAY, SOURCE, (MASS,)), bench.shop.by())
    (done,) = found(bench)
    assert done.lines[0].present is None
    assert done.differs == ("bore: within new limits then, no limits by the present revision",)


def test_the_latest_inspection_comes_first_and_a_reversed_one_is_gone(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 2 * DAY)
    lip = TypedReading(None, "wear lip", "", "", "2 thou")
    again = bench.inspect(readings=(*bores(), replace(lip, text="2", unit="thou")), tests=(HELD, NO_CRACKS))
    last, first = found(bench)
    assert (last.id, last.inspected_on, first.inspected_on) == (again, TODAY, TODAY - 2 * DAY)
    assert [(line.name, line.then) for line in last.lines if line.name == "wear lip"] == [("wear lip", None)]
    assert first.differs == last.differs == ()
    with bench.shop.store.writing() as session:
        entry = session.scalars(select(Inspection.set_by).where(Inspection.id == again)).one()
        reverse(session, entry, "another barrel", bench.shop.by())
    assert [each.id for each in found(bench)] == [first.id]


def test_a_test_passed_against_its_figures_says_so(bench: BenchShop) -> None:
    short = replace(HELD, held_seconds=600, passed=True)
    bench.inspect(tests=(short, NO_CRACKS), scope=Scope.DISPLAY, reason="the water was wanted elsewhere")
    (done,) = found(bench)
    assert (done.proposed, done.against_proposal) == (Condition.UNSERVICEABLE, True)
    assert done.tests[0].passed
    assert done.tests[0].words == "against its figures: held for 10 min, and 20 min is asked"


def test_one_inspection_is_laid_out_to_be_printed(bench: BenchShop) -> None:
    made = bench.inspect()
    with bench.shop.store.reading() as session:
        sheet = filled_sheet(session, made)
        assert (sheet.workshop, sheet.serial, sheet.done.id) == ("Harrowmere Flying Museum", "", made)
        with pytest.raises(Refused):
            filled_sheet(session, made + 1)
