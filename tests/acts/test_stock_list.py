"""The stock as one list: what it shows, what it is filtered and sorted by, a page at a time."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.catalogue import NewKitLine, NewPart, NewStandIn
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper
from invdb.acts.pull import PullOrder, issue, reserve
from invdb.acts.reserve_check import Take
from invdb.acts.shop import NewEngineType, add_engine_type
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockPage, StockRow, stock_choices, stock_count, stock_rows
from invdb.acts.stock_sort import StockColumn, StockSort
from invdb.records.engines import Position
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import (
    Condition,
    HoursKnown,
    Layout,
    Measure,
    Origin,
    PaperKind,
    PlaceKind,
    PriorLife,
    Scope,
    Tracking,
)
from tests.shop import TODAY, Shop

CHECKS = ReceivingChecks("stamped", "match", "none", "sealed")
RELEASE = NewPaper(PaperKind.RELEASE_CERTIFICATE, "HW-221")


def piece(session: Session, shop: Shop, part: int, serial: str = "", **more: object) -> tuple[int, str]:
    """A new piece in A-01-01; its id and its tag."""
    hours = more.pop("hours", None)
    goods = {"origin": Origin.NEW, "place": shop.bin_a, "part": part, "checks": CHECKS, "papers": (RELEASE,)}
    new = NewPiece(serial, hours)  # type: ignore[arg-type]
    received = receive(session, GoodsIn(**(goods | {"pieces": (new,)} | more)), shop.by())  # type: ignore[arg-type]
    ((thing, tag),) = received.things
    assert thing.piece is not None
    return thing.piece, tag


def batch(session: Session, shop: Shop, part: int, quantity: int, **more: object) -> tuple[int, str]:
    """A new batch in A-01-01; its id and its tag."""
    mark = str(more.pop("mark", ""))
    goods = {"origin": Origin.NEW, "place": shop.bin_a, "part": part, "checks": CHECKS, "papers": (RELEASE,)}
    new = {"batch": NewBatch(quantity, mark)}
    ((thing, tag),) = receive(session, GoodsIn(**(goods | new | more)), shop.by()).things  # type: ignore[arg-type]
    assert thing.batch is not None
    return thing.batch, tag


def listed(shop: Shop, which: StockFilter | None = None, sort: StockSort | None = None) -> list[StockRow]:
    with shop.store.reading() as session:
        page = stock_rows(session, which or StockFilter(), sort)
        assert page.total == len(page.rows) == stock_count(session, which or StockFilter())
    return list(page.rows)


def tags(shop: Shop, which: StockFilter | None = None, sort: StockSort | None = None) -> list[str]:
    return [row.tag for row in listed(shop, which, sort)]


def test_a_row_says_what_the_thing_is_and_how_it_stands(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, tag = piece(
            session, shop, shop.valve, "V 17", hours=PriorLife(HoursKnown.BETWEEN, 100_00, 140_50)
        )
        accept(session, Acceptance((Thing(piece=one),), Scope.GROUND_RUNNING), shop.by())
        batch(session, shop, shop.wire, 12_500_000, mark="Lot 4", owner=shop.customer)
    wire, valve = listed(shop)
    assert (valve.thing, valve.tag, valve.place) == (Thing(piece=one), tag, shop.bin_a)
    assert (valve.part_number, valve.part_name, valve.serial) == ("VX0001-Y", "Exhaust valve", "V 17")
    assert (valve.quantity_words, valve.bin, valve.place_kind) == ("1 off", "A-01-01", PlaceKind.BIN)
    assert (valve.condition, valve.scope) == (Condition.SERVICEABLE, Scope.GROUND_RUNNING)
    assert (valve.hours, valve.owner, valve.papers) == (
        "between 100.00 h and 140.50 h",
        "Harrowmere Flying Museum",
        1,
    )
    assert (valve.reserved_for, valve.on_hold, valve.expired) == ((), False, False)
    assert (wire.quantity_words, wire.measure, wire.serial) == ("12.5 m", Measure.LENGTH, "Lot 4")
    assert (wire.owner, wire.hours, wire.received_on) == ("Dunmere Gliding Club", "", TODAY)


def test_a_batch_has_a_row_at_each_place_where_some_of_it_lies(shop: Shop) -> None:
    with shop.store.writing() as session:
        springs, tag = batch(session, shop, shop.spring, 40)
        accept(session, Acceptance((Thing(batch=springs),), Scope.FLIGHT), shop.by())
        move(session, (Shift(Thing(batch=springs), 10),), shop.bin_b, shop.by())
        position = session.scalars(select(Position.id).where(Position.name == "5")).one()
        take = Take(shop.kit_spring, Thing(batch=springs), shop.bin_b, 2)
        (pull,) = reserve(session, (PullOrder(shop.engine, position, (take,)),), shop.by())
    first, second = listed(shop)
    assert (first.tag, first.bin, first.quantity, first.reserved_for) == (tag, "A-01-01", 30, ())
    assert (second.tag, second.bin, second.quantity) == (tag, "A-01-02", 10)
    assert (second.reserved, second.reserved_for) == (2, (pull.number,))
    with shop.store.writing() as session:
        issue(session, pull.pull, shop.by())
    assert [(row.bin, row.quantity, row.reserved_for) for row in listed(shop)] == [
        ("A-01-01", 30, ()),
        ("A-01-02", 8, ()),
        (f"Pull {pull.number}", 2, ()),
    ]


def test_what_is_gone_is_listed_only_when_asked_for(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, tag = piece(session, shop, shop.valve)
        springs, batch_tag = batch(session, shop, shop.spring, 4)
        _, kept = piece(session, shop, shop.valve)
        draft = shop.draft()
        draft.move(shop.bin_a, OUTSIDE_PLACE, piece=one)
        draft.move(shop.bin_a, OUTSIDE_PLACE, batch=springs, quantity=4)
        post(session, draft)
    assert tags(shop) == [kept]
    rows = listed(shop, StockFilter(gone=True))
    assert [(row.tag, row.bin, row.quantity_words) for row in rows] == [
        (batch_tag, "", "0 off"),
        (tag, "Outside", "1 off"),
        (kept, "A-01-01", "1 off"),
    ]


def test_the_list_is_filtered_by_each_of_its_choices(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, sound = piece(session, shop, shop.valve)
        accept(session, Acceptance((Thing(piece=one),), Scope.FLIGHT), shop.by())
        two, bent = piece(session, shop, shop.valve, origin=Origin.SALVAGED, donor="Linnet PL-0102")
        set_condition(session, (Thing(piece=two),), Condition.UNSERVICEABLE, "bent", shop.by(), shop.bench)
        _, barrel = piece(session, shop, shop.barrel, owner=shop.customer)
        _, springs = batch(session, shop, shop.spring, 40)
        raise_hold(session, (Subject(piece=one),), "doubt", shop.by())
        raise_hold(session, (Subject(part=shop.spring),), "doubt", shop.by())
    assert tags(shop, StockFilter(condition=Condition.SERVICEABLE)) == [sound]
    assert tags(shop, StockFilter(condition=Condition.UNINSPECTED)) == [springs, barrel]
    assert tags(shop, StockFilter(origin=Origin.SALVAGED)) == [bent]
    assert tags(shop, StockFilter(owner=shop.customer)) == [barrel]
    assert tags(shop, StockFilter(place=shop.bench)) == [bent]
    assert tags(shop, StockFilter(place=shop.goods_in)) == []
    assert tags(shop, StockFilter(on_hold=True)) == [springs, sound]
    assert tags(shop, StockFilter(on_hold=False)) == [bent, barrel]
    with shop.store.reading() as session:
        choices = stock_choices(session)
    family = {each.letters: each.id for each in choices.families}
    assert tags(shop, StockFilter(family=family["VX"])) == [sound, bent]
    everything = {each.name: each.id for each in choices.places}["Stores"]
    assert tags(shop, StockFilter(place=everything)) == [springs, sound, barrel]
    assert tags(shop, StockFilter(condition=Condition.UNSERVICEABLE, family=family["VX"])) == [bent]
    assert tags(shop, StockFilter(condition=Condition.SERVICEABLE, owner=shop.customer)) == []


def test_a_place_takes_in_what_lies_inside_a_piece_there(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, barrel_tag = piece(session, shop, shop.barrel)
        guide, tag = piece(session, shop, shop.valve)
        draft = shop.draft()
        inside = draft.new(session, "place", kind=PlaceKind.PIECE, name=f"In {barrel_tag}", piece_id=barrel)
        post(session, draft)
        shop.move(session, Thing(piece=guide), shop.bin_a, inside, on=TODAY)
        shop.move(session, Thing(piece=barrel), shop.bin_a, shop.bench, on=TODAY)
    assert tags(shop, StockFilter(place=shop.bench)) == [barrel_tag, tag]
    assert tags(shop, StockFilter(place=shop.bin_a)) == []


def test_an_engine_type_asks_for_its_kit_and_all_that_stands_in_for_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        twelve = add_engine_type(session, NewEngineType("Twelve", Layout.VEE), shop.by())

        def another(name: str) -> int:
            return catalogue.add_part(session, NewPart(1, name, Tracking.PIECE), shop.by())

        second, third, twelves, pair = (another(name) for name in ("Second", "Third", "Twelve's", "Pair"))
        catalogue.add_kit_line(
            session, NewKitLine(twelve, "cylinder", 1, "exhaust valve", twelves, 1), shop.by()
        )

        def stand_in(part: int, member: int, **more: object) -> None:
            new = NewStandIn(part, ((member, 1),), "Leaflet 4", **more)  # type: ignore[arg-type]
            catalogue.add_stand_in(session, new, shop.by())

        stand_in(shop.valve, second)
        stand_in(second, third)
        stand_in(twelves, shop.valve, engine_type=twelve)
        stand_in(pair, twelves, both_ways=True)
        tag = {part: piece(session, shop, part)[1] for part in (shop.valve, second, third, twelves, pair)}
        _, barrel = piece(session, shop, shop.barrel)
    assert tags(shop, StockFilter(engine_type=shop.linnet)) == [tag[shop.valve], tag[second], tag[third]]
    assert tags(shop, StockFilter(engine_type=twelve)) == list(tag.values())
    assert barrel in tags(shop)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "BVR"),
        ("-", "BVR"),
        ("valve", "BVR"),
        ("EXHAUST", "V"),
        ("v 17", "V"),
        ("V17", "V"),
        ("spring a-01", "B"),
        ("valve A-01-02", "R"),
        ("lot 4", "B"),
        ("vx0001", "V"),
        ("guide-valve", "R"),
        ("nothing like it", ""),
    ],
)
def test_words_must_each_fit_the_thing_its_part_or_its_bin(shop: Shop, text: str, found: str) -> None:
    with shop.store.writing() as session:
        guide = catalogue.add_part(session, NewPart(1, "Valve guide", Tracking.PIECE), shop.by())
        _, springs = batch(session, shop, shop.spring, 40, mark="Lot 4")
        _, valve = piece(session, shop, shop.valve, "V 17")
        moved, guided = piece(session, shop, guide)
        move(session, (Shift(Thing(piece=moved)),), shop.bin_b, shop.by())
    by_letter = {"B": springs, "V": valve, "R": guided}
    assert tags(shop, StockFilter(text=text)) == [by_letter[letter] for letter in found]


def sortable(shop: Shop) -> dict[str, str]:
    """Five rows that differ in every column; tag by a letter."""
    with shop.store.writing() as session:
        one, first = piece(session, shop, shop.valve, "B 2", hours=PriorLife(HoursKnown.EXACT, 0, 0))
        two, second = piece(session, shop, shop.valve, "A 1", hours=PriorLife(HoursKnown.EXACT, 90, 90))
        _, third = piece(
            session,
            shop,
            shop.barrel,
            origin=Origin.SALVAGED,
            donor="PL-0102",
            hours=PriorLife(HoursKnown.UNKNOWN),
            owner=shop.customer,
        )
        springs, fourth = batch(session, shop, shop.spring, 40, mark="C 3")
        _, fifth = batch(
            session, shop, shop.gasket, 3, place=shop.quarantine, shelf_expiry_on=date(2026, 9, 1)
        )
        accept(session, Acceptance((Thing(piece=one), Thing(batch=springs)), Scope.FLIGHT), shop.by())
        accept(session, Acceptance((Thing(piece=two),), Scope.DISPLAY), shop.by())
        move(session, (Shift(Thing(batch=springs)),), shop.bin_b, shop.by())
        position = session.scalars(select(Position.id).where(Position.name == "5")).one()
        for take in (
            Take(shop.kit_spring, Thing(batch=springs), shop.bin_b, 2),
            Take(shop.kit_valve, Thing(piece=one), shop.bin_a, 1),
        ):
            reserve(session, (PullOrder(shop.engine, position, (take,)),), shop.by())
        raise_hold(session, (Subject(piece=two),), "doubt", shop.by())
    return {"S": fourth, "G": fifth, "V": first, "W": second, "R": third}


@pytest.mark.parametrize(
    ("column", "rising", "falling"),
    [
        (StockColumn.TAG, "SGVWR", "RWVGS"),
        (StockColumn.PART_NUMBER, "RGSVW", "VWSGR"),
        (StockColumn.PART_NAME, "RVWGS", "SGVWR"),
        (StockColumn.SERIAL, "WVSGR", "SVWGR"),
        (StockColumn.QUANTITY, "VWRGS", "SGVWR"),
        (StockColumn.CONDITION, "GRSVW", "SVWGR"),
        (StockColumn.SCOPE, "SVWGR", "WSVGR"),
        (StockColumn.BIN, "GVWRS", "SVWRG"),
        (StockColumn.OWNER, "RSGVW", "SGVWR"),
        (StockColumn.ORIGIN, "SGVWR", "RSGVW"),
        (StockColumn.HOURS, "VWSGR", "WVSGR"),
        (StockColumn.SHELF_EXPIRY, "GSVWR", "GSVWR"),
        (StockColumn.RESERVED_FOR, "SVGWR", "VSGWR"),
        (StockColumn.ON_HOLD, "WSGVR", "SGVRW"),
        (StockColumn.RECEIVED, "SGVWR", "SGVWR"),
    ],
)
def test_each_column_sorts_both_ways_with_the_empty_ones_last(
    shop: Shop, column: StockColumn, rising: str, falling: str
) -> None:
    letters = {tag: letter for letter, tag in sortable(shop).items()}
    for descending, expected in ((False, rising), (True, falling)):
        found = "".join(letters[tag] for tag in tags(shop, sort=StockSort(column, descending)))
        assert found == expected


def test_what_is_past_its_shelf_life_or_its_hours_is_marked(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch(session, shop, shop.gasket, 3, shelf_expiry_on=TODAY)
        batch(session, shop, shop.gasket, 3, shelf_expiry_on=TODAY + timedelta(days=1))
        piece(session, shop, shop.valve, hours=PriorLife(HoursKnown.EXACT, 600_00, 600_00))
        piece(session, shop, shop.valve, hours=PriorLife(HoursKnown.EXACT, 599_00, 599_00))
    assert [row.expired for row in listed(shop)] == [True, False, True, False]


def test_a_long_list_comes_a_page_at_a_time_with_as_few_queries(shop: Shop) -> None:
    with shop.store.writing() as session:
        for _ in range(2):
            shop.book_in(session, shop.valve, pieces=25)
        shop.batch(session)

    def page(offset: int, limit: int) -> tuple[StockPage, int]:
        asked: list[str] = []

        def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
            asked.append(statement)

        event.listen(shop.store.engine, "before_cursor_execute", note)
        with shop.store.reading() as session:
            found = stock_rows(session, StockFilter(), StockSort(StockColumn.BIN), offset, limit)
        event.remove(shop.store.engine, "before_cursor_execute", note)
        return found, len(asked)

    whole, queries = page(0, 100)
    some, fewer = page(0, 3)
    assert queries == fewer
    assert (len(whole.rows), whole.total, len(some.rows), some.total) == (51, 51, 3, 51)
    paged = [row.tag for offset in range(0, 60, 7) for row in page(offset, 7)[0].rows]
    assert paged == [row.tag for row in whole.rows]
    assert len(set(paged)) == 51


def test_the_choices_are_those_of_the_shop(shop: Shop) -> None:
    with shop.store.reading() as session:
        choices = stock_choices(session)
    assert choices.conditions == tuple(Condition)
    assert [each.name for each in choices.engine_types] == ["Linnet"]
    assert [each.name for each in choices.owners] == ["Harrowmere Flying Museum", "Dunmere Gliding Club"]
    names = [each.name for each in choices.places]
    assert names.index("A-01-01") < names.index("A-01-02") < names.index("B-01-01")
    assert "Engine Linnet One" in names
    assert "Outside" not in names
