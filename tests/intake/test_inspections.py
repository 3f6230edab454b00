"""What the invented workshop's pieces must measure and did: limits, decisions, instruments, fits, sizes."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.engine_fits import built_fits
from invdb.acts.inspections_of import inspections_of
from invdb.acts.instrument import instruments, instruments_then
from invdb.acts.kit_suits import KitSuits
from invdb.acts.matched import matched_with
from invdb.acts.numbers import Thing, engine_named, position_named, thing_by_tag
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.spec import spec_on, specs_of
from invdb.acts.things import things_by_id
from invdb.intake.specs import FitLimitRow, SpecLineRow
from invdb.intake.workshop import Workshop, read_workshop
from invdb.records.catalogue import Part
from invdb.records.engines import EngineType
from invdb.records.inspections import BenchTest, Inspection, Measurement
from invdb.records.stock import Piece
from invdb.records.work import MatchedSet
from invdb.rules.measuring import kept
from invdb.store import Store
from invdb.terms import BalanceKind, Condition, FitKind, MatchedAs, Refused, SpecKind
from tests.intake.test_workshop import changed

TODAY = date(2026, 11, 25)


def sight(workshop: Workshop, what: str) -> str:
    return next(each.number for each in workshop.sights if each.what == what)


def part_id(session: Session, house_number: str) -> int:
    return session.scalars(select(Part.id).where(Part.house_number == house_number)).one()


def thing(session: Session, tag: str) -> Thing:
    return Thing(piece=session.scalars(select(Piece.id).where(Piece.tag == tag)).one())


def suited(session: Session, station: str, tag: str, other_station: str, other_tag: str) -> bool:
    """Whether two things may go together at two stations of a Linnet's cylinder."""
    things = [thing_by_tag(session, each) for each in (tag, other_tag)]
    states = things_by_id(session, things)
    linnet = session.scalars(select(EngineType.id).where(EngineType.name == "Linnet")).one()
    group = (linnet, "cylinder")
    suits = KitSuits(session, [group], states.values(), TODAY)
    one, other = ((at, states[each]) for at, each in zip((station, other_station), things, strict=True))
    return suits.judge(group, one, other).may_go


def test_every_part_of_the_cylinder_kits_that_is_measured_has_a_specification(workshop: Workshop) -> None:
    specified = {spec.house_number for spec in workshop.specs.specs}
    tracked = {part.house_number: part.tracking for part in workshop.parts}
    pieces = {line.house_number for line in workshop.kit_lines if tracked[line.house_number] == "piece"}
    assert pieces <= specified
    kinds = {line.kind for spec in workshop.specs.specs for line in spec.lines}
    assert kinds == set(SpecKind)
    revisions = Counter(spec.house_number for spec in workshop.specs.specs)
    assert sum(count > 1 for count in revisions.values()) >= 3
    units = {line.unit for spec in workshop.specs.specs for line in spec.lines}
    assert units >= {"mm", "in", "thou", "g", "oz", "N", "lbf", "bar", "N·m", "lbf ft"}


def test_the_twelve_is_published_in_fractions_of_an_inch(workshop: Workshop) -> None:
    liner = next(spec for spec in workshop.specs.specs if spec.house_number == "LN1201-W")
    bore = next(line for line in liner.lines if line.name == "bore")
    assert (bore.new_low, bore.new_high, bore.unit) == ("4 7/8", "4.8762", "in")
    assert (bore.points, bore.directions) == ("top, middle, bottom", "fore and aft, athwart")
    block = next(spec for spec in workshop.specs.specs if spec.house_number == "CK1203-2")
    test = next(line for line in block.lines if line.kind is SpecKind.PRESSURE_TEST)
    assert (test.target, test.unit, test.medium, test.hold_seconds) == ("1.6", "bar", "coolant", 1200)


def clearances(workshop: Workshop, fit: FitLimitRow) -> list[tuple[object, ...]]:
    """What the new limits of every two parts that a fit is for leave between them: least and most."""
    lines: dict[tuple[str, str], SpecLineRow] = {
        (spec.house_number, line.name): line
        for spec in workshop.specs.specs
        for line in spec.lines
        if not line.size_class
    }
    kit = defaultdict(set)
    for line in workshop.kit_lines:
        kit[line.engine_type, line.station].add(line.house_number)
    outers = {fit.outer_part} if fit.outer_part else kit[fit.engine_type, fit.outer_station]
    inners = {fit.inner_part} if fit.inner_part else kit[fit.engine_type, fit.inner_station]
    found = []
    for outer in outers:
        for inner in inners:
            a, b = lines[outer or "", fit.outer_name], lines[inner or "", fit.inner_name]
            ends = [
                kept(one or "", a.unit).value - kept(other or "", b.unit).value
                for one, other in ((a.new_low, b.new_high), (a.new_high, b.new_low))
            ]
            found.append((outer, inner, *ends))
    return found


