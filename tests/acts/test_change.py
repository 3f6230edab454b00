"""An edit that starts from what somebody else has changed since is refused, and the other is named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import select

from invdb.acts.by import licence_of
from invdb.acts.change import change_part, change_person, seen_of
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.records.catalogue import Part
from invdb.terms import FieldRefused, Origin, Refused
from tests.shop import Shop


def test_the_second_of_two_edits_is_refused_and_names_the_first(shop: Shop) -> None:
    with shop.store.reading() as session:
        seen = seen_of(session, "part", shop.valve)
    with shop.store.writing() as session:
        first = change_part(
            session, shop.valve, seen, {"life_limit_hours": 500_00}, replace(shop.by(), person=shop.keeper)
        )
    named = f"Ben Hollis changed this part with entry {first}"
    with pytest.raises(Refused, match=named), shop.store.writing() as session:
        change_part(session, shop.valve, seen, {"note": "see leaflet 12"}, shop.by())
    with shop.store.writing() as session:
        change_part(session, shop.valve, first, {"note": "see leaflet 12"}, shop.by())
    with shop.store.reading() as session:
        row = session.execute(select(Part.life_limit_hours, Part.note).where(Part.id == shop.valve)).one()
        assert tuple(row) == (500_00, "see leaflet 12")


def test_what_makes_no_sense_is_not_changed(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "part", shop.valve)
        for changes, field in (
            ({"name": " "}, "name"),
            ({"life_limit_hours": 0}, "life_limit_hours"),
            ({"house_number": "XX0001-1"}, "house_number"),
        ):
            with pytest.raises(FieldRefused) as caught:
                change_part(session, shop.valve, seen, changes, shop.by())
            assert caught.value.field == field
        with pytest.raises(Refused, match="Nothing is changed"):
            change_part(session, shop.valve, seen, {}, shop.by())


def test_what_is_held_by_batch_does_not_become_life_limited_or_critical(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "part", shop.spring)
        for changes, field in (
            ({"life_limit_hours": 500_00}, "life_limited"),
            ({"life_limited": True}, "life_limited"),
            ({"critical": True}, "critical"),
            ({"shelf_life_months": 0}, "shelf_life_months"),
        ):
            with pytest.raises(FieldRefused) as caught:
                change_part(session, shop.spring, seen, changes, shop.by())
            assert caught.value.field == field
        change_part(session, shop.spring, seen, {"critical": False, "note": "wire drawn 1931"}, shop.by())


def test_a_part_that_gets_a_limit_is_life_limited(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "part", shop.barrel)
        seen = change_part(session, shop.barrel, seen, {"life_limit_hours": 900_00}, shop.by())
        assert session.scalar(select(Part.life_limited).where(Part.id == shop.barrel)) is True
        with pytest.raises(FieldRefused, match="life limit is life-limited"):
            changes = {"life_limited": False, "life_limit_hours": 900_00}
            change_part(session, shop.barrel, seen, changes, shop.by())


def test_a_licence_that_is_emptied_is_none(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "person", shop.inspector)
        change_person(session, shop.inspector, seen, {"licence_number": " "}, shop.by())
        assert licence_of(session, shop.inspector) is None


def test_who_has_left_does_no_more_acts(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "person", shop.keeper)
        change_person(session, shop.keeper, seen, {"works_here": False}, shop.by())
    goods = GoodsIn(Origin.NEW, shop.bin_a, part=shop.valve, pieces=(NewPiece(),))
    with pytest.raises(Refused, match="no longer works here"), shop.store.writing() as session:
        receive(session, goods, replace(shop.by(), person=shop.keeper))
    with pytest.raises(FieldRefused, match="themselves"), shop.store.writing() as session:
        change_person(
            session,
            shop.inspector,
            seen_of(session, "person", shop.inspector),
            {"works_here": False},
            shop.by(),
        )
