"""What is fitted in an engine: now, on a past day, and as was believed of that day."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.as_fitted import as_fitted, fitted_dates
from invdb.acts.catalogue import Holds, NewKitLine, NewPart
from invdb.acts.numbers import Thing
from invdb.acts.shop import draft_engine_mod
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.records.stock import Holding, Place
from invdb.rules.build import Build, BuiltStation
from invdb.terms import EntryKind, Refused, Tracking
from tests.fitted_shop import Bench, add_barrel_station, add_mod
from tests.shop import TODAY, Shop

MONDAY = date(2026, 2, 16)
TUESDAY, WEDNESDAY, THURSDAY = (MONDAY + timedelta(days=days) for days in (1, 2, 3))
EARLIER = date(2026, 2, 2)


@contextmanager
def working(shop: Shop) -> Iterator[Bench]:
    with shop.store.writing() as session:
        yield Bench(shop, session)


def station(build: Build, cylinder: str, name: str) -> BuiltStation:
    position = next(each for each in build.positions if each.name == cylinder)
    return next(each for each in position.stations if each.name == name)


def tags(build: Build, cylinder: str, name: str) -> list[str]:
    return [thing.tag for thing in station(build, cylinder, name).filling]


def believed_now(session: Session) -> datetime:
    """The instant of the last entry."""
    instant = session.scalars(select(LedgerHead.recorded_at)).one()
    assert instant is not None
    return instant


def valve(bench: Bench) -> Thing:
    return Thing(piece=bench.shop.piece(bench.session, on=EARLIER))


def springs(bench: Bench, quantity: int = 40) -> Thing:
    return Thing(batch=bench.shop.batch(bench.session, quantity, on=EARLIER))


def barrel(bench: Bench) -> Thing:
    return bench.shop.book_in(bench.session, bench.shop.barrel, pieces=1, on=EARLIER).things[0][0]


def test_an_engine_in_which_nothing_is_fitted_shows_what_is_wanted(shop: Shop) -> None:
    with shop.store.reading() as session:
        build = as_fitted(session, shop.engine)
    assert (build.engine_name, build.serial, build.engine_type, build.on) == (
        "Linnet One",
        "L1007",
        "Linnet",
        TODAY,
    )
    assert [position.name for position in build.positions] == list("1234567")
    wanted = station(build, "3", "exhaust springs")
    assert wanted.open and not wanted.filling
    assert [(line.part, line.quantity, line.renewed_always) for line in wanted.lines] == [
        (shop.spring, 2, False)
    ]


def test_a_valve_sits_where_it_was_fitted_since_that_entry(shop: Shop) -> None:
    with working(shop) as bench:
        fitted = valve(bench)
        number = bench.fit(fitted, "3", "exhaust valve", MONDAY)
        build = as_fitted(bench.session, shop.engine)
        (thing,) = station(build, "3", "exhaust valve").contents
        assert (thing.piece, thing.tag, thing.part) == (fitted.piece, bench.tag(fitted), shop.valve)
        assert (thing.since_on, thing.since_entry) == (MONDAY, number)
        assert not station(build, "3", "exhaust valve").open
        other = as_fitted(bench.session, shop.engine_two)
        assert station(other, "3", "exhaust valve").open


def test_on_a_past_day_it_is_what_was_fitted_at_the_end_of_that_day(shop: Shop) -> None:
    with working(shop) as bench:
        first, second = valve(bench), valve(bench)
        bench.fit(first, "3", "exhaust valve", MONDAY)
        bench.strip(first, WEDNESDAY)
        bench.fit(second, "3", "exhaust valve", WEDNESDAY)
        for day, expected in (
            (MONDAY - timedelta(days=1), []),
            (MONDAY, [bench.tag(first)]),
            (TUESDAY, [bench.tag(first)]),
            (WEDNESDAY, [bench.tag(second)]),
            (None, [bench.tag(second)]),
        ):
            assert tags(as_fitted(bench.session, shop.engine, day), "3", "exhaust valve") == expected


def test_what_is_fitted_in_a_barrel_rides_along_and_fills_its_own_station(shop: Shop) -> None:
    with working(shop) as bench:
        add_barrel_station(shop, bench.session)
        holder, inner, some = barrel(bench), valve(bench), springs(bench)
        assert holder.piece is not None
        bench.fit_inside(inner, holder.piece, "exhaust valve", MONDAY)
        bench.fit_inside(some, holder.piece, "exhaust springs", MONDAY, quantity=2)
        bench.fit(holder, "5", "barrel", TUESDAY)
        bench.strip(holder, THURSDAY)
        assert tags(as_fitted(bench.session, shop.engine, MONDAY), "5", "exhaust valve") == []
        for day, believed_at in ((TUESDAY, None), (WEDNESDAY, believed_now(bench.session))):
            build = as_fitted(bench.session, shop.engine, day, believed_at)
            (fitted,) = station(build, "5", "barrel").contents
            assert {thing.tag for thing in fitted.inside} == {bench.tag(inner), bench.tag(some)}
            (within,) = station(build, "5", "exhaust valve").within
            assert (within.tag, within.holder_tag) == (bench.tag(inner), bench.tag(holder))
            assert [thing.quantity for thing in station(build, "5", "exhaust springs").filling] == [2]
            assert station(build, "5", "exhaust valve").contents == ()
        assert tags(as_fitted(bench.session, shop.engine), "5", "exhaust valve") == []


def test_a_late_entry_changes_that_day_but_not_what_was_believed_of_it(shop: Shop) -> None:
    with working(shop) as bench:
        late = valve(bench)
        before = believed_now(bench.session)
        bench.fit(late, "1", "exhaust valve", MONDAY)
        session = bench.session
        assert tags(as_fitted(session, shop.engine, TUESDAY), "1", "exhaust valve") == [bench.tag(late)]
        assert tags(as_fitted(session, shop.engine, TUESDAY, before), "1", "exhaust valve") == []


def test_what_was_reversed_since_was_believed_before(shop: Shop) -> None:
    with working(shop) as bench:
        wrong, some = valve(bench), springs(bench)
        fitted = bench.fit(wrong, "1", "exhaust valve", MONDAY)
        in_batch = bench.fit(some, "1", "exhaust springs", MONDAY, quantity=2)
        before = believed_now(bench.session)
        bench.reverse(in_batch)
        bench.reverse(fitted)
        assert bench.session.scalars(select(Place.id).where(Place.position_id.is_not(None))).all() == []
        build = as_fitted(bench.session, shop.engine, TUESDAY)
        assert tags(build, "1", "exhaust valve") == tags(build, "1", "exhaust springs") == []
        build = as_fitted(bench.session, shop.engine, TUESDAY, before)
        assert tags(build, "1", "exhaust valve") == [bench.tag(wrong)]
        assert tags(build, "1", "exhaust springs") == [bench.tag(some)]


def test_some_of_a_batch_is_there_since_the_station_was_last_empty(shop: Shop) -> None:
    with working(shop) as bench:
        some = springs(bench)
        bench.fit(some, "2", "exhaust springs", MONDAY, quantity=2)
        seat = bench.session.scalars(
            select(Holding.place_id).where(Holding.batch_id == some.batch, Holding.quantity == 2)
        ).one()
        bench.strip(some, TUESDAY, quantity=2, from_place=seat)
        again = bench.fit(some, "2", "exhaust springs", WEDNESDAY, quantity=1)
        bench.fit(some, "2", "exhaust springs", THURSDAY, quantity=1)
        for day, believed_at in ((None, None), (THURSDAY, None), (THURSDAY, believed_now(bench.session))):
            build = as_fitted(bench.session, shop.engine, day, believed_at)
            (thing,) = station(build, "2", "exhaust springs").contents
            assert (thing.quantity, thing.since_on, thing.since_entry) == (2, WEDNESDAY, again)
        assert tags(as_fitted(bench.session, shop.engine, TUESDAY), "2", "exhaust springs") == []


def test_a_piece_that_turned_out_to_be_another_part_was_what_it_was_held_for_before(shop: Shop) -> None:
    with working(shop) as bench:
        odd = valve(bench)
        bench.fit(odd, "1", "exhaust valve", MONDAY)
        assert odd.piece is not None
        draft = shop.draft(WEDNESDAY)
        draft.set("piece", odd.piece, part_id=shop.barrel)
        post(bench.session, draft)
        parts = [
            station(as_fitted(bench.session, shop.engine, day), "1", "exhaust valve").contents[0].part
            for day in (TUESDAY, WEDNESDAY, None)
        ]
        assert parts == [shop.valve, shop.barrel, shop.barrel]


def presume(bench: Bench, cylinder: str, on: date) -> int:
    draft = bench.shop.draft(on, EntryKind.BUILD_TAKEN_OVER)
    presumption = draft.new(
        bench.session,
        "presumption",
        engine_id=bench.shop.engine,
        position_id=bench.position(cylinder),
        station_id=bench.station("exhaust valve"),
        kit_line_id=bench.shop.kit_valve,
        part_id=bench.shop.valve,
        quantity=1,
        presumed_on=on,
    )
    post(bench.session, draft)
    return presumption


def test_a_station_is_presumed_filled_until_it_is_stripped(shop: Shop) -> None:
    with working(shop) as bench:
        presumption = presume(bench, "4", MONDAY)
        before = believed_now(bench.session)
        draft = shop.draft(WEDNESDAY, EntryKind.STRIPPED)
        draft.set("presumption", presumption, ended_on=WEDNESDAY, found="nothing there")
        post(bench.session, draft)
        for day, believed_at, expected in (
            (MONDAY - timedelta(days=1), None, []),
            (TUESDAY, None, [presumption]),
            (WEDNESDAY, None, []),
            (None, None, []),
            (WEDNESDAY, before, [presumption]),
        ):
            at = station(as_fitted(bench.session, shop.engine, day, believed_at), "4", "exhaust valve")
            assert [each.presumption for each in at.presumed] == expected
            assert at.open is (not expected)
            assert all(each.part == shop.valve for each in at.presumed)


def test_what_was_robbed_is_owed_until_it_is_repaid(shop: Shop) -> None:
    with working(shop) as bench:
        robbed = valve(bench)
        draft = shop.draft(MONDAY, EntryKind.ROBBED)
        debt = draft.new(
            bench.session,
            "debt",
            engine_id=shop.engine,
            position_id=bench.position("6"),
            station_id=bench.station("exhaust valve"),
            part_id=shop.valve,
            piece_id=robbed.piece,
            for_engine_id=shop.engine_two,
            authorised_by=shop.inspector,
            owed_on=MONDAY,
        )
        post(bench.session, draft)
        (owed,) = station(as_fitted(bench.session, shop.engine), "6", "exhaust valve").owed
        assert (owed.debt, owed.tag, owed.for_engine) == (debt, bench.tag(robbed), "Linnet Two")
        draft = shop.draft(WEDNESDAY, EntryKind.FITTED)
        draft.set("debt", debt, repaid_on=WEDNESDAY)
        post(bench.session, draft)
        assert station(as_fitted(bench.session, shop.engine), "6", "exhaust valve").owed == ()
        assert station(as_fitted(bench.session, shop.engine, TUESDAY), "6", "exhaust valve").owed == (owed,)


def test_what_is_wanted_follows_the_mods_of_that_day(shop: Shop) -> None:
    with working(shop) as bench:
        session = bench.session
        by = shop.by(EARLIER)
        mod = add_mod(shop, session, "PN 14")
        inner = catalogue.add_part(session, NewPart(1, "Inner spring", Tracking.BATCH), by)
        catalogue.add_kit_line(
            session,
            NewKitLine(
                shop.linnet,
                "cylinder",
                9,
                "exhaust springs",
                inner,
                2,
                holds=Holds(mod=mod, mod_embodied=True),
            ),
            by,
        )
        draft = shop.draft(TUESDAY, EntryKind.MOD_STATE)
        draft_engine_mod(session, draft, shop.engine, mod, TUESDAY)
        before = believed_now(session)
        post(session, draft)
        for day, believed_at, mods in (
            (MONDAY, None, set()),
            (TUESDAY, None, {"PN 14"}),
            (None, None, {"PN 14"}),
            (TUESDAY, before, set()),
        ):
            build = as_fitted(session, shop.engine, day, believed_at)
            assert build.mods == mods
            wanted = [line.part for line in station(build, "1", "exhaust springs").lines]
            assert wanted == ([shop.spring, inner] if mods else [shop.spring])


def test_the_days_on_which_the_build_changed(shop: Shop) -> None:
    with working(shop) as bench:
        add_barrel_station(shop, bench.session)
        holder, inner, some, other = barrel(bench), valve(bench), springs(bench), valve(bench)
        assert holder.piece is not None
        bench.fit_inside(inner, holder.piece, "exhaust valve", EARLIER)
        bench.fit(holder, "5", "barrel", MONDAY)
        bench.fit(some, "5", "exhaust springs", TUESDAY, quantity=2)
        bench.strip(holder, THURSDAY)
        wrong = bench.fit(other, "1", "exhaust valve", WEDNESDAY)
        bench.reverse(wrong)
        assert fitted_dates(bench.session, shop.engine) == (MONDAY, TUESDAY, THURSDAY)
        presume(bench, "2", TODAY)
        assert fitted_dates(bench.session, shop.engine) == (MONDAY, TUESDAY, THURSDAY, TODAY)
        assert fitted_dates(bench.session, shop.engine_two) == ()


def test_an_engine_that_is_not_in_the_store_is_refused(shop: Shop) -> None:
    with shop.store.reading() as session:
        with pytest.raises(Refused, match="not in the store"):
            as_fitted(session, 999)
        with pytest.raises(Refused, match="not in the store"):
            fitted_dates(session, 999)


def test_stations_stand_in_the_makers_order_whether_a_kit_line_asks_for_them_or_not(shop: Shop) -> None:
    with working(shop) as bench:
        draft = shop.draft(kind=EntryKind.ENGINES)
        draft.new(
            bench.session,
            "station",
            engine_type_id=shop.linnet,
            group_name="cylinder",
            name="front plug",
            sequence=0,
            x_thousandths=0,
            y_thousandths=0,
        )
        post(bench.session, draft)
        (first, *_) = as_fitted(bench.session, shop.engine).positions
        assert [station.name for station in first.stations][:2] == ["front plug", "exhaust valve"]
