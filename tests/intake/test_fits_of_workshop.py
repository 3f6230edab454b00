"""The invented workshop's cylinder pieces as measured, and how its kits say that they fit together."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_fits import limits_for, read_limits_of_parts
from invdb.acts.measured import latest_measurements
from invdb.acts.numbers import Thing, engine_named, position_named, thing_by_tag
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, KitProposal
from invdb.acts.things import things_by_id
from invdb.intake.workshop import Workshop
from invdb.records.stock import Piece
from invdb.rules.fits import FitVerdict
from invdb.rules.limits import Reading, Verdict, judge_line
from invdb.rules.measuring import kept
from invdb.store import Store
from invdb.terms import Condition, FitKind

TODAY = date(2026, 11, 25)


def sights(workshop: Workshop, what: str) -> set[str]:
    return {sight.number for sight in workshop.sights if sight.what == what}


def kits(session: Session, engine: str, *positions: str) -> tuple[KitProposal, ...]:
    engine_id = engine_named(session, engine)
    asked = tuple(Asked(engine_id, position_named(session, engine_id, position)) for position in positions)
    return propose(session, asked).kits


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


def test_what_is_serviceable_is_within_limits_but_for_what_a_later_revision_overtook(
    harrowmere: Store, workshop: Workshop
) -> None:
    out = set()
    verdicts: dict[Condition, set[Verdict]] = defaultdict(set)
    with harrowmere.reading() as session:
        ids = session.scalars(select(Piece.id)).all()
        states = things_by_id(session, [Thing(piece=piece) for piece in ids])
        limits = read_limits_of_parts(session, {state.part for state in states.values()}, TODAY)
        measured = latest_measurements(session, ids, TODAY)
    for state in states.values():
        lines = limits_for(limits.get(state.part, {}), state.size_class)
        for name, figures in measured.get(state.thing.piece or 0, {}).items():
            readings = [Reading(each.point, each.direction, kept(each.figure, each.unit)) for each in figures]
            verdict = judge_line(readings, lines[name]).verdict if name in lines else Verdict.UNJUDGED
            verdicts[state.condition].add(verdict)
            if state.condition is Condition.SERVICEABLE and verdict is Verdict.OUT:
                out.add(state.tag)
    assert out == sights(workshop, "judged again")
    assert {Verdict.NEW, Verdict.WORN} <= verdicts[Condition.SERVICEABLE]
    assert Verdict.OUT in verdicts[Condition.UNSERVICEABLE]


@pytest.mark.parametrize(
    ("engine", "position", "outside"),
    [
        ("Linnet 117", "2", "barrel"),
        ("Linnet 163", "3", "barrel"),
        ("Dabchick 31", "2", "barrel"),
        ("Twelve 204", "A1", "wet liner"),
    ],
)
def test_a_kit_says_how_its_piston_fits_and_what_is_done_on_assembly(
    harrowmere: Store, engine: str, position: str, outside: str
) -> None:
    with harrowmere.reading() as session:
        (kit,) = kits(session, engine, position)
    assert kit.fits and all(fit.verdict.may_go for fit in kit.fits)
    pistons = [
        fit for fit in kit.fits if fit.measured and {fit.station, fit.other_station} == {outside, "piston"}
    ]
    assert pistons and {fit.verdict for fit in pistons} <= {FitVerdict.NEW, FitVerdict.WORN}
    filed = [fit for fit in kit.fits if fit.kind is FitKind.MACHINED and "ring" in fit.name]
    assert filed and {fit.operation for fit in filed} == {"File the gap"}
    assert all(fit.target for fit in filed)


def test_the_fork_and_the_blade_that_run_together_come_as_a_pair_or_not_at_all(
    harrowmere: Store, workshop: Workshop
) -> None:
    pair = sights(workshop, "rod pair")
    with harrowmere.reading() as session:
        throw = kits(session, "Twelve 204", "A2", "B2")
        (fork_alone,) = kits(session, "Twelve 204", "A2")
    chosen = [
        {choice.tag for kit in asked for line in kit.lines for choice in line.choices}
        for asked in (throw, (fork_alone,))
    ]
    assert pair <= chosen[0] or not pair & chosen[0]
    assert not pair & chosen[1], "one cylinder alone cannot take both rods"
