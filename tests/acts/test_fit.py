"""Fitting things in engines: from a pull or piece by piece, how much a station takes, what part and meter."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.catalogue import Holds, NewKitLine, NewPart, NewStandIn
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.mods import embody
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, position_named
from invdb.acts.pull import GiveBack, PullOrder, cancel, give_back, issue, reserve
from invdb.acts.reserve_check import Take
from invdb.acts.running import Run, log_at, log_run
from invdb.records.stock import PullLine
from invdb.rules.running import Ran, Span
from invdb.terms import (
    Asked,
    Condition,
    FieldRefused,
    HoursKnown,
    PriorLife,
    Refused,
    ReturnedAs,
    RunningUse,
    Tracking,
)
from tests.engine_shop import (
    METER,
    begin,
    came,
    fitted,
    issued,
    run,
    served,
    sitting_at,
    sound,
    station,
    stripped,
    tag_of,
)
from tests.fitted_shop import add_mod
from tests.kit_shop import good, reserved, state_of, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY
USED = PriorLife(HoursKnown.EXACT, 605_00, 605_00)


def test_a_pull_is_fitted_in_one_act(shop: Shop) -> None:
    begin(shop)
    things = stock(shop)
    pull = issued(shop)
    with shop.store.writing() as session:
        fit_pull(session, pull, METER, shop.by())
    with shop.store.reading() as session:
        lines = session.scalars(select(PullLine).where(PullLine.pull_id == pull)).all()
        assert [(line.issued, line.returned, line.fitted) for line in lines] == [
            (1, 1, 1),
            (2, 2, 2),
            (1, 1, 1),
        ]
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, things["springs"][0]): 2}
    assert sound(shop)


def test_some_lines_of_a_pull_are_fitted_and_the_rest_comes_back(shop: Shop) -> None:
    begin(shop)
    stock(shop)
    pull = issued(shop)
    with shop.store.writing() as session:
        lines = session.scalars(
            select(PullLine.id).where(PullLine.pull_id == pull).order_by(PullLine.id)
        ).all()
        fit_pull(session, pull, METER, shop.by(), only=lines[:1])
    with pytest.raises(Refused, match="nothing out"), shop.store.writing() as session:
        fit_pull(session, pull, METER, shop.by(), only=lines[:1])
    with pytest.raises(Refused, match="None of .* is out"), shop.store.writing() as session:
        give_back(session, pull, (GiveBack(lines[0], 1, ReturnedAs.UNTOUCHED, shop.bin_a),), shop.by())
    with pytest.raises(Refused, match="has not come back"), shop.store.writing() as session:
        cancel(session, pull, "not wanted", shop.by())
    with shop.store.writing() as session:
        back = [
            GiveBack(line, n, ReturnedAs.UNTOUCHED, shop.bin_a)
            for line, n in zip(lines[1:], (2, 1), strict=True)
        ]
        give_back(session, pull, tuple(back), shop.by())
    with pytest.raises(Refused, match="is fitted, and nothing is set aside"), shop.store.writing() as session:
        cancel(session, pull, "not wanted", shop.by())
    assert sound(shop)


def test_a_batch_given_to_a_pull_from_two_bins_is_fitted_from_it_at_once(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop, springs=2)["springs"][0]
    with shop.store.writing() as session:
        move(session, (Shift(springs, 1),), shop.bin_b, shop.by())
        takes = tuple(Take(shop.kit_spring, springs, place, 1, "") for place in (shop.bin_a, shop.bin_b))
        order = PullOrder(shop.engine, position_named(session, shop.engine, "1"), takes)
        (pull,) = reserve(session, (order,), shop.by())
        issue(session, pull.pull, shop.by())
        fit_pull(session, pull.pull, METER, shop.by())
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, springs): 2}
    assert sound(shop)


def test_a_kit_line_at_a_station_that_the_type_has_not_is_told(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        line = NewKitLine(shop.linnet, "cylinder", 9, "oil jet", shop.barrel, 1)
        catalogue.add_kit_line(session, line, shop.by())
        good(session, shop, shop.barrel)
    stock(shop)
    pull = issued(shop)
    with pytest.raises(Refused, match="no station called oil jet"), shop.store.writing() as session:
        fit_pull(session, pull, METER, shop.by())


def test_what_is_issued_for_one_cylinder_is_not_fitted_at_another(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    valve = stock(shop)["valves"][0]
    issued(shop)
    for cylinder, engine in (("2", shop.engine), ("1", shop.engine_two)):
        with (
            pytest.raises(Refused, match=r"issued for pull .*\(Linnet One cylinder 1") as refused,
            shop.store.writing() as session,
        ):
            fitted(session, shop, valve, "exhaust valve", cylinder=cylinder, engine=engine, override="now")
        assert refused.value.remedy == "Put that right first."


def test_what_is_reserved_is_issued_first(shop: Shop) -> None:
    begin(shop)
    things = stock(shop)
    reserved(shop, "1")
    with pytest.raises(Refused, match="reserved for pull"), shop.store.writing() as session:
        fitted(session, shop, things["valves"][0], "exhaust valve")
    with pytest.raises(FieldRefused, match="Only 4 off .* free"), shop.store.writing() as session:
        fitted(session, shop, things["springs"][0], "exhaust springs", quantity=5)


def test_a_piece_out_for_work_scrapped_or_fitted_already_is_refused(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    out, scrapped, in_it = stock(shop, valves=3)["valves"]
    with shop.store.writing() as session:
        move(session, (Shift(out),), shop.works, shop.by())
        move(session, (Shift(scrapped),), shop.scrap, shop.by())
        fitted(session, shop, in_it, "exhaust valve", engine=shop.engine_two)
    for thing, why in (
        (out, "out for work at Brackwater"),
        (scrapped, "scrapped"),
        (in_it, "strip it first"),
    ):
        with pytest.raises(Refused, match=why), shop.store.writing() as session:
            fitted(session, shop, thing, "exhaust valve", override="I know better")


def test_a_station_takes_one_piece(shop: Shop) -> None:
    begin(shop)
    first, second = stock(shop, valves=2)["valves"]
    with shop.store.writing() as session:
        fitted(session, shop, first, "exhaust valve")
    holds = f"takes 1 off, and holds {tag_of(shop, first)}"
    with pytest.raises(Refused, match=holds), shop.store.writing() as session:
        fitted(session, shop, second, "exhaust valve")
    assert sound(shop)


def test_a_station_takes_a_quantity_up_to_its_kit_line(shop: Shop) -> None:
    begin(shop)
    springs = stock(shop)["springs"][0]
    with pytest.raises(Refused, match="takes 2 off, and holds nothing"), shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs", quantity=3)
    with shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs")
        fitted(session, shop, springs, "exhaust springs")
    with pytest.raises(Refused, match="takes 2 off"), shop.store.writing() as session:
        fitted(session, shop, springs, "exhaust springs")
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, springs): 2}
    for wrong in (0, -1):
        with pytest.raises(FieldRefused, match="nothing to fit"), shop.store.writing() as session:
            fitted(session, shop, springs, "exhaust springs", cylinder="2", quantity=wrong)
    assert sound(shop)


def test_one_act_does_not_fit_two_at_one_station(shop: Shop) -> None:
    begin(shop)
    first, second = stock(shop, valves=2)["valves"]

    def both(session: Session, *things: Thing) -> None:
        position = position_named(session, shop.engine, "1")
        seat = station(session, shop.engine, "exhaust valve")
        fits = tuple(Fit(seat, thing) for thing in things)
        fit(session, FitOrder(shop.engine, position, fits, METER), shop.by())

    for things, why in (((first, second), "takes 1 off"), ((first, first), "named twice")):
        with pytest.raises(Refused, match=why), shop.store.writing() as session:
            both(session, *things)
    assert sitting_at(shop, "exhaust valve") == {}


def stands_in_as_two(shop: Shop) -> tuple[int, int]:
    """Two parts, of which one each together stand in for the exhaust valve: a valve and its cap."""
    with shop.store.writing() as session:
        parts = tuple(
            catalogue.add_part(session, NewPart(1, name, Tracking.PIECE), shop.by())
            for name in ("Exhaust valve, capped", "Valve cap")
        )
        members = tuple((part, 1) for part in parts)
        catalogue.add_stand_in(session, NewStandIn(shop.valve, members, "Leaflet 31"), shop.by())
    return parts[0], parts[1]


def test_a_set_that_stands_in_is_fitted_together_or_one_after_the_other_and_once(shop: Shop) -> None:
    begin(shop)
    valve, cap = stands_in_as_two(shop)
    with shop.store.writing() as session:
        valves = [good(session, shop, valve) for _ in range(2)]
        caps = [good(session, shop, cap) for _ in range(2)]
        usual = good(session, shop, shop.valve)
        fitted(session, shop, valves[0], "exhaust valve")
    for too_many in (valves[1], usual):
        with pytest.raises(Refused, match="takes 1 off"), shop.store.writing() as session:
            fitted(session, shop, too_many, "exhaust valve")
    with shop.store.writing() as session:
        fitted(session, shop, caps[0], "exhaust valve")
    with pytest.raises(Refused, match="takes 1 off"), shop.store.writing() as session:
        fitted(session, shop, caps[1], "exhaust valve")
    assert sitting_at(shop, "exhaust valve").keys() == {tag_of(shop, valves[0]), tag_of(shop, caps[0])}
    assert sound(shop)


def test_two_lines_share_a_station_and_each_takes_its_own(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        inner = catalogue.add_part(session, NewPart(1, "Inner spring", Tracking.BATCH), shop.by())
        line = NewKitLine(shop.linnet, "cylinder", 5, "exhaust springs", inner, 1)
        catalogue.add_kit_line(session, line, shop.by())
        outer_springs = good(session, shop, shop.spring, quantity=6)
        inner_springs = good(session, shop, inner, quantity=6)
        fitted(session, shop, outer_springs, "exhaust springs", quantity=2)
        fitted(session, shop, inner_springs, "exhaust springs")
    for thing in (outer_springs, inner_springs):
        with pytest.raises(Refused, match="takes"), shop.store.writing() as session:
            fitted(session, shop, thing, "exhaust springs")
    assert sitting_at(shop, "exhaust springs") == {
        tag_of(shop, outer_springs): 2,
        tag_of(shop, inner_springs): 1,
    }


def test_the_wrong_part_is_refused_with_the_rule_and_no_licence_helps(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel = good(session, shop, shop.barrel)
    with pytest.raises(Refused, match="the kit list wants VX") as refused, shop.store.writing() as session:
        fitted(session, shop, barrel, "exhaust valve", override="It looks alike")
    assert "concession" in refused.value.remedy


@pytest.mark.parametrize(
    ("holds", "why"),
    [
        (Holds(positions="2,3"), "only for 2, 3, not 1"),
        (Holds(serial_from="L2000"), "L2000"),
        (Holds(from_on=TODAY + DAY), "2026-03-03"),
    ],
)
def test_a_stand_in_that_does_not_hold_here_is_refused_with_the_rule(
    shop: Shop, holds: Holds, why: str
) -> None:
    begin(shop)
    with shop.store.writing() as session:
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), shop.by())
        allowed = NewStandIn(shop.valve, ((plain, 1),), "Leaflet 31", holds=holds)
        catalogue.add_stand_in(session, allowed, shop.by())
        valve = good(session, shop, plain)
    with pytest.raises(Refused) as refused, shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    assert "as a stand-in for VX" in refused.value.reason and why in refused.value.reason


def test_a_mod_makes_a_part_fit_and_another_unfit(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        mod = add_mod(shop, session, "E1203")
        new = catalogue.add_part(session, NewPart(1, "Exhaust valve, modified", Tracking.PIECE), shop.by())
        stand_in = NewStandIn(shop.valve, ((new, 1),), "E1203", holds=Holds(mod=mod, mod_embodied=True))
        catalogue.add_stand_in(session, stand_in, shop.by())
        valve = good(session, shop, new)
    with pytest.raises(Refused, match="E1203"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    with shop.store.writing() as session:
        embody(session, shop.engine, mod, shop.by())
        fitted(session, shop, valve, "exhaust valve")
    assert sound(shop)


def test_a_station_of_no_such_engine_is_refused(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session, pytest.raises(FieldRefused, match="no such station"):
        position = position_named(session, shop.engine, "1")
        fit(session, FitOrder(shop.engine, position, (Fit(99, valve),), METER), shop.by())


def test_a_reading_is_needed_and_what_ran_since_is_asked_for(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with pytest.raises(FieldRefused, match="isn't said what the meter"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=None)
    with pytest.raises(FieldRefused, match="below that"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=METER - 1)
    with pytest.raises(Asked, match="3.00 h since then are not logged"), shop.store.writing() as session:
        position = position_named(session, shop.engine, "1")
        seat = station(session, shop.engine, "exhaust valve")
        fit(session, FitOrder(shop.engine, position, (Fit(seat, valve),), METER + 3_00), shop.by())


def test_an_engine_without_a_meter_takes_no_reading(shop: Shop) -> None:
    begin(shop, reading=None)
    valve = stock(shop)["valves"][0]
    with pytest.raises(FieldRefused, match="has no meter"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=METER)
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=None)
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=1_00), shop.by())
        stripped(session, shop, valve, reading=None)
    assert served(shop, valve) == [(shop.engine, 1_00, 0, False)]


def test_an_engine_without_a_log_is_refused(shop: Shop) -> None:
    valve = stock(shop)["valves"][0]
    with pytest.raises(Refused, match="has not begun"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    begin(shop, on=TODAY)
    with pytest.raises(FieldRefused, match="began on"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)


def test_a_reading_between_two_lines_takes_the_use_of_the_later_one(shop: Shop) -> None:
    """What was logged as run on the ground stays so, however it is divided by a fitting between."""
    begin(shop)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        number = run(session, shop, METER + 10_00, use=RunningUse.GROUND)
        position = position_named(session, shop.engine, "1")
        seat = station(session, shop.engine, "exhaust valve")
    order = FitOrder(shop.engine, position, (Fit(seat, valve),), METER + 4_00)
    with pytest.raises(Asked, match=f"Entry {number} of {TODAY} says"), shop.store.writing() as session:
        fit(session, replace(order, use=RunningUse.FLIGHT), shop.by(LAST_WEEK))
    with shop.store.writing() as session:
        fit(session, order, shop.by(LAST_WEEK))
    assert served(shop, valve) == [(shop.engine, 0, -4_00, True)]
    with shop.store.reading() as session:
        assert log_at(session, shop.engine, TODAY).state.ran == Ran(Span(), Span(10_00, 10_00))
    assert sound(shop)


def test_a_piece_runs_what_its_engine_runs_while_it_is_in_it(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        run(session, shop, METER + 10_00)
        fitted(session, shop, valve, "exhaust valve", reading=METER + 10_00)
        run(session, shop, METER + 12_50)
        run(session, shop, METER + 13_00, use=RunningUse.GROUND)
    assert served(shop, valve) == [(shop.engine, -10_00, 0, True)]
    with shop.store.writing() as session:
        stripped(session, shop, valve, reading=METER + 14_00)
    assert served(shop, valve) == [(shop.engine, 3_50, 50, False)]
    state = state_of(shop, valve)
    assert (state.condition, state.used, state.where[0].name) == (Condition.UNINSPECTED, True, "Bench")
    assert sound(shop)


def test_a_life_used_up_in_one_engine_is_told_at_the_next(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", engine=shop.engine_two)
    shop.clock.instant += 200 * DAY
    with shop.store.writing() as session:
        run(session, shop, METER + 600_00, engine=shop.engine_two)
        stripped(session, shop, valve, engine=shop.engine_two, reading=METER + 600_00)
    with pytest.raises(Refused, match="life expired: 600.00 h of 600.00 h"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
