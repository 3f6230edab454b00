"""The log of an engine as a list, the days on which its build changed, and where its stations are drawn."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import select

from invdb.acts.build_days import BuildDay, build_days
from invdb.acts.engine_log import engine_log
from invdb.acts.numbers import Thing
from invdb.acts.presume import Unidentified, presume, strip_presumed
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, MeterChange, Run, begin_log, change_meter, log_run
from invdb.acts.station_list import stations_drawn
from invdb.records.builds import Presumption
from invdb.rules.running import Span
from invdb.terms import EntryKind, HoursKnown, LifeControl, PriorLife, Refused, RunningUse
from tests.fitted_shop import Bench
from tests.shop import TODAY, Shop

BEGAN = date(2025, 1, 7)
NOTHING_RUN = PriorLife(HoursKnown.EXACT, 0, 0)


def test_each_line_tells_what_it_added_and_late_ones_stand_in_their_place(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(100_00, NOTHING_RUN, NOTHING_RUN), shop.by(BEGAN))
        flown = Run(RunningUse.FLIGHT, 112_50, starts=4)
        log_run(session, shop.engine, flown, shop.by(date(2025, 5, 1), "to Saltby and back"))
        log_run(session, shop.engine, Run(RunningUse.GROUND, 104_00, starts=1), shop.by(date(2025, 3, 1)))
        unread = MeterChange(0, unread=PriorLife(HoursKnown.BETWEEN, 1_00, 3_00))
        change_meter(session, shop.engine, unread, shop.by(date(2025, 6, 1)))
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
    assert (log.begun_on, log.reading, log.meter) == (BEGAN, 100_00, 0)
    assert [(row.on.month, row.use, row.hours, row.starts.low) for row in log.rows] == [
        (3, RunningUse.GROUND, Span(4_00, 4_00), 1),
        (5, RunningUse.FLIGHT, Span(8_50, 8_50), 4),
        (6, RunningUse.FLIGHT, Span(1_00, 3_00), 0),
    ]
    assert log.rows[1].note == "to Saltby and back" and log.rows[1].who == "Ada Farrow"
    assert log.rows[-1].total.hours == Span(13_50, 15_50)
    assert log.rows[-1].kind is EntryKind.METER_CHANGED


def test_a_reversed_line_is_gone_from_the_log_and_every_later_total_follows(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(None, NOTHING_RUN, NOTHING_RUN), shop.by(BEGAN))
        first = log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=2_00), shop.by(date(2025, 3, 1)))
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=1_00), shop.by(date(2025, 4, 1)))
        reverse(session, first, "twice", shop.by())
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
        assert [row.total.hours.low for row in log.rows] == [1_00]
        assert log.meter is None
        other = engine_log(session, shop.engine_two)
        assert (other.begun_on, other.rows) == (None, ())
        with pytest.raises(Refused):
            engine_log(session, 999)


def test_the_days_on_which_a_build_changed_count_what_came_and_went(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        first, second = (shop.piece(session, on=date(2025, 2, 1)) for _ in range(2))
        begin_log(session, shop.engine, LogBegin(None, NOTHING_RUN, NOTHING_RUN), shop.by(BEGAN))
        bench.fit(Thing(piece=first), "1", "exhaust valve", date(2025, 3, 1))
        bench.fit(Thing(piece=second), "2", "exhaust valve", date(2025, 3, 1))
        bench.strip(Thing(piece=first), date(2025, 9, 1))
        presume(session, shop.engine, shop.by(), (bench.position("7"),))
    with shop.store.reading() as session:
        assert build_days(session, shop.engine) == (
            BuildDay(date(2025, 3, 1), fitted=2),
            BuildDay(date(2025, 9, 1), stripped=1),
            BuildDay(TODAY, presumed=3),
        )
        assert build_days(session, shop.engine_two) == ()


def test_the_stations_are_those_of_the_engines_own_type(shop: Shop) -> None:
    with shop.store.reading() as session:
        drawn = stations_drawn(session, shop.engine)
    assert [each.name for each in drawn.values()] == ["exhaust valve", "exhaust springs", "head joint"]
    assert all(each.station == key and each.group == "cylinder" for key, each in drawn.items())


def test_the_days_of_a_build_count_batches_and_what_was_found_at_presumed_stations(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        springs = shop.batch(session, 40, on=date(2025, 2, 1))
        begin_log(session, shop.engine, LogBegin(None, NOTHING_RUN, NOTHING_RUN), shop.by(BEGAN))
        seats = [("1", date(2025, 3, 1)), ("2", date(2025, 3, 1)), ("3", date(2025, 4, 1))]
        numbers = [bench.fit(Thing(batch=springs), at, "exhaust springs", on, quantity=2) for at, on in seats]
        bench.reverse(numbers[2])
        presume(session, shop.engine, shop.by(date(2025, 5, 1)), (bench.position("7"),))
        presumption = session.scalars(select(Presumption.id).where(Presumption.part_id == shop.valve)).one()
        find = Unidentified(presumption, "as it should be", shop.valve, shop.bench, control=LifeControl.TAG)
        strip_presumed(session, shop.engine, (find,), None, shop.by(date(2025, 6, 1)))
    with shop.store.reading() as session:
        assert build_days(session, shop.engine) == (
            BuildDay(date(2025, 3, 1), fitted=2),
            BuildDay(date(2025, 5, 1), presumed=3),
            BuildDay(date(2025, 6, 1), stripped=1),
        )
