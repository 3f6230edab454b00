"""Stripping engines: what comes out and how it was found, what rides along, whole groups, and past days."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts.accept import set_condition
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, position_named, thing_by_tag
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.strip_plan import plan_strip
from invdb.records.builds import Stripping
from invdb.records.stock import Batch, Holding
from invdb.terms import (
    Condition,
    FieldRefused,
    LifeControl,
    LifeMeasure,
    Refused,
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
    station,
    stripped,
    tag_of,
)
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import good, state_of, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def how_it_came_out(shop: Shop, thing: Thing) -> Stripping:
    """The record of how a piece, or a batch, came out last."""
    with shop.store.reading() as session:
        own = Stripping.piece_id == thing.piece if thing.piece else Stripping.batch_id == thing.batch
        found = session.scalars(select(Stripping).where(own).order_by(Stripping.id.desc())).first()
        assert found is not None
        session.expunge(found)
        return found


def test_what_comes_out_is_recorded_with_its_station_how_it_sat_and_its_mates(shop: Shop) -> None:
    begin(shop)
    things = stock(shop)
    valve, springs = things["valves"][0], things["springs"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        fitted(session, shop, springs, "exhaust springs", quantity=2)
        run(session, shop, METER + 5_00)
        stripped(session, shop, valve, reading=METER + 5_00, orientation="number up")
    row = how_it_came_out(shop, valve)
    with shop.store.reading() as session:
        seat = (position_named(session, shop.engine, "1"), station(session, shop.engine, "exhaust valve"))
    assert (row.engine_id, row.position_id, row.station_id) == (shop.engine, *seat)
    assert (row.found, row.orientation, row.control) == ("worn", "number up", LifeControl.TAG)
    assert (row.mates, row.stripped_on) == (tag_of(shop, springs), TODAY)
    state = state_of(shop, valve)
    assert (state.condition, state.scope, state.used) == (Condition.UNINSPECTED, None, True)
    assert served(shop, valve) == [(shop.engine, 5_00, 0, False)]
    assert sound(shop)


def test_an_engine_that_comes_apart_piece_by_piece_in_a_day_keeps_its_mates(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        springs = came(session, shop, shop.spring, quantity=6)
        fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        fitted(session, shop, springs, "exhaust springs", quantity=2, on=LAST_WEEK)
        stripped(session, shop, springs)
        stripped(session, shop, valve)
    assert how_it_came_out(shop, valve).mates == tag_of(shop, springs)


def test_what_is_not_there_is_not_stripped(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    valve, shelved = stock(shop, valves=2)["valves"]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    with pytest.raises(Refused, match="not fitted there; it is in A-01-01"), shop.store.writing() as session:
        stripped(session, shop, shelved)
    with pytest.raises(Refused, match="Strip it from Linnet One"), shop.store.writing() as session:
        stripped(session, shop, valve, engine=shop.engine_two)
    with pytest.raises(Refused, match="named twice"), shop.store.writing() as session:
        one = Strip(valve, "worn", shop.bench, control=LifeControl.TAG)
        strip(session, StripOrder(shop.engine, (one, one), METER), shop.by())
    with shop.store.writing() as session:
        stripped(session, shop, valve)
    with pytest.raises(Refused, match="it is in Bench"), shop.store.writing() as session:
        stripped(session, shop, valve)
    assert sound(shop)


def test_how_it_was_found_is_asked(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    unsaid = Strip(valve, " ", shop.bench, control=LifeControl.TAG)
    with pytest.raises(FieldRefused, match="isn't said how"), shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (unsaid,), METER), shop.by())
    with (
        pytest.raises(FieldRefused, match="becomes serviceable by being accepted"),
        shop.store.writing() as session,
    ):
        stripped(session, shop, valve, condition=Condition.SERVICEABLE)


@pytest.mark.parametrize(
    ("where", "condition", "why"),
    [
        ("bonded", Condition.UNINSPECTED, "bonded"),
        ("bench", Condition.UNSALVAGEABLE, "can not be salvaged and may not lie in Bench"),
        ("bin_a", Condition.UNSALVAGEABLE, "among stock"),
        ("outside", Condition.UNINSPECTED, "within the workshop"),
    ],
)
def test_what_comes_out_goes_only_where_it_may_lie(
    shop: Shop, where: str, condition: Condition, why: str
) -> None:
    begin(shop)
    things = stock(shop)
    with shop.store.writing() as session:
        fitted(session, shop, things["valves"][0], "exhaust valve")
        fitted(session, shop, things["springs"][0], "exhaust springs", quantity=2)
    place = 1 if where == "outside" else getattr(shop, where)
    for thing in (things["valves"][0], things["springs"][0]):
        each = Strip(thing, "worn", place, condition, control=LifeControl.TAG)
        with pytest.raises(FieldRefused, match=why), shop.store.writing() as session:
            strip(session, StripOrder(shop.engine, (each,), METER), shop.by())
    assert sound(shop)


def test_a_life_limited_piece_needs_its_control(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    with pytest.raises(FieldRefused, match="past its limit") as refused, shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (Strip(valve, "worn", shop.bench),), METER), shop.by())
    assert refused.value.field == "control"


def test_a_part_limited_for_some_engines_only_needs_its_control_too(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = good(session, shop, shop.barrel)
        limit = NewLifeLimit(LifeMeasure.STARTS, 900, shop.barrel, shop.linnet, source="Leaflet 12")
        add_life_limit(session, limit, shop.by())
        fitted(session, shop, barrel, "barrel")
    with pytest.raises(FieldRefused, match="past its limit"), shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (Strip(barrel, "sound", shop.bench),), METER), shop.by())
    with shop.store.writing() as session:
        stripped(session, shop, barrel)
    assert how_it_came_out(shop, barrel).control is LifeControl.TAG


def test_what_is_known_to_be_worse_is_not_stripped_as_better(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        set_condition(session, (valve,), Condition.UNSERVICEABLE, "leaks", shop.by())
        stripped(session, shop, valve, condition=Condition.UNINSPECTED)
    assert state_of(shop, valve).condition is Condition.UNSERVICEABLE


def test_what_rides_in_a_piece_comes_out_with_it_uninspected_and_used(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
        run(session, shop, METER + 2_00)
        stripped(session, shop, barrel, reading=METER + 2_00)
    state = state_of(shop, valve)
    assert (state.condition, state.scope, state.used) == (Condition.UNINSPECTED, None, True)
    assert state.where[0].name == f"{tag_of(shop, barrel)} exhaust valve"
    assert served(shop, valve) == served(shop, barrel) == [(shop.engine, 2_00, 0, False)]
    rode = how_it_came_out(shop, valve)
    assert (rode.found, rode.control) == (f"came out inside {tag_of(shop, barrel)}", LifeControl.TAG)
    assert how_it_came_out(shop, barrel).control is None
    assert sound(shop)


def test_a_limited_piece_riding_along_needs_its_control(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
    limited = f"{tag_of(shop, valve)} is life-limited"
    with pytest.raises(FieldRefused, match=limited), shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (Strip(barrel, "sound", shop.bench),), METER), shop.by())


def test_a_scrapped_barrel_says_nothing_against_the_guide_in_it_nor_for_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
        set_condition(session, (valve,), Condition.UNSERVICEABLE, "leaks", shop.by())
        scrap = Strip(barrel, "cracked", shop.scrap, Condition.UNSALVAGEABLE, control=LifeControl.TAG)
        strip(session, StripOrder(shop.engine, (scrap,), METER), shop.by())
    assert state_of(shop, barrel).condition is Condition.UNSALVAGEABLE
    assert state_of(shop, valve).condition is Condition.UNSERVICEABLE
    with shop.store.writing() as session:
        out = Strip(valve, "seat burnt", shop.bench)
        strip(session, StripOrder(None, (out,)), shop.by())
    assert state_of(shop, valve).where[0].name == "Bench"
    assert sound(shop)


def test_a_piece_may_come_out_of_another_that_stays_in_or_comes_out_too(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
        run(session, shop, METER + 1_00)
        stripped(session, shop, valve, reading=METER + 1_00)
        run(session, shop, METER + 3_00)
    assert served(shop, valve) == [(shop.engine, 1_00, 0, False)]
    row = how_it_came_out(shop, valve)
    assert row.mates == tag_of(shop, barrel) and row.position_id is not None
    with shop.store.writing() as session:
        stripped(session, shop, barrel, reading=METER + 3_00)
        seat = station(session, shop.engine, "exhaust valve")
        inside = InsideFit(barrel.piece or 0, valve.piece or 0, seat)
        fit_inside(session, (inside,), shop.by())
        fitted(
            session, shop, barrel, "barrel", cylinder="2", reading=METER + 3_00, override="Not looked at yet"
        )
        both = (
            Strip(valve, "bent", shop.bench, Condition.UNSERVICEABLE, control=LifeControl.MARK),
            Strip(barrel, "scored", shop.bench),
        )
        strip(session, StripOrder(shop.engine, both, METER + 3_00), shop.by())
    assert [state_of(shop, each).condition for each in (valve, barrel)] == [
        Condition.UNSERVICEABLE,
        Condition.UNINSPECTED,
    ]
    assert {state_of(shop, each).where[0].name for each in (valve, barrel)} == {"Bench"}
    assert sound(shop)


def test_what_is_in_a_piece_that_is_out_for_work_stays_in_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        move(session, (Shift(barrel),), shop.works, shop.by())
    with pytest.raises(Refused, match="not in the workshop"), shop.store.writing() as session:
        strip(session, StripOrder(None, (Strip(valve, "fine", shop.bench),)), shop.by())


def test_some_of_a_batch_comes_out_as_a_batch_of_its_own(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs", quantity=2)
        made = stripped(session, shop, springs, quantity=1)
    (tag,) = made.new_tags
    with shop.store.reading() as session:
        child = thing_by_tag(session, tag)
        row = session.get_one(Batch, child.batch)
        assert (row.parent_batch_id, row.used, row.condition) == (
            springs.batch,
            True,
            Condition.UNINSPECTED,
        )
    assert state_of(shop, child).papers == 1
    assert state_of(shop, springs).condition is Condition.SERVICEABLE
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, springs): 1}
    with pytest.raises(FieldRefused, match="1 off .* are fitted"), shop.store.writing() as session:
        stripped(session, shop, springs, quantity=2)
    assert sound(shop)


def test_a_batch_at_several_stations_comes_out_of_each_by_itself(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        for cylinder in ("1", "2"):
            fitted(session, shop, springs, "exhaust springs", cylinder=cylinder, quantity=2)
    with pytest.raises(FieldRefused, match="in several places"), shop.store.writing() as session:
        stripped(session, shop, springs)
    with shop.store.writing() as session:
        plan = plan_strip(session, shop.engine, shop.bench, "tired")
        made = strip(session, StripOrder(shop.engine, plan, METER), shop.by())
    assert len(made.new_tags) == 2
    assert [where.name for where in state_of(shop, springs).where] == ["A-01-01"]
    assert sound(shop)


def test_a_batch_in_two_engines_comes_out_of_the_one_that_is_stripped(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    springs = stock(shop)["springs"][0]
    with shop.store.writing() as session:
        for engine in (shop.engine, shop.engine_two):
            fitted(session, shop, springs, "exhaust springs", engine=engine, quantity=2)
        stripped(session, shop, springs)
    assert sitting_at(shop, "exhaust springs") == {}
    assert sitting_at(shop, "exhaust springs", engine=shop.engine_two) == {tag_of(shop, springs): 2}


def test_a_whole_cylinder_comes_apart_and_what_is_renewed_always_goes_to_the_drum_untagged(
    shop: Shop,
) -> None:
    begin(shop)
    things = stock(shop)
    valve, springs, gaskets = (things[name][0] for name in ("valves", "springs", "gaskets"))
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        fitted(session, shop, springs, "exhaust springs", quantity=2)
        fitted(session, shop, gaskets, "head joint")
        position = position_named(session, shop.engine, "1")
        plan = plan_strip(
            session, shop.engine, shop.bench, "worn", position=position, control=LifeControl.TAG
        )
        made = strip(session, StripOrder(shop.engine, plan, METER), shop.by())
    assert len(made.new_tags) == 1
    for name in ("exhaust valve", "exhaust springs", "head joint"):
        assert sitting_at(shop, name) == {}
    there = {each.name: each.quantity for each in state_of(shop, gaskets).where}
    assert there == {"A-01-01": 2, "Scrap drum": 1}
    with pytest.raises(Refused, match="Nothing is recorded"), shop.store.writing() as session:
        plan_strip(session, shop.engine, shop.bench, "worn", position=position)
    # What was thrown away used never comes back among the unused of its batch.
    with pytest.raises(Refused, match="stripped it and threw it away"), shop.store.writing() as session:
        move(session, (Shift(gaskets, 1, shop.scrap),), shop.bin_a, shop.by())
    assert sound(shop)


def test_the_whole_engine_comes_apart_in_one_act_or_not_at_all(shop: Shop) -> None:
    begin(shop)
    valves = stock(shop, valves=3)["valves"]
    with shop.store.writing() as session:
        for cylinder, valve in zip("135", valves, strict=True):
            fitted(session, shop, valve, "exhaust valve", cylinder=cylinder)
    with pytest.raises(FieldRefused, match="life-limited"), shop.store.writing() as session:
        plan = plan_strip(session, shop.engine, shop.bench, "worn")
        strip(session, StripOrder(shop.engine, plan, METER), shop.by())
    assert [len(sitting_at(shop, "exhaust valve", cylinder=each)) for each in "135"] == [1, 1, 1]
    with shop.store.writing() as session:
        plan = plan_strip(session, shop.engine, shop.bench, "worn", control=LifeControl.RECORD)
        strip(session, StripOrder(shop.engine, plan, METER), shop.by())
    assert [len(sitting_at(shop, "exhaust valve", cylinder=each)) for each in "135"] == [0, 0, 0]
    assert sound(shop)


def test_only_what_is_thrown_away_untagged_goes_to_the_drum_alone(shop: Shop) -> None:
    begin(shop)
    gaskets = stock(shop)["gaskets"][0]
    with shop.store.writing() as session:
        fitted(session, shop, gaskets, "head joint")
    untagged = Strip(gaskets, "squashed", shop.bench, scrapped=True)
    with pytest.raises(FieldRefused, match="goes to the scrap drum"), shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (untagged,), METER), shop.by())
    with shop.store.reading() as session:
        assert session.scalars(select(Holding).where(Holding.place_id == shop.scrap)).all() == []
