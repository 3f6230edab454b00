"""What is done to engines and to what is in them, told in sentences; for one thing, on its own sheet."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.concession import NewConcession, grant_concession, withdraw_concession
from invdb.acts.directive import NewDirective, add_directive, comply, reissue_directive, withdraw_directive
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.fit import fit_pull
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.hold import Subject
from invdb.acts.hold_recalled import hold_recalled
from invdb.acts.life_reset import LifeResetOrder, reset_life, withdraw_life_reset
from invdb.acts.numbers import Thing, position_named
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.presume import Unidentified, presume, strip_presumed
from invdb.acts.pull import issue
from invdb.acts.reverse import reverse
from invdb.acts.rob import Robbery, rob
from invdb.acts.running import MeterChange, Run, change_meter, log_run
from invdb.acts.strip import StripOrder, strip
from invdb.acts.strip_plan import plan_strip
from invdb.acts.take_over import StationFill, TakenOver, take_over
from invdb.acts.trace import trace_thing
from invdb.records.builds import Presumption
from invdb.rules.recall import RecallQuestion
from invdb.terms import (
    ConcessionOver,
    EngineEventKind,
    HoursKnown,
    LifeControl,
    PaperKind,
    PriorLife,
    RunningUse,
)
from tests.acts.test_ledger_list import said
from tests.acts.test_trace import last
from tests.engine_shop import METER, begin, fitted, run, station
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import good, reserved, state_of, stock
from tests.shop import TODAY, Shop

ADA = "Ada Farrow (licence HL 2041)"


def story(session: Session, thing: Thing, newest: int) -> list[str]:
    """The last sentences of a thing's own sheet."""
    return [entry.what for entry in trace_thing(session, thing).entries][-newest:]


def test_a_log_says_what_was_run_since_its_line_before(shop: Shop) -> None:
    begin(shop)
    with shop.store.reading() as session:
        assert said(session) == (
            "Began the log of Linnet One at 1000.00 h on the meter; run before: 2345.00 h and starts not"
            " known."
        )
    begin(shop, shop.engine_two, reading=None)
    with shop.store.writing() as session:
        number = log_run(session, shop.engine, Run(RunningUse.FLIGHT, METER + 2_50, starts=3), shop.by())
        assert (
            said(session) == "Logged 2.50 h of flight and 3 starts of Linnet One to 1002.50 h on the meter."
        )
        log_run(session, shop.engine_two, Run(RunningUse.GROUND, hours=2_50, starts=1), shop.by())
        assert said(session) == "Logged 2.50 h of ground running and 1 start of Linnet Two by hand."
        reverse(session, number, "misread", shop.by())
        assert said(session) == f"Reversed entry {number}, running logged."
        assert said(session, number) == "Logged flight and 3 starts of Linnet One to 1002.50 h on the meter."
        change_meter(session, shop.engine, MeterChange(0, METER + 4_00), shop.by())
        assert said(session) == "Changed the meter of Linnet One, last read at 1004.00 h, for one at 0.00 h."
        lost = MeterChange(5_00, None, PriorLife(HoursKnown.BETWEEN, 1_00, 2_00))
        change_meter(session, shop.engine, lost, shop.by())
        assert said(session) == (
            "Changed the meter of Linnet One, with no last reading, for one at 5.00 h; ran unread between"
            " 1.00 h and 2.00 h."
        )


