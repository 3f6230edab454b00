"""The story of a piece and of a batch: every entry in its order, where it lies and lay, what is not known."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.goods_in import GoodsIn, MadeHere, NewPiece, ReceivingChecks, receive
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.pull import GiveBack, PullOrder, cancel, give_back, issue, reserve
from invdb.acts.reserve_check import Take
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.acts.split import Share, split
from invdb.acts.trace import trace, trace_thing
from invdb.paper.trace_words import inspection_lines, inspection_words
from invdb.records.engines import Position, Station
from invdb.records.ledger import Entry
from invdb.records.posting import post
from invdb.records.stock import Place, PullLine
from invdb.rules.history import ComplianceLine, ConcessionLine, EventLine, QuantityAt, TraceSheet
from invdb.terms import (
    PRIOR_LIFE_UNKNOWN,
    ConcessionOver,
    Condition,
    EngineEventKind,
    HoursKnown,
    Origin,
    PaperKind,
    PlaceKind,
    PriorLife,
    Refused,
    ReturnedAs,
    RunningUse,
    Scope,
)
from tests.bench_shop import furnished
from tests.engine_shop import METER, begin, run
from tests.fitted_shop import Bench, add_barrel_station
from tests.shop import NOW, TODAY, WORKSHOP, Shop

CHECKS = ReceivingChecks("stamped", "match", "none", "sealed")
RELEASE = NewPaper(PaperKind.RELEASE_CERTIFICATE, "HW-221", dated_on=TODAY - timedelta(days=3))
FROM_ALDERMOOR = GoodsIn(Origin.NEW, 0, firm=1, checks=CHECKS, papers=(RELEASE,))


def valve(session: Session, shop: Shop, on: date | None = None, accepted: bool = True) -> tuple[Thing, str]:
    """A new exhaust valve in A-01-01, accepted for flight unless not; its id and its tag."""
    thing, tag = shop.book_in(session, shop.valve, pieces=1, goods=FROM_ALDERMOOR, on=on).things[0]
    if accepted:
        accept(session, Acceptance((thing,), Scope.FLIGHT), shop.by(on))
    return thing, tag


def springs(session: Session, shop: Shop, quantity: int = 40, on: date | None = None) -> tuple[int, str]:
    """A batch of springs in A-01-01, not yet accepted; its id and its tag."""
    thing, tag = shop.book_in(session, shop.spring, quantity=quantity, goods=FROM_ALDERMOOR, on=on).things[0]
    assert thing.batch is not None
    return thing.batch, tag


def last(session: Session) -> int:
    """The number of the entry posted last."""
    number = session.scalar(select(Entry.number).order_by(Entry.number.desc()).limit(1))
    assert number is not None
    return number


def story(sheet: TraceSheet) -> list[str]:
    return [entry.what for entry in sheet.entries]


def order(session: Session, shop: Shop, kit_line: int, thing: Thing, quantity: int = 1) -> PullOrder:
    position = session.scalars(select(Position.id).where(Position.name == "5")).one()
    return PullOrder(shop.engine, position, (Take(kit_line, thing, shop.bin_a, quantity),))


def pull_line(session: Session, pull: int) -> int:
    return session.scalars(select(PullLine.id).where(PullLine.pull_id == pull)).one()


def test_a_piece_is_told_from_the_dock_to_the_scrap_drum(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, tag = valve(session, shop, accepted=False)
        accept(session, Acceptance((thing,), Scope.FLIGHT, to_place=shop.bonded), shop.by())
        move(session, (Shift(thing),), shop.bin_a, shop.by(note="the bonded bin leaks"))
        (hold,) = raise_hold(session, (Subject(piece=thing.piece),), "Stem looks bent.", shop.by())
        clear_hold(session, hold, "true within 0.01", shop.by())
        kept = reserve(session, (order(session, shop, shop.kit_valve, thing),), shop.by())[0]
        cancel(session, kept.pull, "engine sold", shop.by())
        pull = reserve(session, (order(session, shop, shop.kit_valve, thing),), shop.by())[0]
        issue(session, pull.pull, shop.by())
        back = GiveBack(pull_line(session, pull.pull), 1, ReturnedAs.HANDLED, shop.bench)
        give_back(session, pull.pull, (back,), shop.by())
        set_condition(session, (thing,), Condition.UNSALVAGEABLE, "cracked", shop.by(), shop.scrap)
    with shop.store.reading() as session:
        sheet = trace(session, tag)
    assert story(sheet) == [
        "Booked in 1 piece from Aldermoor Aero Spares into A-01-01.",
        "Accepted for flight by Ada Farrow (licence HL 2041), and moved from A-01-01 to B-01-01.",
        "Moved from B-01-01 to A-01-01.",
        "Put on hold: Stem looks bent.",
        "Hold cleared: true within 0.01.",
        f"Reserved for pull {kept.number}, Linnet One cylinder 5.",
        f"No longer reserved for pull {kept.number}, Linnet One cylinder 5, which was cancelled.",
        f"Reserved for pull {pull.number}, Linnet One cylinder 5.",
        f"Issued to pull {pull.number}, Linnet One cylinder 5, from A-01-01.",
        f"Came back handled from pull {pull.number}, Linnet One cylinder 5, into Bench.",
        "Set to unsalvageable, and moved from Bench to Scrap drum.",
    ]
    assert [stay.place for stay in sheet.stays] == [
        "Stores › A-01-01",
        "Stores › B-01-01",
        "Stores › A-01-01",
        f"Pull {pull.number}",
        "Bench",
        "Scrap drum",
    ]
    assert sheet.where_now == "Scrap drum"
    assert sheet.entries[2].note == "the bonded bin leaks"
    assert {(entry.who, entry.licence) for entry in sheet.entries} == {
        ("Ada Farrow", "engine inspector HL 2041")
    }


def test_the_sheet_says_what_is_known_of_the_piece(shop: Shop) -> None:
    with shop.store.writing() as session:
        hours = PriorLife(HoursKnown.AT_LEAST, 300_00)
        goods = GoodsIn(
            Origin.SALVAGED,
            shop.quarantine,
            part=shop.valve,
            pieces=(NewPiece("R 17", hours, PRIOR_LIFE_UNKNOWN, note="blued tip"),),
            donor_engine=shop.engine_two,
            donor="cylinder 3",
            checks=ReceivingChecks("stamped"),
            papers=(RELEASE,),
        )
        thing, tag = receive(session, goods, shop.by()).things[0]
        raise_hold(session, (Subject(part=shop.valve),), "Stems shear.", shop.by())
        raise_hold(session, (Subject(piece=thing.piece),), "No log.", shop.by())
        number = last(session)
    with shop.store.reading() as session:
        sheet = trace(session, tag.lower().replace("-", ""))
    assert (sheet.workshop, sheet.tag, sheet.is_batch) == (WORKSHOP.name, tag, False)
    assert (sheet.part_name, sheet.other_numbers) == ("Exhaust valve", (("maker's number", "PW 1187"),))
    assert (sheet.serial, sheet.prior_hours, sheet.note) == ("R 17", hours, "blued tip")
    assert (sheet.origin, sheet.donor, sheet.used) == (Origin.SALVAGED, "Linnet Two cylinder 3", True)
    assert (sheet.condition, sheet.scope, sheet.accepted_by) == (Condition.UNINSPECTED, None, "")
    assert [(check.name, check.found) for check in sheet.checks] == [
        ("right part", "stamped"),
        ("papers", ""),
        ("damage", ""),
        ("hazards", ""),
    ]
    assert [(hazard.word, hazard.caution) for hazard in sheet.hazards] == [
        ("sodium-filled", "Do not cut the stem.")
    ]
    assert [(hold.on_what, hold.reason, hold.cleared_on) for hold in sheet.holds] == [
        (f"the part {sheet.part_number}", "Stems shear.", None),
        ("this piece", "No log.", None),
    ]
    assert [(paper.kind, paper.reference, paper.content_held) for paper in sheet.papers] == [
        (PaperKind.RELEASE_CERTIFICATE, "HW-221", False)
    ]
    assert sheet.where_now == "Stores › Quarantine"
    assert sheet.last_entry == number
    assert len(sheet.last_hash) == 64
    assert sheet.printed_at.date() == NOW.date()
    assert story(sheet)[0] == "Booked in 1 piece salvaged from Linnet Two into Quarantine."
    whys = " ".join(gap.why for gap in sheet.gaps)
    assert "at least 300.00 h" in whys
    assert "when it was made" in whys


def test_what_was_made_here_says_by_whom_and_of_what(shop: Shop) -> None:
    made = MadeHere("HFM-12", "C", "EN 24", "heat 4471", "Ben Hollis", "Ada Farrow")
    with shop.store.writing() as session:
        goods = GoodsIn(Origin.MADE_HERE, 0, made_here=made)
        (_, tag) = shop.book_in(session, shop.barrel, pieces=1, goods=goods).things[0]
        (_, bought) = shop.book_in(session, shop.barrel, pieces=1).things[0]
    with shop.store.reading() as session:
        sheet = trace(session, tag)
        assert sheet.made_here is not None
        assert (sheet.made_here.drawing, sheet.made_here.material_certificate) == ("HFM-12", "heat 4471")
        assert (sheet.made_here.made_by, sheet.made_here.inspected_by) == ("Ben Hollis", "Ada Farrow")
        assert story(sheet) == ["Booked in 1 piece made here into A-01-01."]
        assert trace(session, bought).made_here is None


def test_a_reserved_piece_says_for_which_pull(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, tag = valve(session, shop)
        pull = reserve(session, (order(session, shop, shop.kit_valve, thing),), shop.by())[0]
    with shop.store.reading() as session:
        assert trace(session, tag).where_now == f"Stores › A-01-01 (reserved for pull {pull.number})"


def test_what_was_reversed_stays_to_be_seen_with_what_reversed_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, tag = valve(session, shop)
        moved = move(session, (Shift(thing),), shop.works, shop.by())
        undone = reverse(session, moved, "the other valve", shop.by())
        raise_hold(session, (Subject(piece=thing.piece),), "Wrong tag?", shop.by())
        held = last(session)
        reverse(session, held, "no doubt at all", shop.by())
        add_paper(session, NewPaper(PaperKind.STATEMENT, "Letter 9"), shop.by(), (thing,))
        filed = last(session)
        reverse(session, filed, "about another valve", shop.by())
    with shop.store.reading() as session:
        sheet = trace(session, tag)
    by_number = {entry.number: entry for entry in sheet.entries}
    assert by_number[moved].what == "Moved from A-01-01 to At Brackwater."
    assert by_number[moved].reversed_by == undone
    assert (by_number[undone].reverses, by_number[undone].note) == (moved, "the other valve")
    assert by_number[undone].what == f"Reversed entry {moved}, moved."
    assert by_number[held].what == "Put on hold: Wrong tag?"
    assert by_number[held].reversed_by == held + 1
    assert by_number[filed].what == "Filed statement Letter 9."
    assert by_number[filed].reversed_by == filed + 1
    assert sheet.holds == ()
    assert [paper.reference for paper in sheet.papers] == ["HW-221"]
    assert sheet.where_now == "Stores › A-01-01"


def test_entries_stand_in_the_order_of_what_happened(shop: Shop) -> None:
    week_ago, days_ago = TODAY - timedelta(days=7), TODAY - timedelta(days=2)
    with shop.store.writing() as session:
        thing, tag = valve(session, shop, on=week_ago)
        move(session, (Shift(thing),), shop.bin_b, shop.by(TODAY))
        raise_hold(session, (Subject(piece=thing.piece),), "Dropped.", shop.by(days_ago))
    with shop.store.reading() as session:
        sheet = trace(session, tag)
    assert [(entry.happened_on, entry.kind) for entry in sheet.entries] == [
        (week_ago, "goods in"),
        (week_ago, "accepted"),
        (days_ago, "hold raised"),
        (TODAY, "moved"),
    ]


def test_a_doubt_on_the_part_counts_only_from_when_the_piece_came(shop: Shop) -> None:
    with shop.store.writing() as session:
        (old,) = raise_hold(session, (Subject(part=shop.valve),), "Old doubt.", shop.by(date(2025, 2, 1)))
        clear_hold(session, old, "unfounded", shop.by(date(2025, 2, 8)))
        _, tag = valve(session, shop)
        raise_hold(session, (Subject(part=shop.valve),), "New doubt.", shop.by())
    with shop.store.reading() as session:
        sheet = trace(session, tag)
    assert [hold.reason for hold in sheet.holds] == ["New doubt."]
    assert story(sheet)[-1] == f"Put {sheet.part_number} Exhaust valve on hold: New doubt."
    assert not any("Old doubt" in what for what in story(sheet))


def test_a_split_batch_keeps_its_trace(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch, tag = springs(session, shop)
        parts = split(
            session,
            batch,
            shop.bin_a,
            (
                Share(31, Condition.SERVICEABLE, Scope.FLIGHT),
                Share(5, Condition.UNSERVICEABLE, to_place=shop.quarantine),
            ),
            shop.by(),
        )
        (_, good), (bad_id, bad) = parts.batches
        move(session, (Shift(Thing(batch=batch), 2),), shop.bin_b, shop.by())
        (grandchild,) = split(
            session, bad_id, shop.quarantine, (Share(1, Condition.UNSALVAGEABLE),), shop.by()
        ).batches
    with shop.store.reading() as session:
        parent, child, last_one = trace(session, tag), trace(session, bad), trace(session, grandchild[1])
    assert story(parent) == [
        "Booked in 40 off from Aldermoor Aero Spares into A-01-01.",
        f"Split off {good}: 31 off, serviceable for flight; {bad}: 5 off, unserviceable.",
        "Moved 2 off from A-01-01 to A-01-02.",
    ]
    assert parent.where_now == "2 places"
    assert parent.quantities == (QuantityAt("Stores › A-01-01", 2), QuantityAt("Stores › A-01-02", 2))
    assert [(kin.tag, kin.relation, kin.quantity) for kin in parent.kin] == [
        (good, "split into", 31),
        (bad, "split into", 5),
    ]
    assert story(child)[:2] == [
        f"{tag}: Booked in 40 off from Aldermoor Aero Spares into A-01-01.",
        f"Split off from {tag}: 5 off, unserviceable, into Quarantine.",
    ]
    assert [(kin.tag, kin.relation, kin.quantity, kin.on) for kin in child.kin] == [
        (tag, "split from", 5, TODAY),
        (grandchild[1], "split into", 1, TODAY),
    ]
    assert [paper.reference for paper in child.papers] == ["HW-221"]
    assert story(last_one) == [
        f"{tag}: Booked in 40 off from Aldermoor Aero Spares into A-01-01.",
        f"{bad}: Split off from {tag}: 5 off, unserviceable, into Quarantine.",
        f"Split off from {bad}: 1 off, unsalvageable, into Quarantine.",
    ]


def test_a_batch_tells_what_was_reserved_issued_and_came_back(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch, tag = springs(session, shop)
        accept(session, Acceptance((Thing(batch=batch),), Scope.FLIGHT), shop.by())
        pull = reserve(session, (order(session, shop, shop.kit_spring, Thing(batch=batch), 2),), shop.by())[0]
        issue(session, pull.pull, shop.by())
        line = pull_line(session, pull.pull)
        give_back(session, pull.pull, (GiveBack(line, 1, ReturnedAs.UNTOUCHED, shop.bin_a),), shop.by())
        give_back(session, pull.pull, (GiveBack(line, 1, ReturnedAs.ALTERED, shop.bench),), shop.by())
    with shop.store.reading() as session:
        sheet = trace(session, tag)
        (altered,) = [kin.tag for kin in sheet.kin]
        child = trace(session, altered)
    kit = f"pull {pull.number}, Linnet One cylinder 5"
    assert story(sheet)[2:] == [
        f"Reserved 2 off for {kit}.",
        f"Issued 2 off to {kit}, from A-01-01.",
        f"1 off came back untouched from {kit}, into A-01-01.",
        f"1 off came back altered from {kit} as {altered}, into Bench.",
    ]
    assert story(child)[-1] == f"Came back altered from {kit}: 1 off of {tag}, into Bench."


def test_a_piece_inside_another_was_part_of_whatever_held_that(shop: Shop) -> None:
    days = [TODAY - timedelta(days=back) for back in (9, 8, 7, 6)]
    with shop.store.writing() as session:
        barrel, barrel_tag = shop.book_in(session, shop.barrel, pieces=1, on=days[0]).things[0]
        guide, tag = valve(session, shop, on=days[0])
        draft = shop.draft(days[0])
        inside = draft.new(
            session, "place", kind=PlaceKind.PIECE, name=f"In {barrel_tag}", piece_id=barrel.piece
        )
        post(session, draft)
        engine = session.scalars(select(Place.id).where(Place.engine_id == shop.engine)).one()
        draft = shop.draft(days[0])
        station = draft.new(
            session,
            "place",
            kind=PlaceKind.STATION,
            name="Linnet One cylinder 5",
            parent_id=engine,
            engine_id=shop.engine,
        )
        post(session, draft)
        shop.move(session, guide, shop.bin_a, inside, on=days[1])
        shop.move(session, barrel, shop.bin_a, station, on=days[2])
        shop.move(session, barrel, station, shop.bench, on=days[3])
    with shop.store.reading() as session:
        sheet = trace(session, tag)
        assert trace_thing(session, barrel).part_of[0].place == "Linnet One cylinder 5"
    assert [(part.from_on, part.to_on, part.place) for part in sheet.part_of] == [
        (days[1], None, f"In {barrel_tag}"),
        (days[2], days[3], "Linnet One cylinder 5"),
    ]
    assert sheet.where_now == f"Bench › In {barrel_tag}"


def test_each_time_in_an_engine_says_what_that_ran(shop: Shop) -> None:
    begin(shop)
    days = [TODAY - timedelta(days=back) for back in (60, 50, 40, 30, 20)]
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        add_barrel_station(shop, session)
        barrel, barrel_tag = shop.book_in(session, shop.barrel, pieces=1, on=days[0]).things[0]
        (guide, tag), (batch, batch_tag) = (
            valve(session, shop, on=days[0]),
            springs(session, shop, on=days[0]),
        )
        assert barrel.piece is not None
        bench.fit_inside(guide, barrel.piece, "exhaust valve", days[0])
        bench.fit(barrel, "5", "barrel", days[1])
        for cylinder in "56":
            bench.fit(Thing(batch=batch), cylinder, "exhaust springs", days[1], quantity=2)
        run(session, shop, METER + 30_00, on=days[2], starts=4)
        bench.strip(barrel, days[3])
        run(session, shop, METER + 35_00, on=days[4])
    with shop.store.reading() as session:
        sheet, of_springs = trace(session, tag), trace(session, batch_tag)
    (time,) = sheet.engine_times
    assert (time.from_on, time.to_on, time.engine) == (days[1], days[3], "Linnet One")
    assert time.where == f"exhaust valve in {barrel_tag}"
    assert (time.hours, time.starts) == (
        PriorLife(HoursKnown.EXACT, 30_00, 30_00),
        PriorLife(HoursKnown.EXACT, 4, 4),
    )
    assert [stay.place for stay in sheet.stays][-1] == f"In piece {barrel.piece}, exhaust valve"
    assert [(each.where, each.hours.low) for each in of_springs.engine_times] == [("4 off", 35_00)]


def test_a_tag_that_was_booked_in_and_reversed_is_told_so(shop: Shop) -> None:
    with shop.store.writing() as session:
        _, tag = valve(session, shop, accepted=False)
        number = last(session)
        undone = reverse(session, number, "booked in twice", shop.by())
    with shop.store.reading() as session, pytest.raises(Refused) as refused:
        trace(session, tag)
    assert refused.value.reason == (
        f"{tag} was made by entry {number} of {TODAY.isoformat()}, and Ada Farrow reversed that by entry"
        f" {undone} on {TODAY.isoformat()}: booked in twice."
    )


def test_a_mistyped_tag_is_told_from_an_unknown_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        _, tag = valve(session, shop)
    wrong = f"{tag[:-1]}{'A' if tag[-1] != 'A' else 'B'}"
    with shop.store.reading() as session:
        with pytest.raises(Refused, match="mistyped"):
            trace(session, wrong)
        with pytest.raises(Refused, match="No piece or batch has the tag T00999"):
            trace(session, "T00999-G")


def test_a_long_story_takes_no_more_queries_than_a_short_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, tag = valve(session, shop)
        move(session, (Shift(thing),), shop.bin_b, shop.by())
        move(session, (Shift(thing),), shop.bin_a, shop.by())

    def queries() -> int:
        asked: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
            asked.append(statement)

        event.listen(shop.store.engine, "before_cursor_execute", note)
        with shop.store.reading() as session:
            trace(session, tag)
        event.remove(shop.store.engine, "before_cursor_execute", note)
        return len(asked)

    short = queries()
    with shop.store.writing() as session:
        for _ in range(6):
            move(session, (Shift(thing),), shop.bin_b, shop.by())
            move(session, (Shift(thing),), shop.bin_a, shop.by())
    assert queries() == short


def test_a_piece_tells_what_it_ran_what_it_was_inside_for_and_what_is_allowed(shop: Shop) -> None:
    days = [TODAY - timedelta(days=back) for back in (90, 60, 30, 10)]
    with shop.store.writing() as session:
        thing, tag = valve(session, shop, on=days[0])
        batch, batch_tag = springs(session, shop)
        assert thing.piece is not None
        paper = add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), shop.by(days[0]))
        begin_log(session, shop.engine, LogBegin(None), shop.by(days[0]))
        seat = session.scalars(select(Station.id).where(Station.name == "exhaust valve")).one()
        cylinder = session.scalars(select(Position.id).where(Position.name == "5")).one()
        fit(session, FitOrder(shop.engine, cylinder, (Fit(seat, thing),), None), shop.by(days[1]))
        strike = NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE, "tips bent")
        struck = record_event(session, strike, shop.by(days[2]))
        worn = NewConcession(
            "C 12",
            "Air Board",
            ConcessionOver.WORN_LIMIT,
            "stem under size",
            paper,
            thing.piece,
            shop.engine,
            cylinder,
            hours_allowed=50_00,
        )
        grant_concession(session, worn, shop.by(days[2]))
        order = NewDirective("D 8", "stems", "measure", days[2], part=shop.valve)
        directive = add_directive(session, order, shop.by(days[2]))
        comply(session, directive, (Subject(piece=thing.piece),), "measured", shop.by(days[3]))
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=12_50, starts=3), shop.by(days[3]))
    with shop.store.reading() as session:
        sheet = trace(session, tag)
        assert trace(session, batch_tag).events == ()
    assert (sheet.hours_in_all, sheet.starts_in_all) == (
        PriorLife(HoursKnown.EXACT, 12_50, 12_50),
        PriorLife(HoursKnown.EXACT, 3, 3),
    )
    assert (sheet.hours_since_overhaul, sheet.overhauled_on) == (None, None)
    assert [(line.limit.amount, line.left_worst) for line in sheet.limits] == [(600_00, 587_50)]
    happened = f"propeller strike of Linnet One on {days[2].isoformat()}"
    assert sheet.events == (EventLine(happened, days[2], "tips bent"),)
    assert sheet.concessions == (
        ConcessionLine(
            "C 12",
            "Air Board",
            "worn limit",
            "stem under size",
            "Linnet One, cylinder 5",
            "statement AA 77",
            days[2],
            "for 50.00 h",
            "37.50 h",
            "in force",
            True,
        ),
    )
    assert sheet.compliances == (ComplianceLine("D 8: stems", days[3], "Ada Farrow", "measured"),)
    with shop.store.writing() as session:
        clear_event(session, struck, (Subject(piece=thing.piece),), "crack test", shop.by())
        (line,) = trace(session, tag).events
    assert (line.cleared_on, line.cleared_by, line.inspection) == (TODAY, "Ada Farrow", "crack test")


def test_what_a_piece_measured_is_on_its_sheet_with_who_measured_it(shop: Shop) -> None:
    bench = furnished(shop)
    bench.inspect()
    with shop.store.reading() as session:
        (done,) = trace_thing(session, bench.barrel).inspections
    assert (done.inspected_by, done.licence_number) == ("Ada Farrow", "HL 2041")
    assert [line.name for line in done.lines] == ["bore"]
    assert inspection_words(done).startswith("Ada Farrow, licence HL 2041: serviceable for flight")
    assert "within new limits" in inspection_lines(done)[0]
