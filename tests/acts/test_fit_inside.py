"""Pieces fitted into others on the bench: from then on they ride along, and are judged with their holder."""

from __future__ import annotations

from datetime import timedelta

import pytest

from invdb.acts import catalogue
from invdb.acts import shop as shop_acts
from invdb.acts.catalogue import NewKitLine
from invdb.acts.fit import fit_pull
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.pull import issue
from invdb.acts.reverse import reverse
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.records.stock import PullLine
from invdb.terms import ConcessionOver, FieldRefused, Layout, Refused, Scope
from tests.engine_shop import (
    LONG_AGO,
    METER,
    barrel_with_valve,
    begin,
    came,
    conceded,
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
from tests.kit_shop import good, reserved, state_of, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def put_in(shop: Shop, holder: Thing, thing: Thing, name: str = "exhaust valve") -> InsideFit:
    """That a piece goes into another, at a station by its name."""
    with shop.store.reading() as session:
        seat = station(session, shop.engine, name)
    assert holder.piece is not None and thing.piece is not None
    return InsideFit(holder.piece, thing.piece, seat)


def test_a_valve_in_a_barrel_rides_along_and_fills_its_own_station(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fitted(session, shop, barrel, "barrel")
        run(session, shop, METER + 2_00)
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, valve): 1}
    assert served(shop, valve) == served(shop, barrel) == [(shop.engine, 0, 0, True)]
    with shop.store.writing() as session:
        other = good(session, shop, shop.valve)
    with pytest.raises(Refused, match=f"holds {tag_of(shop, valve)}"), shop.store.writing() as session:
        fitted(session, shop, other, "exhaust valve", reading=METER + 2_00)
    assert sound(shop)


