"""Home is where a piece last ran, until it is reworked."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.matching import CameOut, Home, home_of
from invdb.rules.points import Point

MAY = date(2025, 5, 1)
BARREL, VALVE = 1, 2
STATION = 7


def point(day: int, number: int | None = None) -> Point:
    return MAY + timedelta(days=day), day if number is None else number


def out(day: int, engine: int, position: int, station: int = STATION, mates: str = "") -> CameOut:
    return CameOut(point(day), station, engine, position, mates)


def test_what_ran_last_counts_with_its_mates() -> None:
    came = {BARREL: [out(9, 1, 4, mates="P0001, P0002"), out(3, 2, 2)]}
    assert home_of(BARREL, came, ()) == Home(1, 4, STATION, MAY + timedelta(days=9), ("P0001", "P0002"))


def test_what_never_ran_or_was_reworked_since_has_no_home() -> None:
    came = {BARREL: [out(3, 1, 4)]}
    assert home_of(VALVE, came, ()) is None
    assert home_of(BARREL, came, [point(4)]) is None
    assert home_of(BARREL, came, [point(2)]) is not None


def test_on_one_day_the_order_of_the_entries_decides() -> None:
    came = {BARREL: [out(3, 1, 4)]}
    assert home_of(BARREL, came, [(point(3)[0], 2)]) is not None
    assert home_of(BARREL, came, [(point(3)[0], 4)]) is None


def test_a_valve_taken_out_of_its_barrel_on_the_bench_goes_home_where_that_came_from() -> None:
    took_out = CameOut(point(8), STATION, holder=BARREL, held_since=point(0))
    came = {BARREL: [out(3, 1, 4, station=6)], VALVE: [took_out]}
    assert home_of(VALVE, came, ()) == Home(1, 4, STATION, MAY + timedelta(days=3))
    # Where the barrel ran after that is nothing to it.
    came[BARREL].append(out(20, 2, 2, station=6))
    assert home_of(VALVE, came, ()) == Home(1, 4, STATION, MAY + timedelta(days=3))
    assert home_of(VALVE, came, [point(5)]) is None


def test_a_valve_put_into_the_barrel_on_the_bench_never_ran_with_it() -> None:
    took_out = CameOut(point(8), STATION, holder=BARREL, held_since=point(5))
    assert home_of(VALVE, {BARREL: [out(3, 1, 4)], VALVE: [took_out]}, ()) is None
    loose = CameOut(point(8), STATION, holder=BARREL, held_since=point(0))
    assert home_of(VALVE, {VALVE: [loose]}, ()) is None


DAYS = st.integers(0, 400)


@given(
    st.lists(st.tuples(DAYS, st.integers(1, 3), st.integers(1, 9)), max_size=6), st.lists(DAYS, max_size=3)
)
def test_home_is_the_last_place_or_none(ran: list[tuple[int, int, int]], reworked: list[int]) -> None:
    came = [CameOut(point(day, 2 * at), STATION, engine, pos) for at, (day, engine, pos) in enumerate(ran)]
    points = [point(day, 2 * at + 1) for at, day in enumerate(reworked)]
    home = home_of(BARREL, {BARREL: came}, points)
    last = max((each.at for each in came), default=None)
    if last is None or any(each > last for each in points):
        assert home is None
    else:
        (where,) = [each for each in came if each.at == last]
        assert home == Home(where.engine or 0, where.position or 0, STATION, last[0])