def test_what_is_fitted_and_stripped_is_told_with_its_station_and_the_meter(shop: Shop) -> None:
    begin(shop)
    things = stock(shop)
    valve, springs, gaskets = (things[name][0] for name in ("valves", "springs", "gaskets"))
    tag, spring_tag, gasket_tag = (state_of(shop, thing).tag for thing in (valve, springs, gaskets))
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        issue(session, pull.pull, By(shop.keeper))
        fit_pull(session, pull.pull, METER + 1_00, shop.by(), use=RunningUse.FLIGHT)
        assert said(session) == (
            f"Fitted {tag} as exhaust valve, 2 off {spring_tag} as exhaust springs and 1 off {gasket_tag} as"
            " head joint in Linnet One, cylinder 1, at 1001.00 h on the meter."
        )
        cylinder = position_named(session, shop.engine, "1")
        plan = plan_strip(
            session, shop.engine, shop.bench, "worn", position=cylinder, control=LifeControl.TAG
        )
        (child,) = strip(session, StripOrder(shop.engine, plan, METER + 1_00), shop.by()).new_tags
        assert said(session) == (
            f"Stripped {tag}, 2 off {spring_tag} as {child} and 1 off {gasket_tag} from Linnet One, cylinder"
            " 1, to Bench and Scrap drum, at 1001.00 h on the meter."
        )
    at = "of Linnet One, cylinder 1"
    meter = "at 1001.00 h on the meter."
    with shop.store.reading() as session:
        assert story(session, valve, 2) == [
            f"Fitted as the exhaust valve {at}, {meter}",
            f"Stripped as the exhaust valve {at}, found worn, life control by tag, to Bench, {meter}",
        ]
        assert story(session, springs, 2) == [
            f"Fitted 2 off as the exhaust springs {at}, {meter}",
            f"Stripped 2 off as {child}, fitted as the exhaust springs {at}, found worn, to Bench, {meter}",
        ]
        assert springs.batch is not None
        assert story(session, Thing(batch=springs.batch + 2), 1) == [
            f"Stripped as the exhaust springs {at}, 2 off of {spring_tag}, found worn, to Bench, {meter}",
        ]


def test_what_sits_inside_another_piece_is_told_by_that(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = good(session, shop, shop.barrel)
        valve = good(session, shop, shop.valve)
    tag, valve_tag = state_of(shop, barrel).tag, state_of(shop, valve).tag
    with shop.store.writing() as session:
        assert barrel.piece is not None and valve.piece is not None
        at = station(session, shop.engine, "exhaust valve")
        fit_inside(session, (InsideFit(barrel.piece, valve.piece, at),), shop.by())
        assert said(session) == f"Fitted {valve_tag} as the exhaust valve of {tag}."
        fitted(session, shop, barrel, "barrel")
        assert said(session) == (
            f"Fitted {tag} as the barrel of Linnet One, cylinder 1, at 1000.00 h on the meter."
        )
        plan = plan_strip(session, shop.engine, shop.bench, "scored", control=LifeControl.TAG)
        strip(session, StripOrder(shop.engine, plan, METER), shop.by())
        assert said(session) == (
            f"Stripped {tag} from Linnet One, cylinder 1, found scored, to Bench, at 1000.00 h on the meter."
        )
    with shop.store.reading() as session:
        assert story(session, valve, 2) == [
            f"Fitted as the exhaust valve of {tag}.",
            f"Came out of Linnet One, cylinder 1, inside {tag}, life control by tag, at 1000.00 h on the"
            " meter.",
        ]


def test_doubts_and_what_settles_them_are_told_with_who_signed(shop: Shop) -> None:
    begin(shop)
    (valve,) = stock(shop)["valves"]
    tag = state_of(shop, valve).tag
    clear = Subject(piece=valve.piece), Subject(engine=shop.engine)
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        befell = NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE, "bent a blade")
        strike = record_event(session, befell, shop.by())
        assert said(session) == "Propeller strike of Linnet One: bent a blade."
        clear_event(session, strike, clear, "crack test CT 4", shop.by())
        assert said(session) == (
            f"Cleared {tag} and Linnet One of the propeller strike of Linnet One on {TODAY}, by {ADA}: crack"
            " test CT 4."
        )
        done = last(session)
        order = NewDirective("D 7", "Stems", "by dye", TODAY, part=shop.valve)
        directive = add_directive(session, order, shop.by())
        assert said(session) == "Recorded directive D 7: Stems."
        comply(session, directive, clear[:1], "dye, none found", shop.by())
        assert said(session) == f"Complied with directive D 7 on {tag}, by {ADA}: dye, none found."
        again = NewDirective("D 7", "Stems", "by dye", TODAY, issue="2", part=shop.valve)
        anew = reissue_directive(session, directive, again, shop.by())
        assert said(session) == "Put directive D 7 issue 2: Stems, in the place of D 7."
        withdraw_directive(session, anew, "no more are left", shop.by())
        assert said(session) == "Withdrew directive D 7 issue 2."
        reverse(session, done, "the wrong engine", shop.by())
        hold_recalled(session, RecallQuestion(part=shop.valve), "soft stems", shop.by())
        assert said(session) == f"Put {tag} and Linnet One on hold in a recall: soft stems."
    with shop.store.reading() as session:
        sentences = [each for each in story(session, valve, 9) if not each.startswith("Fitted")]
        assert sentences[-4:] == [
            f"Cleared of the propeller strike of Linnet One on {TODAY}, by {ADA}: crack test CT 4.",
            f"Complied with directive D 7, by {ADA}: dye, none found.",
            f"Reversed entry {done}, event cleared.",
            "Put on hold in a recall: soft stems.",
        ]


