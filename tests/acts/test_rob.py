"""Robbing an engine: stripped uninspected on somebody's word, owed back, and the donor incomplete."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select

from invdb.acts import catalogue
from invdb.acts.as_fitted import as_fitted
from invdb.acts.catalogue import NewKitLine, NewPart
from invdb.acts.numbers import Thing, thing_by_tag
from invdb.acts.reverse import reverse
from invdb.acts.rob import Robbery, rob
from invdb.records.builds import Debt
from invdb.terms import ConcessionOver, Condition, FieldRefused, LifeControl, Refused, RunningUse, Tracking
from tests.engine_shop import (
    METER,
    barrel_with_valve,
    begin,
    came,
    conceded,
    fitted,
    note_of,
    run,
    served,
    sound,
    stripped,
    tag_of,
)
from tests.kit_shop import good, state_of, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def robbery(shop: Shop, *things: Thing) -> Robbery:
    """That things are robbed from Linnet One for Linnet Two, on the inspector's word."""
    return Robbery(
        shop.engine,
        things,
        shop.bench,
        shop.inspector,
        shop.engine_two,
        "Linnet Two flies on Sunday",
        METER,
        control=LifeControl.TAG,
        use=RunningUse.FLIGHT,
    )


def owed(shop: Shop, on: date | None = None) -> list[tuple[str, int]]:
    """What Linnet One is owed: tags, with how much."""
    with shop.store.reading() as session:
        build = as_fitted(session, shop.engine, on)
    stations = [station for position in build.positions for station in position.stations]
    return sorted((debt.tag, debt.quantity) for station in stations for debt in station.owed)


