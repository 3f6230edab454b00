"""Inspecting pieces and batches: what is kept, what is asked about, and what may be decided."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from invdb.acts.accept import set_condition
from invdb.acts.believed import When, records_believed
from invdb.acts.change import change_person, seen_of
from invdb.acts.check import check_store
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.instrument import calibrate
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.reverse import reverse
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.things import ThingState
from invdb.acts.trace import trace
from invdb.acts.typed_readings import TypedReading
from invdb.records.inspections import BenchTest, Inspection, InspectionPaper, Measurement
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.terms import (
    Asked,
    Condition,
    CrackMethod,
    EntryKind,
    FieldRefused,
    PaperKind,
    Refused,
    Scope,
    SpecKind,
    Unusable,
    WorkState,
)
from tests.bench_shop import (
    BORE,
    BOUGHT_ON,
    CHECKS,
    HELD,
    MASS,
    NO_CRACKS,
    SOURCE,
    BenchShop,
    barrel,
    bores,
    furnished,
)
from tests.kit_shop import state_of
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture
def bench(shop: Shop) -> BenchShop:
    return furnished(shop)


def state(bench: BenchShop) -> ThingState:
    return state_of(bench.shop, bench.barrel)


def stood(bench: BenchShop, on: date) -> tuple[object, object]:
    """The condition and the scope of the barrel on a day, as they are believed now."""
    assert bench.barrel.piece is not None
    with bench.shop.store.reading() as session:
        then = records_believed(session, "piece", [bench.barrel.piece], When(on))[bench.barrel.piece]
    return then.get("condition"), then.get("scope")


def refused(bench: BenchShop, **more: object) -> FieldRefused:
    with pytest.raises(FieldRefused) as caught:
        bench.inspect(**more)
    return caught.value


def asked(bench: BenchShop, **more: object) -> Asked:
    """What is asked about; the same act, said to be meant, is done."""
    said = refused(bench, **more)
    assert isinstance(said, Asked)
    assert bench.inspect(**more, sure=True)
    return said


def test_a_piece_within_its_limits_is_accepted_by_its_inspection(bench: BenchShop) -> None:
    made = bench.inspect(checks=bench.order().checks, to_place=bench.shop.bonded)
    stands = state(bench)
    assert (stands.condition, stands.scope) == (Condition.SERVICEABLE, Scope.FLIGHT)
    assert stands.where[0].place == bench.shop.bonded
    with bench.shop.store.reading() as session:
        row = session.get(Inspection, made)
        piece = session.get(Piece, bench.barrel.piece)
        assert row is not None and piece is not None
        assert (row.proposed, row.decided, row.licence_number) == (
            *(Condition.SERVICEABLE, Condition.SERVICEABLE, "HL 2041"),
        )
        assert (row.spec_id, row.part_id, row.size_class) == (bench.spec, bench.shop.barrel, "")
        assert (piece.accepted_by, piece.accepted_on) == (bench.shop.inspector, TODAY)
        assert (piece.work_state, piece.work_reference) == (WorkState.INSPECTED, f"inspection {made}")
        assert piece.check_damage == "none"
        figures = session.scalars(select(Measurement).order_by(Measurement.id)).all()
        assert [(each.name, each.point, each.direction, each.figure, each.unit) for each in figures] == [
            ("bore", "top", "along", "105.01", "mm"),
            ("bore", "top", "across", "105.01", "mm"),
            ("bore", "bottom", "along", "105.01", "mm"),
            ("bore", "bottom", "across", "105.01", "mm"),
        ]
        assert {each.sorted_by for each in figures} == {105_010_000}
        water, cracks = session.scalars(select(BenchTest).order_by(BenchTest.id)).all()
        assert (water.start_figure, water.end_figure, water.unit, water.held_seconds, water.passed) == (
            *("1.62", "1.60", "bar", 1200, True),
        )
        assert water.medium == "water"
        assert (cracks.method, cracks.passed) == (CrackMethod.DYE, True)
    assert not check_store(bench.shop.store).differences


def test_a_figure_is_kept_in_the_unit_in_which_it_was_typed(bench: BenchShop) -> None:
    inches = replace(bores()[0], text="4 17/127 in")
    bench.inspect(readings=(inches, *bores()[1:]), decided=Condition.SERVICEABLE)
    with bench.shop.store.reading() as session:
        first = session.scalars(select(Measurement).order_by(Measurement.id)).first()
        assert first is not None
        assert (first.figure, first.unit, first.sorted_by) == ("4 17/127", "in", 105_000_000)


def test_a_reversed_inspection_leaves_the_piece_as_it_was(bench: BenchShop) -> None:
    bench.inspect()
    with bench.shop.store.writing() as session:
        entry = session.scalars(select(Inspection.set_by)).one()
        reverse(session, entry, "the wrong barrel was on the bench", bench.shop.by())
    assert state(bench).condition is Condition.UNINSPECTED
    with bench.shop.store.reading() as session:
        assert session.scalars(select(Measurement)).first() is None
    assert not check_store(bench.shop.store).differences


def test_a_figure_out_of_limits_is_not_accepted_for_flight_whatever_the_reason(bench: BenchShop) -> None:
    worn_out = {"readings": bores(bottom_across="105.151", bottom_along="105.14")}
    said = refused(bench, **worn_out, reason="the owner wants it")
    assert said.field == "decided"
    assert "bore bottom across: 0.001 mm over the upper worn limit" in said.reason
    said = refused(bench, **worn_out, scope=Scope.GROUND_RUNNING)
    assert said.field == "reason"
    bench.inspect(**worn_out, scope=Scope.GROUND_RUNNING, reason="kept off the flying engines")
    assert state(bench).scope is Scope.GROUND_RUNNING


def test_what_is_out_of_limits_is_unserviceable_without_more_words(bench: BenchShop) -> None:
    made = bench.inspect(readings=bores(bottom_across="105.20"), decided=Condition.UNSERVICEABLE, scope=None)
    assert state(bench).condition is Condition.UNSERVICEABLE
    with bench.shop.store.reading() as session:
        row = session.get(Inspection, made)
        assert row is not None and row.proposed is Condition.UNSERVICEABLE


def test_at_the_worn_limit_it_is_serviceable(bench: BenchShop) -> None:
    bench.inspect(readings=bores("105.15"))
    assert state(bench).condition is Condition.SERVICEABLE


def test_an_oval_bore_is_out_of_limits_though_each_figure_is_within(bench: BenchShop) -> None:
    said = refused(bench, readings=bores("105.00", top_across="105.06"))
    assert "ovality 0.06 mm, 0.01 mm over its limit" in said.reason


def test_only_a_person_says_that_a_piece_cannot_be_salvaged(bench: BenchShop) -> None:
    scrap = {"decided": Condition.UNSALVAGEABLE, "scope": None, "readings": bores("105.30")}
    assert refused(bench, **scrap).field == "reason"
    assert refused(bench, **scrap, reason="no oversize is left").field == "to_place"
    bench.inspect(**scrap, reason="no oversize is left", to_place=bench.shop.quarantine)
    assert state(bench).condition is Condition.UNSALVAGEABLE
    said = refused(bench, sure=True, scope=Scope.DISPLAY)
    assert said.field == "reason"
    with pytest.raises(Refused, match="it is unsalvageable"):
        bench.inspect(scope=Scope.DISPLAY, reason="it was another barrel")


def test_what_was_not_taken_leaves_a_piece_uninspected_and_is_named(bench: BenchShop) -> None:
    said = refused(bench, readings=bores()[:3], tests=(HELD,))
    assert said.field == "reason"
    for missing in ("not taken: bore bottom across", "not taken: cracks"):
        assert missing in said.reason
    bench.inspect(readings=bores()[:3], tests=(HELD,), decided=Condition.UNINSPECTED, scope=None)
    with bench.shop.store.reading() as session:
        piece = session.get(Piece, bench.barrel.piece)
        assert piece is not None
        assert (piece.condition, piece.work_state) == (Condition.UNINSPECTED, WorkState.AS_RECEIVED)


def test_weighing_a_serviceable_piece_leaves_it_as_it_is(bench: BenchShop) -> None:
    bench.inspect()
    with bench.shop.store.writing() as session:
        weighed = TypedReading(None, "mass", "", "", "8412", "g")
        order = InspectionOrder(bench.barrel, (weighed,), (), Condition.SERVICEABLE, Scope.FLIGHT)
        inspect(session, order, replace(bench.shop.by(), person=bench.shop.keeper))
        piece = session.get(Piece, bench.barrel.piece)
        assert piece is not None
        assert (piece.condition, piece.accepted_by) == (Condition.SERVICEABLE, bench.shop.inspector)


def test_a_serviceable_piece_that_measures_out_is_not_left_as_it_is(bench: BenchShop) -> None:
    bench.inspect()
    assert refused(bench, readings=bores("105.20"), tests=()).field == "decided"


def test_serviceable_needs_a_scope_and_what_acceptance_asks(bench: BenchShop) -> None:
    assert refused(bench, scope=None).field == "scope"
    assert refused(bench, decided=Condition.UNSERVICEABLE, reason="bent").field == "scope"
    with pytest.raises(Refused, match="the check of damage is not recorded"):
        bench.inspect(checks=replace(bench.order().checks, damage=""))
    with bench.shop.store.writing() as session, pytest.raises(Refused, match="licence number"):
        inspect(session, bench.order(), replace(bench.shop.by(), person=bench.shop.keeper))
    with bench.shop.store.writing() as session:
        by = replace(bench.shop.by(), person=bench.shop.keeper)
        inspect(session, bench.order(scope=Scope.GROUND_RUNNING), by)
        assert session.scalars(select(Inspection.licence_number)).one() == ""


def test_an_unserviceable_piece_is_made_serviceable_by_being_inspected_again(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        set_condition(session, (bench.barrel,), Condition.UNSERVICEABLE, "cracked?", bench.shop.by())
    bench.inspect()
    assert state(bench).condition is Condition.SERVICEABLE


def test_what_is_not_serviceable_leaves_its_bonded_bin(bench: BenchShop) -> None:
    bench.inspect(to_place=bench.shop.bonded)
    out = {"readings": bores("105.20"), "decided": Condition.UNSERVICEABLE, "scope": None}
    assert refused(bench, **out).field == "to_place"
    bench.inspect(**out, to_place=bench.shop.quarantine)
    assert state(bench).where[0].place == bench.shop.quarantine


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1050.1", "ten times too big"),
        ("10.501", "ten times too small"),
        ("4.134", "25.4 times too small"),
        ("45", "far from the limits"),
        ("105,01", "has a comma"),
    ],
)
def test_a_figure_that_may_be_a_slip_is_asked_about(bench: BenchShop, text: str, words: str) -> None:
    more = {
        "readings": (*bores()[:3], replace(bores()[3], text=text)),
        "decided": Condition.UNSERVICEABLE,
        "scope": None,
        "reason": "as it is",
    }
    said = asked(bench, **more)
    assert (said.field, words in said.reason) == ("readings.3", True)


def test_a_figure_of_nothing_is_asked_about(bench: BenchShop) -> None:
    more = {"decided": Condition.UNSERVICEABLE, "scope": None, "reason": "as it is"}
    assert "0 mm is far from the limits of bore" in asked(bench, readings=bores("0"), **more).reason


def test_all_that_may_be_a_slip_is_asked_about_at_once(bench: BenchShop) -> None:
    more = {"decided": Condition.UNSERVICEABLE, "scope": None, "reason": "as it is"}
    said = asked(
        bench,
        readings=bores(top_across="1050,1", bottom_across="10.501"),
        tests=(replace(HELD, medium="air"),),
        **more,
    )
    assert said.field == "readings.1"
    for words in (
        "'1050,1' has a comma",
        "1050.1 mm is ten times too big for bore",
        "10.501 mm is ten times too small for bore",
        "it was tested with air, and water is asked",
    ):
        assert words in said.reason
    many = asked(bench, readings=bores("1", top_along="2", top_across="3", bottom_along="4"), **more)
    assert many.reason.count("far from the limits") + many.reason.count("too small") == 4


def test_what_cannot_be_comes_before_what_may_be_a_slip(bench: BenchShop) -> None:
    said = refused(bench, readings=bores(top_along="1050.1", bottom_across="1/0"))
    assert (said.field, isinstance(said, Asked)) == ("readings.3", False)


def test_what_was_not_on_the_bench_was_measured_when_that_is_said_to_be_so(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 20 * DAY)
    shop = bench.shop
    with shop.store.writing() as session:
        shop.move(session, bench.barrel, shop.bin_a, shop.works, on=TODAY - 10 * DAY)
    assert bench.inspect(on=TODAY - 10 * DAY), "that day it was here too"
    said = asked(bench, on=TODAY - 5 * DAY)
    assert (said.field, "its place was 'At Brackwater'" in said.reason) == ("decided", True)
    assert bench.inspect(on=TODAY - 4 * DAY, readings=(), reason="looked at, and nothing measured")


def test_an_inspection_entered_late_decides_what_it_was_that_day(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 5 * DAY)
    assert stood(bench, TODAY - 10 * DAY) == ("uninspected", None)
    bench.inspect(on=TODAY - 10 * DAY)
    assert stood(bench, TODAY - 10 * DAY) == ("serviceable", "flight")
    bench.inspect(on=TODAY - 8 * DAY, decided=Condition.UNSERVICEABLE, scope=None, reason="rust in the bore")
    assert stood(bench, TODAY - 8 * DAY) == ("unserviceable", None)
    assert state(bench).condition is Condition.SERVICEABLE
    assert check_store(bench.shop.store).differences == ()


def test_an_inspection_that_changes_nothing_is_in_the_story(bench: BenchShop) -> None:
    bench.inspect(on=TODAY - 5 * DAY)
    bench.inspect()
    with bench.shop.store.reading() as session:
        told = [each.what for each in trace(session, state(bench).tag).entries]
    assert sum(each.startswith("Inspected") for each in told) == 2


def test_a_mass_without_limits_is_held_beside_the_last(bench: BenchShop) -> None:
    weighed = TypedReading(None, "mass", "", "", "8412", "g")
    bench.inspect(readings=(*bores(), weighed))
    again = {"readings": (*bores(), replace(weighed, text="84.12"))}
    assert "a hundred times too small" in asked(bench, **again).reason


@pytest.mark.parametrize("text", ["", "105.01.2", "1/0", "-105.01", "105.01 g", "105.01 mm 3", "x"])
def test_what_is_no_figure_is_refused(bench: BenchShop, text: str) -> None:
    said = refused(bench, readings=(*bores()[:2], replace(bores()[2], text=text)), sure=True)
    assert said.field == "readings.2"


@pytest.mark.parametrize(
    "changed",
    [
        {"point": "middle"},
        {"point": ""},
        {"direction": "askew"},
        {"point": "top"},
        {"spec_line": 999},
        {"unit": "furlong"},
        {"unit": "g"},
        {"name": "cracks"},
        {"name": "studs"},
        {"instrument": 99},
    ],
)
def test_a_figure_belongs_to_a_place_of_a_line(bench: BenchShop, changed: dict[str, object]) -> None:
    given = replace(bores()[2], **changed)  # type: ignore[arg-type]
    assert refused(bench, readings=(*bores()[:2], given)).field == "readings.2"


def test_what_no_line_asks_for_is_kept_and_judged_by_nothing(bench: BenchShop) -> None:
    lip = TypedReading(None, "wear lip", "top", "", "0.05", "mm")
    bench.inspect(readings=(*bores(), lip))
    with bench.shop.store.reading() as session:
        row = session.scalars(select(Measurement).where(Measurement.name == "wear lip")).one()
        assert (row.kind, row.point, row.spec_line_id) == (SpecKind.DIMENSION, "top", None)
    assert refused(bench, readings=(replace(lip, unit="bar"),)).field == "readings.0"
    assert refused(bench, readings=(replace(lip, name=" "),)).field == "readings.0"


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"held_seconds": 1199}, "held for 19 min 59 s, and 20 min is asked"),
        ({"start": "1.5999", "end": "1.59"}, "begun at 1.5999 bar, and 1.6 bar is asked"),
        ({"start": "1.62", "end": "1.5699"}, "dropped 0.0501 bar, 0.0001 bar more than is allowed"),
    ],
)
def test_a_pressure_test_that_is_not_as_asked_is_not_passed(
    bench: BenchShop, changed: dict[str, object], words: str
) -> None:
    run = replace(HELD, **changed)  # type: ignore[arg-type]
    assert words in refused(bench, tests=(run, NO_CRACKS)).reason
    said = refused(bench, tests=(replace(run, passed=True), NO_CRACKS), scope=Scope.DISPLAY)
    assert said.field == "reason"
    passed = {"tests": (replace(run, passed=True), NO_CRACKS), "reason": "good enough"}
    assert refused(bench, **passed).field == "decided", "for flight the figures stand"
    assert refused(bench, **passed, decided=Condition.SERVICEABLE).field == "decided"
    said = refused(
        bench, tests=(replace(run, passed=True), NO_CRACKS), decided=Condition.UNSERVICEABLE, scope=None
    )
    assert (said.field, "against its figures" in said.reason) == ("reason", True)
    bench.inspect(tests=(run, NO_CRACKS), decided=Condition.UNSERVICEABLE, scope=None)
    with bench.shop.store.reading() as session:
        kept = select(BenchTest.passed).where(BenchTest.kind == SpecKind.PRESSURE_TEST)
        assert session.scalars(kept).one() is False


def test_a_drop_of_all_that_is_allowed_is_passed(bench: BenchShop) -> None:
    bench.inspect(tests=(replace(HELD, start="1.65", end="1.60"), NO_CRACKS))
    assert state(bench).condition is Condition.SERVICEABLE


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"start": ""}, "start"),
        ({"end": "1.6.0"}, "end"),
        ({"held_seconds": None}, "held_seconds"),
        ({"held_seconds": 0}, "held_seconds"),
        ({"unit": "mm"}, "unit"),
        ({"passed": False}, "found"),
    ],
)
def test_a_pressure_test_says_how_it_went(bench: BenchShop, changed: dict[str, object], field: str) -> None:
    run = replace(HELD, **changed)  # type: ignore[arg-type]
    assert refused(bench, tests=(NO_CRACKS, run)).field == f"tests.1.{field}"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"end": "1.63"}, "end"),
        ({"start": "16.2", "end": "16.2"}, "start"),
        ({"medium": "air"}, "medium"),
    ],
)
def test_a_pressure_test_that_may_be_a_slip_is_asked_about(
    bench: BenchShop, changed: dict[str, object], field: str
) -> None:
    run = replace(HELD, **changed)  # type: ignore[arg-type]
    assert asked(bench, tests=(run, NO_CRACKS)).field == f"tests.0.{field}"


def test_a_crack_test_names_its_method_and_its_outcome(bench: BenchShop) -> None:
    assert refused(bench, tests=(HELD, replace(NO_CRACKS, method=None))).field == "tests.1.method"
    assert refused(bench, tests=(HELD, replace(NO_CRACKS, passed=None))).field == "tests.1.passed"
    assert refused(bench, tests=(HELD, replace(NO_CRACKS, passed=False))).field == "tests.1.found"
    cracked = replace(NO_CRACKS, passed=False, found="12 mm from the third fin")
    said = refused(bench, tests=(HELD, cracked), reason="small")
    assert "12 mm from the third fin" in said.reason


def test_a_pressure_begins_and_ends_in_one_unit(bench: BenchShop) -> None:
    said = refused(bench, tests=(replace(HELD, end="23.2 psi"), NO_CRACKS))
    assert (said.field, said.reason) == (
        "tests.0.end",
        "water jacket: it begins in bar and ends in lbf/in².",
    )
    bench.inspect(tests=(replace(HELD, start="23.4 psi", end="23.2"), NO_CRACKS))


def test_a_pressure_test_that_no_line_asks_for_carries_its_unit(bench: BenchShop) -> None:
    sump = replace(HELD, name="sump", medium="air")
    assert refused(bench, tests=(HELD, NO_CRACKS, sump)).field == "tests.2.start"
    sump = replace(sump, start="0.5 bar", end="0.5", passed=True)
    assert bench.inspect(tests=(HELD, NO_CRACKS, sump))


def test_a_name_is_the_same_whatever_its_case_and_spaces(bench: BenchShop) -> None:
    spaced = tuple(replace(each, name=" BORE ", point=f" {each.point.upper()}  ") for each in bores())
    bench.inspect(readings=spaced)
    bend = TypedReading(None, "Bend of  the flange", "", "", "0.1 mm")
    said = refused(bench, readings=(*bores(), bend, replace(bend, name="bend of the flange")))
    assert (said.field, said.reason) == ("readings.5", "bend of the flange is given twice.")


def test_a_test_is_given_once_and_is_a_test(bench: BenchShop) -> None:
    assert "studs is a torque, of which no figure is taken" in (
        refused(bench, readings=(TypedReading(None, "studs", "", "", "40"),)).reason
    )
    assert refused(bench, tests=(HELD, HELD)).field == "tests.1.name"
    assert refused(bench, tests=(replace(NO_CRACKS, name="bore"),)).field == "tests.0.kind"
    assert refused(bench, readings=(*bores(), bores()[0])).field == "readings.4"


def test_a_failed_test_that_nobody_asked_for_counts(bench: BenchShop) -> None:
    look = replace(NO_CRACKS, kind=SpecKind.LOOK, name="fins", method=None, passed=False, found="two broken")
    said = refused(bench, tests=(HELD, NO_CRACKS, look))
    assert (said.field, "two broken" in said.reason) == ("decided", True)


def test_an_instrument_is_kept_with_its_calibration_that_day(bench: BenchShop) -> None:
    with_gauge = tuple(replace(each, instrument=bench.gauge) for each in bores())
    with bench.shop.store.writing() as session:
        calibrate(session, bench.gauge, TODAY - 2 * DAY, TODAY + 300 * DAY, bench.shop.by())
    bench.inspect(on=TODAY - 5 * DAY, readings=with_gauge)
    bench.inspect(readings=with_gauge)
    with bench.shop.store.reading() as session:
        rows = session.execute(
            select(Measurement.measured_on, Measurement.instrument_id, Measurement.calibrated_on).distinct()
        )
        by_day = {row.measured_on: (row.instrument_id, row.calibrated_on) for row in rows}
    assert by_day[TODAY] == (bench.gauge, TODAY - 2 * DAY)
    assert by_day[TODAY - 5 * DAY] == (bench.gauge, TODAY - 200 * DAY)


def test_an_instrument_out_of_calibration_is_asked_about(bench: BenchShop) -> None:
    bench.shop.clock.instant += 101 * DAY
    with_gauge = tuple(replace(each, instrument=bench.gauge) for each in bores())
    said = asked(bench, readings=with_gauge)
    assert (said.field, "out of calibration" in said.reason) == ("readings.0", True)


def test_a_scrapped_piece_is_not_measured(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        move(session, (Shift(bench.barrel),), bench.shop.scrap, bench.shop.by(TODAY - DAY))
    with pytest.raises(Refused, match="scrap drum"):
        bench.inspect()
    bench.inspect(on=TODAY - 2 * DAY, readings=bores("105.2"), decided=Condition.UNSERVICEABLE, scope=None)


def test_a_piece_with_a_record_of_its_scrapping_is_not_measured(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        draft = bench.shop.draft(kind=EntryKind.SCRAPPED)
        draft.new(
            session,
            "scrapping",
            piece_id=bench.barrel.piece,
            scrapped_on=TODAY,
            scrapped_by=bench.shop.inspector,
            reason="cracked",
            how=Unusable.SAWN,
        )
        post(session, draft)
    with pytest.raises(Refused, match=f"was scrapped on {TODAY.isoformat()}"):
        bench.inspect()


def test_nothing_is_measured_in_future_or_before_it_came(bench: BenchShop) -> None:
    assert refused(bench, on=TODAY + DAY).field == "happened_on"
    assert refused(bench, on=BOUGHT_ON - DAY).field == "happened_on"
    with pytest.raises(Refused, match="Nothing was measured"):
        bench.inspect(readings=(), tests=())


def test_the_specification_and_the_licence_are_those_of_the_day(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        tighter = (replace(BORE, worn_high="105.04"), MASS)
        add_spec(session, NewSpec(bench.shop.barrel, "B", TODAY - 5 * DAY, SOURCE, tighter), bench.shop.by())
        seen = seen_of(session, "person", bench.shop.inspector)
        changes = {"licence_number": "HL 9000"}
        change_person(session, bench.shop.inspector, seen, changes, bench.shop.by(TODAY - 3 * DAY))
    worn = {"readings": bores("105.10")}
    bench.inspect(on=TODAY - 6 * DAY, **worn)
    assert "over the upper worn limit" in refused(bench, **worn, tests=()).reason
    bench.inspect(on=TODAY - 2 * DAY, tests=())
    with bench.shop.store.reading() as session:
        licences = session.scalars(select(Inspection.licence_number).order_by(Inspection.inspected_on)).all()
    assert licences == ["HL 2041", "HL 9000"]


def test_photographs_belong_to_the_inspection_and_are_no_papers_to_accept_by(bench: BenchShop) -> None:
    with bench.shop.store.writing() as session:
        here = add_paper(session, NewPaper(PaperKind.PHOTOGRAPH, "bore, before honing"), bench.shop.by())
    photograph = NewPaper(PaperKind.PHOTOGRAPH, "bore", content=PNG, file_name="bore.png")
    papers = state(bench).papers
    bench.inspect(photographs=(photograph,), documents=(here,))
    with bench.shop.store.reading() as session:
        assert len(session.scalars(select(InspectionPaper)).all()) == 2
    assert state(bench).papers == papers
    assert refused(bench, documents=(999,)).field == "document"


def test_a_photograph_that_is_no_picture_is_asked_about(bench: BenchShop) -> None:
    letter = NewPaper(PaperKind.PHOTOGRAPH, "bore", content=b"Dear Sir", file_name="bore.jpg")
    said = asked(bench, photographs=(letter,))
    assert (said.field, "bore.jpg is no picture" in said.reason) == ("photographs", True)
    report = replace(letter, kind=PaperKind.WORK_REPORT)
    assert bench.inspect(photographs=(report,))


@pytest.fixture
def springs(shop: Shop) -> Thing:
    with shop.store.writing() as session:
        line = replace(
            BORE, name="free length", new_low="41", new_high="42", worn_low="39.5", worn_high=None,
            points="", directions="", oval_max=None,
        )  # fmt: skip
        add_spec(session, NewSpec(shop.spring, "A", BOUGHT_ON, SOURCE, (line,)), shop.by())
        return Thing(batch=shop.batch(session))


def test_a_sample_of_a_batch_is_measured(shop: Shop, springs: Thing) -> None:
    lengths = [TypedReading(None, "free length", "", "", text) for text in ("41.5", "40.9", "41.2", "39.5")]
    order = InspectionOrder(
        springs,
        tuple(lengths),
        (),
        Condition.SERVICEABLE,
        Scope.GROUND_RUNNING,
        CHECKS,
    )
    with shop.store.writing() as session:
        with pytest.raises(FieldRefused) as caught:
            inspect(session, replace(order, readings=(*lengths, replace(lengths[0], text="39.4"))), shop.by())
        assert caught.value.field == "reason"
        inspect(session, order, shop.by())
    assert state_of(shop, springs).condition is Condition.SERVICEABLE
    with shop.store.reading() as session:
        assert (
            len(session.scalars(select(Measurement).where(Measurement.batch_id == springs.batch)).all()) == 4
        )
    assert not check_store(shop.store).differences


def test_a_part_without_a_specification_may_be_looked_at(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = barrel(session, shop)
        look = replace(NO_CRACKS, kind=SpecKind.LOOK, name="look over", method=None)
        order = InspectionOrder(thing, (), (look,), Condition.UNINSPECTED)
        inspect(session, order, shop.by())
        with pytest.raises(FieldRefused) as caught:
            inspect(session, replace(order, decided=Condition.SERVICEABLE, scope=Scope.FLIGHT), shop.by())
        assert (caught.value.field, "nothing is asked of it" in caught.value.reason) == ("reason", True)
