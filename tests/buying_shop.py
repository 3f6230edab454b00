"""The small workshop as its buyer works: enquiries, quotes and orders to begin tests from."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy.orm import Session

from invdb.acts.check import check_session
from invdb.acts.enquiry import EnquiryMade, NewEnquiry, NewEnquiryLine, add_enquiry
from invdb.acts.goods_in import GoodsIn
from invdb.acts.numbers import Thing, firm_named
from invdb.acts.purchase_list import OrderFacts, purchase_orders
from invdb.acts.purchase_order import NewOrder, NewOrderLine, OrderMade, place_order
from invdb.acts.quote import NewQuote, add_quote
from invdb.terms import Origin
from tests.shop import TODAY, Shop

ANSWER_BY = TODAY + timedelta(days=14)


def plater(session: Session) -> int:
    """The firm Brackwater Plating."""
    return firm_named(session, "Brackwater Plating")


def asked(shop: Shop, session: Session, on: date | None = None, **changed: object) -> EnquiryMade:
    """An enquiry to two firms for twelve valves and fifty metres of wire."""
    enquiry = NewEnquiry(
        (shop.supplier, plater(session)),
        (NewEnquiryLine(shop.valve, 12, "sodium-filled"), NewEnquiryLine(shop.wire, 50_000_000)),
        ANSWER_BY,
        "For the Linnets.",
    )
    return add_enquiry(session, replace(enquiry, **changed), shop.by(on))  # type: ignore[arg-type]


def quoted(shop: Shop, session: Session, on: date | None = None, **changed: object) -> int:
    """A quote for valves: 100.00 each from one, 80.00 from twelve, no fewer than four, in 60 days."""
    quote = NewQuote(
        shop.supplier,
        "EUR",
        ((1, 100_00), (12, 80_00)),
        part=shop.valve,
        minimum=4,
        lead_days=60,
        reference="Q 77",
    )
    return add_quote(session, replace(quote, **changed), shop.by(on))  # type: ignore[arg-type]


def ordered(
    shop: Shop, session: Session, *lines: NewOrderLine, on: date | None = None, **changed: object
) -> OrderMade:
    """An order of six valves at 90.00, unless other lines are given."""
    order = NewOrder(shop.supplier, "EUR", lines or (NewOrderLine(shop.valve, 6, 90_00),))
    return place_order(session, replace(order, **changed), shop.by(on))  # type: ignore[arg-type]


def order_now(session: Session, made: OrderMade) -> OrderFacts:
    """The order as it stands."""
    (found,) = purchase_orders(session, order=made.order)
    return found


def deliver(
    shop: Shop, session: Session, line: int, *, pieces: int = 0, quantity: int = 0, **more: object
) -> tuple[int, list[Thing]]:
    """Book in valves, or a quantity of another part, against a line; the entry and the things."""
    on, part = more.pop("on", None), more.pop("part", shop.valve)
    goods = replace(GoodsIn(Origin.NEW, 0, order_line=line), **more)  # type: ignore[arg-type]
    received = shop.book_in(
        session,
        part,  # type: ignore[arg-type]
        pieces=pieces,
        quantity=quantity,
        place=shop.goods_in,
        on=on,  # type: ignore[arg-type]
        goods=goods,
    )
    return received.entry, [thing for thing, _ in received.things]


def sound(session: Session) -> bool:
    """Whether all that is kept beside the ledger, the words too, is what the ledger gives."""
    return not list(check_session(session).differences)
