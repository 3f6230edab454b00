"""Enquiries, quotes, orders, exchanges and loans by their forms, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from gui.job import Job
from gui.views.enquiries_presenter import EnquiriesPresenter
from gui.views.goods_in_checks import cost_of
from gui.views.listing import Listing
from gui.views.loans_presenter import LoansPresenter
from gui.views.purchases_presenter import PurchasesPresenter
from gui.views.quotes_presenter import QuotesPresenter
from gui.views.stores_presenter import BookInAgainst, StoresPresenter
from gui.views.trade_fields import days_of
from gui.views.value_presenter import ValuePresenter
from invdb.acts.shop import add_firm, add_owner
from invdb.rules.money import Money
from invdb.terms import Asked, Condition, FieldRefused, FirmRole, OrderKind, Origin, Refused
from tests.gui.stores_shop import fill_in, made, sit, state_of, surely
from tests.shop import TODAY, Shop, sqlite_shop

NEXT_YEAR = TODAY + timedelta(days=365)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def read(listing: Listing) -> Any:
    """The listing with what stands in the store now."""
    listing.take(listing.read(Job()))
    return listing


def plan(listing: Listing, key: str, *rows: Any) -> Any:
    """The form that a key opens on rows."""
    deed = next(each for each in listing.deeds(rows) if each.key == key)
    assert deed.plan is not None
    return deed.plan(Job())


def keys(listing: Listing) -> list[Any]:
    return [row.key for row in listing.page(0, 50, None, "").rows]


def cells(listing: Listing) -> list[tuple[str, ...]]:
    return [row.cells for row in listing.page(0, 50, None, "").rows]


def orders(shop: Shop) -> PurchasesPresenter:
    return PurchasesPresenter(sit(shop), lambda _line: None)


def order_valves(shop: Shop, quantity: str = "12", **given: Any) -> PurchasesPresenter:
    """Valves ordered of the supplier."""
    line = {"part": shop.valve, "quantity": quantity, "price": "84.50", "wanted": ""}
    form = plan(orders(shop), "Ins")
    fill_in(form, **({"firm": shop.supplier, "currency": "gbp", "lines": (line,)} | given))
    found: PurchasesPresenter = read(orders(shop))
    return found


def test_what_firms_are_asked_they_quote_and_it_is_ordered_by_the_quote(shop: Shop) -> None:
    with shop.store.writing() as session:
        other = add_firm(session, "Saltenham Valve Company", FirmRole.SUPPLIER, shop.by())
    asked = EnquiriesPresenter(sit(shop))
    assert asked.page(0, 50, None, "").total == 0
    fill_in(
        plan(asked, "Ins"),
        lines=({"part": shop.valve, "quantity": "12", "wanted": "stellited"},),
        firms=({"firm": shop.supplier}, {"firm": other}),
    )
    read(asked)
    (enquiry,) = keys(asked)
    assert "2 answers awaited" in asked.told()
    assert "12 off of VX0001-Y Exhaust valve (stellited)" in asked.said_of(enquiry)
    fill_in(plan(asked, "Ctrl+D", enquiry), firm=other)
    read(asked)
    prices = ({"from_quantity": "12", "price": "84.50"}, {"from_quantity": "24", "price": "72"})
    quote = plan(asked, "F4", enquiry)
    with pytest.raises(FieldRefused) as refused:
        fill_in(quote, currency="GBP", prices=prices, minimum="6")
    assert refused.value.field == "prices"
    fill_in(quote, currency="GBP", prices=prices, lead_days="20 weeks")
    assert read(asked).rows()[0].cells[-1].startswith("2 of 2")
    quotes = read(QuotesPresenter(sit(shop)))
    (offer,) = keys(quotes)
    assert cells(quotes)[0][4:7] == ("84.50 GBP; from 24 off 72.00 GBP", "12 off", "140 d")
    by_quote = plan(quotes, "F4", offer)
    assert by_quote.said({"quantity": "24"}) == "72.00 GBP each, 1728.00 GBP in all."
    with pytest.raises(Asked, match="below the minimum"):
        fill_in(by_quote, quantity="4")
    fill_in(by_quote, quantity="24")
    on_order = read(orders(shop))
    assert cells(on_order)[0][1:9] == (
        f"due {(TODAY + timedelta(days=140)).isoformat()}", "Aldermoor Aero Spares", "buy", "VX0001-Y",
        "Exhaust valve", "24 off", "24 off", "72.00 GBP",
    )  # fmt: skip
    fill_in(plan(asked, "Del", enquiry))
    assert keys(read(asked)) == []


def test_a_slip_of_the_pen_is_asked_about(shop: Shop) -> None:
    quotes = QuotesPresenter(sit(shop))
    given = {"firm": shop.supplier, "part": shop.valve, "currency": "GBP"}
    free = ({"from_quantity": "", "price": "0"},)
    with pytest.raises(Asked, match="nothing at all"):
        fill_in(plan(quotes, "Ins"), **given, prices=free)
    fill_in(plan(quotes, "Ins"), **given, prices=({"from_quantity": "", "price": "90"},))
    with pytest.raises(Asked, match="stands already"):
        fill_in(plan(quotes, "Ins"), **given, prices=({"from_quantity": "", "price": "80"},))
    (offer,) = keys(read(quotes))
    with pytest.raises(Asked, match="24000 off is more than 20 times what the quote of"):
        fill_in(plan(quotes, "F4", offer), quantity="24000")


def test_what_comes_of_an_order_is_booked_in_against_it_in_parts(shop: Shop) -> None:
    on_order = order_valves(shop, due_on=TODAY)
    (key,) = keys(on_order)
    stores = StoresPresenter(sit(shop))
    form = stores.book_in(BookInAgainst(key.line))
    starts = {field.name: field.start for field in form.fields}
    assert (starts["pieces"], starts["firm"].ref, starts["order_line"].ref) == ("12", shop.supplier, key.line)
    fill_in(form, origin=Origin.NEW, pieces="5", place=shop.goods_in)
    read(on_order)
    assert cells(on_order)[0][6] == "7 off"
    assert "came on" in on_order.said_of(key)
    with pytest.raises(Asked):
        fill_in(stores.book_in(BookInAgainst(key.line)), origin=Origin.NEW, pieces="8", place=shop.goods_in)
    fill_in(plan(on_order, "Del", key), because="the firm has closed")
    assert keys(read(on_order)) == []
    with pytest.raises(Refused, match="Nothing is to come"):
        stores.book_in(BookInAgainst(key.line))
    value = read(ValuePresenter(sit(shop), lambda _part, _number: None))
    assert "422.50 GBP" in value.told()


def test_an_order_takes_the_price_of_the_quote_that_stands_where_none_is_typed(shop: Shop) -> None:
    quotes = QuotesPresenter(sit(shop))
    fill_in(plan(quotes, "Ins"), firm=shop.supplier, part=shop.valve, currency="GBP",
            prices=({"from_quantity": "", "price": "90"},))  # fmt: skip
    line = {"part": shop.valve, "quantity": "2", "price": "", "wanted": ""}
    on_order = order_valves(shop, lines=(line,))
    assert cells(on_order)[0][8] == "90.00 GBP"
    (offer,) = keys(read(quotes))
    fill_in(plan(quotes, "Del", offer), because="they withdrew it")
    assert keys(read(quotes)) == []


def test_our_old_piece_goes_for_theirs(shop: Shop) -> None:
    old = made(shop, shop.piece, on=TODAY - timedelta(days=40))
    on_order = orders(shop)
    fill_in(plan(on_order, "Ctrl+E"), firm=shop.supplier, part=shop.valve, given=old, currency="GBP")
    read(on_order)
    (key,) = keys(on_order)
    give = plan(on_order, "Ctrl+G", key)
    assert "sodium" in give.said({})
    with pytest.raises(Asked):
        fill_in(give)
    surely(give)
    assert [each.key for each in read(on_order).deeds([key])][0] == "F4"
    assert "went on" in on_order.said_of(key)


def test_a_piece_is_lent_and_booked_back_with_what_it_ran(shop: Shop) -> None:
    with shop.store.writing() as session:
        ((thing, _),) = shop.book_in(session, shop.barrel, pieces=1, on=TODAY - timedelta(days=40)).things
    loans = LoansPresenter(sit(shop))
    fill_in(plan(loans, "Ins"), piece=thing.piece, place=shop.works, back_by=NEXT_YEAR)
    (loan,) = keys(read(loans))
    assert loans.told() == "1 piece lent by us, 0 lent to us; none overdue."
    fill_in(plan(loans, "F4", loan), hours="12.5", starts="14", place=shop.goods_in)
    assert keys(read(loans)) == []
    assert state_of(shop, thing).condition is Condition.UNINSPECTED


def test_a_lenders_piece_is_booked_in_and_given_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        owner = add_owner(session, "Thornby Collection", shop.by())
    loans = LoansPresenter(sit(shop))
    borrowing = plan(loans, "Ctrl+B")
    given = {"part": shop.barrel, "owner": owner, "back_by": NEXT_YEAR, "origin": Origin.UNKNOWN,
             "place": shop.goods_in}  # fmt: skip
    with pytest.raises(FieldRefused) as refused:
        fill_in(borrowing, **given)
    assert refused.value.field == "firm"
    fill_in(borrowing, **given, firm=shop.supplier)
    (loan,) = keys(read(loans))
    fill_in(plan(loans, "F4", loan))
    assert keys(read(loans)) == []


@pytest.mark.parametrize(("typed", "days"), [("20 weeks", 140), ("3 months", 90), ("1 day", 1), ("", None)])
def test_a_length_of_time_is_read_as_people_say_it(typed: str, days: int | None) -> None:
    assert days_of(typed) == days


@pytest.mark.parametrize("typed", ["soon", "140", "-4", "4 years", "1.5 weeks"])
def test_what_is_no_length_of_time_is_refused(typed: str) -> None:
    with pytest.raises(FieldRefused, match="no length of time"):
        days_of(typed)


def test_a_cost_says_its_currency() -> None:
    assert cost_of("12.50 gbp", sure=False) == Money(1250, "GBP")
    assert cost_of("", sure=False) is None
    with pytest.raises(FieldRefused, match="has no currency"):
        cost_of("12.50", sure=False)


def test_an_exchange_is_quoted_for_and_ordered_with_our_piece(shop: Shop) -> None:
    old = made(shop, shop.piece, on=TODAY - timedelta(days=40))
    quotes = QuotesPresenter(sit(shop))
    fill_in(plan(quotes, "Ins"), firm=shop.supplier, part=shop.valve, currency="EUR",
            kind=OrderKind.EXCHANGE, prices=({"from_quantity": "", "price": "40"},))  # fmt: skip
    (offer,) = keys(read(quotes))
    fill_in(plan(quotes, "F4", offer), given=old)
    assert cells(read(orders(shop)))[0][3] == "exchange"


def test_what_is_in_stock_without_a_cost_is_given_one(shop: Shop) -> None:
    made(shop, shop.piece)
    value = read(ValuePresenter(sit(shop), lambda _part, _number: None))
    assert "1 thing of unknown cost left out" in value.told()
    form = plan(value, "F4", shop.valve)
    with pytest.raises(Asked, match="has a comma"):
        fill_in(form, cost="84,50 GBP", source="invoice 311")
    surely(form, cost="84,50 GBP", source="invoice 311")
    assert read(value).told().startswith("At cost: 84.50 GBP; 0 things")
    assert [deed.key for deed in value.deeds([shop.valve])] == ["Ctrl+S"]
