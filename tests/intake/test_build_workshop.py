"""The invented workshop built into a store by its acts: what it stands for there, and what its kits show."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb import store
from invdb.acts.check import check_store
from invdb.acts.numbers import engine_named, position_named
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, KitProposal
from invdb.acts.trace import trace
from invdb.intake.build_workshop import build_workshop
from invdb.intake.workshop import Workshop
from invdb.records.documents import Document
from invdb.records.ledger import Entry
from invdb.records.stock import Batch, Hold, Holding, Piece, Place
from invdb.rules.pulling import KitState
from invdb.store import Store
from invdb.terms import EntryKind, Refused


def kits(harrowmere: Store, *asked: tuple[str, str]) -> tuple[KitProposal, ...]:
    with harrowmere.reading() as session:
        named = []
        for engine, position in asked:
            engine_id = engine_named(session, engine)
            named.append(Asked(engine_id, position_named(session, engine_id, position)))
        proposal = propose(session, tuple(named))
    assert proposal.proven
    return proposal.kits


def tag_of(workshop: Workshop, what: str) -> str:
    return next(sight.number for sight in workshop.sights if sight.what == what)


def barrel(kit: KitProposal) -> str:
    return next(c.tag for line in kit.lines if line.station == "barrel" for c in line.choices)


def bars_in(kit: KitProposal, tag: str) -> tuple[str, ...]:
    return next(miss.bars for line in kit.lines for miss in line.misses if miss.tag == tag)


def assert_stands_as_the_tables_say(session: Session, workshop: Workshop) -> None:
    """Every piece and batch in the condition, the scope and the places that the tables work out to."""
    expected_pieces = {}
    expected_batches = {}
    for tag, each in workshop.standings.items():
        if tag.startswith("T"):
            (place,) = each.quantities
            expected_pieces[tag] = (each.condition, each.scope, place)
        else:
            expected_batches[tag] = (each.condition, each.scope, each.quantities)
    pieces = session.execute(
        select(Piece.tag, Piece.condition, Piece.scope, Place.name).join(Place, Place.id == Piece.place_id)
    )
    assert {tag: (condition, scope, place) for tag, condition, scope, place in pieces} == expected_pieces
    quantities: dict[str, dict[str, int]] = {tag: {} for tag in expected_batches}
    holdings = select(Batch.tag, Place.name, Holding.quantity).join(Batch).join(Place)
    for tag, place, quantity in session.execute(holdings.where(Holding.quantity > 0)):
        quantities[tag][place] = quantity
    batches = session.execute(select(Batch.tag, Batch.condition, Batch.scope))
    assert {tag: (condition, scope, quantities[tag]) for tag, condition, scope in batches} == expected_batches


def test_every_piece_and_batch_stands_as_the_tables_work_out(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        assert_stands_as_the_tables_say(session, workshop)
        assert session.scalar(select(func.count()).select_from(Document)) == len(workshop.documents)
        still_raised = session.scalar(select(func.count()).where(Hold.cleared_on.is_(None)))
        assert still_raised == len({line for each in workshop.standings.values() for line in each.holds})


def test_it_is_the_same_on_either_database(workshop: Workshop, postgres_url: str, harrowmere: Store) -> None:
    built = build_workshop(postgres_url, workshop)
    opened = store.open_store(postgres_url)
    with opened.reading() as session, harrowmere.reading() as other:
        assert_stands_as_the_tables_say(session, workshop)
        last = select(Entry.number, Entry.hash).order_by(Entry.number.desc()).limit(1)
        assert session.execute(last).one() == other.execute(last).one()
    opened.close()
    assert built.entries > 1000


def test_entries_carry_the_day_they_were_booked_and_late_ones_their_true_day(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        rows = session.execute(
            select(Entry.number, Entry.happened_on, Entry.recorded_at, Entry.kind).order_by(Entry.number)
        ).all()
    recorded = [row.recorded_at for row in rows]
    assert recorded == sorted(set(recorded))
    assert recorded[-1].date() <= date(2026, 11, 25)
    assert {row.recorded_at.year for row in rows} == set(range(2020, 2027))
    late = [row for row in rows if (row.recorded_at.date() - row.happened_on).days > 14]
    assert {row.kind for row in late} >= {EntryKind.GOODS_IN, EntryKind.MOVED}


@pytest.mark.parametrize(
    ("engine", "position", "state"),
    [
        ("Linnet 117", "2", KitState.COMPLETE),
        ("Linnet 117", "4", KitState.WITH_ALTERNATE),
        ("Linnet 142", "1", KitState.SHORT),
        ("Linnet 163", "3", KitState.COMPLETE),
        ("Dabchick 31", "2", KitState.COMPLETE),
        ("Dabchick 58", "4", KitState.COMPLETE),
        ("Twelve 204", "A1", KitState.COMPLETE),
        ("Twelve 204", "A6", KitState.SHORT),
        ("Twelve 219", "B2", KitState.RESERVED),
    ],
)
def test_a_cylinders_kit_is_as_complete_as_it_is_meant_to_be(
    harrowmere: Store, engine: str, position: str, state: KitState
) -> None:
    (kit,) = kits(harrowmere, (engine, position))
    assert kit.state is state
    assert 34 <= len(kit.lines) <= 45


def test_one_cylinder_is_complete_only_with_an_alternate(harrowmere: Store, workshop: Workshop) -> None:
    (kit,) = kits(harrowmere, ("Linnet 117", "4"))
    alternates = [choice for line in kit.lines for choice in line.choices if choice.authority]
    assert [choice.part_number for choice in alternates] == [tag_of(workshop, "alternate only")]
    assert alternates[0].authority == "Pellworth leaflet 31"


def test_one_cylinder_is_short_by_the_master_rod_that_is_out_for_work(
    harrowmere: Store, workshop: Workshop
) -> None:
    (kit,) = kits(harrowmere, ("Linnet 142", "1"))
    assert [line.station for line in kit.lines if line.missing] == ["master rod"]
    said = bars_in(kit, tag_of(workshop, "short by one out for work"))
    assert any("Tarn Grinding Works" in bar and "due back 2027-01-15" in bar for bar in said)


def test_two_cylinders_compete_for_the_last_good_barrel(harrowmere: Store, workshop: Workshop) -> None:
    last = tag_of(workshop, "competing cylinders")
    way_out = tag_of(workshop, "competing cylinders, the way out")
    (alone,) = kits(harrowmere, ("Linnet 142", "3"))
    assert barrel(alone) == last, "served first, 142 takes the barrel that 117 cannot do without"
    together = kits(harrowmere, ("Linnet 142", "3"), ("Linnet 117", "6"))
    assert all(kit.complete for kit in together)
    assert [barrel(kit) for kit in together] == [way_out, last]


def test_the_near_misses_of_a_barrel_say_what_bars_each(harrowmere: Store, workshop: Workshop) -> None:
    (kit,) = [
        each for each in kits(harrowmere, ("Linnet 117", "6"), ("Linnet 117", "7")) if not each.complete
    ]
    assert [line.station for line in kit.lines if line.missing] == ["barrel"]
    assert bars_in(kit, tag_of(workshop, "ground running only")) == ("accepted for ground running only",)
    assert bars_in(kit, tag_of(workshop, "on hold"))[0].startswith("on hold: Crack indication")
    assert "Wrenfold Collection" in bars_in(kit, tag_of(workshop, "customer's property"))[0]


def test_a_ground_run_engine_takes_the_barrel_that_may_not_fly(harrowmere: Store, workshop: Workshop) -> None:
    (kit,) = kits(harrowmere, ("Linnet 163", "3"))
    chosen = {choice.tag for line in kit.lines for choice in line.choices}
    assert tag_of(workshop, "ground running only") in chosen


def test_an_engine_with_the_mod_asks_for_the_drain_union_and_one_without_does_not(
    harrowmere: Store,
) -> None:
    with_mod, without = kits(harrowmere, ("Linnet 117", "5"), ("Linnet 142", "5"))
    assert "oil drain union" in {line.station for line in with_mod.lines}
    assert "oil drain union" not in {line.station for line in without.lines}


def test_a_line_that_an_act_refuses_leaves_no_store_behind(tmp_path: Path, workshop: Workshop) -> None:
    where = tmp_path / "stopped.invdb"

    def stop(done: int, total: int) -> None:
        if done == 5:
            raise Refused("Stopped.", "Start again.")

    with pytest.raises(Refused, match="Stopped"):
        build_workshop(str(where), workshop, stop)
    assert list(tmp_path.iterdir()) == []


def test_the_ledger_of_the_invented_workshop_checks_out(harrowmere: Store) -> None:
    report = check_store(harrowmere)
    assert report.differences == ()
    assert report.entries > 1000


def test_the_trace_of_one_barrel_shows_a_gap_of_six_years(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        sheet = trace(session, tag_of(workshop, "six-year gap"))
    spans = [(gap.from_on, gap.to_on) for gap in sheet.gaps]
    assert (date(2020, 3, 2), date(2026, 3, 9)) in spans


def test_the_trace_of_the_forty_springs_leads_to_their_shares(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        sheet = trace(session, tag_of(workshop, "forty springs"))
    assert [(each.quantity) for each in sheet.quantities] == [31]
    assert sorted(each.quantity or 0 for each in sheet.kin) == [4, 5]
