"""The invented workshop's work: what is out and till when, what came back as what, what stays together."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.matched import matched_with
from invdb.acts.part_then import part_on
from invdb.acts.work_list import WorkOrderFacts, work_orders
from invdb.intake.workshop import Workshop, read_workshop
from invdb.records.catalogue import Part
from invdb.records.life import LifeReset
from invdb.records.stock import Batch, Piece, Place
from invdb.records.work import Reidentification, Scrapping
from invdb.store import Store
from invdb.terms import Condition, MatchedAs, Refused, Unusable, WorkWanted
from tests.intake.test_workshop import changed


def sight(workshop: Workshop, what: str) -> str:
    return next(each.number for each in workshop.sights if each.what == what)


def piece_id(session: Session, tag: str) -> int:
    return session.scalars(select(Piece.id).where(Piece.tag == tag)).one()


def order_with(orders: tuple[WorkOrderFacts, ...], tag: str) -> WorkOrderFacts:
    (order,) = (order for order in orders if tag in {line.tag for line in order.lines})
    return order


def test_what_is_out_for_work_is_due_and_one_order_is_overdue(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        orders = work_orders(session)
    rod = order_with(orders, sight(workshop, "short by one out for work"))
    assert (rod.place_name, rod.due_words) == ("At Tarn Grinding Works", "due 2027-01-15")
    late = [order for order in orders if order.days_over]
    assert [line.tag for order in late for line in order.lines] == [sight(workshop, "overdue at Tarn")]
    assert orders[0] == late[0]
    assert {order.place_name for order in orders} == {
        "At Tarn Grinding Works", "At Larkholm Plating", "At Greyfold Magneto Repairs",
        "At Ebber Crack Testing",
    }  # fmt: skip


def test_orders_done_say_what_came_back_and_what_was_scrapped(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        done = [order for order in work_orders(session, only_open=False) if not order.open]
    assert {order.kind for order in done} == {
        WorkWanted.MACHINING, WorkWanted.OVERHAUL, WorkWanted.REPAIR, WorkWanted.LAPPING,
    }  # fmt: skip
    assert all(line.report for order in done for line in order.lines)
    scrapped = {line.tag: line.scrapped for order in done for line in order.lines if line.scrapped}
    assert scrapped == {sight(workshop, "scrapped at Tarn"): 1, sight(workshop, "set again"): 3}


def test_springs_set_again_are_a_batch_of_their_own(harrowmere: Store, workshop: Workshop) -> None:
    parent = sight(workshop, "set again")
    with harrowmere.reading() as session:
        shares = session.execute(
            select(Batch.tag, Batch.condition, Batch.parent_batch_id)
            .join(Part, Part.id == Batch.part_id)
            .where(Batch.tag.in_(workshop.works.new_tags))
            .order_by(Batch.id)
        ).all()
        origin = session.scalars(select(Batch.id).where(Batch.tag == parent)).one()
    assert [share.condition for share in shares] == [Condition.SERVICEABLE, Condition.UNSALVAGEABLE]
    assert {share.parent_batch_id for share in shares} == {origin}


@pytest.mark.parametrize(("what", "came_as", "became"), [
    ("rebored", "LN0412-Q", "LN0414-M"),
    ("plated", "LN0412-Q", "LN0415-K"),
])  # fmt: skip
def test_a_barrel_came_at_standard_and_became_another_part_under_the_same_tag(
    harrowmere: Store, workshop: Workshop, what: str, came_as: str, became: str
) -> None:
    tag = sight(workshop, what)
    (row,) = (piece for piece in workshop.pieces if piece.tag == tag)
    assert row.house_number == came_as
    assert workshop.standings[tag].house_number == became
    with harrowmere.reading() as session:
        numbers = dict(session.execute(select(Part.id, Part.house_number)).all())
        piece = piece_id(session, tag)
        (entry,) = session.scalars(select(Reidentification).where(Reidentification.piece_id == piece))
        assert (numbers[entry.old_part_id], numbers[entry.new_part_id]) == (came_as, became)
        assert "repair" in entry.authority and entry.document_id is not None
        assert numbers[
            part_on(session, piece, date(2022, 6, 1) if what == "rebored" else date(2023, 11, 6))
        ] == (came_as)
        assert numbers[part_on(session, piece, date(2026, 11, 25))] == became
        condition = session.scalars(select(Piece.condition).where(Piece.id == piece)).one()
    assert condition is Condition.SERVICEABLE


def test_the_fork_rod_and_the_blade_rod_that_run_together_are_a_matched_set(
    harrowmere: Store, workshop: Workshop
) -> None:
    fork, blade = (each.number for each in workshop.sights if each.what == "rod pair")
    with harrowmere.reading() as session:
        (pair,) = matched_with(session, [piece_id(session, fork)]).values()
        (of,) = pair
        assert (of.kind, {tag for _, tag in of.members}) == (MatchedAs.SET, {fork, blade})


def test_a_head_lapped_on_our_bench_keeps_its_two_valves(harrowmere: Store, workshop: Workshop) -> None:
    head = sight(workshop, "lapped together")
    (order,) = (order for order in workshop.works.orders if order.kind is WorkWanted.LAPPING)
    with harrowmere.reading() as session:
        (of,) = matched_with(session, [piece_id(session, head)])[piece_id(session, head)]
        assert {tag for _, tag in of.members} == {sent.of for sent in order.things}
        assert head in {tag for _, tag in of.members}


def test_an_overhaul_begins_the_counts_of_two_magnetos_anew(harrowmere: Store, workshop: Workshop) -> None:
    (order,) = (order for order in workshop.works.orders if order.kind is WorkWanted.OVERHAUL)
    with harrowmere.reading() as session:
        pieces = [piece_id(session, sent.of) for sent in order.things]
        resets = session.execute(
            select(LifeReset.piece_id, LifeReset.resets_hours, LifeReset.resets_starts, LifeReset.reset_on)
            .where(LifeReset.piece_id.in_(pieces))
            .order_by(LifeReset.piece_id)
        ).all()
    assert [tuple(reset) for reset in resets] == [
        (piece, True, False, date(2024, 11, 25)) for piece in sorted(pieces)
    ]


def test_what_was_scrapped_says_how_it_was_made_unusable(harrowmere: Store) -> None:
    with harrowmere.reading() as session:
        rows = session.execute(
            select(Scrapping.how, Piece.condition, Place.name)
            .join(Piece, Piece.id == Scrapping.piece_id)
            .join(Place, Place.id == Piece.place_id)
        ).all()
    assert {row.how for row in rows} == {Unusable.SAWN, Unusable.CRUSHED, Unusable.BY_A_FIRM}
    assert {(row.condition, row.name) for row in rows} == {(Condition.UNSALVAGEABLE, "Scrap drum")}


@pytest.mark.parametrize(
    ("file", "line", "column", "value"),
    [
        ("work_orders.csv", 3, "Order", "W00001-M"),
        ("work_orders.csv", 2, "Place", "Bond 01"),
        ("work_orders.csv", 2, "For", "polishing"),
        ("work_orders.csv", 2, "Due", "2022-09-01"),
        ("work_lines.csv", 2, "Order", "W00099-9"),
        ("work_lines.csv", 2, "Of", "T99999-9"),
        ("work_returns.csv", 2, "Of", "T00260-S"),
        ("work_returns.csv", 2, "Date", "2022-09-04"),
        ("work_returns.csv", 2, "Condition", "unsalvageable"),
        ("work_returns.csv", 2, "New tag", "B00233-2"),
        ("work_returns.csv", 2, "House number", "SP0101-U"),
        ("work_returns.csv", 3, "Resets", "everything"),
        ("reidentifications.csv", 2, "Of", "B00117-A"),
        ("reidentifications.csv", 2, "House number", "ZZ0001-X"),
        ("matched_sets.csv", 2, "Pieces", "T01092-C"),
        ("matched_sets.csv", 2, "Pieces", "T01092-C; B00117-A"),
        ("matched_sets.csv", 2, "Kind", "twins"),
        ("scrappings.csv", 2, "To", "Bond 01"),
        ("scrappings.csv", 2, "How", "buried"),
    ],
)  # fmt: skip
def test_a_wrong_cell_about_work_is_named(
    tmp_path: Path, file: str, line: int, column: str, value: str
) -> None:
    with pytest.raises(Refused) as refused:
        read_workshop(changed(tmp_path, file, line, column, value))
    said = refused.value.reason
    assert said.startswith(f"{file}, line {line}, column ") and refused.value.remedy
    assert value in said or column in said


def test_what_is_not_where_it_is_sent_from_is_not_sent(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"work_orders\.csv, line 2 \(W00001-M\): T00568-N has 0 in Bond 01"):
        read_workshop(changed(tmp_path, "work_lines.csv", 2, "From", "Bond 01"))
