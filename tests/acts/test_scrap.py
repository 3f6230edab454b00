"""Scrapped: said how it was made unusable, never so that it could hurt, and never so that it comes back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts.accept import set_condition
from invdb.acts.matched import NewMatch, match_pieces, matched_with
from invdb.acts.scrap import ScrapOrder, hazards_of, scrap
from invdb.acts.things import things_by_id
from invdb.records.stock import Batch
from invdb.records.work import Scrapping
from invdb.rules.scrapping import refused_ways
from invdb.terms import Asked, Condition, FieldRefused, Hazard, MatchedAs, Refused, Unusable
from tests.engine_shop import barrel_with_valve, came, sound
from tests.kit_shop import reserved, stock
from tests.shop import TODAY, Shop


def test_a_valve_full_of_sodium_is_destroyed_by_a_firm_and_its_mate_is_free(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve, mate = came(session, shop, shop.valve), came(session, shop, shop.barrel)
        pair = (valve.piece or 0, mate.piece or 0)
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped together", pair), shop.by())
        order = ScrapOrder(valve, "Stretched", Unusable.SAWN, shop.scrap)
        with pytest.raises(FieldRefused, match="sodium burns"):
            scrap(session, order, shop.by())
        order = replace(order, how=Unusable.BY_A_FIRM)
        with pytest.raises(Asked, match="Do not cut the stem"):
            scrap(session, order, shop.by())
        scrap(session, replace(order, hazards_seen=True, witness="Ben Hollis"), shop.by())
        state = things_by_id(session, [valve])[valve]
        assert (state.condition, state.where[0].name) == (Condition.UNSALVAGEABLE, "Scrap drum")
        assert matched_with(session, pair) == {}
        kept = session.execute(select(Scrapping.how, Scrapping.reason, Scrapping.witness)).one()
        assert tuple(kept) == (Unusable.BY_A_FIRM, "Stretched", "Ben Hollis")
    assert sound(shop)


def test_some_springs_are_scrapped_and_the_rest_stay_good(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = came(session, shop, shop.spring, quantity=10)
        order = ScrapOrder(springs, "Weak", Unusable.CRUSHED, shop.scrap, quantity=4)
        scrap(session, order, shop.by())
        assert things_by_id(session, [springs])[springs].where[0].quantity == 6
        assert session.scalars(select(Batch.condition).order_by(Batch.id)).all() == [
            *(Condition.SERVICEABLE, Condition.UNSALVAGEABLE)
        ]
        with pytest.raises(FieldRefused, match="6 off"):
            scrap(session, replace(order, quantity=7), shop.by())
        scrap(session, replace(order, quantity=None), shop.by())
        assert things_by_id(session, [springs])[springs].where == ()
        with pytest.raises(Refused, match="nothing left"):
            scrap(session, order, shop.by())
    assert sound(shop)


def test_what_is_reserved_or_not_said_is_not_scrapped(shop: Shop) -> None:
    valve = stock(shop)["valves"][0]
    reserved(shop, "1")
    with shop.store.writing() as session:
        order = ScrapOrder(valve, "Worn", Unusable.BY_A_FIRM, shop.scrap, hazards_seen=True)
        with pytest.raises(Refused, match="reserved"):
            scrap(session, order, shop.by())
        barrel = came(session, shop, shop.barrel)
        for changed, said in (
            ({"reason": " "}, "why"),
            ({"to_place": shop.bin_b}, "scrap drum"),
            ({"from_place": shop.bin_b}, "lies there"),
        ):
            with pytest.raises(FieldRefused, match=said):
                scrap(session, replace(order, thing=barrel, **changed), shop.by())
        assert hazards_of(session, shop.valve) == ((Hazard.SODIUM, "Do not cut the stem."),)


def test_what_is_scrapped_is_scrapped_once_and_not_before_what_was_decided_since(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, other = (came(session, shop, shop.barrel) for _ in range(2))
        order = ScrapOrder(barrel, "Cracked", Unusable.SAWN, shop.scrap)
        scrap(session, order, shop.by())
        with pytest.raises(Refused, match=f"was scrapped on {TODAY}, sawn through"):
            scrap(session, order, shop.by())
        set_condition(session, (other,), Condition.UNSERVICEABLE, "Bent", shop.by())
        late = replace(order, thing=other)
        with pytest.raises(FieldRefused, match="says what .* is since"):
            scrap(session, late, shop.by(TODAY - timedelta(days=1)))
        scrap(session, late, shop.by())
    assert sound(shop)


def test_what_holds_another_piece_is_emptied_before_it_is_scrapped(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        inside = things_by_id(session, [valve])[valve].tag
        with pytest.raises(Refused, match=f"holds {inside}"):
            scrap(session, ScrapOrder(barrel, "Cracked", Unusable.SAWN, shop.scrap), shop.by())


def test_a_life_limited_part_is_never_only_marked() -> None:
    assert refused_ways(Unusable.KEPT_FOR_DISPLAY, (), must_not_survive=False) is None
    assert "may come back" in (refused_ways(Unusable.KEPT_FOR_DISPLAY, (), must_not_survive=True) or "")


@pytest.mark.parametrize("hazard", Hazard)
def test_every_hazard_forbids_something_and_leaves_a_way(hazard: Hazard) -> None:
    ways = [how for how in Unusable if refused_ways(how, {hazard}, must_not_survive=True) is None]
    assert Unusable.BY_A_FIRM in ways
    assert Unusable.MELTED not in ways


def test_a_scrapped_piece_is_not_called_uninspected_again(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        scrap(session, ScrapOrder(barrel, "Cracked", Unusable.SAWN, shop.scrap), shop.by())
        with pytest.raises(Refused, match="was scrapped on"):
            set_condition(session, (barrel,), Condition.UNINSPECTED, "looked at again", shop.by())
