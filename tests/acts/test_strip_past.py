"""Strippings told late, and undone: what stands in the way is named."""

from __future__ import annotations

from datetime import timedelta

import pytest

from invdb.acts.numbers import thing_by_tag
from invdb.acts.reverse import reverse
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.terms import (
    FieldRefused,
    LifeControl,
    Refused,
    RunningUse,
)
from tests.engine_shop import (
    METER,
    barrel_with_valve,
    begin,
    came,
    fitted,
    run,
    served,
    sitting_at,
    sound,
    stripped,
    tag_of,
)
from tests.kit_shop import stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def test_a_strip_before_the_fit_is_refused_with_that_entry(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve, springs = came(session, shop, shop.valve), came(session, shop, shop.spring, quantity=6)
        first = fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        second = fitted(session, shop, springs, "exhaust springs", quantity=2, on=LAST_WEEK)
    for thing, number in ((valve, first), (springs, second)):
        with (
            pytest.raises(FieldRefused, match=f"entry {number} of {LAST_WEEK}"),
            shop.store.writing() as session,
        ):
            stripped(session, shop, thing, on=LAST_WEEK - DAY)
    with shop.store.writing() as session:
        stripped(session, shop, valve, on=LAST_WEEK)
    assert sound(shop)


def test_a_late_strip_ends_the_service_on_its_day(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        run(session, shop, METER + 10_00, use=RunningUse.GROUND)
        each = Strip(valve, "worn", shop.bench, control=LifeControl.TAG)
        order = StripOrder(shop.engine, (each,), METER + 4_00)
        strip(session, order, shop.by(LAST_WEEK + 2 * DAY))
    assert served(shop, valve) == [(shop.engine, 0, 4_00, False)]
    assert sitting_at(shop, "exhaust valve", on=LAST_WEEK + DAY) == {tag_of(shop, valve): 1}
    assert sitting_at(shop, "exhaust valve", on=LAST_WEEK + 2 * DAY) == {}
    assert sound(shop)


def test_a_late_strip_of_what_was_opened_up_in_the_engine_since_is_refused(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel", on=LAST_WEEK)
        number = stripped(session, shop, valve, on=LAST_WEEK + 3 * DAY).entry
    why = f"Entry {number} of {LAST_WEEK + 3 * DAY} stands in the way: it changed what is inside"
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        stripped(session, shop, barrel, on=LAST_WEEK + DAY)
    with shop.store.writing() as session:
        stripped(session, shop, barrel, on=LAST_WEEK + 3 * DAY)
    assert sound(shop)


def test_a_strip_is_not_undone_while_another_is_in_its_station(shop: Shop) -> None:
    begin(shop)
    old, new = stock(shop, valves=2)["valves"]
    with shop.store.writing() as session:
        fitted(session, shop, old, "exhaust valve")
        out = stripped(session, shop, old).entry
        number = fitted(session, shop, new, "exhaust valve")
    why = f"Entry {number} of {TODAY} stands in the way: it put {tag_of(shop, new)}"
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        reverse(session, out, "It stayed in", shop.by())
    with shop.store.writing() as session:
        reverse(session, number, "It was not fitted", shop.by())
        reverse(session, out, "It stayed in", shop.by())
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, old): 1}
    assert served(shop, old) == [(shop.engine, 0, 0, True)]
    assert sound(shop)


def test_a_strip_is_not_undone_while_what_came_out_was_opened_on_the_bench(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
        out = stripped(session, shop, barrel).entry
        opened = strip(session, StripOrder(None, (Strip(valve, "loose", shop.bench),)), shop.by()).entry
    why = f"Entry {opened} of {TODAY} stands in the way: it changed what is inside {tag_of(shop, barrel)}"
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        reverse(session, out, "It stayed in", shop.by())
    with shop.store.writing() as session:
        reverse(session, opened, "It stayed in", shop.by())
        reverse(session, out, "It stayed in", shop.by())
    assert served(shop, valve) == [(shop.engine, 0, 0, True)]
    assert sound(shop)


def test_what_became_a_batch_of_its_own_goes_back_when_the_strip_is_undone(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs", quantity=2)
        made = stripped(session, shop, springs)
        reverse(session, made.entry, "They stayed in", shop.by())
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, springs): 2}
    with pytest.raises(Refused, match="No piece or batch"), shop.store.reading() as session:
        thing_by_tag(session, made.new_tags[0])
    assert sound(shop)