def test_counts_begun_anew_and_concessions_are_told_by_their_papers(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = good(session, shop, shop.valve)
        assert valve.piece is not None
        paper = add_paper(session, NewPaper(PaperKind.STATEMENT, "AL 9"), shop.by())
        reset = reset_life(
            session, LifeResetOrder("WR 7", piece=valve.piece, resets_calendar=False), shop.by()
        )
        withdraw_life_reset(session, reset, "it was another", shop.by())
        concession = grant_concession(
            session,
            NewConcession(
                "C 12",
                "the Authority",
                ConcessionOver.WORN_LIMIT,
                "stem 0.02 below the limit",
                paper,
                valve.piece,
                shop.engine,
                position_named(session, shop.engine, "3"),
                hours_allowed=50_00,
            ),
            shop.by(),
        )
        withdraw_concession(session, concession, "refused after all", shop.by())
        assert story(session, valve, 4) == [
            "Began the hours and starts anew since the overhaul, by WR 7.",
            "Withdrew the overhaul from its counts.",
            "Took up concession C 12 of the Authority in Linnet One, cylinder 3, over the worn limit: stem"
            " 0.02 below the limit, for 50.00 h.",
            "Withdrew concession C 12.",
        ]


def test_an_engine_with_a_record_one_without_and_one_robbed(shop: Shop) -> None:
    begin(shop, shop.engine_two, reading=None)
    with shop.store.writing() as session:
        two = position_named(session, shop.engine_two, "2")
        at = station(session, shop.engine_two, "exhaust valve")
        build = TakenOver(
            shop.engine_two,
            (StationFill(two, at, shop.valve, "A 9"),),
            None,
            paper=NewPaper(PaperKind.STATEMENT, "BR 1"),
        )
        ((valve, tag),) = take_over(session, build, shop.by()).things
        assert said(session) == "Took over the build record of Linnet Two, statement BR 1: 1 piece."
        robbery = Robbery(
            shop.engine_two,
            (valve,),
            shop.bench,
            shop.inspector,
            shop.engine,
            "none in stock",
            None,
            control=LifeControl.TAG,
        )
        rob(session, robbery, shop.by())
        assert said(session) == (
            f"Robbed {tag} from Linnet Two, cylinder 2, for Linnet One, authorised by {ADA}, to Bench."
        )
        fitted(
            session,
            shop,
            good(session, shop, shop.valve),
            "exhaust valve",
            cylinder="2",
            engine=shop.engine_two,
            reading=None,
        )
        assert said(session).endswith("of Linnet Two, cylinder 2, in place of what was robbed.")
        presume(session, shop.engine_two, shop.by(), (position_named(session, shop.engine_two, "3"),))
        assert said(session) == "Presumed 3 pieces and batches in Linnet Two, unidentified."
        unseen = session.scalars(select(Presumption.id).order_by(Presumption.id)).all()
        seized = Unidentified(unseen[0], "seized", shop.valve, shop.bench, control=LifeControl.TAG)
        ((_, found),) = strip_presumed(session, shop.engine_two, (seized,), None, shop.by()).things
        assert said(session) == (
            f"Stripped {found} from Linnet Two, cylinder 3, presumed there until then, found seized, to"
            " Bench."
        )
        strip_presumed(session, shop.engine_two, (Unidentified(unseen[1], "no springs"),), None, shop.by())
        assert said(session) == "Found nothing at the exhaust springs of Linnet Two, cylinder 3: no springs."
    with shop.store.reading() as session:
        assert story(session, valve, 2) == [
            "Taken over as the exhaust valve of Linnet Two, cylinder 2, by the build record, statement BR 1.",
            f"Robbed as the exhaust valve of Linnet Two, cylinder 2, for Linnet One, authorised by {ADA}, to"
            " Bench.",
        ]


def test_a_run_is_told_by_what_now_lies_before_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        number = run(session, shop, METER + 6_00)
        run(session, shop, METER + 2_00, on=TODAY.replace(day=1))
        assert said(session, number) == "Logged 4.00 h of flight of Linnet One to 1006.00 h on the meter."
