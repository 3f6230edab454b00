"""What a person may type by a slip, or on purpose: refused in one plain sentence, and not kept."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue, hold, move, papers, reverse
from invdb.acts import shop as shop_acts
from invdb.acts.begin import Workshop, begin_store
from invdb.acts.catalogue import NewOtherNumber, NewPart
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, read_content
from invdb.records.catalogue import Part
from invdb.records.ledger import LedgerHead
from invdb.records.people import Firm
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import FieldRefused, FirmRole, Hazard, Origin, PaperKind, PlaceKind, Refused, Tracking
from tests.shop import BEGUN_ON, Shop


def last_entry(shop: Shop) -> int:
    with shop.store.reading() as session:
        return session.scalars(select(LedgerHead.number)).one()


@contextmanager
def refused(shop: Shop, words: str) -> Iterator[Session]:
    """An act that is refused with these words, with a way out, and leaves no entry."""
    before = last_entry(shop)
    with pytest.raises(Refused, match=words) as caught, shop.store.writing() as session:
        yield session
    assert re.fullmatch(r"[^a-z\n][^\n]*[.!]", caught.value.reason), caught.value.reason
    assert caught.value.remedy
    assert last_entry(shop) == before


@pytest.mark.parametrize("year", [1, 26, 1899])
def test_a_date_before_there_were_aero_engines_is_refused(shop: Shop, year: int) -> None:
    with refused(shop, f"{year:04}-03-02 is before") as session:
        shop.piece(session, on=date(year, 3, 2))


@pytest.mark.parametrize(
    "add",
    [
        lambda session, name, by: shop_acts.add_firm(session, name, FirmRole.SUPPLIER, by),
        shop_acts.add_person,
        shop_acts.add_owner,
        lambda session, name, by: shop_acts.add_place(session, shop_acts.NewPlace(name, PlaceKind.BIN), by),
    ],
)
def test_a_name_spelled_with_a_separate_accent_is_the_same_name(shop: Shop, add: Callable[..., int]) -> None:
    with shop.store.writing() as session:
        add(session, "Caf\u00e9", shop.by())
    with refused(shop, "called Caf\u00e9 already") as session:
        add(session, "Cafe\u0301", shop.by())


@pytest.mark.parametrize("mark", ["\u200b", "\ufeff", "\u00ad", "\u202e", "\u200e", "\u2060"])
def test_a_name_with_a_character_that_nobody_sees_is_refused(shop: Shop, mark: str) -> None:
    with refused(shop, f"invisible character U\\+{ord(mark):04X}") as session:
        shop_acts.add_place(session, shop_acts.NewPlace(f"A-01-01{mark}", PlaceKind.BIN), shop.by())


def test_letters_that_are_joined_by_a_mark_are_kept(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = shop_acts.add_firm(session, "👩‍🔧 & Söhne", FirmRole.WORKS, shop.by())
        assert session.get_one(Firm, made).name == "👩‍🔧 & Söhne"


def test_a_name_is_one_line_and_a_note_may_have_several(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = shop_acts.add_firm(
            session, "Alder\nmoor\tWorks", FirmRole.WORKS, shop.by(), note="first line\nsecond line"
        )
        firm = session.get_one(Firm, made)
        assert (firm.name, firm.note) == ("Alder moor Works", "first line\nsecond line")
    with refused(shop, "called Alder moor Works already") as session:
        shop_acts.add_firm(session, "Alder\nmoor Works", FirmRole.WORKS, shop.by())


def test_nothing_is_put_on_hold_before_it_came(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=date(2026, 2, 10))
        batch = shop.batch(session, on=date(2026, 2, 10))
    for subject in (hold.Subject(piece=piece), hold.Subject(batch=batch)):
        with refused(shop, "came on 2026-02-10") as session:
            hold.raise_hold(session, (subject,), "an odd colour", shop.by(date(2026, 2, 9)))
        with shop.store.writing() as session:
            hold.raise_hold(session, (subject,), "an odd colour", shop.by(date(2026, 2, 10)))


def test_a_piece_named_twice_is_moved_by_no_one_act(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = Thing(piece=shop.piece(session, on=BEGUN_ON))
    with refused(shop, "named twice") as session:
        move.move(session, (move.Shift(piece), move.Shift(piece)), shop.bin_b, shop.by())


@pytest.mark.parametrize(("known", "typed"), [("Zc 4", "zC 4"), ("É7", "E\u03017"), ("É7", "é7")])
def test_a_serial_in_other_letters_is_the_same_serial(shop: Shop, known: str, typed: str) -> None:
    goods = GoodsIn(Origin.NEW, shop.bin_a, shop.valve, pieces=(NewPiece(known),))
    with shop.store.writing() as session:
        ((_, tag),) = receive(session, goods, shop.by()).things
    with refused(shop, f"is here already: {tag}") as session:
        receive(session, GoodsIn(Origin.NEW, shop.bin_a, shop.valve, pieces=(NewPiece(typed),)), shop.by())
    both = GoodsIn(Origin.NEW, shop.bin_a, shop.barrel, pieces=(NewPiece(known), NewPiece(typed)))
    with refused(shop, "given twice") as session:
        receive(session, both, shop.by())


def test_a_paper_is_read_only_from_a_file_that_ends(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(FieldRefused, match="no file that can be kept"):
            read_content(path)


def test_a_paper_without_a_reference_is_refused_by_its_kind(shop: Shop) -> None:
    with refused(shop, "^The invoice has no reference") as session:
        papers.add_paper(session, NewPaper(PaperKind.INVOICE, " "), shop.by())


@pytest.mark.parametrize("zone", ["Europe", "Mars/X", "../etc", ""])
def test_a_zone_that_is_none_is_refused_and_no_store_is_begun(tmp_path: Path, zone: str) -> None:
    with pytest.raises(FieldRefused, match="^'[^']*' is no time zone"):
        begin_store(str(tmp_path / "store.invdb"), Workshop("Harrowmere", "Ada Farrow", zone=zone))
    assert list(tmp_path.iterdir()) == []


def test_a_part_has_each_number_and_each_hazard_once(shop: Shop) -> None:
    with refused(shop, "has the number PW 1187 already") as session:
        catalogue.add_other_number(
            session, shop.valve, NewOtherNumber("PW 1187", firm=shop.supplier), shop.by()
        )
    with refused(shop, "has the number pw 9 already") as session:
        numbers = (NewOtherNumber("PW 9"), NewOtherNumber("pw 9"))
        catalogue.add_part(session, _part(session, shop, other_numbers=numbers), shop.by())
    with refused(shop, "hazard lead is given twice") as session:
        hazards = ((Hazard.LEAD, ""), (Hazard.LEAD, "Wear gloves."))
        catalogue.add_part(session, _part(session, shop, hazards=hazards), shop.by())
    with shop.store.writing() as session:
        # Another firm may know it by the same number.
        catalogue.add_other_number(session, shop.valve, NewOtherNumber("PW 1187"), shop.by())


def _part(session: Session, shop: Shop, **more: Any) -> NewPart:
    family = session.scalars(select(Part.family_id).where(Part.id == shop.valve)).one()
    return NewPart(family, "Inlet valve", Tracking.PIECE, **more)


def test_what_has_left_is_brought_back_by_reversing_its_leaving(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = Thing(piece=shop.piece(session, on=BEGUN_ON))
        left = move.move(session, (move.Shift(piece),), OUTSIDE_PLACE, shop.by())
    with refused(shop, "Reverse the entry that took it there") as session:
        move.move(session, (move.Shift(piece),), shop.bin_a, shop.by())
    with shop.store.writing() as session:
        reverse.reverse(session, left, "a slip", shop.by())
        move.move(session, (move.Shift(piece),), shop.bin_b, shop.by())
