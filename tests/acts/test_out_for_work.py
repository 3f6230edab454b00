"""What bars a thing that is out for work says which order it waits for, and when it is due back."""

from __future__ import annotations

from datetime import timedelta

import pytest

from invdb.acts.kit_facts import offered_at
from invdb.acts.things import things_by_id
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import work_orders
from invdb.terms import Refused, WorkWanted
from tests.engine_shop import begin, came, fitted
from tests.shop import TODAY, Shop

SOON = TODAY + timedelta(days=30)


def test_a_valve_at_the_platers_says_on_which_order_and_till_when(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        order = WorkSent(shop.works, WorkWanted.PLATING, "Plate the stem", (ToSend(valve),), SOON, True)
        made = send_for_work(session, order, shop.by())
        state = things_by_id(session, [valve])[valve]
        assert state.work == f"order {made.number}, due back {SOON.isoformat()}"
        assert offered_at(state, state.where[0]).note == state.work
        (order_of,) = work_orders(session)
        line = BackLine(order_of.lines[0].work_line, shop.bench, "BP 81")
        back_from_work(session, WorkBack(made.order, (line,)), shop.by())
        assert things_by_id(session, [valve])[valve].work == ""


def test_some_of_a_batch_at_the_platers_is_on_every_order_that_it_went_on(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = came(session, shop, shop.spring, quantity=20)
        numbers = []
        for due in (SOON, None):
            some = (ToSend(springs, 2, shop.bin_a),)
            order = WorkSent(shop.works, WorkWanted.PLATING, "Plate", some, due, True)
            numbers.append(send_for_work(session, order, shop.by()).number)
        state = things_by_id(session, [springs])[springs]
        assert state.work == f"order {numbers[0]}, due back {SOON.isoformat()}; order {numbers[1]}"


def test_what_is_out_on_our_own_bench_is_not_fitted_from_there(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        order = WorkSent(shop.bench, WorkWanted.MACHINING, "Grind the face", (ToSend(valve),), SOON, True)
        made = send_for_work(session, order, shop.by())
        with pytest.raises(Refused, match=f"out for work on order {made.number}.*book it back first"):
            fitted(session, shop, valve, "exhaust valve")
        (out,) = work_orders(session)
        line = BackLine(out.lines[0].work_line, shop.bench, "Ground")
        back_from_work(session, WorkBack(made.order, (line,)), shop.by())
        with pytest.raises(Refused) as refused:
            fitted(session, shop, valve, "exhaust valve")
        assert "order" not in refused.value.reason, "it is only not inspected any more"
