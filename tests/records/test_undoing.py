"""Reversing what others rest on: refused with the first entry in the way, else undone without a trace."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.accept import set_condition
from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper, link_paper
from invdb.acts.reverse import reverse
from invdb.acts.shop import add_person
from invdb.records.documents import Document, DocumentContent
from invdb.records.ledger import LedgerHead
from invdb.records.people import Person
from invdb.records.posting import post
from invdb.records.registry import TABLES
from invdb.records.stock import Batch, Piece, Place, Stay
from invdb.records.words import FindWord
from invdb.terms import Condition, EntryKind, Origin, PaperKind, PlaceKind, Refused, Tracking
from tests.shop import TODAY, Shop


def last_entry(session: Session) -> int:
    return session.scalars(select(LedgerHead.number)).one()


def undo(shop: Shop, number: int) -> None:
    with shop.store.writing() as session:
        reverse(session, number, "A mistake", shop.by())


def sound(shop: Shop) -> None:
    assert check_store(shop.store).differences == ()


def test_goods_in_undone_leave_no_row_no_stay_and_no_word(shop: Shop) -> None:
    with shop.store.reading() as session:
        before = {
            name: session.scalar(select(func.count()).select_from(table)) for name, table in TABLES.items()
        }
        words = set(session.execute(select(FindWord.kind, FindWord.word, FindWord.ref)))
    with shop.store.writing() as session:
        paper = NewPaper(PaperKind.INVOICE, "INV 12", content=b"scan")
        goods = GoodsIn(
            Origin.NEW,
            shop.goods_in,
            new_part=catalogue.NewPart(1, "Inlet valve", Tracking.PIECE),
            pieces=(NewPiece("E-4"), NewPiece("E-5")),
            papers=(paper,),
        )
        entry = receive(session, goods, shop.by()).entry
    undo(shop, entry)
    sound(shop)
    with shop.store.reading() as session:
        assert before == {
            name: session.scalar(select(func.count()).select_from(table)) for name, table in TABLES.items()
        }
        assert words == set(session.execute(select(FindWord.kind, FindWord.word, FindWord.ref)))
        assert session.scalar(select(func.count()).select_from(Stay)) == 0
        assert session.scalar(select(func.count()).select_from(DocumentContent)) == 1


def test_goods_in_are_not_undone_under_a_later_judgement_of_them(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.valve, pieces=2)
        things = tuple(thing for thing, _ in received.things)
        judged = set_condition(session, things[1:], Condition.UNSERVICEABLE, "cracked", shop.by())
        set_condition(session, things[:1], Condition.UNSERVICEABLE, "bent", shop.by())
    with pytest.raises(Refused, match=f"Entry {judged} stands in the way: its piece"):
        undo(shop, received.entry)
    undo(shop, judged + 1)
    undo(shop, judged)
    undo(shop, received.entry)
    sound(shop)


def test_goods_in_are_not_undone_under_a_later_move(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.spring, quantity=10)
        moved = shop.move(session, received.things[0][0], shop.bin_a, shop.bin_b, on=TODAY, quantity=3)
    with pytest.raises(Refused, match=f"Entry {moved} stands in the way: its movement"):
        undo(shop, received.entry)
    undo(shop, moved)
    undo(shop, received.entry)
    sound(shop)


def test_a_part_is_not_undone_under_the_goods_that_came(shop: Shop) -> None:
    with shop.store.writing() as session:
        part = catalogue.add_part(session, catalogue.NewPart(1, "Inlet valve", Tracking.PIECE), shop.by())
        made = last_entry(session)
        came = shop.book_in(session, part, pieces=2).entry
        things = (Thing(piece=session.scalars(select(func.max(Piece.id))).one()),)
        set_condition(session, things, Condition.UNSERVICEABLE, "cracked", shop.by())
    with pytest.raises(Refused, match=f"Entry {came} stands in the way: its piece rests"):
        undo(shop, made)


def test_a_bin_is_not_undone_once_anything_lay_in_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PLACES)
        new_bin = draft.new(session, "place", kind=PlaceKind.BIN, name="C-09-09")
        made = post(session, draft).number
        batch = shop.batch(session, 10)
        first = shop.move(session, Thing(batch=batch), shop.bin_a, new_bin, on=TODAY, quantity=3)
        shop.move(session, Thing(batch=batch), new_bin, shop.bin_a, on=TODAY, quantity=3)
    with pytest.raises(Refused, match=f"Entry {first} stands in the way: its movement"):
        undo(shop, made)
    undo(shop, first + 1)
    undo(shop, first)
    undo(shop, made)
    sound(shop)


def test_places_made_together_go_together_the_inner_ones_first(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PLACES)
        outer = draft.new(session, "place", kind=PlaceKind.STORES, name="Loft")
        for number in range(1, 6):
            outer = draft.new(session, "place", kind=PlaceKind.BIN, name=f"L-0{number}", parent_id=outer)
        made = post(session, draft).number
    undo(shop, made)
    sound(shop)
    with shop.store.reading() as session:
        assert session.scalar(select(Place.id).where(Place.name.like("L%"))) is None


def test_a_piece_that_is_a_place_goes_with_what_was_booked_into_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.GOODS_IN)
        shared = {
            "part_id": shop.barrel,
            "condition": Condition.UNINSPECTED,
            "origin": Origin.SALVAGED,
            "owner_id": shop.workshop,
            "received_on": TODAY,
        }
        outer = draft.new(session, "piece", tag="T1", **shared)
        place = draft.new(session, "place", kind=PlaceKind.PIECE, name="In T1", piece_id=outer)
        inner = draft.new(session, "piece", tag="T2", **shared)
        draft.move(1, shop.bin_a, piece=outer)
        draft.move(1, place, piece=inner)
        made = post(session, draft).number
        assert session.get_one(Piece, inner).place_id == place
    undo(shop, made)
    sound(shop)


def test_a_document_is_not_undone_under_a_later_link(shop: Shop) -> None:
    with shop.store.writing() as session:
        document = add_paper(session, NewPaper(PaperKind.STATEMENT, "S 1", content=b"x"), shop.by())
        made = last_entry(session)
        piece = shop.piece(session)
        linked = link_paper(session, document, (Thing(piece=piece),), shop.by())
    with pytest.raises(Refused, match=f"Entry {linked} stands in the way: its document link"):
        undo(shop, made)
    undo(shop, linked)
    undo(shop, made)
    with shop.store.reading() as session:
        assert session.get(Document, document) is None
    sound(shop)


def test_a_person_is_not_undone_after_they_did_something(shop: Shop) -> None:
    with shop.store.writing() as session:
        person = add_person(session, "Cora Dale", shop.by())
        added = last_entry(session)
        catalogue.add_family(session, "QQ", "Quills", By(person))
        done = last_entry(session)
    with pytest.raises(Refused, match=f"Entry {done} stands in the way: it was done by the person"):
        undo(shop, added)
    undo(shop, done)
    with pytest.raises(Refused, match=f"Entry {done} stands in the way"):
        undo(shop, added)


def test_what_was_undone_is_set_no_more(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.spring, quantity=10)
    undo(shop, received.entry)
    batch = received.things[0][0].batch
    assert batch is not None
    with pytest.raises(Refused, match="no longer in the store"), shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.CONDITION_SET)
        draft.set("batch", batch, note="still here?")
        post(session, draft)


def test_a_name_given_to_another_meanwhile_does_not_come_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PEOPLE)
        draft.set("person", shop.keeper, name="Ben Hollis-Dale")
        renamed = post(session, draft).number
        add_person(session, "Ben Hollis", shop.by())
    with pytest.raises(Refused, match="name or number that another has"):
        undo(shop, renamed)
    with shop.store.reading() as session:
        assert session.get_one(Person, shop.keeper).name == "Ben Hollis-Dale"
    sound(shop)


def test_a_row_does_not_come_to_rest_again_on_what_is_gone(shop: Shop) -> None:
    with shop.store.writing() as session:
        family = catalogue.add_family(session, "QQ", "Quills", shop.by())
        made = last_entry(session)
        for target in (family, 1):
            draft = shop.draft(TODAY, EntryKind.CATALOGUE)
            draft.set("part", shop.barrel, family_id=target)
            moved_on = post(session, draft).number
    undo(shop, made)
    with pytest.raises(Refused, match="rest on something that is gone"):
        undo(shop, moved_on)
    sound(shop)


@pytest.mark.parametrize("days_ago", [0, 3])
def test_a_split_is_undone_whole(shop: Shop, days_ago: int) -> None:
    on = TODAY - timedelta(days=days_ago)
    with shop.store.writing() as session:
        wire = (
            shop.book_in(session, shop.wire, quantity=40_000_000, on=TODAY - timedelta(days=9))
            .things[0][0]
            .batch
        )
        assert wire is not None
        draft = shop.draft(on, EntryKind.SPLIT)
        child = draft.new(
            session,
            "batch",
            tag="B77",
            part_id=shop.wire,
            condition=Condition.UNSALVAGEABLE,
            origin=Origin.NEW,
            owner_id=shop.workshop,
            received_on=on,
            parent_batch_id=wire,
        )
        draft.move(shop.bin_a, 1, batch=wire, quantity=1_500_000)
        draft.move(1, shop.scrap, batch=child, quantity=1_500_000)
        split = post(session, draft).number
    sound(shop)
    undo(shop, split)
    sound(shop)
    with shop.store.reading() as session:
        assert session.get(Batch, child) is None
