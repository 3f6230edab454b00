"""An inspection filled in and saved, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from gui.job import Job
from gui.shown import ChosenFile
from gui.shown_inspection import DoneTest, Figure, Judgement, Taken
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.inspection_presenter import InspectionPresenter
from invdb.acts.inspections_of import inspections_of
from invdb.acts.instrument import NewInstrument, add_instrument
from invdb.acts.numbers import Thing
from invdb.rules.inspection_sheet import InspectionDone
from invdb.terms import Asked, Condition, CrackMethod, FieldRefused, PaperKind, Refused, Scope, SpecKind
from tests.bench_shop import BOUGHT_ON, DIRECTIONS, POINTS, SPEC_FROM, BenchShop, furnished
from tests.gui.stores_shop import fill_in, made, shown_fields, sit, state_of
from tests.shop import TODAY, sqlite_shop

CHECKED = frozenset({"right_part", "papers", "damage"})
FLIGHT = (Condition.SERVICEABLE, Scope.FLIGHT)
HELD = DoneTest(medium="water", start="1.62", end="1.60", held="20 min")
NO_CRACKS = DoneTest(method=CrackMethod.DYE, passed=True)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[BenchShop]:
    """A barrel waiting for inspection, its specification, and a bore gauge."""
    with sqlite_shop(tmp_path) as opened:
        yield furnished(opened)


@pytest.fixture
def sitting(bench: BenchShop) -> Sitting:
    return sit(bench.shop)


@pytest.fixture
def presenter(sitting: Sitting) -> InspectionPresenter:
    return InspectionPresenter(sitting)


def plan_of(presenter: InspectionPresenter, bench: BenchShop) -> FormPlan:
    return presenter.sheet_plan(Job(), bench.barrel, None)


def bores(text: str = "105.01", instrument: int | None = None, **places: str) -> Taken:
    """The bore at every place, and other figures at places such as ``top_across``; "" leaves one out."""
    every = [Figure(point, way, places.get(f"{point}_{way}", text)) for point in POINTS for way in DIRECTIONS]
    return Taken(tuple(each for each in every if each.text), instrument)


def full(**more: Any) -> dict[str, Any]:
    """All that the sheet of the barrel asks, within new limits, accepted for flight."""
    every = {
        "line0": bores(),
        "line2": HELD,
        "line3": NO_CRACKS,
        "decision": FLIGHT,
        "checks": CHECKED,
    }
    return every | more


def called_for(plan: FormPlan, **values: Any) -> Judgement:
    found = plan.filled_by("line0", values)["proposed"]
    assert isinstance(found, Judgement)
    return found


def kept(bench: BenchShop) -> tuple[InspectionDone, ...]:
    with bench.shop.store.reading() as session:
        return inspections_of(session, bench.barrel)


def test_the_sheet_asks_for_every_line_and_says_the_rest(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    fields = {field.name: field for field in plan.fields}
    assert [fields[f"line{at}"].word for at in range(4)] == ["bore", "mass", "water jacket", "cracks"]
    assert "line4" not in fields, "a torque is neither measured nor tested"
    assert "studs: target 40 N·m (29.5 lbf ft)" in fields["about"].start.words
    assert "By revision A of its specification: Pellworth overhaul manual" in fields["about"].start.words
    assert plan.title.startswith("Inspect T") and "Cylinder barrel" in plan.title
    assert fields["signed"].start.words == f"Ada Farrow, engine inspector HL 2041, on {TODAY}"


def test_an_inspection_with_nothing_against_it_is_kept_and_accepts(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    made = fill_in(plan, **full())
    assert plan.told(made).endswith("is inspected: serviceable for flight.")
    state = state_of(bench.shop, bench.barrel)
    assert (state.condition, state.scope) == FLIGHT
    (done,) = kept(bench)
    assert (done.proposed, done.licence_number) == (Condition.SERVICEABLE, "HL 2041")
    bore = next(line for line in done.lines if line.name == "bore")
    assert len(bore.readings) == 4


def test_what_is_called_for_follows_what_is_typed(presenter: InspectionPresenter, bench: BenchShop) -> None:
    plan = plan_of(presenter, bench)
    assert called_for(plan).sign == Condition.UNINSPECTED
    assert "not taken: water jacket" in called_for(plan, line0=bores()).words
    assert called_for(plan, **full()).sign == Condition.SERVICEABLE
    out = called_for(plan, **full(line0=bores(top_across="105.20")))
    assert out.sign == Condition.UNSERVICEABLE
    assert "bore top across: 0.05 mm over the upper worn limit" in out.words
    assert called_for(plan, **full(line0=bores(top_across="105.2.0"))).sign == Condition.UNINSPECTED


def test_the_reason_is_asked_only_against_the_figures(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    assert "reason" not in shown_fields(plan, full())
    assert "reason" not in shown_fields(plan, {})
    assert "reason" in shown_fields(plan, full(decision=(Condition.UNSERVICEABLE, None)))
    assert "reason" in shown_fields(plan, full(line2=DoneTest(None, "water", "1.62", "1.5", "20 min", True)))


def test_a_decision_against_the_figures_keeps_its_reason(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    against = full(decision=(Condition.UNSERVICEABLE, None), reason="the flange is bruised")
    del against["checks"]
    fill_in(plan, **against)
    (done,) = kept(bench)
    assert (done.against_proposal, done.reason) == (True, "the flange is bruised")


def test_what_is_out_of_limits_is_not_accepted_for_flight(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    with pytest.raises(FieldRefused, match="can't be accepted for flight") as refused:
        fill_in(plan, **full(line0=bores(top_across="105.20"), reason="it will do"))
    assert refused.value.field == "decision"
    assert kept(bench) == ()


def test_a_figure_that_is_none_is_refused_at_its_line(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    for wrong in ("105.0.1", "1/0", "-105", "105 g"):
        with pytest.raises(FieldRefused) as refused:
            fill_in(plan, **full(line0=bores(top_across=wrong)))
        assert not isinstance(refused.value, Asked)


def test_every_slip_of_the_pen_is_asked_about_at_once_and_kept_when_it_is_so(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    slips = full(
        line0=bores(top_along="105,01", top_across="1050.1"), decision=(Condition.UNSERVICEABLE, None)
    )
    del slips["checks"]
    with pytest.raises(Asked) as asked:
        fill_in(plan, **slips)
    for words in ("bore top along", "has a comma", "bore top across", "ten times too big"):
        assert words in asked.value.reason
    plan.act(Job(), _every(plan, slips | {"sure": True}))
    (done,) = kept(bench)
    assert {reading.figure for reading in done.lines[0].readings} == {"105.01", "1050.1"}


def test_a_test_with_too_little_said_is_refused_at_its_line(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    with pytest.raises(FieldRefused, match="how cracks were looked for") as refused:
        plan.act(Job(), _every(plan, full(line3=DoneTest(passed=True))))
    assert refused.value.field == "line3"
    with pytest.raises(Asked, match="ends at 1.70 bar, above the 1.62 bar"):
        plan.act(Job(), _every(plan, full(line2=DoneTest(None, "water", "1.62", "1.70", "20 min"))))
    with pytest.raises(Asked, match="tested with air, and water is asked"):
        plan.act(Job(), _every(plan, full(line2=DoneTest(None, "air", "1.62", "1.61", "20 min"))))


def _every(plan: FormPlan, given: dict[str, Any]) -> dict[str, Any]:
    """The values of all fields, with what is given."""
    empty: dict[str, Any] = {
        "note": "",
        "more_figures": (),
        "more_tests": (),
        "photographs": (),
        "damage": "",
        "checks": frozenset(),
        "reason": "",
    }
    return {field.name: field.start for field in plan.fields} | empty | given


def test_the_instrument_last_used_for_a_line_is_offered_again_while_it_may_be_trusted(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    def offered() -> int | None:
        start = next(field.start for field in plan_of(presenter, bench).fields if field.name == "line0")
        return start.instrument

    assert offered() is None
    fill_in(plan_of(presenter, bench), **full(line0=bores(instrument=bench.gauge)))
    assert offered() == bench.gauge
    bench.shop.clock.instant += timedelta(days=200)
    assert offered() is None, "its calibration has ended since"


def test_an_instrument_out_of_calibration_is_asked_about(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    with bench.shop.store.writing() as session:
        old = NewInstrument("M-04", "bore gauge", SPEC_FROM - timedelta(days=400), SPEC_FROM)
        stale = add_instrument(session, old, bench.shop.by(SPEC_FROM))
    with pytest.raises(Asked, match="M-04 bore gauge was out of calibration"):
        fill_in(plan_of(presenter, bench), **full(line0=bores(instrument=stale)))


def test_what_the_specification_does_not_ask_for_is_kept_too(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    figure = {"name": "spigot", "figure": "4 5/8 in", "instrument": None}
    look = {"how": (SpecKind.CRACK_TEST, CrackMethod.DYE), "name": "fins", "passed": True, "found": ""}
    fill_in(plan, **full(more_figures=(figure,), more_tests=(look,)))
    (done,) = kept(bench)
    assert {line.name for line in done.lines} == {"bore", "spigot"}
    assert {test.name for test in done.tests} == {"water jacket", "cracks", "fins"}
    column = next(field for field in plan.fields if field.name == "more_figures").columns[1]
    assert column.check is not None
    for wrong in ("98", "98 furlongs", "1/0 mm"):
        with pytest.raises(FieldRefused):
            column.check(wrong, {})


def test_a_further_test_that_was_not_passed_speaks_against_the_piece(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    plan = plan_of(presenter, bench)
    look = {"how": (SpecKind.LOOK, None), "name": "fins", "passed": False, "found": "three broken"}
    assert called_for(plan, **full(more_tests=(look,))).sign == Condition.UNSERVICEABLE


def test_photographs_are_kept_with_it(
    presenter: InspectionPresenter, bench: BenchShop, tmp_path: Path
) -> None:
    photograph = tmp_path / "spigot.jpg"
    photograph.write_bytes(b"\xff\xd8\xfflight and shade")
    chosen = (ChosenFile(photograph, PaperKind.PHOTOGRAPH),)
    fill_in(plan_of(presenter, bench), **full(photographs=chosen))
    (done,) = kept(bench)
    assert any("spigot" in paper for paper in done.papers)


def test_a_paper_sheet_is_entered_for_the_day_on_which_it_was_filled_in(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    on = BOUGHT_ON + timedelta(days=3)
    plan = presenter.sheet_plan(Job(), bench.barrel, on)
    fill_in(plan, **full())
    assert kept(bench)[0].inspected_on == on
    assert presenter.day_asked(TODAY) is None
    with pytest.raises(Refused, match="in the future"):
        presenter.day_asked(TODAY + timedelta(days=1))
    with pytest.raises(Refused):
        presenter.sheet_plan(Job(), bench.barrel, BOUGHT_ON - timedelta(days=1))


def test_a_part_without_a_specification_says_so(presenter: InspectionPresenter, bench: BenchShop) -> None:
    valve = Thing(piece=made(bench.shop, bench.shop.piece, on=BOUGHT_ON))
    plan = presenter.sheet_plan(Job(), valve, None)
    about = next(field for field in plan.fields if field.name == "about")
    assert "has no specification in force" in about.start.words
    assert not any(field.name.startswith("line") for field in plan.fields)
    assert plan.said({}).startswith("⚠ sodium-filled: Do not cut the stem.")


def test_nobody_inspects_unless_they_have_said_who_they_are(
    presenter: InspectionPresenter, bench: BenchShop, sitting: Sitting
) -> None:
    sitting.person, sitting.name, sitting.licence = None, "", ""
    plan = plan_of(presenter, bench)
    signed = plan.filled_by("line0", {})["signed"]
    assert "nobody has said who is working" in signed.words
    with pytest.raises(Refused, match="Nobody has said"):
        fill_in(plan, **full())


def test_what_waits_for_inspection_is_listed_until_it_is_inspected(
    presenter: InspectionPresenter, bench: BenchShop
) -> None:
    page = presenter.fetch(Job(), 0, 50, None, "")
    assert [row.key[0] for row in page.rows] == [bench.barrel]
    assert page.rows[0].cells[1:] == ("Cylinder barrel", "A-01-01", str(BOUGHT_ON))
    assert presenter.fetch(Job(), 0, 50, None, "nothing like it").total == 1
    fill_in(plan_of(presenter, bench), **full())
    assert presenter.fetch(Job(), 0, 50, None, "").rows == ()


def test_the_blank_sheet_is_written_as_pdf_alone(
    presenter: InspectionPresenter, bench: BenchShop, tmp_path: Path
) -> None:
    where = tmp_path / presenter.blank_name(Job(), bench.barrel)
    presenter.write_blank(Job(), bench.barrel, where)
    words = "".join(page.extract_text() for page in PdfReader(where).pages)
    assert "Inspection sheet" in words and "bore" in words
    with pytest.raises(Refused, match="not written as .xlsx"):
        presenter.write_blank(Job(), bench.barrel, tmp_path / "sheet.xlsx")
