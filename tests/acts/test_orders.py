"""Orders from the quote to the last delivery: what is asked about, comes, is undone and is late."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts import catalogue
from invdb.acts.catalogue import NewPart, NewStandIn
from invdb.acts.exchange import GivenInExchange, give_in_exchange
from invdb.acts.find import find
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.numbers import Thing
from invdb.acts.purchase_list import FirmRecord, firm_records, order_by_number, purchase_orders
from invdb.acts.purchase_order import NewOrderLine, close_order_line
from invdb.acts.quote import withdraw_quote
from invdb.acts.reverse import reverse
from invdb.acts.things import things_by_id
from invdb.records.buying import Cost, OrderLine
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.money import Money
from invdb.terms import Asked, EntryKind, FieldRefused, OrderKind, Origin, Refused, Tracking
from tests.acts.test_ledger_list import said
from tests.buying_shop import deliver, order_now, ordered, plater, quoted, sound
from tests.engine_shop import last_entry
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)


def test_an_order_by_a_quote_takes_its_price_at_that_quantity_and_its_days(shop: Shop) -> None:
    with shop.store.writing() as session:
        quote = quoted(shop, session)
        few = order_now(session, ordered(shop, session, NewOrderLine(shop.valve, 5, quote=quote)))
        many = ordered(shop, session, NewOrderLine(shop.valve, 12, quote=quote))
        assert said(session) == (
            f"Ordered of Aldermoor Aero Spares on order {many.number}: 12 off of VX0001-Y Exhaust valve at"
            " 80.00 EUR each, due 2026-05-01."
        )
        assert few.lines[0].price == Money(100_00, "EUR")
        assert few.value == Money(500_00, "EUR")
        found = order_now(session, many)
        assert found.lines[0].price == Money(80_00, "EUR")
        assert found.due_words == "due 2026-05-01"
        assert found.lines[0].to_come == 12
        hit = find(session, many.number).found[0]
        assert (hit.kind, hit.ref) == ("purchase_order", many.order)
        assert order_by_number(session, many.number) == many.order
        assert sound(session)


def test_what_differs_from_the_quote_is_asked_about_and_done_where_it_is_meant(shop: Shop) -> None:
    with shop.store.writing() as session:
        quote = quoted(shop, session, valid_until=TODAY)
        below = NewOrderLine(shop.valve, 3, quote=quote)
        dearer = NewOrderLine(shop.valve, 4, price=99_00, quote=quote)
        for line, field in ((below, "quantity"), (dearer, "price")):
            with pytest.raises(Asked) as asked:
                ordered(shop, session, line)
            assert asked.value.field == field
        shop.clock.instant += DAY
        late = NewOrderLine(shop.valve, 4, quote=quote)
        with pytest.raises(Asked, match="held until 2026-03-02") as asked:
            ordered(shop, session, late)
        assert asked.value.field == "quote"
        sure = [order_now(session, ordered(shop, session, each, sure=True)) for each in (below, dearer, late)]
        assert [each.lines[0].price for each in sure] == [
            Money(100_00, "EUR"),
            Money(99_00, "EUR"),
            Money(100_00, "EUR"),
        ]


def test_a_quote_of_another_firm_part_currency_or_kind_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        quote = quoted(shop, session)
        line = NewOrderLine(shop.valve, 12, quote=quote)
        for lines, changed in (
            (line, {"firm": plater(session)}),
            (line, {"currency": "GBP"}),
            (line, {"kind": OrderKind.MAKE}),
            (NewOrderLine(shop.barrel, 12, quote=quote), {}),
            (NewOrderLine(shop.valve, 12, quote=999), {}),
        ):
            with pytest.raises(FieldRefused) as refused:
                ordered(shop, session, lines, **changed)
            assert refused.value.field == "quote"
        with pytest.raises(FieldRefused, match="is before 2026-03-02, when it was quoted"):
            ordered(shop, session, line, on=TODAY - DAY)
        withdraw_quote(session, quote, "sold out", shop.by())
        with pytest.raises(FieldRefused, match="was withdrawn"):
            ordered(shop, session, line)


def test_what_can_not_be_ordered_is_refused_at_its_field(shop: Shop) -> None:
    with shop.store.writing() as session:
        for line, changed, field in (
            (NewOrderLine(shop.valve, 0), {}, "quantity"),
            (NewOrderLine(shop.valve, -4), {}, "quantity"),
            (NewOrderLine(shop.valve, 10**9), {}, "quantity"),
            (NewOrderLine(shop.valve, 1, -1), {}, "price"),
            (NewOrderLine(shop.valve, 1, 10**13), {}, "price"),
            (NewOrderLine(999, 1), {}, "part"),
            (NewOrderLine(shop.valve, 1), {"firm": 999}, "firm"),
            (NewOrderLine(shop.valve, 1), {"currency": "EURO"}, "currency"),
            (NewOrderLine(shop.valve, 1), {"currency": "XAU"}, "currency"),
            (NewOrderLine(shop.valve, 1), {"lines": ()}, "lines"),
            (NewOrderLine(shop.valve, 1), {"due_on": TODAY - DAY}, "due_on"),
            (NewOrderLine(shop.valve, 1), {"on": TODAY + DAY}, "happened_on"),
        ):
            with pytest.raises(FieldRefused) as refused:
                ordered(shop, session, line, **changed)
            assert refused.value.field == field, (line, changed)
        assert purchase_orders(session, only_open=False) == ()


def test_an_order_comes_in_parts_each_with_what_it_cost(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = ordered(shop, session)
        line = order_now(session, made).lines[0].order_line
        _, first = deliver(shop, session, line, pieces=2)
        assert said(session).endswith(f"from Aldermoor Aero Spares into Goods in on order {made.number}.")
        deliver(shop, session, line, pieces=4, cost=Money(95_00, "EUR"))
        (found,) = purchase_orders(session, only_open=False)
        assert [each.quantity for each in found.lines[0].deliveries] == [1] * 6
        assert (found.lines[0].to_come, found.open) == (0, False)
        assert purchase_orders(session) == ()
        costs = session.execute(select(Cost.piece_id, Cost.price, Cost.currency, Cost.source)).all()
        assert [(row.price, row.currency) for row in costs] == [(90_00, "EUR")] * 2 + [(95_00, "EUR")] * 4
        assert costs[0].piece_id == first[0].piece
        assert costs[0].source == f"order {made.number}"
        assert session.scalars(select(OrderLine.received)).one() == 6
        assert sound(session)


def test_lengths_are_priced_by_the_metre_and_come_as_batches(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = ordered(shop, session, NewOrderLine(shop.wire, 1_500_000, 333))
        assert order_now(session, made).value == Money(500, "EUR"), "4.995 rounded once, half up"
        line = order_now(session, made).lines[0].order_line
        deliver(shop, session, line, part=shop.wire, quantity=1_000_000)
        assert order_now(session, made).lines[0].to_come == 500_000


def test_more_than_is_to_come_is_asked_about(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = order_now(session, ordered(shop, session)).lines[0].order_line
        with pytest.raises(Asked, match="6 off are still to come") as asked:
            deliver(shop, session, line, pieces=7)
        assert asked.value.field == "quantity"
        deliver(shop, session, line, pieces=7, sure=True)
        (found,) = purchase_orders(session, only_open=False)
        assert (found.lines[0].received, found.lines[0].to_come) == (7, 0)


def test_a_stand_in_for_what_was_ordered_is_asked_about_and_any_other_part_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        family = catalogue.add_family(session, "VY", "Later valves", shop.by())
        later = catalogue.add_part(session, NewPart(family, "Exhaust valve", Tracking.PIECE), shop.by())
        catalogue.add_stand_in(
            session, NewStandIn(shop.valve, ((later, 1),), authority="Pellworth letter"), shop.by()
        )
        line = order_now(session, ordered(shop, session)).lines[0].order_line
        with pytest.raises(Asked, match="stands in for it"):
            deliver(shop, session, line, part=later, pieces=1)
        deliver(shop, session, line, part=later, pieces=1, sure=True)
        new = NewPart(family, "Inlet valve", Tracking.PIECE)
        for part in (shop.barrel, None):
            with pytest.raises(FieldRefused) as refused:
                deliver(shop, session, line, part=part, pieces=1, sure=True, new_part=new)
            assert refused.value.field == "part"
        made_for_later = ordered(shop, session, NewOrderLine(later, 1))
        with pytest.raises(FieldRefused, match="may not stand in"):
            deliver(
                shop, session, order_now(session, made_for_later).lines[0].order_line, pieces=1, sure=True
            )


def test_nothing_comes_before_it_was_ordered_from_another_firm_or_on_a_closed_line(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = order_now(session, ordered(shop, session)).lines[0].order_line
        for changed, field in (
            ({"on": TODAY - DAY}, "happened_on"),
            ({"firm": plater(session)}, "firm"),
            ({"cost": Money(1, "XXX")}, "currency"),
            ({"cost": Money(-1, "EUR")}, "cost"),
        ):
            with pytest.raises(FieldRefused) as refused:
                deliver(shop, session, line, pieces=1, **changed)
            assert refused.value.field == field
        with pytest.raises(FieldRefused, match="no such line"):
            deliver(shop, session, 999, pieces=1)
        close_order_line(session, line, "The firm shut.", shop.by())
        with pytest.raises(FieldRefused, match="was closed on 2026-03-02"):
            deliver(shop, session, line, pieces=1, sure=True)


def test_a_line_is_closed_short_with_its_reason(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = ordered(shop, session)
        line = order_now(session, made).lines[0].order_line
        shop.clock.instant += DAY
        deliver(shop, session, line, pieces=2)
        for because, on, reason in (("", None, "isn't said why"), ("x", TODAY, "when some of it came")):
            with pytest.raises(FieldRefused, match=reason):
                close_order_line(session, line, because, shop.by(on))
        close_order_line(session, line, "The firm shut.", shop.by())
        assert (
            said(session) == f"Closed a line of order {made.number}, of which no more comes: The firm shut."
        )
        found = order_now(session, made)
        assert (found.lines[0].to_come, found.open) == (0, False)
        with pytest.raises(Refused, match="was closed on"):
            close_order_line(session, line, "again", shop.by())
        reverse(session, last_entry(session), "it opened again", shop.by())
        assert order_now(session, made).lines[0].to_come == 4
        assert sound(session)


def test_goods_in_undone_puts_its_line_back_and_leaves_the_other_deliveries(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = ordered(shop, session)
        placed = last_entry(session)
        line = order_now(session, made).lines[0].order_line
        first, _ = deliver(shop, session, line, pieces=2)
        second, _ = deliver(shop, session, line, pieces=3)
        reverse(session, first, "miscounted", shop.by())
        assert order_now(session, made).lines[0].to_come == 3
        assert len(session.scalars(select(Cost.id)).all()) == 3
        assert sound(session)
    with (
        pytest.raises(Refused, match=f"Entry {second} stands in the way: its delivery rests on"),
        shop.store.writing() as session,
    ):
        reverse(session, placed, "not meant", shop.by())
    with shop.store.writing() as session:
        reverse(session, second, "miscounted", shop.by())
        reverse(session, placed, "not meant", shop.by())
        assert purchase_orders(session, only_open=False) == ()
        assert sound(session)


def test_each_firm_has_a_record_of_its_days(shop: Shop) -> None:
    due = TODAY + 10 * DAY
    with shop.store.writing() as session:
        lines = (NewOrderLine(shop.valve, 1), NewOrderLine(shop.barrel, 2), NewOrderLine(shop.spring, 9))
        made = ordered(shop, session, *lines, due_on=due)
        ordered(shop, session, firm=plater(session))
        valve, barrel, spring = (line.order_line for line in order_now(session, made).lines)
        shop.clock.instant += 8 * DAY
        deliver(shop, session, valve, pieces=1)
        deliver(shop, session, barrel, part=shop.barrel, pieces=1)
        shop.clock.instant += 4 * DAY
        close_order_line(session, spring, "None left.", shop.by())
        assert order_now(session, made).due_words == "overdue by 2 days"
        shop.clock.instant += 3 * DAY
        deliver(shop, session, barrel, part=shop.barrel, pieces=1)
        assert firm_records(session) == (
            FirmRecord(shop.supplier, "Aldermoor Aero Spares", 1, 3, (8, 15), (12,), 2, 3),
            FirmRecord(plater(session), "Brackwater Plating", 1, 1, (), (15,), 0, 0),
        )
        assert firm_records(session)[0].late_words == "2 of 3 late"


def test_an_exchange_gives_our_old_piece_for_theirs(shop: Shop) -> None:
    with shop.store.writing() as session:
        old = shop.piece(session)
        tag = things_by_id(session, [Thing(piece=old)])[Thing(piece=old)].tag
        line = NewOrderLine(shop.valve, 1, 20_00, given_piece=old)
        made = ordered(shop, session, line, kind=OrderKind.EXCHANGE)
        with pytest.raises(FieldRefused, match=f"{tag} is promised on order {made.number}"):
            ordered(shop, session, line, kind=OrderKind.EXCHANGE)
        row = order_now(session, made).lines[0].order_line
        deliver(shop, session, row, pieces=1)
        assert order_now(session, made).open, "ours is still to go"
        with pytest.raises(Asked, match="sodium") as asked:
            give_in_exchange(session, GivenInExchange(row), shop.by())
        assert asked.value.field == "hazards_seen"
        entry = give_in_exchange(session, GivenInExchange(row, hazards_seen=True), shop.by())
        assert said(session) == f"Gave {tag} in exchange on order {made.number}."
        (where,) = things_by_id(session, [Thing(piece=old)])[Thing(piece=old)].where
        assert where.place == OUTSIDE_PLACE
        assert order_now(session, made).lines[0].given_on == TODAY
        with pytest.raises(Refused, match="was given on"):
            give_in_exchange(session, GivenInExchange(row, hazards_seen=True), shop.by())
        assert sound(session)
        reverse(session, entry, "the firm wants another", shop.by())
        assert order_now(session, made).lines[0].to_give
        assert sound(session)


def test_an_exchange_gives_nothing_that_is_not_ours_or_not_free(shop: Shop) -> None:
    with shop.store.writing() as session:
        theirs = receive(
            session,
            GoodsIn(Origin.NEW, shop.bin_a, shop.valve, pieces=(NewPiece(),), owner=shop.customer),
            shop.by(),
        ).things[0][0]
        ours = shop.piece(session)
        for line, kind, field in (
            (NewOrderLine(shop.valve, 1, given_piece=theirs.piece), OrderKind.EXCHANGE, "given_piece"),
            (NewOrderLine(shop.valve, 1, given_piece=999), OrderKind.EXCHANGE, "given_piece"),
            (NewOrderLine(shop.valve, 1), OrderKind.EXCHANGE, "given_piece"),
            (NewOrderLine(shop.valve, 2, given_piece=ours), OrderKind.EXCHANGE, "quantity"),
            (NewOrderLine(shop.valve, 1, given_piece=ours), OrderKind.BUY, "given_piece"),
        ):
            with pytest.raises(FieldRefused) as refused:
                ordered(shop, session, line, kind=kind)
            assert refused.value.field == field, line
        bought = order_now(session, ordered(shop, session)).lines[0].order_line
        with pytest.raises(Refused, match="is no exchange"):
            give_in_exchange(session, GivenInExchange(bought), shop.by())
        made = ordered(shop, session, NewOrderLine(shop.valve, 1, given_piece=ours), kind=OrderKind.EXCHANGE)
        draft = shop.draft(kind=EntryKind.SCRAPPED)
        draft.move(shop.bin_a, shop.scrap, piece=ours)
        post(session, draft)
        with pytest.raises(Refused, match="is scrapped"):
            give_in_exchange(
                session, GivenInExchange(order_now(session, made).lines[0].order_line, True), shop.by()
            )
