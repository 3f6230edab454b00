"""Fittings told late or undone, what may be done to what is fitted, and two mechanics at one station."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, position_named
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.acts.split import Share, split
from invdb.records.stock import Piece, PullLine
from invdb.terms import (
    Condition,
    FieldRefused,
    HoursKnown,
    PriorLife,
    Refused,
    RunningUse,
    Scope,
)
from tests.engine_shop import (
    LONG_AGO,
    METER,
    begin,
    came,
    fitted,
    issued,
    last_entry,
    run,
    served,
    sitting_at,
    sound,
    station,
    stripped,
    tag_of,
)
from tests.kit_shop import CHECKS, state_of, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY
USED = PriorLife(HoursKnown.EXACT, 605_00, 605_00)


def test_a_fit_before_the_piece_arrived_is_refused_with_the_entry_that_brought_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve, springs = came(session, shop, shop.valve), came(session, shop, shop.spring, quantity=6)
        move(session, (Shift(valve), Shift(springs, 4)), shop.bin_b, shop.by(LAST_WEEK))
        moved = last_entry(session)
    for on in (LONG_AGO - DAY, LONG_AGO, LAST_WEEK - DAY):
        with (
            pytest.raises(FieldRefused, match=f"by entry {moved} of {LAST_WEEK}, after {on}"),
            shop.store.writing() as session,
        ):
            fitted(session, shop, valve, "exhaust valve", on=on)
    with (
        pytest.raises(FieldRefused, match=f"0 off .* entry {moved} of {LAST_WEEK} brought more"),
        shop.store.writing() as session,
    ):
        fit_from(session, shop, springs, shop.bin_b, LAST_WEEK - DAY)
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        fit_from(session, shop, springs, shop.bin_b, LAST_WEEK)
    assert sound(shop)


def fit_from(session: Session, shop: Shop, springs: Thing, place: int, on: date) -> None:
    position = position_named(session, shop.engine, "1")
    one = Fit(station(session, shop.engine, "exhaust springs"), springs, 2, place)
    fit(session, FitOrder(shop.engine, position, (one,), METER), shop.by(on))


def test_a_fit_before_the_piece_was_accepted_is_a_fit_uninspected(shop: Shop) -> None:
    begin(shop, shop.engine_two)
    with shop.store.writing() as session:
        thing = Thing(piece=shop.piece(session, on=LONG_AGO))
        checked = Acceptance((thing,), Scope.GROUND_RUNNING, CHECKS, override="No papers yet")
        accept(session, checked, shop.by(LAST_WEEK))
    with pytest.raises(Refused, match=f"accepted only on {LAST_WEEK}"), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", on=LAST_WEEK - DAY, engine=shop.engine_two)
    with shop.store.writing() as session:
        fitted(
            session,
            shop,
            thing,
            "exhaust valve",
            override="Seen by then",
            on=LAST_WEEK - DAY,
            engine=shop.engine_two,
        )
    assert sound(shop)


def test_no_two_at_one_station_on_any_past_day(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        there, later, late = (came(session, shop, shop.valve) for _ in range(3))
        fitted(session, shop, there, "exhaust valve", on=LAST_WEEK)
        stripped(session, shop, there, on=LAST_WEEK + 2 * DAY)
        number = fitted(session, shop, later, "exhaust valve", on=LAST_WEEK + 4 * DAY)
    # On that day another was there.
    with pytest.raises(Refused, match=f"holds {tag_of(shop, there)}"), shop.store.writing() as session:
        fitted(session, shop, late, "exhaust valve", on=LAST_WEEK + DAY)
    # The station was empty, and will be filled by what is in it now.
    for day in (LAST_WEEK - DAY, LAST_WEEK + 3 * DAY):
        with pytest.raises(Refused, match="stands in the way: it put"), shop.store.writing() as session:
            fitted(session, shop, late, "exhaust valve", on=day)
    with (
        pytest.raises(Refused, match=f"Entry {number} of {LAST_WEEK + 4 * DAY} stands in the way"),
        shop.store.writing() as session,
    ):
        fitted(session, shop, late, "exhaust valve", on=LAST_WEEK + 3 * DAY)
    with shop.store.writing() as session:
        reverse(session, number, "It was the other one", shop.by())
        fitted(session, shop, late, "exhaust valve", on=LAST_WEEK + 3 * DAY)
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, late): 1}
    assert sound(shop)


def test_a_station_emptied_and_filled_on_one_day_may_be_told_in_either_order(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        old, new = came(session, shop, shop.valve), came(session, shop, shop.valve)
        fitted(session, shop, old, "exhaust valve", on=LAST_WEEK)
        stripped(session, shop, old, on=LAST_WEEK + 2 * DAY)
        fitted(session, shop, new, "exhaust valve", on=LAST_WEEK + 2 * DAY)
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, new): 1}
    assert sound(shop)


def test_a_late_run_lands_at_its_day_and_what_ran_then_follows(shop: Shop) -> None:
    begin(shop, reading=None)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=None, on=TODAY)
    shop.clock.instant += timedelta(days=10)
    with shop.store.writing() as session:
        stripped(session, shop, valve, reading=None)
    with shop.store.writing() as session:
        late = log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=2_00), shop.by(TODAY + 3 * DAY))
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=1_00), shop.by(TODAY - 3 * DAY))
    assert served(shop, valve) == [(shop.engine, 2_00, 0, False)]
    with shop.store.writing() as session:
        reverse(session, late, "flown by another engine", shop.by())
    assert served(shop, valve) == [(shop.engine, 0, 0, False)]
    assert sound(shop)


def test_reversing_a_fit_takes_it_out_again(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        number = fitted(session, shop, valve, "exhaust valve", reading=METER + 1_00)
        run(session, shop, METER + 5_00)
        reverse(session, number, "Fitted in the other engine", shop.by())
    assert served(shop, valve) == []
    assert state_of(shop, valve).where[0].name == "A-01-01"
    assert sound(shop)
    with shop.store.reading() as session:
        assert session.scalar(select(Piece.used).where(Piece.id == valve.piece)) is False


def test_reversing_the_fit_of_a_pull_puts_the_kit_back_on_it(shop: Shop) -> None:
    begin(shop)
    stock(shop)
    pull = issued(shop)
    with shop.store.writing() as session:
        number = fit_pull(session, pull, METER, shop.by())
        reverse(session, number, "The other engine", shop.by())
        lines = session.scalars(select(PullLine).where(PullLine.pull_id == pull)).all()
        assert {(line.returned, line.fitted) for line in lines} == {(0, 0)}
        fit_pull(session, pull, METER, shop.by())
    assert sound(shop)


def test_what_something_was_fitted_by_is_not_undone(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        thing = Thing(piece=shop.piece(session))
        accepted = accept(session, Acceptance((thing,), Scope.FLIGHT, CHECKS, override="seen"), shop.by())
        number = fitted(session, shop, thing, "exhaust valve")
    with (
        pytest.raises(Refused, match=f"Entry {number} .*fitted.* stands in the way"),
        shop.store.writing() as session,
    ):
        reverse(session, accepted, "Not looked at", shop.by())


def test_what_is_fitted_is_not_moved_split_or_given_another_place_by_hand(shop: Shop) -> None:
    begin(shop)
    things = stock(shop)
    valve, springs = things["valves"][0], things["springs"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        fitted(session, shop, springs, "exhaust springs", quantity=2)
    seat = next(where.place for where in state_of(shop, springs).where if "Linnet" in where.name)
    shares = (Share(1, Condition.UNINSPECTED, to_place=shop.bin_a),)
    acts = (
        lambda session: move(session, (Shift(valve),), shop.bin_a, shop.by()),
        lambda session: move(session, (Shift(springs, 1, seat),), shop.bin_b, shop.by()),
        lambda session: split(session, springs.batch or 0, seat, shares, shop.by()),
        lambda session: accept(
            session, Acceptance((valve,), Scope.GROUND_RUNNING, to_place=shop.bin_a), shop.by()
        ),
        lambda session: set_condition(
            session, (valve,), Condition.UNSALVAGEABLE, "cracked", shop.by(), shop.scrap
        ),
    )
    for act in acts:
        with (
            pytest.raises(Refused, match="isn't moved from there by hand") as refused,
            shop.store.writing() as session,
        ):
            act(session)
        assert refused.value.remedy == "Strip it first."
    with pytest.raises(Refused, match="may not lie among stock"), shop.store.writing() as session:
        set_condition(session, (valve,), Condition.UNSALVAGEABLE, "cracked", shop.by())
    assert sound(shop)


def test_a_hold_and_a_worse_condition_reach_what_is_fitted(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        raise_hold(session, (Subject(piece=valve.piece),), "same melt as a broken one", shop.by())
        set_condition(session, (valve,), Condition.UNSERVICEABLE, "leaks", shop.by())
        stripped(session, shop, valve)
    state = state_of(shop, valve)
    assert state.holds == ("same melt as a broken one",)
    # Stripped as uninspected: nobody found it better than it was.
    assert state.condition is Condition.UNSERVICEABLE
    assert sound(shop)


def test_two_mechanics_at_one_station_and_one_is_told_what_is_there(shop: Shop) -> None:
    begin(shop)
    valves = stock(shop, valves=2)["valves"]
    barrier = Barrier(2)

    def fit_one(thing: Thing) -> str:
        barrier.wait()
        try:
            with shop.store.writing() as session:
                fitted(session, shop, thing, "exhaust valve")
        except Refused as refused:
            return refused.reason
        return ""

    with ThreadPoolExecutor(2) as pool:
        told = list(pool.map(fit_one, valves))
    first = valves[told.index("")]
    assert sorted(told)[1].endswith(f"takes 1 off, and holds {tag_of(shop, first)}.")
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, first): 1}
    assert sound(shop)


def test_engines_with_a_meter_each_are_logged_each_by_its_own(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(METER), shop.by(LONG_AGO))
        begin_log(session, shop.engine_two, LogBegin(5_00), shop.by(LONG_AGO))
        valve = came(session, shop, shop.valve)
        fitted(session, shop, valve, "exhaust valve", engine=shop.engine_two, reading=5_00)
        run(session, shop, METER + 50_00)
        run(session, shop, 7_00, engine=shop.engine_two)
        stripped(session, shop, valve, engine=shop.engine_two, reading=7_00)
    assert served(shop, valve) == [(shop.engine_two, 2_00, 0, False)]
