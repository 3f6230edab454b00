"""An engine event taints all that was inside; the doubt follows till an inspection named for it clears it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import event as sqlalchemy_event
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept
from invdb.acts.by import By
from invdb.acts.engine_event import NewEvent, clear_event, events_inside, open_event_ids, record_event
from invdb.acts.event_doubts import events_on
from invdb.acts.event_lines import events_of_engine
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.hold import Subject
from invdb.acts.numbers import Thing, thing_by_tag
from invdb.acts.pick_list import pick_list_of_pulls
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.pull import issue, order_of, reserve
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, begin_log
from invdb.acts.split import Share, split
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.things import things_by_id
from invdb.records.engines import Position, Station
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.terms import (
    Condition,
    EngineEventKind,
    EntryKind,
    FieldRefused,
    Refused,
    Scope,
)
from tests.doubts_shop import CAME, FITTED, inside, shift, springs, station, strip_some, valve
from tests.shop import TODAY, Shop

STRIKE = EngineEventKind.PROPELLER_STRIKE
STRUCK = TODAY - timedelta(days=30)
STRIPPED = TODAY - timedelta(days=20)
SEEN = TODAY - timedelta(days=10)
DOUBT = (
    f"inside Linnet One at the propeller strike of {STRUCK.isoformat()},"
    " and no inspection named for it has cleared it"
)


def strike(session: Session, shop: Shop, on: date = STRUCK, sure: bool = False) -> int:
    return record_event(session, NewEvent(shop.engine, STRIKE), shop.by(on), sure)


def tainting(session: Session, *things: Thing) -> list[list[int]]:
    """The events that taint each thing."""
    found = events_on(session, things)
    return [[each.event for each in found.get(thing, ())] for thing in things]


def test_all_that_was_inside_is_tainted_and_nothing_else(shop: Shop) -> None:
    with shop.store.writing() as session:
        fitted, gone, came_later, shelved, in_it = (valve(session, shop) for _ in range(5))
        place, other = station(session, shop, "exhaust valve"), station(session, shop, "exhaust valve", "1")
        shift(session, shop, gone, shop.bin_a, other, FITTED)
        shift(session, shop, gone, other, shop.bin_a, FITTED + timedelta(5))
        # One piece rides inside another.
        shop.move(session, in_it, shop.bin_a, inside(session, shop, fitted.piece or 0), on=CAME)
        shift(session, shop, fitted, shop.bin_a, place, FITTED)
        struck = strike(session, shop)
        shift(session, shop, came_later, shop.bin_a, other, STRIPPED)
        shift(session, shop, fitted, place, shop.bin_a, SEEN)
        assert tainting(session, fitted, in_it, gone, came_later, shelved) == [[struck], [struck], [], [], []]
        assert things_by_id(session, [fitted])[fitted].doubts == (DOUBT,)
        lines = events_of_engine(session, shop.engine)
        assert [line.words for line in lines] == [f"propeller strike of Linnet One on {STRUCK.isoformat()}"]
        assert {each.thing: each.where for each in lines[0].not_cleared} == {
            fitted: "Stores › A-01-01",
            in_it: f"Stores › A-01-01 › In piece {fitted.piece}",
        }


def test_on_the_day_itself_the_order_of_the_entries_tells(shop: Shop) -> None:
    with shop.store.writing() as session:
        before, later, out = (valve(session, shop) for _ in range(3))
        places = [station(session, shop, "exhaust valve", name) for name in ("1", "2", "3")]
        shift(session, shop, out, shop.bin_a, places[2], FITTED)
        shift(session, shop, before, shop.bin_a, places[0], STRUCK)
        number = shift(session, shop, out, places[2], shop.bin_a, STRUCK)
        with pytest.raises(Refused) as refused:
            strike(session, shop)
        assert refused.value.reason.endswith(
            f"came out of Linnet One on that very day, {STRUCK.isoformat()}, by entry {number}."
        )
        struck = strike(session, shop, sure=True)
        shift(session, shop, later, shop.bin_a, places[1], STRUCK)
        assert tainting(session, before, later, out) == [[struck], [], []]


def test_a_late_entry_counts_on_its_own_day(shop: Shop) -> None:
    with shop.store.writing() as session:
        fitted, out = valve(session, shop), valve(session, shop)
        first, second = (station(session, shop, "exhaust valve", name) for name in ("1", "2"))
        shift(session, shop, out, shop.bin_a, second, FITTED)
        struck = strike(session, shop)
        shift(session, shop, fitted, shop.bin_a, first, STRUCK - timedelta(1))
        number = shift(session, shop, out, second, shop.bin_a, STRUCK - timedelta(1))
        assert tainting(session, fitted, out) == [[struck], []]
        reverse(session, number, "it was the other valve", shop.by())
        assert tainting(session, fitted, out) == [[struck], [struck]]


def test_a_tainted_piece_goes_into_no_kit_until_an_inspection_clears_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = valve(session, shop)
        place = station(session, shop, "exhaust valve")
        shift(session, shop, thing, shop.bin_a, place, FITTED)
        struck = strike(session, shop)
        shift(session, shop, thing, place, shop.bin_a, STRIPPED)
        position = session.scalars(select(Position.id).where(Position.name == "5")).one()

        def valve_line() -> tuple[int, tuple[str, ...]]:
            (kit,) = propose(session, (Asked(shop.engine_two, position),)).kits
            line = next(each for each in kit.lines if each.kit_line == shop.kit_valve)
            return len(line.choices), tuple(bar for miss in line.misses for bar in miss.bars)

        assert valve_line() == (0, (DOUBT,))
        with pytest.raises(Refused) as refused:
            accept(session, Acceptance((thing,), Scope.GROUND_RUNNING), shop.by())
        assert DOUBT in refused.value.reason
        clear_event(session, struck, (Subject(piece=thing.piece),), "crack test, magnetic", shop.by(SEEN))
        assert valve_line() == (1, ())
        assert tainting(session, thing) == [[]]
        (line,) = events_of_engine(session, shop.engine)
        (tainted,) = line.things
        assert tainted.cleared is not None
        assert (tainted.cleared.on, tainted.cleared.by, tainted.cleared.inspection) == (
            SEEN,
            "Ada Farrow",
            "crack test, magnetic",
        )
        # As of the day before, it was not cleared yet.
        (line,) = events_of_engine(session, shop.engine, on=SEEN - timedelta(1))
        assert [each.cleared for each in line.things] == [None]
        assert events_of_engine(session, shop.engine, on=STRUCK - timedelta(1)) == ()


def test_what_is_reserved_already_is_not_issued_once_the_event_is_known(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = valve(session, shop)
        place = station(session, shop, "exhaust valve")
        shift(session, shop, thing, shop.bin_a, place, FITTED)
        shift(session, shop, thing, place, shop.bin_a, STRIPPED)
        position = session.scalars(select(Position.id).where(Position.name == "5")).one()
        (kit,) = propose(session, (Asked(shop.engine_two, position),)).kits
        (pull,) = reserve(session, (order_of(kit),), shop.by())
        strike(session, shop)
        with pytest.raises(Refused) as refused:
            issue(session, pull.pull, shop.by())
        assert DOUBT in refused.value.reason
        (row,) = pick_list_of_pulls(session, [pull.pull]).rows
        assert row.remarks == (DOUBT,)


def test_a_batch_carries_the_taint_of_what_came_out_and_hands_it_on(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = springs(session, shop)
        place, other = (
            station(session, shop, "exhaust springs"),
            station(session, shop, "exhaust springs", "1"),
        )
        shift(session, shop, Thing(batch=batch), shop.bin_a, place, FITTED, quantity=2)
        struck = strike(session, shop)
        shift(session, shop, Thing(batch=batch), shop.bin_a, other, STRUCK + timedelta(1), quantity=2)
        # The rest of the batch, on its shelf, is as good as it was; what is fitted is not.
        assert things_by_id(session, [Thing(batch=batch)])[Thing(batch=batch)].doubts == ()
        (event,) = events_on(session, [Thing(batch=batch)])[Thing(batch=batch)]
        assert event.fitted_only
        came_out = strip_some(session, shop, batch, place, STRIPPED)
        fitted_later = strip_some(session, shop, batch, other, STRIPPED)
        whole, out, later = Thing(batch=batch), Thing(batch=came_out), Thing(batch=fitted_later)
        assert tainting(session, whole, out, later) == [[], [struck], []]
        ((one, _),) = split(
            session, came_out, shop.bench, (Share(1, Condition.UNINSPECTED),), shop.by(STRIPPED)
        ).batches
        assert tainting(session, Thing(batch=one)) == [[struck]]
        clear_event(session, struck, (Subject(batch=came_out),), "load test", shop.by(SEEN))
        # What was split off before that inspection was not looked at by it; what is split off after was.
        ((two, _),) = split(
            session, came_out, shop.bench, (Share(1, Condition.UNINSPECTED),), shop.by(SEEN)
        ).batches
        assert tainting(session, out, Thing(batch=one), Thing(batch=two)) == [[], [struck], []]
        (line,) = events_of_engine(session, shop.engine)
        assert [each.thing.batch for each in line.not_cleared] == [one]


def test_an_event_recorded_late_finds_the_batches_that_came_out_since(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = springs(session, shop)
        first, second = (station(session, shop, "exhaust springs", name) for name in ("1", "2"))
        shift(session, shop, Thing(batch=batch), shop.bin_a, first, FITTED, quantity=2)
        came_out = strip_some(session, shop, batch, first, STRIPPED)
        shift(session, shop, Thing(batch=batch), shop.bin_a, second, STRIPPED, quantity=2)
        never = strip_some(session, shop, batch, second, SEEN)
        assert tainting(session, Thing(batch=came_out)) == [[]]
        struck = strike(session, shop)
        assert tainting(session, *(Thing(batch=each) for each in (batch, came_out, never))) == [
            [],
            [struck],
            [],
        ]


def test_springs_fitted_and_stripped_by_the_acts_themselves(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = springs(session, shop)
        begin_log(session, shop.engine, LogBegin(None), shop.by(CAME))
        seat = session.scalars(select(Station.id).where(Station.name == "exhaust springs")).one()
        for name in ("1", "2", "3"):
            position = session.scalars(select(Position.id).where(Position.name == name)).one()
            fits = (Fit(seat, Thing(batch=batch), 2, from_place=shop.bin_a),)
            fit(session, FitOrder(shop.engine, position, fits, None), shop.by(FITTED))
        places = [station(session, shop, "exhaust springs", name) for name in ("1", "2", "3")]

        def strip_two(place: int, on: date, scrapped: bool = False) -> tuple[str, ...]:
            to_place = shop.scrap if scrapped else shop.bench
            order = Strip(Thing(batch=batch), "worn", to_place, from_place=place, scrapped=scrapped)
            return strip(session, StripOrder(shop.engine, (order,)), shop.by(on)).new_tags

        (before,) = strip_two(places[0], STRIPPED)
        assert strip_two(places[1], STRIPPED, scrapped=True) == ()
        # It is only now that anybody says what happened; the rest of the batch never was in that engine.
        struck = strike(session, shop)
        (after,) = strip_two(places[2], SEEN)
        things = [Thing(batch=batch), thing_by_tag(session, before), thing_by_tag(session, after)]
        assert tainting(session, *things) == [[], [struck], [struck]]


def test_what_is_fitted_in_a_piece_is_tainted_with_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch, holder = springs(session, shop), valve(session, shop)
        place = station(session, shop, "exhaust valve")
        nest = inside(session, shop, holder.piece or 0)
        shop.move(session, Thing(batch=batch), shop.bin_a, nest, on=CAME, quantity=2)
        shift(session, shop, holder, shop.bin_a, place, FITTED)
        struck = strike(session, shop)
        shift(session, shop, holder, place, shop.bench, STRIPPED)
        (event,) = events_on(session, [Thing(batch=batch)])[Thing(batch=batch)]
        assert (event.event, event.fitted_only) == (struck, True)
        assert events_inside(session, batch, nest, SEEN) == [struck]
        came_out = strip_some(session, shop, batch, nest, SEEN)
        assert tainting(session, Thing(batch=batch), Thing(batch=came_out)) == [[], [struck]]


def test_what_was_presumed_at_its_station_was_inside(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = valve(session, shop)
        place = station(session, shop, "exhaust valve")
        where = session.execute(select(Place.position_id, Place.station_id).where(Place.id == place)).one()
        draft = shop.draft(FITTED, EntryKind.BUILD_TAKEN_OVER)
        presumption = draft.new(
            session,
            "presumption",
            engine_id=shop.engine,
            position_id=where.position_id,
            station_id=where.station_id,
            kit_line_id=shop.kit_valve,
            part_id=shop.valve,
            quantity=1,
            presumed_on=FITTED,
        )
        post(session, draft)
        struck = strike(session, shop)
        (line,) = events_of_engine(session, shop.engine)
        assert (line.things, line.presumed) == ((), 1)
        assert open_event_ids(session, shop.engine, STRIPPED, presumed_on=FITTED) == [struck]
        assert open_event_ids(session, shop.engine, STRIPPED, presumed_on=STRUCK + timedelta(1)) == []
        assert open_event_ids(session, shop.engine, STRUCK - timedelta(1)) == []
        draft = shop.draft(STRIPPED, EntryKind.STRIPPED)
        draft.set("presumption", presumption, ended_on=STRIPPED, piece_id=thing.piece, found="a valve")
        post(session, draft)
        assert tainting(session, thing) == [[struck]]
        (line,) = events_of_engine(session, shop.engine)
        assert ([each.thing for each in line.things], line.presumed) == ([thing], 0)
        (line,) = events_of_engine(session, shop.engine, STRIPPED - timedelta(1))
        assert (line.things, line.presumed) == ((), 1)


def test_only_a_licensed_person_clears_and_only_what_was_inside(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, shelved = valve(session, shop), valve(session, shop)
        shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve"), FITTED)
        struck = strike(session, shop)
        this = (Subject(piece=thing.piece),)
        tag = things_by_id(session, [shelved])[shelved].tag
        for subjects, inspection, by, reason in (
            (
                this,
                "crack test",
                By(shop.keeper),
                "Only a person with a licence number clears an engine event.",
            ),
            (this, "  ", shop.by(), "The inspection is not named."),
            ((), "crack test", shop.by(), "Nothing is named that would be cleared."),
            (
                this,
                "crack test",
                shop.by(STRUCK - timedelta(1)),
                f"The propeller strike of Linnet One on {STRUCK.isoformat()} was after"
                f" {(STRUCK - timedelta(1)).isoformat()}.",
            ),
            (
                (Subject(piece=shelved.piece),),
                "crack test",
                shop.by(),
                f"{tag} was not inside at the propeller strike of Linnet One on {STRUCK.isoformat()}.",
            ),
            (
                (Subject(engine=shop.engine_two),),
                "crack test",
                shop.by(),
                f"The propeller strike of Linnet One on {STRUCK.isoformat()} did not befall that engine.",
            ),
            ((Subject(part=shop.valve),), "crack test", shop.by(), "A part as such was in no engine."),
            ((Subject(piece=9999),), "crack test", shop.by(), "One of these is no longer in the store."),
        ):
            with pytest.raises(Refused) as refused:
                clear_event(session, struck, subjects, inspection, by)
            assert refused.value.reason == reason
        with pytest.raises(FieldRefused, match="That document is not in the store"):
            clear_event(session, struck, this, "crack test", shop.by(), document=99)
        with pytest.raises(Refused, match="There is no such engine event"):
            clear_event(session, 99, this, "crack test", shop.by())
        clear_event(session, struck, (*this, Subject(engine=shop.engine)), "crack test", shop.by())
        for subject in (*this, Subject(engine=shop.engine)):
            with pytest.raises(Refused, match=f"was cleared of .* on {TODAY.isoformat()} by Ada Farrow"):
                clear_event(session, struck, (subject,), "crack test", shop.by())
        (line,) = events_of_engine(session, shop.engine)
        assert line.cleared is not None
        assert line.not_cleared == ()


def test_an_event_is_refused_for_no_engine_and_in_the_future(shop: Shop) -> None:
    with shop.store.writing() as session:
        with pytest.raises(FieldRefused, match="That engine is not in the store"):
            record_event(session, NewEvent(99, STRIKE), shop.by())
        with pytest.raises(FieldRefused, match="in the future"):
            strike(session, shop, on=TODAY + timedelta(1))
        with pytest.raises(Refused, match="That engine is not in the store"):
            events_of_engine(session, 99)


def test_an_event_that_was_reversed_taints_nothing(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = valve(session, shop)
        shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve"), FITTED)
        strike(session, shop)
        number = session.scalars(select(LedgerHead.number)).one()
        reverse(session, number, "it was the other engine", shop.by())
        assert tainting(session, thing) == [[]]
        assert events_of_engine(session, shop.engine) == ()


def test_many_things_take_no_more_queries_than_few(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.valve, pieces=40, on=CAME)
        things = [thing for thing, _ in received.things]
        for position, thing in zip("1234567", things, strict=False):
            shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve", position), FITTED)
        struck = strike(session, shop)

    def queries(number: int) -> tuple[int, int]:
        asked: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
            asked.append(statement)

        sqlalchemy_event.listen(shop.store.engine, "before_cursor_execute", note)
        with shop.store.reading() as session:
            found = events_on(session, things[:number])
        sqlalchemy_event.remove(shop.store.engine, "before_cursor_execute", note)
        assert all([each.event for each in events] == [struck] for events in found.values())
        return len(found), len(asked)

    (one, few), (seven, many) = queries(1), queries(40)
    assert (one, seven) == (1, 7)
    assert few == many
