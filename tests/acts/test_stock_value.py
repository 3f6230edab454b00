"""What our stock cost, each currency by itself, and the stock that no engine has a use for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts import shop as acts_of_the_shop
from invdb.acts.catalogue import Holds, NewKitLine, NewPart, NewStandIn
from invdb.acts.goods_in import GoodsIn
from invdb.acts.loan import NewLoan, lend
from invdb.acts.reverse import reverse
from invdb.acts.split import Share, split
from invdb.acts.stock_cost import NewCost, give_cost
from invdb.acts.stock_value import PartValue, slow_stock, stock_value
from invdb.acts.told import read_told
from invdb.records.posting import post
from invdb.rules.money import Money
from invdb.rules.telling import tell
from invdb.terms import Condition, FieldRefused, Layout, Origin, Refused, Tracking
from tests.engine_shop import barrel_with_valve
from tests.shop import TODAY, Shop


def costing(minor: int, currency: str = "EUR", owner: int | None = None) -> GoodsIn:
    return GoodsIn(Origin.NEW, 0, cost=Money(minor, currency), owner=owner)


def of_part(session: Session, part: int) -> PartValue:
    (found,) = [each for each in stock_value(session).parts if each.part == part]
    return found


def test_stock_is_valued_at_cost_by_currency_and_what_has_no_cost_is_counted_apart(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.book_in(session, shop.valve, pieces=2, goods=costing(90_00))
        shop.book_in(session, shop.valve, pieces=1, goods=costing(70_00, "GBP"))
        shop.book_in(session, shop.valve, pieces=3)
        shop.book_in(session, shop.wire, quantity=1_500_000, goods=costing(333))
        valves = of_part(session, shop.valve)
        assert (valves.quantity, valves.uncosted) == (6, 3)
        assert valves.values == (Money(180_00, "EUR"), Money(70_00, "GBP"))
        assert of_part(session, shop.wire).values == (Money(500, "EUR"),)
        value = stock_value(session)
        assert value.values == (Money(185_00, "EUR"), Money(70_00, "GBP"))
        assert value.uncosted == 3


def test_only_our_own_usable_stock_has_a_value(shop: Shop) -> None:
    with shop.store.writing() as session:
        book = costing(10_00)
        shop.book_in(session, shop.valve, pieces=1, goods=replace(book, owner=shop.customer))
        scrapped, bad, lent = (
            shop.book_in(session, shop.valve, pieces=1, goods=book).things[0][0].piece for _ in range(3)
        )
        draft = shop.draft()
        draft.move(shop.bin_a, shop.scrap, piece=scrapped)
        assert bad is not None and lent is not None
        draft.set("piece", bad, condition=Condition.UNSALVAGEABLE)
        post(session, draft)
        lend(session, NewLoan(lent, shop.works, TODAY, hazards_seen=True), shop.by())
        assert of_part(session, shop.valve).values == (Money(10_00, "EUR"),), "the lent one is ours"


def test_what_is_inside_a_piece_on_the_shelf_is_stock_and_what_is_in_an_engine_is_not(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        draft = shop.draft()
        draft.new(session, "cost", piece_id=valve.piece, price=90_00, currency="EUR", source="invoice 7")
        post(session, draft)
        assert of_part(session, shop.valve).values == (Money(90_00, "EUR"),)
        draft = shop.draft()
        engine = draft.new(session, "place", kind="engine", name="In Linnet One", engine_id=shop.engine)
        draft.move(shop.bin_a, engine, piece=barrel.piece, engine=shop.engine)
        post(session, draft)
        assert stock_value(session).parts == ()


def test_a_batch_that_was_split_off_cost_what_its_parent_did(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = shop.book_in(session, shop.spring, quantity=40, goods=costing(1_25)).things[0][0]
        assert thing.batch is not None
        split(session, thing.batch, shop.bin_a, (Share(15, Condition.UNSERVICEABLE),), shop.by())
        found = of_part(session, shop.spring)
        assert (found.quantity, found.uncosted, found.values) == (40, 0, (Money(50_00, "EUR"),))


def test_slow_stock_has_no_use_on_any_engine_type_we_have_an_engine_of(shop: Shop) -> None:
    with shop.store.writing() as session:
        by = shop.by()
        family = catalogue.add_family(session, "DV", "Dabchick valves", by)
        of_none, of_dabchick, stands_in, stands_in_for_that, once = (
            catalogue.add_part(session, NewPart(family, f"Valve {each}", Tracking.PIECE), by)
            for each in range(5)
        )
        dabchick = acts_of_the_shop.add_engine_type(
            session,
            acts_of_the_shop.NewEngineType(
                "Dabchick",
                Layout.IN_LINE,
                positions=(acts_of_the_shop.NewPosition("1", 0, 0, 0),),
                stations=(acts_of_the_shop.NewStation("inlet valve", 0, 0),),
            ),
            by,
        )
        catalogue.add_kit_line(
            session, NewKitLine(dabchick, "cylinder", 1, "inlet valve", of_dabchick, 1), by
        )
        for part, member, holds in (
            (shop.valve, stands_in, Holds()),
            (stands_in, stands_in_for_that, Holds()),
            (shop.valve, once, Holds(until_on=TODAY)),
        ):
            catalogue.add_stand_in(session, NewStandIn(part, ((member, 1),), "AD 1", holds=holds), by)
        for part in (shop.valve, of_none, of_dabchick, stands_in, stands_in_for_that, once):
            shop.book_in(session, part, pieces=1, goods=costing(5_00))
        assert [each.part for each in slow_stock(session)] == [of_none, of_dabchick, once]
        assert slow_stock(session)[0].values == (Money(5_00, "EUR"),)


def test_stock_of_unknown_cost_is_given_one_by_its_invoice(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.book_in(session, shop.valve, pieces=1, goods=costing(90_00))
        ((one, _), (other, _)) = shop.book_in(session, shop.valve, pieces=2).things
        with pytest.raises(FieldRefused, match="It isn't said what shows the cost"):
            give_cost(session, NewCost(shop.valve, Money(70_00, "GBP"), " "), shop.by())
        give_cost(session, NewCost(shop.valve, Money(70_00, "GBP"), "invoice 311", (one,)), shop.by())
        with pytest.raises(Refused, match="1 thing of those named has a cost"):
            give_cost(session, NewCost(shop.valve, Money(1, "GBP"), "invoice 312", (one, other)), shop.by())
        entry = give_cost(session, NewCost(shop.valve, Money(50_00, "GBP"), "invoice 312"), shop.by())
        assert of_part(session, shop.valve).values == (Money(90_00, "EUR"), Money(120_00, "GBP"))
        assert of_part(session, shop.valve).uncosted == 0
        with pytest.raises(Refused, match="is known"):
            give_cost(session, NewCost(shop.valve, Money(1, "GBP"), "invoice 313"), shop.by())
        told = tell(read_told(session, [entry])[entry])
        assert told == "Recorded a cost of 50.00 GBP for 1 thing in stock, by invoice 312"
        reverse(session, entry, "the wrong invoice", shop.by())
        assert of_part(session, shop.valve).uncosted == 1
