"""One line of text finds everything by any of its numbers and names, as soon as it is recorded."""

from __future__ import annotations

import pytest
from sqlalchemy import delete, insert, update
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts import shop as acts_of_the_shop
from invdb.acts.catalogue import NewOtherNumber, NewPart
from invdb.acts.find import FOUND_MAX, find
from invdb.acts.found import Found
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, receive
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.records.catalogue import Part
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.records.words import FindWord, word_differences
from invdb.rules.numbering import format_number
from invdb.terms import EntryKind, Origin, PaperKind, PlaceKind, Tracking
from tests.shop import Shop


def headlines(session: Session, text: str) -> list[str]:
    return [found.headline for found in find(session, text).found]


def first(session: Session, text: str) -> Found:
    return find(session, text).found[0]


@pytest.mark.parametrize(
    ("typed", "kind", "headline"),
    [
        ("VX0001", "part", "VX0001-Y"),
        ("vx1", "part", "VX0001-Y"),
        ("pw1187", "part", "VX0001-Y"),
        ("PW-1187", "part", "VX0001-Y"),
        ("ii87 valve", "part", "VX0001-Y"),
        ("valv exh", "part", "VX0001-Y"),
        ("exhaust-valve", "part", "VX0001-Y"),
        ("exhuast valve", "part", "VX0001-Y"),
        ("a 1 2", "place", "A-01-02"),
        ("A-1-2", "place", "A-01-02"),
        ("quarant", "place", "Quarantine"),
        ("saltby", "firm", "Aldermoor Aero Spares"),
        ("brackwater", "firm", "Brackwater Plating"),
        ("linnet", "engine", "Linnet One"),
        ("l1044", "engine", "Linnet Two"),
        ("LIO44", "engine", "Linnet Two"),
        ("GK", "family", "GK"),
        ("GK0", "part", "GK0001-4"),
    ],
)
def test_what_the_workshop_has_is_found(shop: Shop, typed: str, kind: str, headline: str) -> None:
    with shop.store.reading() as session:
        found = first(session, typed)
        assert (found.kind, found.headline) == (kind, headline)


def test_what_is_booked_in_is_found_with_what_tells_it_apart(shop: Shop) -> None:
    paper = NewPaper(PaperKind.RELEASE_CERTIFICATE, "RC/1934-117", title="Release of two valves")
    with shop.store.writing() as session:
        goods = GoodsIn(
            Origin.NEW,
            shop.bin_a,
            part=shop.valve,
            pieces=(NewPiece(serial="AV-0031"), NewPiece()),
            papers=(paper,),
        )
        (thing, tag), (_, other_tag) = receive(session, goods, shop.by()).things
        lot = GoodsIn(Origin.NEW, shop.bin_b, part=shop.spring, batch=NewBatch(40, maker_batch="Lot 7/B"))
        (_, batch_tag) = receive(session, lot, shop.by()).things[0]
    with shop.store.reading() as session:
        for typed in (
            tag,
            tag.lower(),
            tag.replace("-", ""),
            tag.replace("0", "O"),
            "av31",
            "AV 0031",
            "0031 av",
        ):
            found = first(session, typed)
            assert (found.kind, found.ref, found.headline) == ("piece", thing.piece, tag), typed
        assert found.detail == "VX0001-Y Exhaust valve, serial AV-0031, uninspected, A-01-01"
        assert found.sign == "uninspected"
        assert headlines(session, tag[:5]) == [tag, other_tag]
        assert first(session, "lot 7b").headline == batch_tag
        assert (
            first(session, "lot 7b").detail
            == "SP0001-1 Valve spring, maker's batch Lot 7/B, uninspected, A-01-02"
        )
        assert first(session, "rc 1934 117").detail == "release certificate, Release of two valves"
        assert list(word_differences(session.connection())) == []


