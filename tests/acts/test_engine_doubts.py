"""Why an engine is not available: what is in doubt on it, and on anything inside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from sqlalchemy.orm import Session

from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_doubts import engine_doubts
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.engine_list import engines
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.numbers import Thing
from invdb.acts.things import things_by_id
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.terms import EngineEventKind, EntryKind, PlaceKind
from tests.doubts_shop import CAME, FITTED, begin_log, inside, run, shift, springs, station, valve
from tests.shop import TODAY, Shop

STRUCK = TODAY - timedelta(days=30)


def tag(session: Session, thing: Thing) -> str:
    return things_by_id(session, [thing])[thing].tag


def doubts(session: Session, engine: int) -> tuple[str, ...]:
    return engine_doubts(session, [engine]).get(engine, ())


def test_an_engine_with_nothing_in_doubt_has_none(shop: Shop) -> None:
    with shop.store.writing() as session:
        shift(
            session, shop, valve(session, shop), shop.bin_a, station(session, shop, "exhaust valve"), FITTED
        )
        assert engine_doubts(session, [shop.engine, shop.engine_two]) == {}
        assert [engine.doubts for engine in engines(session)] == [(), ()]


def test_a_hold_on_it_on_what_is_inside_or_on_its_part(shop: Shop) -> None:
    with shop.store.writing() as session:
        outer, inner, batch = valve(session, shop), valve(session, shop), springs(session, shop)
        nest = inside(session, shop, outer.piece or 0)
        shop.move(session, inner, shop.bin_a, nest, on=CAME)
        draft = shop.draft(CAME, EntryKind.PLACES)
        seat = draft.new(session, "place", kind=PlaceKind.STATION, name="springs in it", parent_id=nest)
        post(session, draft)
        shop.move(session, Thing(batch=batch), shop.bin_a, seat, on=CAME, quantity=2)
        shift(session, shop, outer, shop.bin_a, station(session, shop, "exhaust valve"), FITTED)
        names = sorted((tag(session, outer), tag(session, inner)))
        for subject, said in (
            (Subject(engine=shop.engine), "on hold: noise"),
            (Subject(piece=inner.piece), f"{tag(session, inner)} in it on hold: noise"),
            (Subject(batch=batch), f"{tag(session, Thing(batch=batch))} in it on hold: noise"),
            (Subject(part=shop.valve), f"{names[0]} and {names[1]} in it on hold: noise"),
            (Subject(part=shop.spring), f"{tag(session, Thing(batch=batch))} in it on hold: noise"),
        ):
            (hold,) = raise_hold(session, (subject,), "noise", shop.by())
            assert doubts(session, shop.engine) == (said,)
            assert doubts(session, shop.engine_two) == ()
            clear_hold(session, hold, "a loose cowling", shop.by())
            assert doubts(session, shop.engine) == ()
        # What lies on the shelf keeps no engine back.
        raise_hold(session, (Subject(piece=valve(session, shop).piece),), "noise", shop.by())
        assert doubts(session, shop.engine) == ()


def test_an_event_is_a_doubt_on_the_engine_and_on_the_one_its_pieces_went_into(shop: Shop) -> None:
    with shop.store.writing() as session:
        stayed, went, batch = valve(session, shop), valve(session, shop), springs(session, shop)
        first, second = (station(session, shop, "exhaust valve", name) for name in ("1", "2"))
        there = station(session, shop, "exhaust valve", "1", shop.engine_two)
        shift(session, shop, stayed, shop.bin_a, first, FITTED)
        shift(session, shop, went, shop.bin_a, second, FITTED)
        shift(
            session,
            shop,
            Thing(batch=batch),
            shop.bin_a,
            station(session, shop, "exhaust springs"),
            FITTED,
            2,
        )
        struck = record_event(
            session, NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE), shop.by(STRUCK)
        )
        shift(session, shop, went, second, shop.bench, TODAY)
        shift(session, shop, went, shop.bench, there, TODAY, engine=shop.engine_two)
        # Others of the same batch, fitted elsewhere, were not inside.
        elsewhere = station(session, shop, "exhaust springs", "1", shop.engine_two)
        shift(session, shop, Thing(batch=batch), shop.bin_a, elsewhere, TODAY, 2, shop.engine_two)
        event = f"propeller strike of Linnet One on {STRUCK.isoformat()}"
        of_batch = tag(session, Thing(batch=batch))
        assert doubts(session, shop.engine) == (
            f"the {event} is not cleared for the engine itself",
            f"{of_batch} and {tag(session, stayed)} in it not cleared of the {event}",
        )
        assert doubts(session, shop.engine_two) == (f"{tag(session, went)} in it not cleared of the {event}",)
        everything = (
            Subject(engine=shop.engine),
            Subject(piece=stayed.piece),
            Subject(piece=went.piece),
            Subject(batch=batch),
        )
        clear_event(session, struck, everything, "bulk strip", shop.by())
        assert engine_doubts(session, [shop.engine, shop.engine_two]) == {}


def test_what_it_is_owed_makes_it_incomplete(shop: Shop) -> None:
    with shop.store.writing() as session:
        place = session.get(Place, station(session, shop, "exhaust valve"))
        assert place is not None
        draft = shop.draft(TODAY, EntryKind.ROBBED)
        debt = draft.new(
            session,
            "debt",
            engine_id=shop.engine,
            position_id=place.position_id,
            station_id=place.station_id,
            part_id=shop.valve,
            quantity=1,
            for_engine_id=shop.engine_two,
            authorised_by=shop.inspector,
            owed_on=TODAY,
        )
        post(session, draft)
        (said,) = doubts(session, shop.engine)
        assert said.startswith("incomplete: owed Exhaust valve VX")
        assert said.endswith(" at cylinder 5, exhaust valve")
        assert doubts(session, shop.engine_two) == ()
        draft = shop.draft(TODAY, EntryKind.FITTED)
        draft.set("debt", debt, repaid_on=TODAY)
        post(session, draft)
        assert doubts(session, shop.engine) == ()


def test_a_directive_that_is_overdue(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        thing = valve(session, shop)
        shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve"), FITTED)
        of_engine = NewDirective(
            "D 7", "crankcase, front", "dye", STRUCK, engine_type=shop.linnet, within_hours=10_00
        )
        directive = add_directive(session, of_engine, shop.by(STRUCK))
        of_valves = replace(of_engine, reference="D 8", title="stems", engine_type=None, part=shop.valve)
        add_directive(session, of_valves, shop.by(STRUCK))
        run(session, shop, 9_99, STRUCK)
        assert doubts(session, shop.engine) == ()
        run(session, shop, 1, TODAY)
        assert doubts(session, shop.engine) == (
            "overdue: directive D 7: crankcase, front",
            f"overdue on {tag(session, thing)}: directive D 8: stems",
        )
        comply(session, directive, (Subject(engine=shop.engine),), "dye", shop.by())
        assert [engine.doubts for engine in engines(session)] == [
            (f"overdue on {tag(session, thing)}: directive D 8: stems",),
            (),
        ]
