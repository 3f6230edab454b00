"""The figures of the invented workshop: what was measured of its cylinders, and how pieces fit together."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.engine_fits import EngineFits, built_fits
from invdb.acts.inspections_of import inspections_of
from invdb.acts.instrument import instruments
from invdb.acts.kit_fits import limits_for, read_limits_of_parts
from invdb.acts.kit_suits import KitSuits
from invdb.acts.measured import latest_measurements
from invdb.acts.numbers import Thing, engine_named, part_by_number, position_named, thing_by_tag
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, KitProposal
from invdb.acts.spec import spec_on, specs_of
from invdb.acts.things import things_by_id, things_of_parts
from invdb.intake.workshop import Workshop
from invdb.records.engines import EngineType
from invdb.records.stock import Piece
from invdb.rules.fits import FitVerdict
from invdb.rules.limits import Reading, Verdict, judge_line
from invdb.rules.measuring import kept
from invdb.rules.suiting import Suited
from invdb.store import Store
from invdb.terms import Condition, FitKind, SpecKind

TODAY = date(2026, 11, 25)
LINNETS = ("Linnet 117", "Linnet 142", "Linnet 163")
FLYING = ("Linnet 117", "Linnet 142", "Dabchick 31", "Twelve 204")


def sights(workshop: Workshop, what: str) -> list[str]:
    return [sight.number for sight in workshop.sights if sight.what == what]


def kit(session: Session, engine: str, position: str) -> KitProposal:
    engine_id = engine_named(session, engine)
    (proposed,) = propose(session, (Asked(engine_id, position_named(session, engine_id, position)),)).kits
    return proposed


def engine_type_of(session: Session, name: str) -> int:
    return session.scalars(select(EngineType.id).where(EngineType.name == name)).one()


def suited(session: Session, engine_type: str, one: tuple[str, str], other: tuple[str, str]) -> Suited:
    """How two things, each by its station and its tag, suit each other in a cylinder."""
    group = (engine_type_of(session, engine_type), "cylinder")
    things = {tag: thing_by_tag(session, tag) for _, tag in (one, other)}
    states = things_by_id(session, things.values())
    suits = KitSuits(session, [group], states.values(), TODAY)
    return suits.judge(group, *((station, states[things[tag]]) for station, tag in (one, other)))


def pieces_of(session: Session, part_number: str) -> list[Thing]:
    part = part_by_number(session, part_number)
    return [thing for thing in things_of_parts(session, [part]) if thing.piece is not None]


def test_every_piece_of_a_cylinder_that_was_looked_at_was_measured(
    harrowmere: Store, workshop: Workshop
) -> None:
    in_kits = {line.house_number for line in workshop.kit_lines if line.group == "cylinder"}
    looked_at = [
        piece.tag
        for piece in workshop.pieces
        if piece.house_number in in_kits
        and piece.stock.condition not in {Condition.UNINSPECTED, Condition.UNSALVAGEABLE}
    ]
    with harrowmere.reading() as session:
        states = things_by_id(session, [thing_by_tag(session, tag) for tag in looked_at])
        limits = read_limits_of_parts(session, {state.part for state in states.values()}, TODAY)
        measured = latest_measurements(session, [thing.piece for thing in states if thing.piece], TODAY)
    asked = [state for state in states.values() if limits_for(limits.get(state.part, {}), state.size_class)]
    assert len(asked) > 400
    assert {state.tag for state in asked if state.thing.piece not in measured} == set()


def test_what_is_serviceable_is_within_its_limits_but_for_one_by_a_later_revision(
    harrowmere: Store, workshop: Workshop
) -> None:
    verdicts: dict[str, set[Verdict]] = {"serviceable": set(), "unserviceable": set()}
    out = set()
    with harrowmere.reading() as session:
        ids = session.execute(select(Piece.id, Piece.condition)).all()
        states = things_by_id(session, [Thing(piece=row.id) for row in ids])
        limits = read_limits_of_parts(session, {state.part for state in states.values()}, TODAY)
        measured = latest_measurements(session, [row.id for row in ids], TODAY)
    for thing, state in states.items():
        lines = limits_for(limits.get(state.part, {}), state.size_class)
        for name, figures in measured.get(thing.piece or 0, {}).items():
            if name in lines and state.condition in verdicts:
                readings = [
                    Reading(each.point, each.direction, kept(each.figure, each.unit)) for each in figures
                ]
                verdict = judge_line(readings, lines[name]).verdict
                verdicts[state.condition].add(verdict)
                if state.condition is Condition.SERVICEABLE and verdict is Verdict.OUT:
                    out.add((state.tag, name))
    assert out == {(tag, "skirt") for tag in sights(workshop, "judged again")}
    assert {Verdict.NEW, Verdict.WORN} <= verdicts["serviceable"]
    assert Verdict.OUT in verdicts["unserviceable"]


def test_the_bore_under_concession_is_four_hundredths_over_its_worn_limit_at_the_top(
    harrowmere: Store, workshop: Workshop
) -> None:
    (tag,) = sights(workshop, "concession")
    with harrowmere.reading() as session:
        latest = inspections_of(session, thing_by_tag(session, tag))[0]
    (bore,) = (line for line in latest.lines if line.name == "bore")
    assert bore.limits_present is not None
    _, worn = bore.limits_present.worn
    assert worn is not None
    over = {
        reading.point: kept(reading.figure, reading.unit).value - worn
        for reading in bore.readings
        if kept(reading.figure, reading.unit).value > worn
    }
    assert set(over) == {"top"}
    largest = max(
        kept(reading.figure, reading.unit).value for reading in bore.readings if reading.point == "top"
    )
    assert largest - worn == Fraction(4, 100)
    assert latest.decided is Condition.UNSERVICEABLE


def test_parts_have_revisions_and_some_figure_is_judged_otherwise_by_the_present_one(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        revised = [
            part.house_number
            for part in workshop.parts
            if len(specs_of(session, part_by_number(session, part.house_number))) > 1
        ]
        assert len(revised) >= 3
        differing = [
            line.name
            for number in revised
            for thing in pieces_of(session, number)
            for done in inspections_of(session, thing)
            for line in done.lines
            if line.limits_then != line.limits_present
        ]
    assert differing


def test_the_twelves_block_is_tested_with_coolant_at_sixteen_tenths_of_a_bar_for_twenty_minutes(
    harrowmere: Store,
) -> None:
    with harrowmere.reading() as session:
        asked = [
            line
            for house_number in ("CK1203-2", "CK1204-Z")
            if (spec := spec_on(session, part_by_number(session, house_number))) is not None
            for line in spec.lines
            if line.kind is SpecKind.PRESSURE_TEST
        ]
    assert [(line.target, line.unit, line.medium, line.hold_seconds) for line in asked] == [
        ("1.6", "bar", "coolant", 1200)
    ] * 2


def test_each_choosy_piston_goes_into_certain_oversize_bores_only(
    harrowmere: Store, workshop: Workshop
) -> None:
    rebored = sights(workshop, "rebored")[0]
    goes: dict[str, set[str]] = {}
    with harrowmere.reading() as session:
        bores = [
            state.tag
            for state in things_by_id(session, pieces_of(session, "LN0414-M")).values()
            if state.condition == Condition.SERVICEABLE
        ]
        for piston in sights(workshop, "choosy pistons"):
            judged = {bore: suited(session, "Linnet", ("barrel", bore), ("piston", piston)) for bore in bores}
            goes[piston] = {bore for bore, each in judged.items() if each.may_go}
            standard = suited(session, "Linnet", ("barrel", "T00567-P"), ("piston", piston))
            assert any("oversize" in words for words in standard.unmatched)
    assert len(bores) == 2 and rebored in bores
    assert len(set(map(frozenset, goes.values()))) == 3, "no two of them go into the same bores"


def test_a_chromium_faced_ring_never_goes_into_the_plated_bore(harrowmere: Store, workshop: Workshop) -> None:
    (plated,) = sights(workshop, "plated")
    faced, plain = (
        next(batch.tag for batch in workshop.batches if batch.house_number == number and batch.stock.place)
        for number in ("RG0401-K", "RG0408-6")
    )
    with harrowmere.reading() as session:
        barred = suited(session, "Linnet", ("top compression ring", faced), ("barrel", plated))
        allowed = suited(session, "Linnet", ("top compression ring", plain), ("barrel", plated))
    assert any("chromium" in words for words in barred.unmatched)
    assert allowed.may_go


def unfit(fits: EngineFits) -> set[tuple[str, str]]:
    return {
        (row.name, point.position) for row in fits.fits for point in row.points if not point.verdict.may_go
    }


@pytest.mark.parametrize("engine", FLYING)
def test_an_engine_that_flies_is_built_within_its_fits_and_masses(harrowmere: Store, engine: str) -> None:
    with harrowmere.reading() as session:
        fits = built_fits(session, engine_named(session, engine))
    assert sum(point.measured for row in fits.fits for point in row.points) >= 8
    assert unfit(fits) == set()
    assert {row.name: row.words for row in fits.masses if row.within is False} == {}
    assert any(row.within for row in fits.masses)


@pytest.mark.parametrize(
    ("engine", "position"), [("Linnet 163", "3"), ("Dabchick 31", "2"), ("Twelve 204", "A1")]
)
def test_a_kit_says_how_its_pieces_fit_and_what_is_done_on_assembly(
    harrowmere: Store, engine: str, position: str
) -> None:
    with harrowmere.reading() as session:
        proposed = kit(session, engine, position)
    measured = [fit for fit in proposed.fits if fit.measured]
    assert measured and all(fit.verdict.may_go for fit in proposed.fits)
    piston = next(fit for fit in measured if fit.station in {"barrel", "wet liner"})
    assert piston.verdict in {FitVerdict.NEW, FitVerdict.WORN}
    machined = [fit for fit in proposed.fits if fit.kind is FitKind.MACHINED]
    assert machined and all(fit.operation for fit in machined)


def test_thrust_washers_for_the_end_float_of_the_rockers_are_issued_as_a_range(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        proposed = kit(session, "Linnet 163", "3")
        washers = part_by_number(session, "FX0101-E")
        sizes = {state.size_class for state in things_of_parts(session, [washers]).values()}
    (line,) = (line for line in proposed.lines if line.selected)
    assert line.station == "rocker thrust washers"
    assert line.choices, "what may prove right is issued"
    assert len(sizes) > 1


def test_the_fork_and_the_blade_that_run_together_come_as_a_pair_or_not_at_all(
    harrowmere: Store, workshop: Workshop
) -> None:
    pair = set(sights(workshop, "rod pair"))
    with harrowmere.reading() as session:
        engine = engine_named(session, "Twelve 204")
        asked = tuple(Asked(engine, position_named(session, engine, at)) for at in ("A2", "B2"))
        one, other = propose(session, asked).kits
    chosen = {choice.tag for each in (one, other) for line in each.lines for choice in line.choices}
    assert pair <= chosen or not pair & chosen


def test_most_instruments_are_in_date_and_one_is_not(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        listed = instruments(session, TODAY)
    late = [each.number for each in listed if each.doubt]
    assert len(listed) >= 9
    assert late and len(late) < len(listed) / 2
