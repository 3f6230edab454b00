"""The log of an engine: begun, run, its meter changed; late, lower and absurd readings; and undone again."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.check import check_store
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, MeterChange, Run, begin_log, change_meter, log_at, log_run
from invdb.rules.running import NOTHING, Ran, Span
from invdb.terms import (
    NO_PRIOR_LIFE,
    Asked,
    FieldRefused,
    HoursKnown,
    PriorLife,
    Refused,
    RunningUse,
)
from tests.engine_shop import (
    METER,
    begin,
    fitted,
    run,
    served,
    sound,
    stripped,
)
from tests.kit_shop import stock
from tests.shop import BEGUN_ON, TODAY, Shop

FLIGHT, GROUND = RunningUse
DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def log(shop: Shop, on: date = TODAY) -> Ran:
    """All that Linnet One ran since its log began, by a day."""
    with shop.store.reading() as session:
        return log_at(session, shop.engine, on).state.ran


def hours(flight: int, ground: int = 0, starts: int = 0) -> Ran:
    return Ran(Span(flight, flight), Span(ground, ground), Span(starts, starts))


def by_hand(session: Session, shop: Shop, amount: int, on: date, starts: int = 0) -> int:
    return log_run(session, shop.engine, Run(FLIGHT, hours=amount, starts=starts), shop.by(on), sure=True)


def test_flight_and_ground_are_added_up_apart_with_their_starts(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 2_50, starts=3)
        run(session, shop, METER + 3_00, use=GROUND, starts=1)
        run(session, shop, METER + 4_25)
    assert log(shop) == hours(3_75, 50, 4)
    assert sound(shop)


def test_a_log_begins_once(shop: Shop) -> None:
    begin(shop)
    with pytest.raises(Refused, match="began on 2025-01-06 with entry"), shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(0), shop.by())


def test_nothing_is_logged_before_the_log_begins(shop: Shop) -> None:
    with pytest.raises(Refused, match="has not begun"), shop.store.writing() as session:
        run(session, shop, METER)
    begin(shop, on=LAST_WEEK)
    with pytest.raises(FieldRefused, match=f"began on {LAST_WEEK}"), shop.store.writing() as session:
        run(session, shop, METER, on=LAST_WEEK - DAY)


def test_figures_that_can_not_be_are_refused(shop: Shop) -> None:
    between = PriorLife(HoursKnown.BETWEEN, 50_00, 40_00)
    for wrong in (LogBegin(-1), LogBegin(0, between), LogBegin(0, PriorLife(HoursKnown.EXACT, -5, -5))):
        with pytest.raises(FieldRefused), shop.store.writing() as session:
            begin_log(session, shop.engine, wrong, shop.by())
    begin(shop)
    two = PriorLife(HoursKnown.EXACT, 1, 2)
    with pytest.raises(FieldRefused, match="two figures"), shop.store.writing() as session:
        change_meter(session, shop.engine, MeterChange(0, METER, unread_starts=two), shop.by())
    for run_of in (Run(FLIGHT), Run(FLIGHT, METER, 1_00), Run(FLIGHT, METER, starts=-1)):
        with pytest.raises(FieldRefused), shop.store.writing() as session:
            log_run(session, shop.engine, run_of, shop.by())


def test_a_reading_below_the_last_is_refused_with_the_entry_before(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        number = run(session, shop, METER + 10_00)
        with pytest.raises(FieldRefused, match=rf"1010.00 h .* \(entry {number}\)") as refused:
            run(session, shop, METER + 9_99)
    assert "meter was changed" in refused.value.remedy
    assert log(shop) == hours(10_00)


def test_more_than_eight_hours_a_day_is_asked_about_and_more_than_there_are_is_refused(shop: Shop) -> None:
    begin(shop, on=TODAY)
    long = Run(FLIGHT, METER + 8_01)
    with shop.store.writing() as session:
        with pytest.raises(Asked, match="more than 8 hours a day"):
            log_run(session, shop.engine, long, shop.by())
        log_run(session, shop.engine, long, shop.by(), sure=True)
        with pytest.raises(FieldRefused, match="only 24 hours"):
            log_run(session, shop.engine, Run(FLIGHT, METER + 40_00), shop.by(), sure=True)


def test_a_day_has_24_hours_however_often_it_is_logged(shop: Shop) -> None:
    begin(shop, on=TODAY)
    with shop.store.writing() as session:
        run(session, shop, METER + 20_00)
        with pytest.raises(FieldRefused, match="28.00 h can't have been run"):
            run(session, shop, METER + 28_00)
        run(session, shop, METER + 24_00)
    assert log(shop) == hours(24_00)


def test_very_many_starts_are_asked_about(shop: Shop) -> None:
    begin(shop, on=TODAY)
    many = Run(FLIGHT, METER + 1_00, starts=31)
    with shop.store.writing() as session:
        with pytest.raises(Asked, match="more than 30 a day"):
            log_run(session, shop.engine, many, shop.by())
        log_run(session, shop.engine, many, shop.by(), sure=True)


def test_an_engine_without_a_meter_is_logged_by_hand(shop: Shop) -> None:
    begin(shop, reading=None)
    with shop.store.writing() as session:
        by_hand(session, shop, 1_50, TODAY, starts=2)
        with pytest.raises(FieldRefused, match="has no meter") as refused:
            run(session, shop, METER)
        assert "change of meter" in refused.value.remedy
        # It was started, and did not run on.
        log_run(session, shop.engine, Run(GROUND, hours=0, starts=1), shop.by())
        with pytest.raises(FieldRefused, match="can't be run"):
            log_run(session, shop.engine, Run(GROUND, hours=0), shop.by())
    assert log(shop) == hours(1_50, 0, 3)
    assert sound(shop)


def test_hours_by_hand_beside_a_meter_are_asked_about(shop: Shop) -> None:
    begin(shop)
    beside = Run(GROUND, hours=50)
    with shop.store.writing() as session:
        with pytest.raises(Asked, match="has a meter, which read 1000.00 h"):
            log_run(session, shop.engine, beside, shop.by())
        log_run(session, shop.engine, beside, shop.by(), sure=True)
        run(session, shop, METER + 1_00)
    assert log(shop) == hours(1_00, 50)


def test_a_late_reading_takes_its_share_of_what_was_logged_later(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 10_00, starts=4)
        run(session, shop, METER + 3_00, on=LAST_WEEK, use=GROUND, starts=1)
    assert log(shop, LAST_WEEK) == hours(0, 3_00, 1)
    assert log(shop) == hours(7_00, 3_00, 5)
    assert sound(shop)


def test_a_late_reading_above_a_later_one_is_refused_with_that_entry(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        number = run(session, shop, METER + 10_00)
    with pytest.raises(Refused) as refused, shop.store.writing() as session:
        run(session, shop, METER + 11_00, on=LAST_WEEK)
    assert f"Entry {number} of {TODAY} stands in the way" in refused.value.reason
    assert "1010.00" in refused.value.reason and "1011.00" in refused.value.reason


def test_a_meter_changed_loses_nothing(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 5_00, on=LAST_WEEK)
        change_meter(session, shop.engine, MeterChange(12_00, METER + 6_00), shop.by())
        run(session, shop, 14_50)
    assert log(shop) == hours(8_50)
    assert sound(shop)


def test_a_broken_meter_and_a_lost_book_leave_a_range(shop: Shop) -> None:
    begin(shop)
    unread = PriorLife(HoursKnown.BETWEEN, 3_00, 9_00)
    starts = PriorLife(HoursKnown.AT_LEAST, 4)
    with shop.store.writing() as session:
        change_meter(session, shop.engine, MeterChange(0, unread=unread, unread_starts=starts), shop.by())
        run(session, shop, 2_00, starts=1)
    assert log(shop) == Ran(Span(5_00, 11_00), NOTHING, Span(5, 5, 1))
    assert sound(shop)


def test_what_ran_unread_is_asked_for_and_not_taken_for_nothing(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        with pytest.raises(Asked, match="isn't said what it ran since that read 1000.00 h"):
            change_meter(session, shop.engine, MeterChange(0), shop.by())
        change_meter(session, shop.engine, MeterChange(0), shop.by(), sure=True)
    assert log(shop) == hours(0)


def test_an_engine_gets_its_first_meter(shop: Shop) -> None:
    begin(shop, reading=None)
    with shop.store.writing() as session:
        by_hand(session, shop, 4_00, LAST_WEEK)
        with pytest.raises(FieldRefused, match="had no meter"):
            change_meter(session, shop.engine, MeterChange(0, old_reading=3_00), shop.by())
        change_meter(session, shop.engine, MeterChange(100_00), shop.by())
        run(session, shop, 101_25)
    assert log(shop) == hours(5_25)


def test_a_meter_changed_late_stands_before_the_readings_of_the_new_one(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        number = run(session, shop, METER + 10_00)
        # The later reading would be on a new meter that stood at nought, a thousand hours on.
        with pytest.raises(FieldRefused, match=f"Entry {number} of {TODAY} stands in the way"):
            change_meter(session, shop.engine, MeterChange(0, METER + 4_00), shop.by(LAST_WEEK))
        change_meter(session, shop.engine, MeterChange(METER + 5_00, METER + 4_00), shop.by(LAST_WEEK))
    assert log(shop) == hours(9_00)
    assert sound(shop)


def test_a_late_reading_does_not_count_twice_what_was_put_down_as_unread(shop: Shop) -> None:
    begin(shop)
    unread = PriorLife(HoursKnown.BETWEEN, 3_00, 9_00)
    with shop.store.writing() as session:
        number = change_meter(session, shop.engine, MeterChange(0, unread=unread), shop.by())
        with pytest.raises(FieldRefused, match=f"Entry {number} .* count twice"):
            run(session, shop, METER + 2_00, on=LAST_WEEK)
        # That it had not run by then takes nothing from it.
        run(session, shop, METER, on=LAST_WEEK)
    assert log(shop) == Ran(Span(3_00, 9_00))


def test_a_line_reversed_gives_its_hours_to_the_reading_after_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        first = run(session, shop, METER + 2_00, on=LAST_WEEK, use=GROUND, starts=1)
        run(session, shop, METER + 5_00)
        reverse(session, first, "Another engine's log", shop.by())
    assert log(shop) == hours(5_00)
    assert log(shop, LAST_WEEK) == hours(0)
    assert sound(shop)


def test_a_change_of_meter_that_readings_stand_on_is_not_reversed(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        changed = change_meter(session, shop.engine, MeterChange(0, METER + 1_00), shop.by(LAST_WEEK))
        later = run(session, shop, 4_00)
    with pytest.raises(Refused, match=f"Entry {later} of {TODAY} stands"), shop.store.writing() as session:
        reverse(session, changed, "It was not changed", shop.by())
    with shop.store.writing() as session:
        reverse(session, later, "Misread", shop.by())
        reverse(session, changed, "It was not changed", shop.by())
    assert log(shop) == hours(0)
    assert sound(shop)


def test_a_log_that_lines_stand_in_is_not_unmade(shop: Shop) -> None:
    begin(shop)
    begun = check_store(shop.store).entries
    with shop.store.writing() as session:
        line = run(session, shop, METER + 1_00)
    with pytest.raises(Refused, match=f"Entry {line} .* stands in the way"), shop.store.writing() as session:
        reverse(session, begun, "Begun for the wrong engine", shop.by())


def test_the_log_of_an_engine_that_something_is_in_is_not_unmade(shop: Shop) -> None:
    begin(shop, reading=None)
    begun = check_store(shop.store).entries
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        number = fitted(session, shop, valve, "exhaust valve", reading=None)
    with pytest.raises(Refused, match=f"Entry {number} .* no log"), shop.store.writing() as session:
        reverse(session, begun, "Begun for the wrong engine", shop.by())
    with shop.store.writing() as session:
        reverse(session, number, "Not fitted", shop.by())
        reverse(session, begun, "Begun for the wrong engine", shop.by())
    begin(shop, on=LAST_WEEK)
    assert log(shop) == hours(0)
    assert sound(shop)


def test_one_late_line_alone_reaches_what_came_out_since(shop: Shop) -> None:
    """Even where it is the last line of the log."""
    begin(shop, reading=None)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        by_hand(session, shop, 1_00, LAST_WEEK - DAY)
        fitted(session, shop, valve, "exhaust valve", reading=None, on=TODAY)
    shop.clock.instant += 10 * DAY
    with shop.store.writing() as session:
        stripped(session, shop, valve, reading=None)
    with shop.store.writing() as session:
        by_hand(session, shop, 2_00, TODAY + 3 * DAY)
    assert served(shop, valve) == [(shop.engine, 2_00, 0, False)]
    assert sound(shop)


def test_where_the_log_began_late_is_where_the_late_line_is_refused(shop: Shop) -> None:
    begin(shop, on=BEGUN_ON + 5 * DAY)
    with pytest.raises(FieldRefused, match="Give a date on or after"), shop.store.writing() as session:
        run(session, shop, METER + 1_00, on=BEGUN_ON)


def test_a_change_to_another_meter_at_once_is_no_doubt(shop: Shop) -> None:
    begin(shop)
    same = MeterChange(METER, METER, unread=NO_PRIOR_LIFE)
    with shop.store.writing() as session:
        change_meter(session, shop.engine, same, shop.by())
    assert log(shop) == hours(0)
