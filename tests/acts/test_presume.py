"""Engines with no build record: stations presumed filled, unidentified, until stripping says with what."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_fitted import as_fitted
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.goods_in import NewPiece
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.numbers import position_named
from invdb.acts.presume import Unidentified, presume, strip_presumed
from invdb.acts.reverse import reverse
from invdb.records.builds import Presumption, Stripping
from invdb.records.stock import Batch, Piece
from invdb.terms import (
    Condition,
    EngineEventKind,
    FieldRefused,
    HoursKnown,
    LifeControl,
    LifeMeasure,
    Origin,
    PriorLife,
    Refused,
    RunningUse,
)
from tests.engine_shop import (
    LONG_AGO,
    METER,
    begin,
    came,
    fitted,
    last_entry,
    note_of,
    run,
    served,
    sitting_at,
    sound,
    station,
    stripped,
    tag_of,
)
from tests.kit_shop import state_of
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


def presumed_at(session: Session, shop: Shop, name: str, cylinder: str = "1") -> int:
    """What is presumed at a station of a cylinder."""
    position = position_named(session, shop.engine, cylinder)
    seat = station(session, shop.engine, name)
    return session.scalars(
        select(Presumption.id).where(Presumption.position_id == position, Presumption.station_id == seat)
    ).one()


def how_many_presumed(shop: Shop) -> int:
    with shop.store.reading() as session:
        build = as_fitted(session, shop.engine)
    return sum(len(seat.presumed) for position in build.positions for seat in position.stations)


def found_valve(presumption: int, shop: Shop, **more: object) -> Unidentified:
    said: dict[str, object] = {
        "part": shop.valve,
        "to_place": shop.bench,
        "control": LifeControl.TAG,
        **more,
    }
    return Unidentified(presumption, "coked up", **said)  # type: ignore[arg-type]


def test_every_station_that_nobody_knows_is_presumed_filled(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        known = came(session, shop, shop.valve)
        fitted(session, shop, known, "exhaust valve", cylinder="2")
        assert presume(session, shop.engine, shop.by()) == 7 * 3 - 1
        number = last_entry(session)
    assert how_many_presumed(shop) == 20
    assert "presumed, unidentified" in note_of(shop, number)
    with pytest.raises(Refused, match="known or presumed already"), shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
    assert sound(shop)


def test_some_cylinders_alone_are_presumed_and_no_others_are_made_up(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        three = position_named(session, shop.engine, "3")
        assert presume(session, shop.engine, shop.by(), (three,)) == 3
    with pytest.raises(Refused, match="no such position"), shop.store.writing() as session:
        presume(session, shop.engine, shop.by(), (999,))


def test_nothing_is_fitted_where_something_unseen_is_presumed(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        valve = came(session, shop, shop.valve)
        unseen = presumed_at(session, shop, "exhaust valve")
    with pytest.raises(Refused, match="presumed to hold something"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", override="It must be empty")
    with shop.store.writing() as session:
        made = strip_presumed(
            session, shop.engine, (Unidentified(unseen, "nothing there"),), METER, shop.by()
        )
        assert made.things == ()
        fitted(session, shop, valve, "exhaust valve")
    assert sitting_at(shop, "exhaust valve") == {tag_of(shop, valve): 1}
    assert sound(shop)


def test_stripping_makes_the_piece_which_ran_at_least_what_the_engine_did(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by(LAST_WEEK))
        run(session, shop, METER + 4_00)
        unseen = presumed_at(session, shop, "exhaust valve")
        find = found_valve(unseen, shop, serial="88", orientation="number down")
        made = strip_presumed(session, shop.engine, (find,), METER + 6_00, shop.by(), use=RunningUse.FLIGHT)
        ((thing, tag),) = made.things
        piece = session.get_one(Piece, thing.piece)
        assert (piece.tag, piece.serial, piece.used) == (tag, "88", True)
        assert (piece.origin, piece.donor_engine_id) == (Origin.SALVAGED, shop.engine)
        row = session.scalars(select(Stripping).where(Stripping.piece_id == thing.piece)).one()
        assert (row.found, row.orientation, row.control) == ("coked up", "number down", LifeControl.TAG)
    state = state_of(shop, thing)
    assert state.condition is Condition.UNINSPECTED and state.where[0].name == "Bench"
    assert state.run_hours == PriorLife(HoursKnown.AT_LEAST, 6_00)
    assert served(shop, thing) == []
    assert how_many_presumed(shop) == 20
    with pytest.raises(Refused, match="stripped already"), shop.store.writing() as session:
        strip_presumed(session, shop.engine, (find,), METER + 6_00, shop.by())
    assert sound(shop)


def test_the_part_may_turn_out_to_be_another_and_the_quantity_too(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        valve, springs = (presumed_at(session, shop, name) for name in ("exhaust valve", "exhaust springs"))
        finds = (
            Unidentified(valve, "a barrel, of all things", shop.barrel, shop.bench),
            Unidentified(springs, "one of two", shop.spring, shop.bench, quantity=1),
        )
        made = strip_presumed(session, shop.engine, finds, METER, shop.by())
        (barrel, _), (batch, _) = made.things
        assert session.get_one(Piece, barrel.piece).part_id == shop.barrel
        assert session.get_one(Batch, batch.batch).used
        ended = session.get_one(Presumption, springs, populate_existing=True)
        assert (ended.batch_id, ended.ended_on, ended.found) == (batch.batch, TODAY, "one of two")
    assert state_of(shop, batch).where[0].quantity == 1
    assert sound(shop)


def test_a_find_is_told_in_full(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        limit = NewLifeLimit(LifeMeasure.STARTS, 900, shop.barrel, shop.linnet, source="Leaflet 12")
        add_life_limit(session, limit, shop.by())
        presume(session, shop.engine, shop.by(LAST_WEEK))
        unseen = presumed_at(session, shop, "exhaust valve")
    uncontrolled = found_valve(unseen, shop, control=None)
    for wrong, why in (
        (Unidentified(unseen, " "), "isn't said how"),
        (found_valve(unseen, shop, part=999), "not in the catalogue"),
        (found_valve(unseen, shop, to_place=None), "where it goes"),
        (found_valve(unseen, shop, to_place=1), "within the workshop"),
        (found_valve(unseen, shop, condition=Condition.SERVICEABLE), "by being accepted"),
        (found_valve(unseen, shop, condition=Condition.UNSALVAGEABLE), "may not lie in Bench"),
        (found_valve(unseen, shop, quantity=2), "as one find"),
        (uncontrolled, "life-limited"),
        (found_valve(unseen, shop, part=shop.barrel, control=None), "life-limited"),
    ):
        with pytest.raises(FieldRefused, match=why), shop.store.writing() as session:
            strip_presumed(session, shop.engine, (wrong,), METER, shop.by())
    find = found_valve(unseen, shop)
    with (
        pytest.raises(FieldRefused, match=f"presumed there on {LAST_WEEK}"),
        shop.store.writing() as session,
    ):
        strip_presumed(session, shop.engine, (find,), METER, shop.by(LAST_WEEK - DAY))
    with pytest.raises(Refused, match="stripped already"), shop.store.writing() as session:
        strip_presumed(session, shop.engine, (find, find), METER, shop.by())
    with shop.store.writing() as session:
        known = came(session, shop, shop.valve, pieces=(NewPiece(serial="77"),))
    with (
        pytest.raises(FieldRefused, match=f"here already: {tag_of(shop, known)}"),
        shop.store.writing() as session,
    ):
        twin = found_valve(unseen, shop, serial="77")
        strip_presumed(session, shop.engine, (twin,), METER, shop.by())


def test_what_befell_the_engine_since_taints_what_is_found(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        record_event(session, NewEvent(shop.engine, EngineEventKind.OVERHEATING), shop.by(LONG_AGO))
        presume(session, shop.engine, shop.by(LAST_WEEK))
        record_event(session, NewEvent(shop.engine, EngineEventKind.OVERSPEED), shop.by(LAST_WEEK + DAY))
        names = ("exhaust valve", "exhaust springs")
        valve, springs = (presumed_at(session, shop, name) for name in names)
        finds = (found_valve(valve, shop), Unidentified(springs, "worn", shop.spring, shop.bench))
        things = [thing for thing, _ in strip_presumed(session, shop.engine, finds, METER, shop.by()).things]
    for thing in things:
        (doubt,) = state_of(shop, thing).doubts
        assert "overspeed" in doubt


def test_nothing_is_presumed_late_where_something_is_known_to_have_been_since(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        past, now = came(session, shop, shop.valve), came(session, shop, shop.valve)
        fitted(session, shop, past, "exhaust valve", cylinder="1", on=LAST_WEEK)
        stripped(session, shop, past, on=LAST_WEEK + DAY)
        fitted(session, shop, now, "exhaust valve", cylinder="2")
        assert presume(session, shop.engine, shop.by(LAST_WEEK - DAY)) == 21 - 2
    with shop.store.writing() as session:
        # Since it came out, who knows.
        one = position_named(session, shop.engine, "1")
        assert presume(session, shop.engine, shop.by(LAST_WEEK + 2 * DAY), (one,)) == 1
    assert sound(shop)


def test_a_presumption_is_not_restored_where_something_was_fitted_since(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        unseen = presumed_at(session, shop, "exhaust valve")
        empty = Unidentified(unseen, "nothing there")
        found = strip_presumed(session, shop.engine, (empty,), METER, shop.by()).entry
        valve = came(session, shop, shop.valve)
        number = fitted(session, shop, valve, "exhaust valve")
    why = f"Entry {number} of {TODAY} stands in the way: it put {tag_of(shop, valve)}"
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        reverse(session, found, "The other cylinder", shop.by())
    with shop.store.writing() as session:
        reverse(session, number, "The other cylinder", shop.by())
        reverse(session, found, "The other cylinder", shop.by())
    assert how_many_presumed(shop) == 21
    assert sound(shop)


def test_a_presumption_that_something_was_found_by_is_not_unmade(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        number = last_entry(session)
        unseen = presumed_at(session, shop, "exhaust valve")
        found = strip_presumed(session, shop.engine, (found_valve(unseen, shop),), METER, shop.by()).entry
    with pytest.raises(Refused, match=f"Entry {found} stands in the way"), shop.store.writing() as session:
        reverse(session, number, "There is a card after all", shop.by())
    with shop.store.writing() as session:
        reverse(session, found, "There is a card after all", shop.by())
        reverse(session, number, "There is a card after all", shop.by())
    assert how_many_presumed(shop) == 0
    assert sound(shop)
