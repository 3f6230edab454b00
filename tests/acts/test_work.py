"""Sent to the plater and back: reports, changed parts, counts begun anew, what is scrapped, what is late."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.catalogue import NewPart
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.matched import NewMatch, match_pieces, matched_with
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.part_then import part_on
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.reverse import reverse
from invdb.acts.scrap import ScrapOrder, hazards_of, scrap
from invdb.acts.things import things_by_id
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkOrderMade, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import work_due, work_order_by_number, work_orders
from invdb.records.documents import DocumentLink
from invdb.records.life import LifeReset
from invdb.records.stock import Batch, Piece
from invdb.records.work import Scrapping
from invdb.terms import (
    Asked,
    Condition,
    FieldRefused,
    MatchedAs,
    PaperKind,
    Refused,
    Tracking,
    Unusable,
    WorkState,
    WorkWanted,
)
from tests.engine_shop import barrel_with_valve, came, last_entry, sound
from tests.shop import TODAY, Shop

SOON = TODAY + timedelta(days=30)


def sent(session: Session, shop: Shop, *things: Thing, **more: object) -> WorkOrderMade:
    """Send things to the plater for plating, the springs ten at a time."""
    order = WorkSent(
        shop.works,
        WorkWanted.PLATING,
        "Chromium plate the stem and grind to size",
        tuple(ToSend(thing, 10 if thing.batch else 1) for thing in things),
        SOON,
        hazards_seen=True,
    )
    return send_for_work(session, replace(order, **more), shop.by())  # type: ignore[arg-type]


def lines_of(session: Session, made: WorkOrderMade) -> list[int]:
    (order,) = [each for each in work_orders(session, only_open=False) if each.order == made.order]
    return [line.work_line for line in order.lines]


def back(session: Session, shop: Shop, made: WorkOrderMade, **more: object) -> int:
    """Book the first line of an order back onto the bench."""
    line = BackLine(lines_of(session, made)[0], shop.bench, "BP 81: plated and ground")
    return back_from_work(session, WorkBack(made.order, (replace(line, **more),)), shop.by())  # type: ignore[arg-type]


def test_a_valve_goes_to_the_plater_and_comes_back_reconditioned_and_uninspected(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        made = sent(session, shop, valve)
        (order,) = work_orders(session)
        assert (order.number, order.place_name, order.due_words) == (
            made.number,
            "At Brackwater",
            f"due {SOON}",
        )
        assert work_due(session, [valve]) == {valve: f"order {made.number}, due {SOON}"}
        assert work_order_by_number(session, made.number) == made.order
        back(session, shop, made)
        assert work_orders(session) == ()
        state = things_by_id(session, [valve])[valve]
        assert (state.condition, state.scope, state.where[0].name) == (Condition.UNINSPECTED, None, "Bench")
        piece = session.execute(select(Piece.work_state, Piece.work_reference)).one()
        assert tuple(piece) == (WorkState.RECONDITIONED, "BP 81: plated and ground")
    assert sound(shop)


def test_what_is_overdue_says_by_how_long(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        order = WorkSent(
            shop.works, WorkWanted.REPAIR, "Straighten", (ToSend(valve),), TODAY - timedelta(days=2), True
        )
        send_for_work(session, order, shop.by(TODAY - timedelta(days=9)))
        (late,) = work_orders(session)
        assert late.due_words == "overdue by 2 days"
        assert "overdue since" in work_due(session, [valve])[valve]


def test_a_rebored_barrel_comes_back_another_part_with_its_life_begun_anew(shop: Shop) -> None:
    with shop.store.writing() as session:
        family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by())
        oversize = catalogue.add_part(session, NewPart(family, "Barrel, oversize", Tracking.PIECE), shop.by())
        add_part_size(session, NewPartSize(oversize, "0.25 mm oversize"), shop.by())
        barrel = came(session, shop, shop.barrel)
        before = TODAY - timedelta(days=1)
        made = sent(session, shop, barrel, kind=WorkWanted.MACHINING)
        back(
            session,
            shop,
            made,
            identity=NewIdentity(0, oversize, "Pellworth repair 12", "Rebored", "0.25 mm oversize"),
            resets=LifeResetOrder("BP 81 resets hours"),
        )
        assert barrel.piece is not None
        state = things_by_id(session, [barrel])[barrel]
        assert (state.part, state.size_class) == (oversize, "0.25 mm oversize")
        assert part_on(session, barrel.piece, before) == shop.barrel
        assert part_on(session, barrel.piece, TODAY) == oversize
        assert session.scalar(select(LifeReset.piece_id)) == barrel.piece
        reverse(session, last_entry(session), "Another barrel", shop.by())
        assert part_on(session, barrel.piece, TODAY) == shop.barrel
    assert sound(shop)


def test_some_of_a_batch_comes_back_some_is_scrapped_and_some_is_out_still(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = came(session, shop, shop.spring, quantity=40)
        made = sent(session, shop, springs)
        back(session, shop, made, quantity=6)
        drum = ScrapOrder(springs, "Cracked in the bath", Unusable.BY_A_FIRM, shop.scrap)
        back(session, shop, made, quantity=3, to_place=shop.scrap, scrapped=drum)
        (order,) = work_orders(session)
        assert [(line.out, line.returned, line.scrapped) for line in order.lines] == [(1, 9, 3)]
        conditions = session.scalars(select(Batch.condition).order_by(Batch.id)).all()
        assert conditions == [Condition.SERVICEABLE, Condition.UNINSPECTED, Condition.UNSALVAGEABLE]
        assert session.execute(select(Scrapping.quantity, Scrapping.how)).one() == (3, Unusable.BY_A_FIRM)
        with pytest.raises(FieldRefused, match="1 off"):
            back(session, shop, made, quantity=2)
    assert sound(shop)


def test_what_was_lapped_together_is_a_matched_set_and_what_they_were_matched_with_is_not(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, other, old = (came(session, shop, shop.valve).piece or 0 for _ in range(3))
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped in 1938", (one, old)), shop.by())
        made = sent(session, shop, Thing(piece=one), Thing(piece=other), kind=WorkWanted.LAPPING)
        lines = tuple(BackLine(line, shop.bench, "Lapped") for line in lines_of(session, made))
        back_from_work(session, WorkBack(made.order, lines), shop.by())
        found = matched_with(session, [one, other, old])
        assert old not in found
        (now,) = found[one]
        assert {piece for piece, _ in now.members} == {one, other}
        assert now.kind is MatchedAs.SET
        assert now.why == f"lapped together on order {made.number}"
    assert sound(shop)


def test_what_is_lapped_on_one_order_and_comes_back_piece_by_piece_is_one_set(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, two, three, bad = (came(session, shop, shop.valve) for _ in range(4))
        made = sent(session, shop, one, two, three, bad, kind=WorkWanted.LAPPING)
        lines = lines_of(session, made)
        back(session, shop, made, work_line=lines[0])
        assert matched_with(session, [one.piece or 0]) == {}
        gone = ScrapOrder(bad, "Cracked", Unusable.BY_A_FIRM, shop.scrap, hazards_seen=True)
        back(session, shop, made, work_line=lines[3], to_place=shop.scrap, scrapped=gone)
        back(session, shop, made, work_line=lines[1])
        back(session, shop, made, work_line=lines[2])
        (found,) = matched_with(session, [one.piece or 0])[one.piece or 0]
        assert {piece for piece, _ in found.members} == {one.piece, two.piece, three.piece}
    assert sound(shop)


def test_what_was_matched_anew_before_the_rest_came_back_is_left_out(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, two, barrel = (came(session, shop, part) for part in (shop.valve, shop.valve, shop.barrel))
        made = sent(session, shop, one, two, kind=WorkWanted.LAPPING)
        lines = lines_of(session, made)
        back(session, shop, made, work_line=lines[0])
        pair = (one.piece or 0, barrel.piece or 0)
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped here", pair), shop.by())
        back(session, shop, made, work_line=lines[1])
        assert matched_with(session, [two.piece or 0]) == {}


def test_what_is_inside_a_barrel_goes_with_it_and_so_do_its_hazards(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        assert hazards_of(session, shop.barrel) == ()
        with pytest.raises(Asked, match=things_by_id(session, [valve])[valve].tag):
            sent(session, shop, barrel, hazards_seen=False)
        sent(session, shop, barrel)


def test_what_is_out_is_not_scrapped_or_made_another_part_but_by_booking_it_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        made = sent(session, shop, valve)
        drum = ScrapOrder(valve, "Bent", Unusable.BY_A_FIRM, shop.scrap, hazards_seen=True)
        with pytest.raises(Refused, match=f"out for work on order {made.number}"):
            scrap(session, drum, shop.by())
        identity = NewIdentity(valve.piece or 0, shop.valve, "Letter 9", "Ground", finish="ground")
        with pytest.raises(Refused, match=f"out for work on order {made.number}"):
            reidentify(session, identity, shop.by())
        with pytest.raises(FieldRefused, match="nothing else comes of it"):
            back(session, shop, made, scrapped=drum, identity=identity)
        move(session, (Shift(valve),), shop.bin_b, shop.by())
        with pytest.raises(Refused, match="Move it back there"):
            back(session, shop, made)
        move(session, (Shift(valve),), shop.works, shop.by())
        letter = add_paper(session, NewPaper(PaperKind.WORK_REPORT, "Certificate 4"), shop.by())
        back(session, shop, made, to_place=shop.scrap, scrapped=drum, document=letter)
        assert session.scalar(select(DocumentLink.document_id).where(DocumentLink.piece_id == valve.piece))
    assert sound(shop)


def test_more_of_a_batch_does_not_come_back_before_what_came_back_first(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = came(session, shop, shop.spring, quantity=40)
        order = WorkSent(shop.works, WorkWanted.PLATING, "Plate", (ToSend(springs, 10),))
        made = send_for_work(session, order, shop.by(TODAY - timedelta(days=9)))
        line = BackLine(lines_of(session, made)[0], shop.bench, "BP 81", quantity=4)
        back_from_work(session, WorkBack(made.order, (line,)), shop.by(TODAY - timedelta(days=2)))
        with pytest.raises(FieldRefused, match="came back on 2026-02-28 already"):
            back_from_work(session, WorkBack(made.order, (line,)), shop.by(TODAY - timedelta(days=4)))
        back_from_work(session, WorkBack(made.order, (line,)), shop.by())
        assert [each.lines[0].out for each in work_orders(session)] == [2]
    assert sound(shop)


def test_what_is_sent_is_here_free_and_not_out_already(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        with pytest.raises(Asked, match="sodium"):
            sent(session, shop, valve, hazards_seen=False)
        with pytest.raises(FieldRefused, match="a firm or to a bench"):
            sent(session, shop, valve, place=shop.bin_b)
        with pytest.raises(FieldRefused, match="what is wanted"):
            sent(session, shop, valve, wanted=" ")
        with pytest.raises(FieldRefused, match="before it was sent"):
            sent(session, shop, valve, due_on=TODAY - timedelta(days=1))
        with pytest.raises(FieldRefused, match="can't be meant"):
            sent(session, shop, valve, due_on=date(2999, 1, 1))
        with pytest.raises(Refused, match="Nothing is named"):
            sent(session, shop)
        with pytest.raises(Refused, match="twice"):
            sent(session, shop, valve, valve)
        made = sent(session, shop, valve)
        with pytest.raises(Refused, match=f"order {made.number}"):
            sent(session, shop, valve, place=shop.bench)
        move(session, (Shift(valve),), shop.scrap, shop.by())
        with pytest.raises(Refused):
            sent(session, shop, valve)


def test_what_comes_back_was_out_with_a_report_and_is_not_accepted_by_the_way(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = sent(session, shop, came(session, shop, shop.valve))
        for changed, said in (
            ({"report": " "}, "No report"),
            ({"condition": Condition.SERVICEABLE}, "inspected or accepted"),
            ({"quantity": 2}, "1 off"),
            ({"to_place": shop.bonded}, "bonded"),
            ({"document": 99}, "document"),
            ({"work_line": 99}, "no such line"),
        ):
            with pytest.raises(Refused, match=said):
                back(session, shop, made, **changed)
        with pytest.raises(Refused, match="no such work order"):
            back_from_work(session, WorkBack(99, (BackLine(1, shop.bench, "x"),)), shop.by())
        with pytest.raises(Refused, match="Nothing is named"):
            back_from_work(session, WorkBack(made.order), shop.by())
        back(session, shop, made)
        with pytest.raises(Refused, match="any more"):
            back(session, shop, made)
