"""The status sheet of an engine: what its owner hands over, now and as of a past day."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from io import BytesIO

import pytest
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.numbers import Thing, position_named
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.presume import presume
from invdb.acts.rob import Robbery, rob
from invdb.acts.running import LogBegin, MeterChange, begin_log, change_meter
from invdb.acts.shop import draft_engine_mod
from invdb.acts.status_sheet import status_sheet
from invdb.paper.status_sheet import write_status_sheet_pdf, write_status_sheet_xlsx
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.rules.against import against
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.life import LifeVerdict
from invdb.rules.status import StatusSheet
from invdb.terms import (
    NO_PRIOR_LIFE,
    ConcessionOver,
    EngineEventKind,
    EntryKind,
    FieldRefused,
    HoursKnown,
    LifeControl,
    LifeMeasure,
    LifeSince,
    Origin,
    PaperKind,
    PriorLife,
    Refused,
    RunningUse,
    Scope,
)
from tests.doubts_shop import CAME, springs, valve
from tests.engine_shop import METER, fitted, run, stripped
from tests.fitted_shop import Bench, add_barrel_station, add_mod
from tests.shop import TODAY, WORKSHOP, Shop

FITTED = TODAY - timedelta(days=60)
RAN = TODAY - timedelta(days=40)
YESTERDAY = TODAY - timedelta(days=1)
KNOWN = PriorLife(HoursKnown.EXACT, 2_345_00, 2_345_00)
STARTS = PriorLife(HoursKnown.EXACT, 900, 900)
UNKNOWN = PriorLife(HoursKnown.UNKNOWN)


@contextmanager
def working(shop: Shop) -> Iterator[Session]:
    """The workshop with the log of Linnet One begun, which had run 2,345 hours and 900 starts."""
    with shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(METER, KNOWN, STARTS), shop.by(CAME))
        yield session


def valve_in_five(session: Session, shop: Shop) -> Thing:
    """A new exhaust valve (limit 600 hours), fitted in cylinder 5 sixty days ago."""
    thing = valve(session, shop)
    fitted(session, shop, thing, "exhaust valve", cylinder="5", on=FITTED)
    return thing


def tag(session: Session, shop: Shop, thing: Thing) -> str:
    return Bench(shop, session).tag(thing)


def gap_words(sheet: StatusSheet) -> list[str]:
    return [f"{gap.of}: {gap.why}" for gap in sheet.gaps]


def test_the_head_says_what_engine_it_is_and_what_it_ran(shop: Shop) -> None:
    with working(shop) as session:
        valve_in_five(session, shop)
        run(session, shop, METER + 10_00, on=RAN, starts=4)
        run(session, shop, METER + 12_50, on=YESTERDAY, use=RunningUse.GROUND, starts=3)
        sheet = status_sheet(session, shop.engine)
        head = session.execute(select(LedgerHead.number, LedgerHead.hash)).one()
    assert (sheet.workshop, sheet.as_of) == (WORKSHOP.name, TODAY)
    assert (sheet.name, sheet.type_name, sheet.serial) == ("Linnet One", "Linnet", "L1007")
    assert (sheet.owner, sheet.use, sheet.meter) == (WORKSHOP.name, Scope.FLIGHT, METER + 12_50)
    assert sheet.totals.hours == PriorLife(HoursKnown.EXACT, 2357_50, 2357_50)
    assert sheet.totals.starts == PriorLife(HoursKnown.EXACT, 907, 907)
    assert (sheet.totals.logged.flight.low, sheet.totals.logged.ground.low) == (10_00, 2_50)
    assert (sheet.last_entry, sheet.last_hash) == (head.number, head.hash)


def test_a_life_limited_piece_says_what_it_used_and_what_is_left(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        limit = NewLifeLimit(LifeMeasure.STARTS, 12, shop.valve, source="manual PL-M 4")
        add_life_limit(session, limit, shop.by(CAME))
        run(session, shop, METER + 10_00, on=RAN, starts=8)
        (line,) = status_sheet(session, shop.engine).life
        assert (line.tag, line.part_name) == (tag(session, shop, thing), "Exhaust valve")
        assert line.station == "cylinder 5, exhaust valve"
        starts, hours = line.limits
        assert (starts.line.verdict, starts.line.left_worst) == (LifeVerdict.DUE_SOON, 4)
        assert starts.line.limit.source == "manual PL-M 4"
        assert (hours.line.verdict, hours.line.left_worst) == (LifeVerdict.WITHIN, 590_00)
        assert hours.forecast == "in Sep 2040", "the pace is said once, for all of the sheet"
        assert status_sheet(session, shop.engine).ran_of_late == "10.00 h and 8 starts in 90 days"
        run(session, shop, METER + 11_00, on=YESTERDAY, starts=4)
        sheet = status_sheet(session, shop.engine)
        assert against(sheet)[0].words == (
            f"Exhaust valve {line.tag}, cylinder 5, exhaust valve: expired (12 starts since new; used up)"
        )


def test_it_is_as_of_the_end_of_a_past_day(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        run(session, shop, METER + 10_00, on=RAN, starts=8)
        stripped(session, shop, thing, reading=METER + 14_00, on=YESTERDAY)
        then, before = (status_sheet(session, shop.engine, on) for on in (RAN, FITTED - timedelta(days=1)))
        assert (then.as_of, then.meter) == (RAN, METER + 10_00)
        assert [line.tag for line in then.life] == [tag(session, shop, thing)]
        assert then.life[0].limits[0].line.left_worst == 590_00
        assert then.totals.hours == PriorLife(HoursKnown.EXACT, 2355_00, 2355_00)
        assert (before.life, before.meter) == ((), METER)
        now = status_sheet(session, shop.engine)
        assert (now.life, now.meter) == ((), METER + 14_00)


def test_overhaul_counts_from_its_report_against_the_life_of_the_type(shop: Shop) -> None:
    with working(shop) as session:
        add_life_limit(
            session,
            NewLifeLimit(
                LifeMeasure.HOURS,
                500_00,
                engine_type=shop.linnet,
                since=LifeSince.OVERHAUL,
                source="manual PL-M 1",
            ),
            shop.by(CAME),
        )
        unreset = status_sheet(session, shop.engine).overhaul
        assert (unreset.overhauled_on, unreset.report, unreset.hours) == (None, "", KNOWN)
        assert unreset.limits[0].line.verdict is LifeVerdict.EXPIRED
        reset_life(session, LifeResetOrder("HW-77", engine=shop.engine), shop.by(FITTED))
        run(session, shop, METER + 20_00, on=RAN)
        overhaul = status_sheet(session, shop.engine).overhaul
        assert (overhaul.overhauled_on, overhaul.report) == (FITTED, "HW-77")
        assert overhaul.hours == PriorLife(HoursKnown.EXACT, 20_00, 20_00)
        assert overhaul.limits[0].line.left_worst == 480_00
        assert status_sheet(session, shop.engine, CAME).overhaul.report == ""


def test_directives_say_when_they_were_complied_with_and_why_they_do_not_apply(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        recurring = add_directive(
            session,
            NewDirective(
                "HD 1", "Look for cracks", "dye penetrant", CAME, "2", part=shop.valve, every_hours=50_00
            ),
            shop.by(CAME),
        )
        for new in (
            NewDirective("HD 2", "Renew the quill", "renew", CAME, engine_type=shop.linnet, due_on=FITTED),
            NewDirective(
                "HD 3", "Weigh the float", "weigh", CAME, engine_type=shop.linnet, serial_to="L0999"
            ),
            NewDirective(
                "HD 4", "Check the shims", "measure", CAME, engine_type=shop.linnet, within_hours=90_00
            ),
        ):
            add_directive(session, new, shop.by(CAME))
        comply(session, recurring, [Subject(piece=thing.piece)], "report R-131", shop.by(RAN))
        done, overdue, due, not_for = status_sheet(session, shop.engine).directives
        assert (done.reference, done.issue, done.title) == ("HD 1", "2", "Look for cracks")
        assert (done.complied_on, done.complied_by, done.complied_method) == (
            RAN,
            "Ada Farrow",
            "report R-131",
        )
        assert tag(session, shop, thing) in done.subject
        assert (done.verdict, done.next_due == "50.00 h left") == (DirectiveVerdict.DUE_LATER, True)
        assert (overdue.verdict, overdue.overdue) == (DirectiveVerdict.OVERDUE, True)
        assert (not_for.verdict, not_for.next_due) == (None, "")
        assert not_for.not_applicable
        assert (due.verdict, due.complied_on) == (DirectiveVerdict.DUE_LATER, None)
        before = status_sheet(session, shop.engine, FITTED).directives[0]
        assert before.complied_on is None


def test_a_concession_prints_with_its_end_and_what_is_left(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        assert thing.piece is not None
        letter = add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), shop.by(CAME))
        grant_concession(
            session,
            NewConcession(
                "C 12",
                "Air Board",
                ConcessionOver.WORN_LIMIT,
                "stem 0.02 mm under",
                letter,
                thing.piece,
                shop.engine,
                from_on=FITTED,
                hours_allowed=50_00,
            ),
            shop.by(FITTED),
        )
        run(session, shop, METER + 12_00, on=RAN)
        (line,) = status_sheet(session, shop.engine).concessions
        assert (line.reference, line.authority, line.document) == ("C 12", "Air Board", "statement AA 77")
        assert line.piece == f"Exhaust valve {tag(session, shop, thing)}"
        assert line.allows == "over the worn limit: stem 0.02 mm under"
        assert (line.ends, line.left, line.verdict) == (
            "for 50.00 h",
            "38.00 h left",
            ConcessionVerdict.IN_FORCE,
        )
        run(session, shop, METER + 60_00, on=YESTERDAY)
        sheet = status_sheet(session, shop.engine)
        assert sheet.concessions[0].ended
        assert any(each.words.startswith("Concession C 12") and each.grave for each in against(sheet))
        stripped(session, shop, thing, reading=METER + 60_00)
        assert status_sheet(session, shop.engine).concessions == ()


def test_holds_on_the_engine_on_what_is_in_it_and_on_its_parts_stand_till_cleared(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        batch = springs(session, shop)
        fitted(session, shop, Thing(batch=batch), "exhaust springs", cylinder="5", quantity=2, on=FITTED)
        loose = valve(session, shop)
        (own,) = raise_hold(session, (Subject(engine=shop.engine),), "Rough at idle.", shop.by(RAN))
        raise_hold(session, (Subject(piece=thing.piece), Subject(batch=batch)), "Broke.", shop.by(YESTERDAY))
        raise_hold(session, (Subject(part=shop.spring), Subject(piece=loose.piece)), "Shear.", shop.by())
        holds = status_sheet(session, shop.engine).holds
        number = next(hold.on_what for hold in holds if hold.on_what.startswith("the part "))
        assert [(hold.on_what, hold.reason) for hold in holds] == [
            ("the engine", "Rough at idle."),
            (f"Exhaust valve {tag(session, shop, thing)}, cylinder 5, exhaust valve", "Broke."),
            (
                f"Valve spring {tag(session, shop, Thing(batch=batch))}, cylinder 5, exhaust springs",
                "Broke.",
            ),
            (number, "Shear."),
        ]
        assert {hold.raised_by for hold in holds} == {"Ada Farrow"}
        clear_hold(session, own, "plugs changed", shop.by())
        assert "Rough at idle." not in {hold.reason for hold in status_sheet(session, shop.engine).holds}
        then = status_sheet(session, shop.engine, YESTERDAY).holds
        assert [hold.reason for hold in then] == ["Rough at idle.", "Broke.", "Broke."]


def test_an_event_stands_until_the_engine_and_all_that_is_in_it_are_cleared(shop: Shop) -> None:
    with working(shop) as session:
        thing = valve_in_five(session, shop)
        strike = record_event(
            session, NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE, "At idle."), shop.by(RAN)
        )
        (line,) = status_sheet(session, shop.engine).events
        assert (line.kind, line.event_on, line.of_engine, line.note) == (
            "propeller strike",
            RAN,
            "Linnet One",
            "At idle.",
        )
        name = f"Exhaust valve {tag(session, shop, thing)}, cylinder 5, exhaust valve"
        assert line.not_cleared == ("the engine itself", name)
        clear_event(session, strike, [Subject(engine=shop.engine)], "run-out measured", shop.by(YESTERDAY))
        assert [event.not_cleared for event in status_sheet(session, shop.engine).events] == [(name,)]
        clear_event(session, strike, [Subject(piece=thing.piece)], "crack test", shop.by())
        assert status_sheet(session, shop.engine).events == ()
        assert status_sheet(session, shop.engine, FITTED).events == ()
        assert len(status_sheet(session, shop.engine, RAN).events) == 1


def test_what_was_in_another_engine_at_an_event_brings_its_doubt_along(shop: Shop) -> None:
    with working(shop) as session:
        begin_log(session, shop.engine_two, LogBegin(METER, KNOWN, STARTS), shop.by(CAME))
        bench, thing = Bench(shop, session), valve(session, shop)
        bench.fit(thing, "2", "exhaust valve", FITTED, engine=shop.engine_two)
        record_event(session, NewEvent(shop.engine_two, EngineEventKind.OVERSPEED), shop.by(RAN))
        bench.strip(thing, YESTERDAY)
        bench.fit(thing, "5", "exhaust valve", from_place=shop.bench)
        (line,) = status_sheet(session, shop.engine).events
        assert (line.kind, line.of_engine) == ("overspeed", "Linnet Two")
        assert line.not_cleared == (f"Exhaust valve {tag(session, shop, thing)}, cylinder 5, exhaust valve",)


def test_mods_embodied_are_listed_with_their_day(shop: Shop) -> None:
    with working(shop) as session:
        mod = add_mod(shop, session, "M 14")
        draft = shop.draft(RAN, EntryKind.MOD_STATE)
        draft_engine_mod(session, draft, shop.engine, mod, RAN)
        post(session, draft)
        (line,) = status_sheet(session, shop.engine).mods
        assert (line.code, line.name, line.since_on) == ("M 14", "Mod M 14", RAN)
        assert status_sheet(session, shop.engine, FITTED).mods == ()


def test_a_mod_embodied_before_it_was_written_down_is_on_the_sheet_of_the_days_between(shop: Shop) -> None:
    with working(shop) as session:
        mod = add_mod(shop, session, "M 14")
        draft = shop.draft(RAN, EntryKind.MOD_STATE)
        draft_engine_mod(session, draft, shop.engine, mod, CAME)
        post(session, draft)
        (line,) = status_sheet(session, shop.engine, FITTED).mods
        assert (line.code, line.since_on) == ("M 14", CAME)


def test_what_is_missing_robbed_and_presumed_is_told_apart(shop: Shop) -> None:
    with working(shop) as session:
        begin_log(session, shop.engine_two, LogBegin(METER, KNOWN, STARTS), shop.by(CAME))
        thing = valve_in_five(session, shop)
        fitted(session, shop, Thing(batch=springs(session, shop)), "exhaust springs", cylinder="5", on=FITTED)
        six = position_named(session, shop.engine, "6")
        presume(session, shop.engine, shop.by(FITTED), (six,))
        robbery = Robbery(
            shop.engine,
            (thing,),
            shop.bench,
            shop.inspector,
            shop.engine_two,
            "to fly at the summer meeting",
            METER,
            control=LifeControl.TAG,
        )
        rob(session, robbery, shop.by(YESTERDAY))
        sheet = status_sheet(session, shop.engine)
        assert {at.position: at.missing for at in sheet.incomplete} == {
            **{f"cylinder {cylinder}": ("all of its kit: nothing is recorded here",) for cylinder in "12347"},
            "cylinder 5": (
                "exhaust valve",
                "exhaust springs: 1 of 2",
                "head joint",
            ),
        }
        assert sum(at.stations for at in sheet.incomplete) == 18
        (debt,) = sheet.debts
        assert (debt.station, debt.owed_on, debt.for_engine) == (
            "cylinder 5, exhaust valve",
            YESTERDAY,
            "Linnet Two",
        )
        assert (debt.authorised_by, debt.reason) == ("Ada Farrow", "to fly at the summer meeting")
        assert tag(session, shop, thing) in debt.part
        assert [at.where for at in sheet.presumed] == [
            f"cylinder 6, {name}" for name in ("exhaust valve", "exhaust springs", "head joint")
        ]
        assert {at.presumed_on for at in sheet.presumed} == {FITTED}
        assert [at.station for at in sheet.presumed if at.renewed_always] == ["head joint"]
        assert status_sheet(session, shop.engine, FITTED).debts == ()


def salvaged(
    session: Session, shop: Shop, hours: PriorLife, starts: PriorLife, part: int | None = None
) -> Thing:
    """A salvaged valve, or another part, in A-01-01."""
    piece = NewPiece("", hours, starts)
    goods = GoodsIn(Origin.SALVAGED, shop.bin_a, part=part or shop.valve, pieces=(piece,), donor="L 9")
    return receive(session, goods, shop.by(CAME)).things[0][0]


def test_gaps_are_said_of_the_engine_and_of_each_life_limited_piece(shop: Shop) -> None:
    at_least = PriorLife(HoursKnown.AT_LEAST, 300_00)
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        assert gap_words(status_sheet(session, shop.engine))[0] == (
            "the engine: no log is kept: what it ran is not known"
        )
        prior = PriorLife(HoursKnown.BETWEEN, 800_00, 950_00)
        begin_log(session, shop.engine, LogBegin(METER, prior), shop.by(FITTED))
        thing = salvaged(session, shop, at_least, NO_PRIOR_LIFE)
        bench.fit(thing, "5", "exhaust valve", FITTED)
        unread = MeterChange(0, None, PriorLife(HoursKnown.BETWEEN, 1_00, 3_00), use=RunningUse.FLIGHT)
        change_meter(session, shop.engine, unread, shop.by(RAN), sure=True)
        sheet = status_sheet(session, shop.engine)
        name = f"Exhaust valve {tag(session, shop, thing)}"
        assert gap_words(sheet) == [
            "the engine: hours run before its log began: between 800.00 h and 950.00 h",
            "the engine: starts run before its log began: not known",
            "the engine: not over the meter: hours between 1.00 h and 3.00 h",
            f"{name}: hours run before it was received: at least 300.00 h, no upper end known",
        ]
        assert (sheet.gaps[2].from_on, sheet.gaps[2].to_on) == (FITTED, RAN)
        assert sheet.life[0].limits[0].line.verdict is LifeVerdict.UNKNOWN


def test_what_was_out_of_our_hands_is_a_gap_and_lesser_pieces_are_counted(shop: Shop) -> None:
    with working(shop) as session:
        bench = Bench(shop, session)
        thing = salvaged(session, shop, NO_PRIOR_LIFE, NO_PRIOR_LIFE)
        shop.move(session, thing, shop.bin_a, 1, on=FITTED)
        shop.move(session, thing, 1, shop.bin_a, on=RAN)
        bench.fit(thing, "5", "exhaust valve", YESTERDAY)
        add_barrel_station(shop, session)
        for cylinder in "67":
            barrel = salvaged(session, shop, UNKNOWN, UNKNOWN, shop.barrel)
            bench.fit(barrel, cylinder, "barrel", YESTERDAY)
        sheet = status_sheet(session, shop.engine)
        assert gap_words(sheet) == [
            "2 other pieces: hours or starts run before receipt have no upper end known",
            f"Exhaust valve {tag(session, shop, thing)}: it was out of our hands",
        ]
        assert (sheet.gaps[1].from_on, sheet.gaps[1].to_on) == (FITTED, RAN)


def test_an_engine_of_which_nothing_is_known_still_has_its_sheet(shop: Shop) -> None:
    with shop.store.reading() as session:
        sheet = status_sheet(session, shop.engine_two)
    assert (sheet.meter, sheet.totals.hours.known) == (None, HoursKnown.UNKNOWN)
    assert (sheet.life, sheet.holds, sheet.events) == ((), (), ())
    assert len(sheet.incomplete) == 7
    for write in (write_status_sheet_pdf, write_status_sheet_xlsx):
        buffer = BytesIO()
        write(sheet, buffer)
        assert buffer.getvalue()


def test_a_day_to_come_and_an_unknown_engine_are_refused(shop: Shop) -> None:
    with shop.store.reading() as session:
        with pytest.raises(FieldRefused, match="in the future"):
            status_sheet(session, shop.engine, TODAY + timedelta(days=1))
        with pytest.raises(Refused, match="not in the store"):
            status_sheet(session, 10**6)


def test_it_asks_the_store_no_more_often_for_many_pieces_than_for_one(shop: Shop) -> None:
    def statements(session: Session) -> int:
        asked: list[str] = []

        def count(*arguments: object) -> None:
            asked.append(str(arguments[2]))

        bound = session.connection()
        event.listen(bound, "before_cursor_execute", count)
        status_sheet(session, shop.engine)
        event.remove(bound, "before_cursor_execute", count)
        return len(asked)

    with working(shop) as session:
        bench = Bench(shop, session)
        bench.fit(valve(session, shop), "1", "exhaust valve", FITTED)
        more = [valve(session, shop) for _ in range(6)]
        raise_hold(session, (Subject(part=shop.valve),), "Stems shear.", shop.by())
        one = statements(session)
        for cylinder, thing in zip("234567", more, strict=True):
            bench.fit(thing, cylinder, "exhaust valve", FITTED)
        assert statements(session) == one