def test_a_barrel_does_not_bring_a_second_valve_to_a_station(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, _ = barrel_with_valve(session, shop)
        there = good(session, shop, shop.valve)
        fitted(session, shop, there, "exhaust valve")
    with pytest.raises(Refused, match=f"holds {tag_of(shop, there)}"), shop.store.writing() as session:
        fitted(session, shop, barrel, "barrel")


def test_what_is_inside_is_judged_with_what_holds_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = good(session, shop, shop.barrel)
        lesser = good(session, shop, shop.valve, scope=Scope.GROUND_RUNNING)
        fit_inside(session, (put_in(shop, barrel, lesser),), shop.by())
    with (
        pytest.raises(Refused, match="accepted for ground running only") as refused,
        shop.store.writing() as session,
    ):
        fitted(session, shop, barrel, "barrel")
    assert f"{tag_of(shop, lesser)} can't be fitted inside {tag_of(shop, barrel)}" in refused.value.reason
    with shop.store.writing() as session:
        raise_hold(session, (Subject(piece=lesser.piece),), "a doubt", shop.by())
    with pytest.raises(Refused, match="on hold: a doubt"), shop.store.writing() as session:
        fitted(session, shop, barrel, "barrel", override="Good enough")
    with shop.store.writing() as session:
        conceded(session, shop, lesser, ConcessionOver.HOLD, on=TODAY)
        fitted(session, shop, barrel, "barrel", override="Good enough")
    assert sound(shop)


def test_a_part_that_no_kit_list_knows_there_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel, other = good(session, shop, shop.barrel), good(session, shop, shop.barrel)
    with pytest.raises(Refused, match="no exhaust valve of any Linnet"), shop.store.writing() as session:
        fit_inside(session, (put_in(shop, barrel, other),), shop.by())


def test_a_station_of_a_piece_takes_as_many_as_the_kit_list_asks_for(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        second = good(session, shop, shop.valve)
    holds = f"takes 1 at that station, and holds {tag_of(shop, valve)}"
    with pytest.raises(Refused, match=holds), shop.store.writing() as session:
        fit_inside(session, (put_in(shop, barrel, second),), shop.by())
    with shop.store.writing() as session:
        another = good(session, shop, shop.barrel)
        third = good(session, shop, shop.valve)
    both = (put_in(shop, another, second), put_in(shop, another, third))
    with pytest.raises(Refused, match="takes 1 at that station"), shop.store.writing() as session:
        fit_inside(session, both, shop.by())


def test_nothing_goes_into_itself_or_into_what_is_in_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        line = NewKitLine(shop.linnet, "cylinder", 6, "exhaust valve", shop.barrel, 1)
        catalogue.add_kit_line(session, line, shop.by())
        one, two = good(session, shop, shop.barrel), good(session, shop, shop.barrel)
    with pytest.raises(Refused, match="into itself"), shop.store.writing() as session:
        fit_inside(session, (put_in(shop, one, one),), shop.by())
    with shop.store.writing() as session:
        fit_inside(session, (put_in(shop, one, two),), shop.by())
    with pytest.raises(Refused, match="Bring it to the bench"), shop.store.writing() as session:
        fit_inside(session, (put_in(shop, two, one),), shop.by())
    assert sound(shop)


def test_what_may_not_be_taken_up_is_not_put_into_anything(shop: Shop) -> None:
    begin(shop)
    booked = stock(shop)["valves"][0]
    reserved(shop, "2")
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        out, held, caged, in_it, fine = (good(session, shop, shop.valve) for _ in range(5))
        move(session, (Shift(out),), shop.works, shop.by())
        raise_hold(session, (Subject(piece=held.piece),), "a doubt", shop.by())
        move(session, (Shift(caged),), shop.quarantine, shop.by())
        fitted(session, shop, in_it, "exhaust valve")
    for thing, why in (
        (out, "is in At Brackwater"),
        (held, "on hold: a doubt"),
        (caged, "in quarantine"),
        (in_it, "strip it if it is fitted"),
        (booked, "reserved for pull"),
    ):
        with pytest.raises(Refused, match=why), shop.store.writing() as session:
            fit_inside(session, (put_in(shop, barrel, thing),), shop.by())
    with shop.store.writing() as session:
        fit_inside(session, (put_in(shop, barrel, fine),), shop.by())
    assert sound(shop)


def test_nothing_is_put_into_what_is_in_an_engine(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = came(session, shop, shop.barrel)
        valve = came(session, shop, shop.valve)
        fitted(session, shop, barrel, "barrel", on=LAST_WEEK)
    with pytest.raises(Refused, match="strip it if it is fitted"), shop.store.writing() as session:
        fit_inside(session, (put_in(shop, barrel, valve),), shop.by())
    with shop.store.writing() as session:
        number = stripped(session, shop, barrel, on=LAST_WEEK + 3 * DAY).entry
    # It is on the bench now, and was in the engine then.
    with (
        pytest.raises(FieldRefused, match=f"by entry {number} of {LAST_WEEK + 3 * DAY}"),
        shop.store.writing() as session,
    ):
        fit_inside(session, (put_in(shop, barrel, valve),), shop.by(LAST_WEEK + DAY))


def test_a_barrel_is_not_fitted_on_a_day_before_its_valve_was_put_in(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, _ = barrel_with_valve(session, shop, on=LAST_WEEK)
    with (
        pytest.raises(Refused, match=f"of {LAST_WEEK} stands in the way: it changed what is inside"),
        shop.store.writing() as session,
    ):
        fitted(session, shop, barrel, "barrel", on=LAST_WEEK - DAY)
    with shop.store.writing() as session:
        fitted(session, shop, barrel, "barrel", on=LAST_WEEK)
    assert sound(shop)


def test_a_fit_is_not_undone_while_what_was_fitted_has_been_opened_in_the_engine(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        fit = fitted(session, shop, barrel, "barrel")
        opened = stripped(session, shop, valve).entry
    why = f"Entry {opened} .*stands in the way: it changed what is inside {tag_of(shop, barrel)}"
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        reverse(session, fit, "Not fitted", shop.by())
    with shop.store.writing() as session:
        reverse(session, opened, "Not opened", shop.by())
        reverse(session, fit, "Not fitted", shop.by())
    assert served(shop, valve) == []
    assert sound(shop)


def test_a_piece_of_a_pull_that_went_into_another_counts_as_fitted_and_rides_along(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = good(session, shop, shop.barrel)
    valve = stock(shop)["valves"][0]
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        issue(session, pull.pull, shop.by())
        fit_inside(session, (put_in(shop, barrel, valve),), shop.by())
        fit_pull(session, pull.pull, METER, shop.by())
        lines = session.query(PullLine).filter(PullLine.pull_id == pull.pull).all()
        assert all(line.fitted == line.returned == line.issued for line in lines)
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, valve): 1}
    assert sitting_at(shop, "barrel") == {tag_of(shop, barrel): 1}
    assert sound(shop)


def test_what_comes_out_of_a_piece_on_the_bench_is_uninspected_and_no_more_used_than_before(
    shop: Shop,
) -> None:
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop)
        strip(session, StripOrder(None, (Strip(valve, "untouched", shop.bench),)), shop.by())
    state = state_of(shop, valve)
    assert (state.condition, state.used, state.where[0].name) == (state.condition, False, "Bench")
    assert state.scope is None
    assert state_of(shop, barrel).scope is Scope.FLIGHT
    assert served(shop, valve) == []
    assert sound(shop)


def test_a_station_named_alike_on_another_type_is_no_station_of_this_engine(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        by = shop.by()
        positions = (shop_acts.NewPosition("1", 0, 0, 0),)
        stations = tuple(shop_acts.NewStation(name, 0, 0) for name in ("exhaust valve", "barrel"))
        twelve = shop_acts.add_engine_type(
            session, shop_acts.NewEngineType("Twelve", Layout.VEE, positions=positions, stations=stations), by
        )
        for name, part in (("exhaust valve", shop.valve), ("barrel", shop.barrel)):
            catalogue.add_kit_line(session, NewKitLine(twelve, "cylinder", 1, name, part, 1), by)
        engine = shop_acts.NewEngine(twelve, "T1", "Twelve One", Scope.FLIGHT, shop.workshop)
        other = shop_acts.add_engine(session, engine, by)
        add_barrel_station(shop, session)
        barrel, valve = good(session, shop, shop.barrel), good(session, shop, shop.valve)
        seat = station(session, other, "exhaust valve")
        fit_inside(session, (InsideFit(barrel.piece or 0, valve.piece or 0, seat),), by)
    with (
        pytest.raises(Refused, match="exhaust valve of a Twelve cylinder, which this is not"),
        shop.store.writing() as session,
    ):
        fitted(session, shop, barrel, "barrel")
    # Taken out and put in as a Linnet's, at a station of the same name, it may go in.
    with shop.store.writing() as session:
        strip(session, StripOrder(None, (Strip(valve, "fine", shop.bench),)), shop.by())
        fit_inside(session, (put_in(shop, barrel, valve),), shop.by())
        fitted(session, shop, barrel, "barrel", override="Only moved within the barrel")
    assert sound(shop)


def test_a_late_fit_inside_counts_from_the_day_on_which_the_holder_was_fitted(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = barrel_with_valve(session, shop, on=LONG_AGO + DAY)
        fitted(session, shop, barrel, "barrel", on=LAST_WEEK)
        run(session, shop, METER + 3_00)
        stripped(session, shop, barrel, reading=METER + 3_00)
    assert served(shop, valve) == [(shop.engine, 3_00, 0, False)]
