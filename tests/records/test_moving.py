"""Where things are said to be, late or in time: kept right, or refused with the entry in the way."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.check import check_store
from invdb.acts.numbers import Thing
from invdb.acts.reverse import reverse
from invdb.records.posting import post
from invdb.records.stock import Batch, Holding, Piece, Pull, Stay
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import EntryKind, PlaceKind, Refused
from tests.shop import NOW, TODAY, Shop

MONDAY = TODAY - timedelta(days=28)
TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (MONDAY + timedelta(days=days) for days in range(1, 5))


def stays(session: Session, piece: int) -> list[tuple[int, date, date | None]]:
    rows = session.execute(
        select(Stay.place_id, Stay.from_on, Stay.to_on).where(Stay.piece_id == piece).order_by(Stay.sequence)
    )
    return [(place, from_on, to_on) for place, from_on, to_on in rows]


def held(session: Session, batch: int) -> dict[int, tuple[int, int]]:
    rows = session.execute(
        select(Holding.place_id, Holding.quantity, Holding.reserved).where(Holding.batch_id == batch)
    )
    return {place: (quantity, reserved) for place, quantity, reserved in rows}


def pull_line(session: Session, shop: Shop, *, piece: int | None = None, batch: int | None = None) -> int:
    """A pull with one line, by hand."""
    draft = shop.draft(MONDAY, EntryKind.RESERVED)
    pull = draft.new(
        session,
        "pull",
        number=f"Pull {session.scalar(select(func.count()).select_from(Pull))}",
        engine_id=shop.engine,
        position_id=1,
        asked_on=MONDAY,
        asked_by=shop.keeper,
    )
    line = draft.new(
        session,
        "pull_line",
        pull_id=pull,
        kit_line_id=shop.kit_valve,
        wanted_part_id=shop.valve,
        part_id=shop.valve,
        piece_id=piece,
        batch_id=batch,
        quantity=1,
    )
    post(session, draft)
    return line


@pytest.fixture(autouse=True)
def sound(shop: Shop) -> Iterator[None]:
    """Whatever is done here, the store is sound afterwards."""
    yield
    assert check_store(shop.store).differences == ()


def test_a_piece_is_where_it_was_put_and_its_stays_say_since_when(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=WEDNESDAY)
    with shop.store.reading() as session:
        assert session.get_one(Piece, piece).place_id == shop.bin_b
        assert stays(session, piece) == [(shop.bin_a, MONDAY, WEDNESDAY), (shop.bin_b, WEDNESDAY, None)]


def test_a_late_move_between_two_that_agree_with_it_is_let_in(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=THURSDAY)
        draft = shop.draft(TUESDAY)
        draft.move(shop.bin_a, shop.bench, piece=piece)
        draft.move(shop.bench, shop.bin_a, piece=piece)
        post(session, draft)
    with shop.store.reading() as session:
        assert stays(session, piece) == [
            (shop.bin_a, MONDAY, TUESDAY),
            (shop.bench, TUESDAY, TUESDAY),
            (shop.bin_a, TUESDAY, THURSDAY),
            (shop.bin_b, THURSDAY, None),
        ]


def test_a_late_move_that_takes_it_from_a_later_one_names_that_entry(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        in_the_way = shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=WEDNESDAY)
        shop.move(session, Thing(piece=piece), shop.bin_b, shop.bench, on=FRIDAY)
    with pytest.raises(Refused) as caught, shop.store.writing() as session:
        shop.move(session, Thing(piece=piece), shop.bin_a, shop.quarantine, on=TUESDAY)
    assert f"entry {in_the_way} of {WEDNESDAY} stands in the way" in caught.value.reason
    assert f"entry {in_the_way}" in caught.value.remedy


@pytest.mark.parametrize("on", [TUESDAY, TODAY])
def test_a_move_from_where_it_was_not_says_so_and_names_no_entry_to_come(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        last = shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=THURSDAY)
    with pytest.raises(Refused) as caught, shop.store.writing() as session:
        shop.move(session, Thing(piece=piece), shop.bench, shop.quarantine, on=on)
    named = [int(number) for number in re.findall(r"entry (\d+)", str(caught.value))]
    assert all(number <= last for number in named)


def test_a_piece_that_has_not_come_in_is_not_moved(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=WEDNESDAY)
    with pytest.raises(Refused, match="does not fit"), shop.store.writing() as session:
        shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=TUESDAY)


def test_a_batch_is_not_taken_below_nothing_on_any_day(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=WEDNESDAY, quantity=4)
        in_the_way = shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=THURSDAY, quantity=4)
        shop.move(session, Thing(batch=batch), shop.bin_b, shop.bin_a, on=THURSDAY, quantity=2)
        shop.move(session, Thing(batch=batch), shop.bin_b, shop.bin_a, on=FRIDAY, quantity=6)
        assert held(session, batch) == {shop.bin_a: (10, 0)}
    with pytest.raises(Refused) as caught, shop.store.writing() as session:
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bench, on=TUESDAY, quantity=5)
    assert f"entry {in_the_way} of {THURSDAY} stands in the way" in caught.value.reason
    with shop.store.writing() as session:
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bench, on=TUESDAY, quantity=2)
        assert held(session, batch) == {shop.bin_a: (8, 0), shop.bench: (2, 0)}


def test_the_entry_named_is_the_one_that_takes_too_much_not_the_last_of_the_day(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        in_the_way = shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=WEDNESDAY, quantity=10)
        shop.move(session, Thing(batch=batch), shop.bin_b, shop.bench, on=WEDNESDAY, quantity=3)
    with pytest.raises(Refused, match=f"entry {in_the_way} "), shop.store.writing() as session:
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.quarantine, on=TUESDAY, quantity=1)


def test_of_several_things_in_the_way_the_first_entry_is_named(shop: Shop) -> None:
    with shop.store.writing() as session:
        pieces = [shop.piece(session, on=MONDAY) for _ in range(3)]
        third, first, second = (
            shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=on)
            for piece, on in zip(pieces, (FRIDAY, WEDNESDAY, THURSDAY), strict=True)
        )
    assert third < first < second
    with pytest.raises(Refused, match=f"entry {first} of {WEDNESDAY}"), shop.store.writing() as session:
        draft = shop.draft(TUESDAY)
        for piece in pieces:
            draft.move(shop.bin_a, shop.bench, piece=piece)
        post(session, draft)


def test_more_than_there_is_is_refused_with_what_is_free(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        line = pull_line(session, shop, batch=batch)
        draft = shop.draft(TODAY, EntryKind.RESERVED)
        draft.reserve(shop.bin_a, line, batch=batch, quantity=7)
        post(session, draft)
    with (
        pytest.raises(Refused, match=r"only 3 free there \(10 less 7 reserved\)"),
        shop.store.writing() as session,
    ):
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=TODAY, quantity=4)


def test_what_is_set_aside_is_kept_from_a_late_move(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        line = pull_line(session, shop, batch=batch)
        draft = shop.draft(WEDNESDAY, EntryKind.RESERVED)
        draft.reserve(shop.bin_a, line, batch=batch, quantity=7)
        reserving = post(session, draft).number
    with (
        pytest.raises(Refused, match=f"entry {reserving} .* less than was set aside"),
        shop.store.writing() as session,
    ):
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=TUESDAY, quantity=4)


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
def test_a_piece_is_set_aside_for_one_pull_at_a_time(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        line = pull_line(session, shop, piece=piece)
        draft = shop.draft(TUESDAY, EntryKind.RESERVED)
        draft.reserve(shop.bin_a, line, piece=piece)
        post(session, draft)
        shop.piece(session, on=THURSDAY)
    for quantity in (1, -1):
        with pytest.raises(Refused, match="reserved for"), shop.store.writing() as session:
            other = pull_line(session, shop, piece=piece)
            draft = shop.draft(on, EntryKind.RESERVED)
            draft.reserve(shop.bin_a, other, piece=piece, quantity=quantity)
            post(session, draft)


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
def test_letting_go_of_more_than_was_set_aside_is_refused(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        line = pull_line(session, shop, batch=batch)
        shop.batch(session, 1, on=FRIDAY)
    with pytest.raises(Refused), shop.store.writing() as session:
        draft = shop.draft(on, EntryKind.RESERVED)
        draft.reserve(shop.bin_a, line, batch=batch, quantity=-1)
        post(session, draft)


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
def test_the_outside_holds_no_quantity_and_nothing_is_set_aside_there(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        line = pull_line(session, shop, batch=batch)
        shop.batch(session, 1, on=FRIDAY)
        shop.move(session, Thing(batch=batch), shop.bin_a, OUTSIDE_PLACE, on=on, quantity=10)
        assert held(session, batch) == {}
    with pytest.raises(Refused), shop.store.writing() as session:
        draft = shop.draft(on, EntryKind.RESERVED)
        draft.reserve(OUTSIDE_PLACE, line, batch=batch, quantity=1)
        post(session, draft)


def test_after_the_clock_was_set_back_an_entry_of_today_is_late_and_judged_as_such(shop: Shop) -> None:
    shop.clock.instant = NOW + timedelta(days=300)
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        batch = shop.batch(session, 10, on=MONDAY)
        moved = shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=TODAY + timedelta(days=300))
        taken = shop.move(
            session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=TODAY + timedelta(days=300), quantity=10
        )
    shop.clock.instant = NOW
    with pytest.raises(Refused, match=f"entry {moved} "), shop.store.writing() as session:
        shop.move(session, Thing(piece=piece), shop.bin_a, shop.bench, on=TODAY)
    with pytest.raises(Refused, match=f"entry {taken} "), shop.store.writing() as session:
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.bench, on=TODAY)
    with shop.store.writing() as session:
        draft = shop.draft(TODAY)
        draft.move(shop.bin_a, shop.bench, piece=piece)
        draft.move(shop.bench, shop.bin_a, piece=piece)
        post(session, draft)
        assert session.get_one(Piece, piece).place_id == shop.bin_b


def test_reversing_a_move_puts_the_piece_back_unless_it_moved_on(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session, on=MONDAY)
        first = shop.move(session, Thing(piece=piece), shop.bin_a, shop.bin_b, on=TUESDAY)
        second = shop.move(session, Thing(piece=piece), shop.bin_b, shop.bench, on=WEDNESDAY)
    with pytest.raises(Refused, match=f"entry {second} of {WEDNESDAY}"), shop.store.writing() as session:
        reverse(session, first, "Another piece", shop.by())
    with shop.store.writing() as session:
        reverse(session, second, "Another piece", shop.by())
        reverse(session, first, "Another piece", shop.by())
        assert stays(session, piece) == [(shop.bin_a, MONDAY, None)]


def test_a_batch_all_gone_has_no_holding_left_but_stays_in_the_books(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 10, on=MONDAY)
        shop.move(session, Thing(batch=batch), shop.bin_a, shop.scrap, on=TUESDAY, quantity=10)
        assert held(session, batch) == {shop.scrap: (10, 0)}
        shop.move(session, Thing(batch=batch), shop.scrap, OUTSIDE_PLACE, on=WEDNESDAY, quantity=10)
    with shop.store.reading() as session:
        assert held(session, batch) == {}
        assert session.get_one(Batch, batch).condition == "uninspected"


def nest(session: Session, shop: Shop, count: int, on: date = MONDAY) -> tuple[list[int], list[int]]:
    """Pieces that came in on a day, each of which is a place for others, and those places."""
    pieces = [shop.piece(session, on=on) for _ in range(count)]
    draft = shop.draft(on, EntryKind.PLACES)
    places = [
        draft.new(session, "place", kind=PlaceKind.PIECE, name=f"In piece {piece}", piece_id=piece)
        for piece in pieces
    ]
    post(session, draft)
    return pieces, places


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
@pytest.mark.parametrize("ring", [1, 2, 4])
def test_no_piece_is_put_inside_itself(shop: Shop, ring: int, on: date) -> None:
    with shop.store.writing() as session:
        pieces, places = nest(session, shop, ring)
        shop.piece(session, on=THURSDAY)
        for piece, place in zip(pieces[1:], places[:-1], strict=True):
            shop.move(session, Thing(piece=piece), shop.bin_a, place, on=on)
    with pytest.raises(Refused, match="inside itself"), shop.store.writing() as session:
        shop.move(session, Thing(piece=pieces[0]), shop.bin_a, places[-1], on=on)


def test_no_two_pieces_are_put_into_each_other_by_one_entry(shop: Shop) -> None:
    with shop.store.writing() as session:
        pieces, places = nest(session, shop, 2)
    with pytest.raises(Refused, match="inside itself"), shop.store.writing() as session:
        draft = shop.draft(TODAY)
        draft.move(shop.bin_a, places[1], piece=pieces[0])
        draft.move(shop.bin_a, places[0], piece=pieces[1])
        post(session, draft)


def test_no_late_entry_puts_a_piece_inside_itself_on_a_day_gone_by(shop: Shop) -> None:
    with shop.store.writing() as session:
        (outer, inner), (in_outer, in_inner) = nest(session, shop, 2)
        shop.move(session, Thing(piece=inner), shop.bin_a, in_outer, on=TUESDAY)
        shop.move(session, Thing(piece=inner), in_outer, shop.bin_a, on=THURSDAY)
    with pytest.raises(Refused, match="inside itself"), shop.store.writing() as session:
        draft = shop.draft(WEDNESDAY)
        draft.move(shop.bin_a, in_inner, piece=outer)
        draft.move(in_inner, shop.bin_a, piece=outer)
        post(session, draft)
        shop.move(session, Thing(piece=outer), shop.bin_a, in_inner, on=WEDNESDAY)
    with shop.store.writing() as session:
        shop.move(session, Thing(piece=outer), shop.bin_a, in_inner, on=FRIDAY)


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
def test_pieces_stand_in_each_other_eight_deep_and_no_deeper(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        pieces, places = nest(session, shop, 9)
        shop.piece(session, on=THURSDAY)
        for piece, place in zip(pieces[1:], places[:-1], strict=True):
            shop.move(session, Thing(piece=piece), shop.bin_a, place, on=on)
        one_more = shop.piece(session, on=MONDAY)
    with pytest.raises(Refused, match="more than 8 deep"), shop.store.writing() as session:
        shop.move(session, Thing(piece=one_more), shop.bin_a, places[-1], on=on)


@pytest.mark.parametrize("on", [WEDNESDAY, TODAY])
def test_what_a_piece_holds_counts_when_it_is_put_into_others(shop: Shop, on: date) -> None:
    with shop.store.writing() as session:
        pieces, places = nest(session, shop, 10)
        shop.piece(session, on=THURSDAY)
        for inner in (*range(1, 5), *range(6, 10)):
            shop.move(session, Thing(piece=pieces[inner]), shop.bin_a, places[inner - 1], on=on)
    with pytest.raises(Refused, match="more than 8 deep"), shop.store.writing() as session:
        shop.move(session, Thing(piece=pieces[5]), shop.bin_a, places[4], on=on)
    with shop.store.writing() as session:
        shop.move(session, Thing(piece=pieces[5]), shop.bin_a, places[3], on=on)


def test_contents_stay_put_when_their_holder_moves(shop: Shop) -> None:
    with shop.store.writing() as session:
        (outer, inner), (in_outer, _) = nest(session, shop, 2)
        shop.move(session, Thing(piece=inner), shop.bin_a, in_outer, on=TUESDAY)
        shop.move(session, Thing(piece=outer), shop.bin_a, shop.bench, on=WEDNESDAY)
        assert stays(session, inner)[-1] == (in_outer, TUESDAY, None)


def test_places_stand_in_each_other_eight_deep_and_in_no_ring(shop: Shop) -> None:
    with shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PLACES)
        boxes = [draft.new(session, "place", kind=PlaceKind.BIN, name="Box 0")]
        for number in range(1, 9):
            boxes.append(
                draft.new(session, "place", kind=PlaceKind.BIN, name=f"Box {number}", parent_id=boxes[-1])
            )
        post(session, draft)
    with pytest.raises(Refused, match="more than 8 deep"), shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PLACES)
        draft.new(session, "place", kind=PlaceKind.BIN, name="Box 9", parent_id=boxes[-1])
        post(session, draft)
    for inner in (boxes[0], boxes[1], boxes[4]):
        with pytest.raises(Refused, match="inside itself"), shop.store.writing() as session:
            draft = shop.draft(TODAY, EntryKind.PLACES)
            draft.set("place", boxes[0], parent_id=inner)
            post(session, draft)
    with pytest.raises(Refused, match="more than 8 deep"), shop.store.writing() as session:
        draft = shop.draft(TODAY, EntryKind.PLACES)
        draft.set("place", boxes[0], parent_id=shop.bench)
        post(session, draft)
