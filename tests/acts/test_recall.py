"""A doubtful part, batch or origin is found wherever it is, and put on hold and apart in one act."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts import shop as shop_acts
from invdb.acts.accept import Acceptance, accept
from invdb.acts.check import check_store
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.goods_in import GoodsIn, ReceivingChecks
from invdb.acts.hold import Subject, clear_hold, holds_on, raise_hold
from invdb.acts.hold_recalled import hold_recalled
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, position_named
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.pull import PullOrder, issue, reserve
from invdb.acts.recall import recall, recall_letter
from invdb.acts.reserve_check import Take
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.acts.split import Share, split
from invdb.records.documents import Document
from invdb.records.ledger import Entry, LedgerHead
from invdb.records.posting import post
from invdb.records.stock import Batch, Hold, Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.recall import (
    RecallAt,
    RecallLine,
    RecallQuestion,
    RecallReport,
    RecallWhere,
    SplitOffBatch,
    count_words,
    run_words,
)
from invdb.terms import Condition, EntryKind, Origin, PaperKind, Refused, RunningUse, Scope
from tests.engine_shop import METER, station, stripped
from tests.fitted_shop import Bench, add_barrel_station
from tests.shop import BEGUN_AT, TODAY, WORKSHOP, Shop

BROKE = "A spring of it broke."
EARLIER = TODAY - timedelta(days=300)
FITTED_ON = TODAY - timedelta(days=200)
RAN_ON = TODAY - timedelta(days=100)
STRIPPED_ON = TODAY - timedelta(days=50)
CHECKS = ReceivingChecks("stamped", "match", "none", "sealed")
RELEASE = NewPaper(PaperKind.RELEASE_CERTIFICATE, "HW-221", dated_on=EARLIER)


@dataclass(frozen=True)
class Springs:
    """Forty springs of one batch, of which eleven went into three engines."""

    shop: Shop
    bench: Bench
    batch: int
    engine_three: int

    @property
    def thing(self) -> Thing:
        return Thing(batch=self.batch)

    @property
    def question(self) -> RecallQuestion:
        return RecallQuestion(batch=self.batch)


def accepted(session: Session, shop: Shop, part: int, *, pieces: int = 0, quantity: int = 0) -> Thing:
    """A piece or a batch accepted for flight in A-01-01, from Aldermoor with a release certificate."""
    goods = GoodsIn(Origin.NEW, 0, firm=shop.supplier, checks=CHECKS, papers=(RELEASE,))
    (thing, _) = shop.book_in(
        session, part, pieces=pieces, quantity=quantity, goods=goods, on=EARLIER
    ).things[0]
    accept(session, Acceptance((thing,), Scope.FLIGHT), shop.by(EARLIER))
    return thing


def eleven_fitted(session: Session, shop: Shop) -> Springs:
    """Four in Linnet One, three in Linnet Two, four in Linnet Three; Linnet One runs 40 hours since."""
    three = shop_acts.add_engine(
        session,
        shop_acts.NewEngine(shop.linnet, "L1102", "Linnet Three", Scope.FLIGHT, shop.workshop),
        shop.by(EARLIER),
    )
    for engine in (shop.engine, shop.engine_two, three):
        begin_log(session, engine, LogBegin(METER), shop.by(EARLIER))
    springs = accepted(session, shop, shop.spring, quantity=40)
    assert springs.batch is not None
    for engine, cylinder, quantity in (
        (shop.engine, "5", 2),
        (shop.engine, "6", 2),
        (shop.engine_two, "1", 2),
        (shop.engine_two, "2", 1),
        (three, "1", 2),
        (three, "7", 2),
    ):
        at = Fit(station(session, engine, "exhaust springs"), springs, quantity, shop.bin_a)
        order = FitOrder(engine, position_named(session, engine, cylinder), (at,), METER)
        fit(session, order, shop.by(FITTED_ON))
    log_run(session, shop.engine, Run(RunningUse.FLIGHT, 1040_00, starts=30), shop.by(RAN_ON))
    return Springs(shop, Bench(shop, session), springs.batch, three)


def strip_apart(springs: Springs, cylinder: str, quantity: int, on: date) -> tuple[int, str]:
    """Take springs out of Linnet One to the bench as a batch of their own; its id and its tag."""
    shop, session = springs.shop, springs.bench.session
    seat = springs.bench.seat(shop.draft(on), cylinder, "exhaust springs")
    done = stripped(session, shop, springs.thing, reading=1040_00, on=on, quantity=quantity, from_place=seat)
    (tag,) = done.new_tags
    return session.scalars(select(Batch.id).where(Batch.tag == tag)).one(), tag


def line_of(report: RecallReport, thing: Thing) -> RecallLine:
    return next(line for line in report.lines if (line.piece, line.batch) == (thing.piece, thing.batch))


def counts(report: RecallReport) -> list[str]:
    return [count_words(count) for count in report.counts]


def wheres(line: RecallLine) -> list[tuple[RecallWhere, str, int]]:
    return [(at.where, at.at, at.quantity) for at in line.at]


def last(session: Session) -> int:
    return session.scalars(select(LedgerHead.number)).one()


def standing_holds(session: Session) -> int:
    return session.scalars(select(func.count()).select_from(Hold).where(Hold.cleared_on.is_(None))).one()


def engines_on_hold(session: Session) -> set[int]:
    return {
        engine
        for engine in session.scalars(select(Hold.engine_id).where(Hold.cleared_on.is_(None)))
        if engine is not None
    }


def test_of_a_batch_of_springs_it_finds_the_eleven_that_went_into_three_engines(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = eleven_fitted(session, shop)
        report = recall(session, springs.question)
        (line,) = report.lines
        assert (report.workshop, report.last_entry) == (WORKSHOP.name, last(session))
        assert report.asked == f"batch {line.tag} with all split off it"
        assert counts(report) == [
            "4 off fitted in Linnet One",
            "4 off fitted in Linnet Three",
            "3 off fitted in Linnet Two",
            "29 off in the stores",
        ]
        assert line.received == 40
        assert [run_words(line, run) for run in line.runs if run.engine == "Linnet One"] == [
            f"4 off in Linnet One, {FITTED_ON.isoformat()} to now, 40.00 h"
        ]
        assert sum(run.quantity for run in line.runs) == 11
        assert [at.path for at in line.at][:2] == [
            "Linnet One, cylinder 5, exhaust springs",
            "Linnet One, cylinder 6, exhaust springs",
        ]
        assert {run.ran.hours.high for run in line.runs if run.engine != "Linnet One"} == {0}


def test_children_split_off_are_found_wherever_they_are_and_where_they_ran(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = eleven_fitted(session, shop)
        child, tag = strip_apart(springs, "5", 2, STRIPPED_ON)
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, 1042_00), shop.by(STRIPPED_ON))
        shares = (Share(1, Condition.UNSALVAGEABLE, to_place=shop.scrap),)
        (scrapped, scrapped_tag) = split(session, child, shop.bench, shares, shop.by()).batches[0]
        move(session, (Shift(springs.thing, 5, shop.bin_a),), shop.works, shop.by())
        move(session, (Shift(springs.thing, 3, shop.bin_a),), OUTSIDE_PLACE, shop.by())
        report = recall(session, springs.question)
        parent, stripped = line_of(report, springs.thing), line_of(report, Thing(batch=child))
        assert parent.split_off == (SplitOffBatch(tag, 2),)
        assert wheres(parent) == [
            (RecallWhere.FITTED, "Linnet One", 2),
            (RecallWhere.FITTED, "Linnet Three", 2),
            (RecallWhere.FITTED, "Linnet Three", 2),
            (RecallWhere.FITTED, "Linnet Two", 2),
            (RecallWhere.FITTED, "Linnet Two", 1),
            (RecallWhere.STORES, "", 21),
            (RecallWhere.FIRM, "At Brackwater", 5),
            (RecallWhere.OUT, "", 3),
        ]
        assert (stripped.split_from, stripped.split_off) == (parent.tag, (SplitOffBatch(scrapped_tag, 1),))
        assert wheres(stripped) == [(RecallWhere.SHOP, "", 1)]
        inside = f"in Linnet One, {FITTED_ON.isoformat()} to {STRIPPED_ON.isoformat()}, 40.00 h"
        assert [run_words(stripped, run) for run in stripped.runs] == [f"2 off {inside}"]
        last_of_them = line_of(report, Thing(batch=scrapped))
        assert wheres(last_of_them) == [(RecallWhere.SCRAPPED, "", 1)]
        assert [run_words(last_of_them, run) for run in last_of_them.runs] == [f"1 off {inside}"]
        assert f"2 off {inside}" in [run_words(parent, run) for run in parent.runs]
        for line in report.lines:
            split_off = sum(each.quantity for each in line.split_off)
            assert line.received == sum(at.quantity for at in line.at) + split_off


def test_what_is_in_an_engine_comes_first_and_says_in_which_piece_it_sits(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        begin_log(session, shop.engine, LogBegin(METER), shop.by(EARLIER))
        add_barrel_station(shop, session)
        barrel = accepted(session, shop, shop.barrel, pieces=1)
        loose, within = (accepted(session, shop, shop.valve, pieces=1) for _ in range(2))
        assert barrel.piece is not None
        bench.fit_inside(within, barrel.piece, "exhaust valve", EARLIER)
        bench.fit(barrel, "3", "barrel", FITTED_ON)
        fitted, shelved = recall(session, RecallQuestion(part=shop.valve)).lines
        assert (fitted.piece, shelved.piece) == (within.piece, loose.piece)
        (at,) = fitted.at
        assert (at.where, at.at) == (RecallWhere.FITTED, "Linnet One")
        assert at.path == f"Linnet One, cylinder 3, exhaust valve in {bench.tag(barrel)}"


def test_what_was_used_up_is_told_from_what_left_us(shop: Shop) -> None:
    with shop.store.writing() as session:
        wire = accepted(session, shop, shop.wire, quantity=10_000_000)
        draft = shop.draft(kind=EntryKind.FITTED)
        draft.move(shop.bin_a, OUTSIDE_PLACE, batch=wire.batch, quantity=2_500_000)
        post(session, draft)
        move(session, (Shift(wire, 1_000_000),), OUTSIDE_PLACE, shop.by())
        assert counts(recall(session, RecallQuestion(part=shop.wire))) == [
            "6.5 m in the stores",
            "1 m out of our hands",
            "2.5 m used up",
        ]


def test_a_piece_tells_the_engines_it_ran_in_and_where_it_lies_now(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop.engine, LogBegin(500_00), shop.by(EARLIER))
        valve = accepted(session, shop, shop.valve, pieces=1)
        bench = Bench(shop, session)
        bench.fit(valve, "3", "exhaust valve", FITTED_ON)
        log_run(session, shop.engine, Run(RunningUse.GROUND, 512_50), shop.by(RAN_ON))
        bench.strip(valve, STRIPPED_ON)
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, 520_00), shop.by(STRIPPED_ON))
        (line,) = recall(session, RecallQuestion(part=shop.valve)).lines
        assert wheres(line) == [(RecallWhere.SHOP, "", 1)]
        assert [run_words(line, run) for run in line.runs] == [
            f"Linnet One, {FITTED_ON.isoformat()} to {STRIPPED_ON.isoformat()}, 12.50 h"
        ]
        bench.fit(valve, "4", "exhaust valve", from_place=shop.bench, engine=shop.engine_two)
        (line,) = recall(session, RecallQuestion(part=shop.valve)).lines
        assert wheres(line) == [(RecallWhere.FITTED, "Linnet Two", 1)]
        assert [run.engine for run in line.runs] == ["Linnet One", "Linnet Two"]


def test_springs_in_a_barrel_ran_where_the_barrel_did(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        begin_log(session, shop.engine, LogBegin(0), shop.by(EARLIER))
        springs = accepted(session, shop, shop.spring, quantity=6)
        barrel = accepted(session, shop, shop.barrel, pieces=1)
        assert barrel.piece is not None
        bench = Bench(shop, session)
        bench.fit_inside(springs, barrel.piece, "exhaust springs", EARLIER, quantity=2)
        (line,) = recall(session, RecallQuestion(part=shop.spring)).lines
        assert (wheres(line), line.runs) == ([(RecallWhere.STORES, "", 4), (RecallWhere.STORES, "", 2)], ())
        bench.fit(barrel, "5", "barrel", FITTED_ON)
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, 8_00), shop.by(RAN_ON))
        report = recall(session, RecallQuestion(part=shop.spring))
        (line,) = report.lines
        assert counts(report) == ["2 off fitted in Linnet One", "4 off in the stores"]
        assert [run_words(line, run) for run in line.runs] == [
            f"2 off in Linnet One, {FITTED_ON.isoformat()} to now, 8.00 h"
        ]
        done = hold_recalled(session, RecallQuestion(part=shop.spring), BROKE, shop.by())
        assert engines_on_hold(session) == {shop.engine}
        assert done.engines == ("Linnet One",)


def test_bounds_are_met_all_together(shop: Shop) -> None:
    with shop.store.writing() as session:
        theirs = accepted(session, shop, shop.valve, pieces=1)
        later = Thing(piece=shop.piece(session, on=TODAY))
        springs = accepted(session, shop, shop.spring, quantity=8)
        certificate = session.scalars(select(Document.id).where(Document.reference == "HW-221")).first()
        assert certificate is not None
        add_paper(session, NewPaper(PaperKind.STATEMENT, "Letter 9"), shop.by(), (later,))
        letter = session.scalars(select(Document.id).where(Document.reference == "Letter 9")).one()

        def found(**bounds: object) -> set[Thing]:
            report = recall(session, RecallQuestion(**bounds))  # type: ignore[arg-type]
            return {Thing(line.piece, line.batch) for line in report.lines}

        assert found(part=shop.valve) == {theirs, later}
        assert found(firm=shop.supplier) == {theirs, springs}
        assert found(part=shop.valve, firm=shop.supplier) == {theirs}
        assert found(received_from=TODAY) == {later}
        assert found(received_to=EARLIER) == {theirs, springs}
        assert found(received_from=EARLIER, received_to=TODAY, part=shop.valve) == {theirs, later}
        assert found(document=letter) == {later}
        assert found(document=certificate, received_from=TODAY) == set()
        assert found(batch=springs.batch, part=shop.valve) == set()
        report = recall(session, RecallQuestion(shop.valve, received_from=EARLIER, received_to=TODAY))
        assert report.asked.endswith(
            f"Exhaust valve, received from {EARLIER.isoformat()} to {TODAY.isoformat()}"
        )


def test_a_paper_filed_with_a_batch_after_some_was_split_off_speaks_for_that_too(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = accepted(session, shop, shop.spring, quantity=40)
        assert springs.batch is not None
        shares = (Share(5, Condition.UNSERVICEABLE, to_place=shop.bench),)
        child, _ = split(session, springs.batch, shop.bin_a, shares, shop.by()).batches[0]
        add_paper(session, NewPaper(PaperKind.STATEMENT, "Letter 9"), shop.by(), (springs,))
        letter = session.scalars(select(Document.id).where(Document.reference == "Letter 9")).one()
        report = recall(session, RecallQuestion(document=letter))
        assert {line.batch for line in report.lines} == {springs.batch, child}


def test_a_question_must_ask_for_something_that_is_here(shop: Shop) -> None:
    with shop.store.reading() as session:
        for question in (
            RecallQuestion(),
            RecallQuestion(part=10**6),
            RecallQuestion(batch=10**6),
            RecallQuestion(firm=10**6),
            RecallQuestion(document=10**6),
            RecallQuestion(received_from=TODAY, received_to=EARLIER),
            (),
            (Thing(piece=10**6),),
        ):
            with pytest.raises(Refused):
                recall(session, question)


def test_one_act_holds_everything_and_the_engines_and_clears_the_shelves(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = eleven_fitted(session, shop)
        child, tag = strip_apart(springs, "5", 2, STRIPPED_ON)
        done = hold_recalled(session, springs.question, BROKE, shop.by())
        kind = session.scalars(select(Entry.kind).where(Entry.number == last(session))).one()
        assert (done.entry, kind) == (last(session), EntryKind.RECALLED)
        parent = springs.bench.tag(springs.thing)
        assert (set(done.held), done.already) == ({parent, tag}, ())
        assert done.engines == ("Linnet One", "Linnet Three", "Linnet Two")
        assert engines_on_hold(session) == {shop.engine, shop.engine_two, springs.engine_three}
        assert done.quarantined == (f"29 off {parent} in A-01-01",)
        assert (done.reserved, done.elsewhere) == ((), (f"2 off {tag} in Bench",))
        report = recall(session, springs.question)
        line = line_of(report, springs.thing)
        shelved = [at for at in line.at if at.where is RecallWhere.STORES]
        assert shelved == [RecallAt(RecallWhere.STORES, "Stores › Quarantine", 29)]
        for each in report.lines:
            assert each.held == (f"on hold since {TODAY.isoformat()}: {BROKE}",)
    assert check_store(shop.store).differences == ()


def test_what_is_reserved_stays_and_its_issue_is_barred(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = accepted(session, shop, shop.spring, quantity=10)
        valve = accepted(session, shop, shop.valve, pieces=1)
        bench = Bench(shop, session)
        takes = (Take(shop.kit_spring, springs, shop.bin_a, 2), Take(shop.kit_valve, valve, shop.bin_a, 1))
        (kept,) = reserve(session, (PullOrder(shop.engine, bench.position("5"), takes),), shop.by())
        done = hold_recalled(session, (springs, valve), BROKE, shop.by())
        assert done.quarantined == (f"8 off {bench.tag(springs)} in A-01-01",)
        assert set(done.reserved) == {
            f"2 off {bench.tag(springs)} in A-01-01, reserved for {kept.number}",
            f"{bench.tag(valve)} in A-01-01, reserved for {kept.number}",
        }
        assert done.engines == ()
    with shop.store.writing() as session, pytest.raises(Refused, match="hold"):
        issue(session, kept.pull, shop.by())


def test_what_is_held_for_the_same_reason_is_not_held_twice(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, two = (accepted(session, shop, shop.valve, pieces=1) for _ in range(2))
        raise_hold(session, (Subject(piece=one.piece),), BROKE, shop.by())
        raise_hold(session, (Subject(piece=two.piece),), "Stem looks bent.", shop.by())
        done = hold_recalled(session, RecallQuestion(part=shop.valve), f"  {BROKE} ", shop.by())
        bench = Bench(shop, session)
        assert (done.already, done.held) == ((bench.tag(one),), (bench.tag(two),))
        assert [hold.reason for hold in holds_on(session, one)] == [BROKE]
        assert [hold.reason for hold in holds_on(session, two)] == ["Stem looks bent.", BROKE]
        with pytest.raises(Refused, match="for that reason already"):
            hold_recalled(session, RecallQuestion(part=shop.valve), BROKE, shop.by())
        (hold,) = holds_on(session, one)
        clear_hold(session, hold.id, "looked at", shop.by())
        again = hold_recalled(session, RecallQuestion(part=shop.valve), BROKE, shop.by())
        assert again.held == (bench.tag(one),)


def test_a_reversed_recall_is_undone_whole(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs = eleven_fitted(session, shop)
        before = replace(recall(session, springs.question), last_entry=0, last_hash="", made_at=BEGUN_AT)
        done = hold_recalled(session, springs.question, BROKE, shop.by())
        reverse(session, done.entry, "the wrong batch", shop.by())
        after = replace(recall(session, springs.question), last_entry=0, last_hash="", made_at=BEGUN_AT)
        assert after == before
        assert standing_holds(session) == 0
    assert check_store(shop.store).differences == ()


def test_a_recall_is_refused_where_it_could_do_nothing_or_not_then(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = accepted(session, shop, shop.valve, pieces=1)
        here = last(session)
        with pytest.raises(Refused, match="No reason"):
            hold_recalled(session, (valve,), "  ", shop.by())
        with pytest.raises(Refused, match="nothing to recall"):
            hold_recalled(session, RecallQuestion(part=shop.spring), BROKE, shop.by())
        with pytest.raises(Refused, match=f"came on {EARLIER.isoformat()}"):
            hold_recalled(session, (valve,), BROKE, shop.by(EARLIER - timedelta(days=1)))
        with pytest.raises(Refused, match="is no quarantine"):
            hold_recalled(session, (valve,), BROKE, shop.by(), shop.bin_b)
        with pytest.raises(Refused, match="no such place"):
            hold_recalled(session, (valve,), BROKE, shop.by(), 10**6)
        assert (last(session), standing_holds(session)) == (here, 0)


def test_what_is_in_quarantine_or_scrapped_stays_where_it_is(shop: Shop) -> None:
    with shop.store.writing() as session:
        apart, thrown, away = (accepted(session, shop, shop.valve, pieces=1) for _ in range(3))
        move(session, (Shift(apart),), shop.quarantine, shop.by())
        move(session, (Shift(thrown),), shop.scrap, shop.by())
        move(session, (Shift(away),), shop.works, shop.by())
        done = hold_recalled(session, RecallQuestion(part=shop.valve), BROKE, shop.by())
        tag = Bench(shop, session).tag(away)
        assert (len(done.held), done.quarantined) == (3, ())
        assert done.elsewhere == (f"{tag} in At Brackwater",)


def test_a_quarantine_may_be_chosen(shop: Shop) -> None:
    with shop.store.writing() as session:
        cage = shop_acts.add_place(
            session, shop_acts.NewPlace("Cage 2", session.get_one(Place, shop.quarantine).kind), shop.by()
        )
        valve = accepted(session, shop, shop.valve, pieces=1)
        hold_recalled(session, (valve,), BROKE, shop.by(), cage)
        (line,) = recall(session, (valve,)).lines
        assert [at.path for at in line.at] == ["Cage 2"]


def test_the_letter_is_signed_by_a_person_with_their_licence(shop: Shop) -> None:
    with shop.store.writing() as session:
        valve = accepted(session, shop, shop.valve, pieces=1)
        letter = recall_letter(session, (valve,), BROKE, shop.inspector, "Dunmere Gliding Club")
        assert (letter.signed_by, letter.licence) == ("Ada Farrow", "engine inspector HL 2041")
        assert letter.addressee == "Dunmere Gliding Club"
        assert letter.report.asked == Bench(shop, session).tag(valve)
        assert recall_letter(session, (valve,), BROKE, shop.keeper).licence == ""
        with pytest.raises(Refused, match="No reason"):
            recall_letter(session, (valve,), " ", shop.inspector)
        with pytest.raises(Refused, match="Nobody"):
            recall_letter(session, (valve,), BROKE, 10**6)