def test_a_robbed_piece_is_uninspected_and_owed_back(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        run(session, shop, METER + 2_00)
        made = rob(session, replace(robbery(shop, valve), reading=METER + 2_00), shop.by())
    state = state_of(shop, valve)
    assert (state.condition, state.scope, state.where[0].name) == (Condition.UNINSPECTED, None, "Bench")
    assert served(shop, valve) == [(shop.engine, 2_00, 0, False)]
    assert owed(shop) == [(tag_of(shop, valve), 1)]
    assert "For Linnet Two, authorised by Ada Farrow: Linnet Two flies on" in note_of(shop, made.entry)
    with shop.store.reading() as session:
        debt = session.scalars(select(Debt)).one()
        assert (debt.engine_id, debt.for_engine_id) == (shop.engine, shop.engine_two)
        assert (debt.authorised_by, debt.owed_on, debt.repaid_on) == (shop.inspector, TODAY, None)
    assert sound(shop)


def test_a_robbery_says_why_for_which_and_on_whose_word(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    plain = robbery(shop, valve)
    for wrong, field in (
        (replace(plain, reason=" "), "reason"),
        (replace(plain, for_engine=shop.engine), "for_engine"),
        (replace(plain, for_engine=99), "for_engine"),
        (replace(plain, authorised_by=99), "authorised_by"),
        (replace(plain, control=None), "control"),
        (replace(plain, reading=METER - 1), "reading"),
        (replace(plain, to_place=shop.bonded), "to_place"),
    ):
        with pytest.raises(FieldRefused) as refused, shop.store.writing() as session:
            rob(session, wrong, shop.by())
        assert refused.value.field == field
    for things, why in (((), "Nothing is named"), ((valve, valve), "named twice")):
        with pytest.raises(Refused, match=why), shop.store.writing() as session:
            rob(session, replace(plain, things=things), shop.by())
    assert owed(shop) == [] and sound(shop)


def test_what_is_not_in_the_donor_is_not_robbed_from_it(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    shelved = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        barrel, inner = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
    for thing in (shelved, inner):
        with (
            pytest.raises(Refused, match="sits at no station of that engine"),
            shop.store.writing() as session,
        ):
            rob(session, robbery(shop, thing), shop.by())


def test_the_next_piece_at_the_station_pays_it_back(shop: Shop) -> None:
    begin(shop)
    valve, other = stock(shop, valves=2)["valves"]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        rob(session, robbery(shop, valve), shop.by())
        fitted(session, shop, other, "exhaust valve", cylinder="2")
    assert owed(shop) == [(tag_of(shop, valve), 1)]
    with shop.store.writing() as session:
        stripped(session, shop, other)
        number = fitted(session, shop, other, "exhaust valve", override="Only just looked at")
    assert owed(shop) == []
    with shop.store.writing() as session:
        reverse(session, number, "It went into cylinder 3", shop.by())
    assert owed(shop) == [(tag_of(shop, valve), 1)]
    assert sound(shop)


def test_a_debt_is_owed_until_its_station_is_full_again(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs", quantity=2)
        made = rob(session, robbery(shop, springs), shop.by())
        child = thing_by_tag(session, made.new_tags[0])
    assert owed(shop) == [(tag_of(shop, springs), 2)]
    assert state_of(shop, child).condition is Condition.UNINSPECTED
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs")
    assert owed(shop) == [(tag_of(shop, springs), 2)]
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs")
    assert owed(shop) == []
    assert sound(shop)


def test_each_of_two_kinds_at_one_station_pays_back_its_own(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        inner = catalogue.add_part(session, NewPart(1, "Inner spring", Tracking.BATCH), shop.by())
        line = NewKitLine(shop.linnet, "cylinder", 5, "exhaust springs", inner, 1)
        catalogue.add_kit_line(session, line, shop.by())
        outer_ones = good(session, shop, shop.spring, quantity=8)
        inner_ones = good(session, shop, inner, quantity=8)
        fitted(session, shop, outer_ones, "exhaust springs", quantity=2)
        fitted(session, shop, inner_ones, "exhaust springs")
        rob(session, robbery(shop, outer_ones, inner_ones), shop.by())
        fitted(session, shop, outer_ones, "exhaust springs", quantity=2)
    assert owed(shop) == [(tag_of(shop, inner_ones), 1)]
    with shop.store.writing() as session:
        fitted(session, shop, inner_ones, "exhaust springs")
    assert owed(shop) == []


def test_a_valve_within_a_barrel_pays_back_the_valve(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        rob(session, robbery(shop, valve), shop.by())
        barrel, _ = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
    assert owed(shop) == []


def test_what_an_authority_lets_in_instead_pays_it_back_too(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        rob(session, robbery(shop, valve), shop.by())
        barrel = good(session, shop, shop.barrel)
        conceded(session, shop, barrel, ConcessionOver.PART, on=TODAY)
        fitted(session, shop, barrel, "exhaust valve")
    assert owed(shop) == []


def test_what_was_fitted_before_the_robbery_pays_nothing_back(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve, spare = came(session, shop, shop.valve), came(session, shop, shop.valve)
        fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        made = rob(session, robbery(shop, valve), shop.by(LAST_WEEK + 2 * DAY))
        fitted(session, shop, spare, "exhaust valve")
    tag = tag_of(shop, valve)
    assert [owed(shop, LAST_WEEK + day * DAY) for day in (1, 2, 6, 7)] == [[], [(tag, 1)], [(tag, 1)], []]
    with shop.store.writing() as session:
        late = came(session, shop, shop.valve)
        # A day before it was robbed the station was full, and owed nothing.
    with pytest.raises(Refused, match=f"holds {tag}"), shop.store.writing() as session:
        fitted(session, shop, late, "exhaust valve", on=LAST_WEEK + DAY)
    with pytest.raises(Refused, match="stands in the way"), shop.store.writing() as session:
        reverse(session, made.entry, "Not robbed", shop.by())
    assert sound(shop)


def test_reversing_a_robbery_puts_it_back_and_nothing_is_owed(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        made = rob(session, robbery(shop, valve), shop.by())
        reverse(session, made.entry, "Linnet Two stays on the ground", shop.by())
    assert owed(shop) == []
    assert served(shop, valve) == [(shop.engine, 0, 0, True)]
    assert sound(shop)


def test_a_batch_at_several_stations_is_robbed_from_those_that_are_named(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        for cylinder in ("1", "2", "3"):
            fitted(session, shop, springs, "exhaust springs", cylinder=cylinder, quantity=2)
    with pytest.raises(Refused, match="at several stations"), shop.store.writing() as session:
        rob(session, robbery(shop, springs), shop.by())
    places = [each.place for each in state_of(shop, springs).where if "cylinder 2" not in each.name]
    with shop.store.writing() as session:
        twice = replace(robbery(shop, springs, springs), from_places=tuple(places))
        made = rob(session, twice, shop.by())
    assert len(made.new_tags) == 2
    assert owed(shop) == [(tag_of(shop, springs), 2)] * 2
    assert [each.name for each in state_of(shop, springs).where] == ["Linnet One cylinder 2 exhaust springs"]
    assert sound(shop)
