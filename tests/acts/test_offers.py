"""What forms and pictures are offered to choose from and to begin with."""

from __future__ import annotations

from sqlalchemy import select

from invdb.acts.accept import Acceptance, accept
from invdb.acts.engine_list import engines
from invdb.acts.goods_in import GoodsIn, ReceivingChecks
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.offers import (
    families,
    firms,
    first_offers,
    owners,
    parts_by_ids,
    people_here,
    places_to_put,
    shop_settings,
)
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.records.ledger import Entry
from invdb.records.posting import post
from invdb.terms import FirmRole, Hazard, Layout, Origin, PaperKind, PlaceKind, Scope, Tracking
from tests.shop import TODAY, Shop


def test_a_goods_in_form_begins_where_and_with_whom_that_person_booked_in_last(shop: Shop) -> None:
    with shop.store.writing() as session:
        empty = first_offers(session, shop.inspector)
        assert (empty.today, empty.place, empty.firm) == (TODAY, None, None)
        from_firm = GoodsIn(Origin.NEW, 0, firm=shop.supplier)
        shop.book_in(session, shop.valve, pieces=1, place=shop.quarantine, goods=from_firm)
        shop.book_in(session, shop.barrel, pieces=1, place=shop.bin_b)
        offered = first_offers(session, shop.inspector)
        assert offered.place is not None
        assert offered.firm is not None
        assert (offered.place.name, offered.place.inside) == ("A-01-02", "Stores")
        assert (offered.firm.id, offered.firm.town) == (shop.supplier, "Saltby")
        assert first_offers(session, shop.keeper).place is None


def test_what_was_reversed_is_not_offered_again(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.book_in(session, shop.barrel, pieces=1, place=shop.bin_b)
        from_firm = GoodsIn(Origin.NEW, 0, firm=shop.supplier)
        shop.book_in(session, shop.barrel, pieces=1, place=shop.quarantine, goods=from_firm)
        number = session.scalars(select(Entry.number).order_by(Entry.number.desc()).limit(1)).one()
        reverse(session, number, "twice", shop.by())
        offered = first_offers(session, shop.inspector)
    assert offered.place is not None
    assert (offered.place.name, offered.firm) == ("A-01-02", None)


def test_accepting_into_a_bonded_bin_does_not_change_where_goods_come_in(shop: Shop) -> None:
    with shop.store.writing() as session:
        goods = GoodsIn(
            Origin.NEW,
            0,
            checks=ReceivingChecks("stamped", "match", "none", "sealed"),
            papers=(NewPaper(PaperKind.RELEASE_CERTIFICATE, "HW-221"),),
        )
        thing = shop.book_in(session, shop.barrel, pieces=1, goods=goods).things[0][0]
        accept(session, Acceptance((thing,), Scope.FLIGHT, to_place=shop.bonded), shop.by())
        offered = first_offers(session, shop.inspector)
    assert offered.place is not None
    assert (offered.place.id, offered.place.bonded) == (shop.bin_a, False)


def test_engines_come_as_they_are_drawn_with_the_doubts_against_them(shop: Shop) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(engine=shop.engine_two),), "Propeller strike", shop.by())
        one, two = engines(session)
    assert (one.name, one.serial, one.use, one.holds) == ("Linnet One", "L1007", Scope.FLIGHT, ())
    assert (two.name, two.holds) == ("Linnet Two", ("Propeller strike",))
    assert one.positions == two.positions
    assert (one.engine_type, one.layout, one.inverted) == ("Linnet", Layout.RADIAL, False)
    assert [(each.name, each.turn_degrees) for each in one.positions][:3] == [("1", 0), ("2", 51), ("3", 102)]


def test_parts_come_in_detail_with_their_hazards(shop: Shop) -> None:
    with shop.store.reading() as session:
        parts = parts_by_ids(session, [shop.valve, shop.gasket, 999])
    assert parts.keys() == {shop.valve, shop.gasket}
    valve = parts[shop.valve]
    assert (valve.house_number, valve.tracking, valve.life_limit_hours) == (
        "VX0001-Y",
        Tracking.PIECE,
        600_00,
    )
    assert valve.hazards == ((Hazard.SODIUM, "Do not cut the stem."),)
    assert (parts[shop.gasket].shelf_life_months, parts[shop.gasket].hazards) == (60, ())


def test_people_places_firms_and_owners_are_offered_in_their_order(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert [(each.name, each.licence) for each in people_here(session)] == [
            ("Ada Farrow", "engine inspector HL 2041"),
            ("Ben Hollis", ""),
        ]
        draft = shop.draft()
        draft.set("person", shop.keeper, works_here=False)
        post(session, draft)
        assert [each.id for each in people_here(session)] == [shop.inspector]
        assert [each.name for each in owners(session)] == ["Harrowmere Flying Museum", "Dunmere Gliding Club"]
        assert [each.name for each in firms(session)] == ["Aldermoor Aero Spares", "Brackwater Plating"]
        assert [each.name for each in firms(session, FirmRole.WORKS)] == ["Brackwater Plating"]
        assert [each.letters for each in families(session)][:2] == ["BA", "VX"]
        bins = places_to_put(session, (PlaceKind.BIN,))
        settings = shop_settings(session)
    assert [(each.name, each.bonded) for each in bins] == [
        ("Goods in", False),
        ("A-01-01", False),
        ("A-01-02", False),
        ("B-01-01", True),
    ]
    assert (settings.workshop, settings.zone) == ("Harrowmere Flying Museum", "UTC")
