"""The ledger as a list of sentences, and the last thing that a person did."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import event, select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts import shop as shop_acts
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.by import By
from invdb.acts.catalogue import NewOtherNumber, NewPart
from invdb.acts.change import seen_of
from invdb.acts.goods_in import GoodsIn, ReceivingChecks
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.kit_line_edit import end_kit_line
from invdb.acts.ledger_list import LedgerFilter, entries, entry, last_entry_of
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper, link_paper
from invdb.acts.part_edit import withdraw_number
from invdb.acts.part_page import part_page
from invdb.acts.pull import GiveBack, Lack, PullOrder, cancel, give_back, issue, reserve
from invdb.acts.reserve_check import Take
from invdb.acts.reverse import reverse
from invdb.acts.shop import NewPlace
from invdb.acts.split import Share, split
from invdb.records.engines import Position
from invdb.records.ledger import Entry
from invdb.records.posting import post
from invdb.records.stock import PullLine
from invdb.terms import (
    Condition,
    EntryKind,
    FirmRole,
    Origin,
    PaperKind,
    PlaceKind,
    ReturnedAs,
    Scope,
    Tracking,
)
from tests.shop import TODAY, Shop

CHECKS = ReceivingChecks("stamped", "match", "none", "sealed")
RELEASE = NewPaper(PaperKind.RELEASE_CERTIFICATE, "HW-221")
GOODS = GoodsIn(Origin.NEW, 0, firm=1, checks=CHECKS, papers=(RELEASE,))


def said(session: Session, number: int | None = None) -> str:
    """The sentence of an entry, or of the one posted last."""
    if number is None:
        number = session.scalar(select(Entry.number).order_by(Entry.number.desc()).limit(1))
    row = entry(session, number or 0)
    assert row is not None
    return row.what


def test_each_thing_done_to_stock_is_said_with_what_was_handled(shop: Shop) -> None:
    position_five = select(Position.id).where(Position.name == "5")
    with shop.store.writing() as session:
        (one, tag), (two, tag_two) = shop.book_in(session, shop.valve, pieces=2, goods=GOODS).things
        assert said(session) == (
            f"Booked in 2 pieces of VX0001-Y Exhaust valve as {tag} and {tag_two} from Aldermoor Aero Spares"
            " into A-01-01."
        )
        (springs, batch_tag) = shop.book_in(session, shop.spring, quantity=40, goods=GOODS).things[0]
        assert said(session) == (
            f"Booked in 40 off of SP0001-1 Valve spring as {batch_tag} from Aldermoor Aero Spares"
            " into A-01-01."
        )
        accept(session, Acceptance((one, two, springs), Scope.FLIGHT), shop.by())
        assert said(session) == (
            f"Accepted {tag}, {tag_two} and {batch_tag} for flight by Ada Farrow (licence HL 2041)."
        )
        assert springs.batch is not None
        (child, child_tag) = split(
            session, springs.batch, shop.bin_a, (Share(9, Condition.UNSERVICEABLE),), shop.by()
        ).batches[0]
        assert said(session) == f"Split {batch_tag} into {child_tag}: 9 off, unserviceable."
        move(session, (Shift(two), Shift(Thing(batch=child), 4)), shop.works, shop.by())
        assert said(session) == f"Moved {tag_two} and 4 off {child_tag} from A-01-01 to At Brackwater."
        (hold,) = raise_hold(session, (Subject(piece=two.piece),), "Doubtful heat", shop.by())
        assert said(session) == f"Put {tag_two} on hold: Doubtful heat."
        clear_hold(session, hold, "Heat was right", shop.by())
        assert said(session) == f"Cleared the hold on {tag_two}: Heat was right."
        paper = add_paper(session, NewPaper(PaperKind.WORK_REPORT, "R-88"), shop.by(), (one,))
        assert said(session) == f"Filed work report R-88 with {tag}."
        link_paper(session, paper, (two,), shop.by())
        assert said(session) == f"Filed work report R-88 with {tag_two}."
        position = session.scalars(position_five).one()
        takes = (Take(shop.kit_valve, one, shop.bin_a, 1), Take(shop.kit_spring, springs, shop.bin_a, 2))
        (pull,) = reserve(
            session, (PullOrder(shop.engine, position, takes, (Lack(shop.kit_gasket, 1),)),), shop.by()
        )
        kit = f"pull {pull.number}, Linnet One cylinder 5"
        assert said(session) == f"Reserved {tag} and 2 off {batch_tag} for {kit}, 1 line short."
        issue(session, pull.pull, shop.by())
        assert said(session) == f"Issued {tag} and 2 off {batch_tag} to {kit}."
        lines = session.scalars(
            select(PullLine.id).where(PullLine.pull_id == pull.pull).order_by(PullLine.id)
        )
        back = [GiveBack(line, 1, ReturnedAs.UNTOUCHED, shop.bin_a) for line in list(lines)[:2]]
        give_back(session, pull.pull, tuple(back), shop.by())
        assert said(session) == f"{tag} and 1 off {batch_tag} came back untouched from {kit}."
        (again,) = reserve(session, (PullOrder(shop.engine, position, takes[:1]),), shop.by())
        cancel(session, again.pull, "not now", shop.by())
        assert said(session) == f"Cancelled pull {again.number}, Linnet One cylinder 5."
        number = set_condition(session, (one,), Condition.UNSERVICEABLE, "bent", shop.by(), shop.bench)
        assert said(session) == f"Set {tag} to unserviceable, and moved from A-01-01 to Bench."
        reverse(session, number, "it was straight", shop.by())
        assert said(session) == f"Reversed entry {number}, condition set."


def test_what_was_added_to_the_shop_and_its_catalogue_is_named_or_counted(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert said(session, 1) == "Began the store of Harrowmere Flying Museum."
        shop_acts.add_firm(session, "Tarn & Holloway", FirmRole.SUPPLIER, shop.by())
        assert said(session) == "Added firm Tarn & Holloway."
        shop_acts.add_place(session, NewPlace("C-01-01", PlaceKind.BIN), shop.by())
        assert said(session) == "Added place C-01-01."
        part = NewPart(1, "Inlet valve", Tracking.PIECE, other_numbers=(NewOtherNumber("PW 1186"),))
        catalogue.add_part(session, part, shop.by())
        assert said(session) == "Added part VX0002-W Inlet valve."
        catalogue.add_other_number(session, shop.spring, NewOtherNumber("PW 7"), shop.by())
        assert said(session) == "Added other number for SP0001-1 Valve spring."
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        draft.set("part", shop.valve, name="Exhaust valve, sodium")
        post(session, draft)
        assert said(session) == "Changed part VX0001-Y Exhaust valve, sodium."
        draft = shop.draft(kind=EntryKind.CATALOGUE)
        catalogue.draft_family(session, draft, "LI", "Liners")
        for name in ("Liner", "Liner, first oversize"):
            catalogue.draft_part(session, draft, NewPart(1, name, Tracking.PIECE))
        post(session, draft)
        assert said(session) == "Added 2 parts and family LI Liners."


def test_what_ended_or_was_withdrawn_from_the_catalogue_is_said_to_be(shop: Shop) -> None:
    because = By(shop.inspector, None, "Not used any more")
    with shop.store.writing() as session:
        seen = seen_of(session, "kit_line", shop.kit_spring)
        end_kit_line(session, shop.kit_spring, seen, TODAY + timedelta(days=1), because)
        assert said(session) == "Ended kit line Linnet exhaust springs."
        (number,) = part_page(session, shop.valve).numbers
        withdraw_number(session, number.id, number.entry, because)
        assert said(session) == "Withdrew other number PW 1187 of VX0001-Y Exhaust valve."


def test_of_a_great_many_a_few_are_named_and_the_rest_counted(shop: Shop) -> None:
    with shop.store.writing() as session:
        received = shop.book_in(session, shop.valve, pieces=30)
        things = [thing for thing, _ in received.things]
        tags = [tag for _, tag in received.things]
        assert said(session) == (
            "Booked in 30 pieces of VX0001-Y Exhaust valve as"
            f" {tags[0]}, {tags[1]}, {tags[2]} and 27 more into A-01-01."
        )
        move(session, tuple(Shift(thing) for thing in things), shop.bin_b, shop.by())
        assert said(session) == (
            f"Moved {tags[0]}, {tags[1]}, {tags[2]} and 27 more from A-01-01 to A-01-02."
        )


def test_the_list_is_newest_first_a_page_at_a_time_and_says_what_was_reversed(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = Thing(piece=shop.piece(session))
        moved = move(session, (Shift(thing),), shop.bin_b, shop.by(note="nearer the bench"))
        undone = reverse(session, moved, "wrong valve", shop.by())
    with shop.store.reading() as session:
        page = entries(session, 0, 2)
        rest = entries(session, 2, 1)
        assert entries(session, page.total, 10).rows == ()
    assert [row.number for row in page.rows] == [undone, moved]
    assert page.total == undone == rest.total
    assert rest.rows[0].number == moved - 1
    reversal, first = page.rows
    assert (reversal.reverses, reversal.reversed_by, reversal.note) == (moved, None, "wrong valve")
    assert (first.reverses, first.reversed_by, first.note) == (None, undone, "nearer the bench")
    assert (first.kind, first.who, first.happened_on) == (EntryKind.MOVED, "Ada Farrow", TODAY)


def test_the_list_is_filtered_by_person_kind_and_day(shop: Shop) -> None:
    yesterday = TODAY - timedelta(days=1)
    with shop.store.writing() as session:
        piece = Thing(piece=shop.piece(session, on=yesterday))
        keeper = move(session, (Shift(piece),), shop.bin_b, By(shop.keeper))
        mine = move(session, (Shift(piece),), shop.bin_a, shop.by())
    with shop.store.reading() as session:

        def numbers(which: LedgerFilter) -> list[int]:
            page = entries(session, 0, 50, which)
            assert page.total == len(page.rows)
            return [row.number for row in page.rows]

        assert numbers(LedgerFilter(person=shop.keeper)) == [keeper]
        assert numbers(LedgerFilter(kinds=frozenset({EntryKind.MOVED}))) == [mine, keeper]
        assert numbers(LedgerFilter(from_on=TODAY)) == [mine, keeper]
        assert numbers(LedgerFilter(from_on=yesterday, until_on=yesterday)) == [keeper - 1]


def test_the_last_entry_of_each_person_and_whether_it_may_be_reversed(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert last_entry_of(session, shop.keeper) is None
        piece = Thing(piece=shop.piece(session))
        moved = move(session, (Shift(piece),), shop.bin_b, By(shop.keeper))
    with shop.store.reading() as session:
        mine, keepers = last_entry_of(session, shop.inspector), last_entry_of(session, shop.keeper)
    assert mine is not None
    assert keepers is not None
    assert (mine.number, mine.kind) == (moved - 1, EntryKind.GOODS_IN)
    assert (keepers.number, keepers.may_be_reversed, keepers.why_not) == (moved, True, "")
    with shop.store.writing() as session:
        undone = reverse(session, moved, "wrong valve", shop.by())
    with shop.store.reading() as session:
        mine, keepers = last_entry_of(session, shop.inspector), last_entry_of(session, shop.keeper)
        began = entry(session, 1)
    assert mine is not None
    assert keepers is not None
    assert began is not None
    assert (mine.number, mine.may_be_reversed) == (undone, False)
    assert mine.why_not == "a reversal is never reversed"
    assert (keepers.may_be_reversed, keepers.why_not) == (False, f"entry {undone} reversed it")
    assert began.why_not == "it began the store"


def test_a_record_that_is_gone_is_still_called_by_its_name(shop: Shop) -> None:
    with shop.store.writing() as session:
        (_, tag) = shop.book_in(session, shop.valve, pieces=1).things[0]
        number = session.scalar(select(Entry.number).order_by(Entry.number.desc()).limit(1)) or 0
        reverse(session, number, "twice", shop.by())
        assert said(session, number) == (
            f"Booked in 1 piece of VX0001-Y Exhaust valve as {tag} into A-01-01."
        )


def test_a_long_page_takes_no_more_queries_than_a_short_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = Thing(piece=shop.piece(session))
        for _ in range(10):
            move(session, (Shift(piece),), shop.bin_b, shop.by())
            move(session, (Shift(piece),), shop.bin_a, shop.by())

    def queries(limit: int) -> int:
        asked: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
            asked.append(statement)

        event.listen(shop.store.engine, "before_cursor_execute", note)
        with shop.store.reading() as session:
            assert len(entries(session, 0, limit).rows) == limit
        event.remove(shop.store.engine, "before_cursor_execute", note)
        return len(asked)

    assert queries(20) == queries(2)