def test_a_number_added_later_finds_its_part_together_with_its_name(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert headlines(session, "valve DLR/77-Ö3") == []
        number = shop.by()
        catalogue.add_other_number(session, shop.valve, NewOtherNumber("DLR/77-Ö3", "dealer's"), number)
        assert headlines(session, "valve dlr77o3") == ["VX0001-Y"]
        assert "DLR/77-Ö3" in first(session, "dlr 77").detail


def test_what_a_reversed_entry_made_is_no_longer_found(shop: Shop) -> None:
    with shop.store.writing() as session:
        catalogue.add_other_number(session, shop.valve, NewOtherNumber("QQ 9", "dealer's"), shop.by())
        number = session.get_one(LedgerHead, 1).number
        assert headlines(session, "qq9") == ["VX0001-Y"]
        reverse(session, number, "Another part's number.", shop.by())
        assert headlines(session, "qq9") == []
        assert headlines(session, "pw1187") == ["VX0001-Y"]
        piece = shop.piece(session)
        tag = session.get_one(Piece, piece).tag
        session.expire_all()
        assert headlines(session, tag) == [tag]
        reverse(session, session.get_one(LedgerHead, 1).number, "Never came.", shop.by())
        assert headlines(session, tag) == []
        assert list(word_differences(session.connection())) == []


def test_a_part_is_found_by_its_new_name_and_not_by_its_old(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        draft.set("part", shop.valve, name="Outlet poppet")
        post(session, draft)
        assert headlines(session, "outlet poppet") == ["VX0001-Y"]
        assert headlines(session, "exhaust valve 1187") == []


def test_another_number_given_to_the_right_part_leaves_the_wrong_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        number = catalogue.add_other_number(session, shop.valve, NewOtherNumber("ZZ 5"), shop.by())
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        draft.set("other_number", number, part_id=shop.barrel)
        post(session, draft)
        assert headlines(session, "zz5") == ["BA0001-A"]
        assert list(word_differences(session.connection())) == []


def test_an_engine_is_found_by_the_name_its_type_has_now(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(kind=EntryKind.ENGINES)
        draft.set("engine_type", shop.linnet, name="Sandpiper")
        post(session, draft)
        assert headlines(session, "sandpiper 1044") == ["Linnet Two"]


def test_the_number_scanned_comes_before_those_that_differ_in_zeros(shop: Shop) -> None:
    with shop.store.writing() as session:
        family = catalogue.add_family(session, "LN", "liners", shop.by())
        far, near = format_number("LN", 4120), format_number("LN", 412)
        assert far is not None and near is not None
        for number in (far, near):
            part = NewPart(family, "Liner", Tracking.PIECE, house_number=number)
            catalogue.add_part(session, part, shop.by())
        assert headlines(session, near) == [near]
        assert headlines(session, "LN412") == [near, far]
        assert headlines(session, "LN4120") == [far]
        dealer = f"LN 4-12/{near[-1]}"
        catalogue.add_other_number(session, shop.valve, NewOtherNumber(dealer), shop.by())
        assert headlines(session, near)[0] == near
        assert set(headlines(session, near)) == {near, "VX0001-Y"}
        assert find(session, near).remark == ""


def test_a_tag_without_its_check_character_comes_before_a_serial_that_is_like_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        goods = GoodsIn(Origin.NEW, shop.bin_a, part=shop.valve, pieces=(NewPiece("T-2"), NewPiece()))
        (_, like_it), (_, meant) = receive(session, goods, shop.by()).things
        assert meant.startswith("T00002-")
        assert headlines(session, "t00002") == [meant, like_it]


def test_a_mistyped_number_is_told_from_an_unknown_one(shop: Shop) -> None:
    with shop.store.reading() as session:
        mistyped = find(session, "VX0001-K")
        assert [found.headline for found in mistyped.found] == ["VX0001-Y"]
        assert mistyped.found[0].slip and not mistyped.found[0].exact
        assert "VX0001-K" in mistyped.remark and "mistyped" in mistyped.remark
        assert "but for one slip" in mistyped.remark
        unknown = format_number("VX", 777)
        assert unknown is not None
        result = find(session, unknown)
        assert result.found == ()
        assert result.remark == f"{unknown} is a rightly typed number, but nothing here has it."
        assert find(session, "VX0001").remark == ""
        assert find(session, "VX0001-Y").remark == ""


def test_a_makers_number_shaped_like_ours_is_not_called_mistyped(shop: Shop) -> None:
    with shop.store.writing() as session:
        catalogue.add_other_number(session, shop.valve, NewOtherNumber("QX4711-2"), shop.by())
        result = find(session, "qx4711-2")
        assert result.found[0].headline == "VX0001-Y"
        assert result.remark == ""


def test_a_thing_on_hold_says_so(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        tag = session.get_one(Piece, piece).tag
        raise_hold(session, (Subject(part=shop.valve),), "Cracked heads reported.", shop.by())
        assert first(session, tag).sign == "on hold"
        assert first(session, "VX0001-Y").sign == "on hold"
        assert first(session, "BA0001").sign == ""


def test_only_the_first_fifty_are_given_and_that_there_are_more_is_said(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.book_in(session, shop.barrel, pieces=FOUND_MAX)
        assert not find(session, "T0").more
        shop.book_in(session, shop.barrel, pieces=1)
        result = find(session, "T0")
        assert len(result.found) == FOUND_MAX
        assert result.more
        assert len({found.ref for found in result.found if found.kind == "piece"}) == FOUND_MAX


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "\x00",
        "\ud800",
        "'; DROP TABLE word; --",
        "%",
        "_",
        "a" * 5000,
        "9 " * 300,
        "\\",
        "🛩",
        "NULL",
    ],
)
def test_whatever_is_typed_is_only_looked_for(shop: Shop, text: str) -> None:
    with shop.store.reading() as session:
        result = find(session, text)
        assert len(result.found) <= FOUND_MAX
        assert headlines(session, "pw1187") == ["VX0001-Y"]


def test_that_not_all_of_a_long_text_was_looked_for_is_said(shop: Shop) -> None:
    with shop.store.reading() as session:
        result = find(session, "exhaust valve exhaust valve exhaust valve exhaust valve piston")
        assert [found.headline for found in result.found] == ["VX0001-Y", "VX"]
        assert "first 8 words" in result.remark


def test_places_that_belong_to_something_else_are_not_found_twice(shop: Shop) -> None:
    with shop.store.reading() as session:
        kinds = {found.kind for found in find(session, "brackwater").found}
        assert kinds == {"firm"}
    with shop.store.writing() as session:
        wall = acts_of_the_shop.NewPlace("Brackwater shelf", PlaceKind.BIN, shop.bench, 1, False)
        acts_of_the_shop.add_place(session, wall, shop.by())
        assert headlines(session, "brackwater") == ["Brackwater shelf", "Brackwater Plating"]


def test_words_that_were_tampered_with_are_reported(shop: Shop) -> None:
    with shop.store.writing() as session:
        connection = session.connection()
        assert list(word_differences(connection)) == []
        connection.execute(delete(FindWord).where(FindWord.word == "1187", FindWord.kind == "part"))
        connection.execute(insert(FindWord).values(word="ghost", kind="part", ref=shop.barrel))
        connection.execute(insert(FindWord).values(word="ghost", kind="part", ref=999_999))
        connection.execute(insert(FindWord).values(word="ghost", kind="poltergeist", ref=1))
        connection.execute(update(Part).where(Part.id == shop.gasket).values(name="Head joint"))
        differences = {(each.kind, each.ref): each for each in word_differences(connection)}
        assert set(differences) == {
            ("part", shop.valve),
            ("part", shop.barrel),
            ("part", shop.gasket),
            ("part", 999_999),
            ("poltergeist", 1),
        }
        assert differences["part", shop.valve].missing == {"1187"}
        assert differences["part", shop.barrel].left_over == {"ghost"}
        assert "headj01nt" in differences["part", shop.gasket].missing
        session.rollback()