def test_the_limits_of_every_fit_follow_from_those_of_its_parts(workshop: Workshop) -> None:
    judged = 0
    for fit in workshop.specs.fits:
        if fit.gap or fit.kind is FitKind.SELECTED:
            continue
        low, high = kept(fit.low, fit.unit).value, kept(fit.high, fit.unit).value
        worn = kept(fit.worn_high or fit.high, fit.unit).value
        for outer, inner, least, most in clearances(workshop, fit):
            mean = (least + most) / 2  # type: ignore[operator]
            assert low <= mean <= high, (fit.name, outer, inner)
            assert most <= worn, (fit.name, outer, inner)  # type: ignore[operator]
            judged += 1
    assert judged > 40


def test_what_was_measured_goes_with_the_condition_that_was_decided(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        rows = session.execute(
            select(Inspection.proposed, Inspection.decided, Inspection.reason, Inspection.scope)
        ).all()
        figures = session.scalar(select(func.count()).select_from(Measurement))
    assert len(rows) == len(workshop.inspections.inspections) > 750
    assert figures is not None and figures > 4000
    decided = Counter(row.decided for row in rows)
    assert decided[Condition.SERVICEABLE] > 600 and decided[Condition.UNSERVICEABLE] > 50
    against = [row for row in rows if row.proposed is not row.decided]
    assert 2 <= len(against) <= 6 and all(row.reason for row in against)


def test_all_measured_with_what_was_calibrated_then_but_for_one_liner(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        used = session.execute(
            select(Measurement.piece_id, Measurement.instrument_id, Measurement.measured_on)
            .where(Measurement.instrument_id.is_not(None))
            .distinct()
        ).all()
        doubted = {
            row.piece_id
            for row in used
            if instruments_then(session, [row.instrument_id], row.measured_on)[row.instrument_id].doubt
        }
        assert doubted == {thing(session, sight(workshop, "past its calibration")).piece}
        now = {each.number: each for each in instruments(session)}
    assert now["G 04"].doubt.startswith("was out of calibration, which ended on 2026-06-09")
    due = now["S 01"].calibration_due_on
    assert due is not None and 0 < (due - TODAY).days < 30


def test_the_barrel_of_the_concession_is_four_hundredths_over_its_worn_limit(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        barrel = thing(session, sight(workshop, "concession"))
        last, *before = inspections_of(session, barrel)
        state = things_by_id(session, [barrel])[barrel]
    (bore,) = last.lines
    assert bore.then is not None
    assert "0.04 mm over the upper worn limit" in bore.then.words
    assert (last.decided, state.condition) == (Condition.UNSERVICEABLE, Condition.UNSERVICEABLE)
    assert [each.decided for each in before] == [Condition.SERVICEABLE] * len(before)
    assert len(before) == 3


def test_a_piston_within_limits_then_is_outside_those_of_the_present_revision(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        (done,) = inspections_of(session, thing(session, sight(workshop, "judged again")))
    assert done.differs == ("skirt: within worn limits then, out of limits by the present revision",)


def test_two_revisions_are_in_force_one_after_the_other(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        part = part_id(session, sight(workshop, "two revisions"))
        assert [spec.revision for spec in specs_of(session, part)] == ["B", "A"]
        before, after = (spec_on(session, part, on) for on in (date(2023, 5, 14), date(2023, 5, 15)))
        assert before is not None and after is not None
        worn = [
            next(line.limits.worn_high for line in spec.lines if line.name == "bore")
            for spec in (before, after)
        ]
    assert worn == ["125.120", "125.100"]


def test_the_three_choosy_pistons_suit_certain_bores_only(harrowmere: Store, workshop: Workshop) -> None:
    pistons = [each.number for each in workshop.sights if each.what == "choosy pistons"]
    with harrowmere.reading() as session:
        suits = {
            (piston, barrel): suited(session, "piston", piston, "barrel", barrel)
            for piston in pistons
            for barrel in ("T00568-N", "T00569-L", "T00567-P")
        }
    assert {pair for pair, may_go in suits.items() if may_go} == {
        (pistons[0], "T00568-N"), (pistons[0], "T00569-L"), (pistons[1], "T00568-N"),
    }  # fmt: skip


def test_no_chromium_faced_ring_goes_in_the_plated_bore_nor_a_standard_one_in_the_oversize(
    harrowmere: Store, workshop: Workshop
) -> None:
    plated, rebored = sight(workshop, "plated"), sight(workshop, "rebored")
    with harrowmere.reading() as session:
        ring = "top compression ring"
        assert not suited(session, ring, "B00075-X", "barrel", plated), "chromium on chromium"
        assert suited(session, ring, "B00176-L", "barrel", plated)
        assert not suited(session, ring, "B00075-X", "barrel", rebored), "of another size"
        assert not suited(session, "piston", "T00312-0", "barrel", rebored), "of another size"


def test_what_each_engine_is_built_of_agrees_in_mass_and_fits(
    harrowmere: Store,
) -> None:
    outside = []
    with harrowmere.reading() as session:
        for name in ("Linnet 117", "Linnet 142", "Linnet 163", "Dabchick 31", "Twelve 204"):
            built = built_fits(session, engine_named(session, name))
            assert sum(point.measured for row in built.fits for point in row.points) >= 20, name
            assert all(row.within is not False for row in built.masses), name
            assert any(row.within for row in built.masses), name
            outside += [
                (name, row.name, point.position)
                for row in built.fits
                for point in row.points
                if not point.verdict.may_go
            ]
    assert outside == []


def test_masses_are_matched_by_the_scheme_of_each_engine_type(workshop: Workshop) -> None:
    sets = {(each.engine_type, each.name): each for each in workshop.specs.balances}
    links = sets["Linnet", "link rods and pistons"]
    assert links.positions == "2, 3, 4, 5, 6, 7"
    assert sets["Linnet", "master assembly against the counterweight"].kind is BalanceKind.AGAINST
    forks, blades = sets["Twelve", "fork assemblies"], sets["Twelve", "blade assemblies"]
    assert (forks.positions, blades.positions) == ("A1, A2, A3, A4, A5, A6", "B1, B2, B3, B4, B5, B6")
    assert sets["Dabchick", "big ends"].kind is BalanceKind.ENDS


def test_washers_are_issued_as_the_range_that_the_measured_gap_asks_for(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        engine = engine_named(session, "Linnet 117")
        (kit,) = propose(session, (Asked(engine, position_named(session, engine, "2")),)).kits
    line = next(line for line in kit.lines if line.station == "rocker thrust washers")
    assert line.selected.startswith("select ") and line.missing == 0
    assert [choice.why for choice in line.choices] == ["1.10 mm: one of the range to select from"]


def test_a_head_that_was_fitted_with_its_valve_is_matched_with_it(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        head = thing(session, "T01014-3").piece
        assert head is not None
        (of,) = matched_with(session, [head])[head]
        assert {tag for _, tag in of.members} == {"T01014-3", "T01018-W"}
        assert of.why == "fitted together: exhaust valve below its seat"
        kinds = Counter(session.scalars(select(MatchedSet.kind)))
    assert kinds[MatchedAs.MATES] == 6 and kinds[MatchedAs.SET] >= 6


def test_a_block_held_its_coolant_and_another_did_not(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        tests = session.execute(
            select(BenchTest.medium, BenchTest.held_seconds, BenchTest.passed, BenchTest.end_figure).where(
                BenchTest.name == "block"
            )
        ).all()
    assert {(test.medium, test.held_seconds) for test in tests} == {("coolant", 1200)}
    assert {test.passed for test in tests} == {True, False}


@pytest.mark.parametrize(
    ("file", "line", "column", "value"),
    [
        ("specs.csv", 2, "House number", "ZZ0001-X"),
        ("specs.csv", 2, "Revision", "Z"),
        ("spec_lines.csv", 2, "Kind", "guess"),
        ("spec_lines.csv", 2, "Hold seconds", "long"),
        ("part_sizes.csv", 2, "Booked on", "soon"),
        ("fits.csv", 2, "Outer station", "coal hole"),
        ("fits.csv", 2, "Kind", "hammered in"),
        ("fits.csv", 2, "Inner part", "ZZ0001-X"),
        ("match_rules.csv", 2, "What", "colour"),
        ("balance_sets.csv", 2, "Masses", "piston"),
        ("instruments.csv", 3, "Number", "M 01"),
        ("instruments.csv", 2, "Booked on", "2018-01-01"),
        ("calibrations.csv", 2, "Number", "X 99"),
        ("inspections.csv", 2, "Of", "T99999-9"),
        ("inspections.csv", 2, "Decided", "lovely"),
        ("inspections.csv", 2, "Scope", ""),
        ("inspections.csv", 3, "No.", "IN 0001"),
        ("measurements.csv", 2, "Inspection", "IN 9999"),
        ("measurements.csv", 2, "Instrument", "X 99"),
        ("bench_tests.csv", 2, "Method", "licking"),
        ("bench_tests.csv", 2, "Passed", "nearly"),
    ],
)
def test_a_wrong_cell_about_measuring_is_named(
    tmp_path: Path, file: str, line: int, column: str, value: str
) -> None:
    with pytest.raises(Refused) as refused:
        read_workshop(changed(tmp_path, file, line, column, value))
    said = refused.value.reason
    assert said.startswith(f"{file}, line {line}, column ") and refused.value.remedy
    assert repr(value) in said or column in said
