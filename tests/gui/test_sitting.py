"""Sitting at the window: whose name an entry carries, which day it is, and breaking off a long read."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import text

from gui.job import Job
from gui.sitting import Sitting
from invdb.acts.offers import people_here
from invdb.terms import Refused
from tests.gui.desk import Desk
from tests.shop import TODAY, Shop

# Counts for longer than anybody would wait, on either database.
ENDLESS = text(
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 2000000000)"
    " SELECT count(*) FROM n"
)


def test_an_act_is_by_whoever_has_said_who_they_are(shop: Shop) -> None:
    sitting = Sitting(shop.store)
    with pytest.raises(Refused, match="who is working"):
        sitting.by()
    sitting.person = shop.keeper
    assert sitting.by(TODAY, "late").person == shop.keeper


def test_the_day_is_that_of_the_shops_own_zone(shop: Shop) -> None:
    shop.clock.instant = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert Sitting(shop.store).today().day == 2
    assert Sitting(shop.store, zone=ZoneInfo("Europe/Berlin")).today().day == 3


def test_a_long_read_is_broken_off_and_the_store_serves_on(shop: Shop, desk: Desk) -> None:
    sitting = Sitting(shop.store)
    begun: list[None] = []

    def read(job: Job) -> int:
        with sitting.reading(job) as session:
            begun.append(None)
            return int(session.scalar(ENDLESS))

    job = desk.background.ask("count", read, lambda _count: pytest.fail("it came to an end"))
    desk.until(lambda: begun)
    # Asked again and again, since the first time may be before the database has begun to count.
    desk.until(lambda: job.ask_to_stop() and not desk.background.busy())
    assert desk.failures == []

    def people(job: Job) -> int:
        with sitting.reading(job) as session:
            return len(people_here(session))

    counted: list[int] = []
    desk.background.ask("people", people, counted.append)
    desk.until(lambda: counted)
    assert counted == [2]
