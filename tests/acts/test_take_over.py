"""Build records taken over: what an engine came with, each thing at its station, by a document alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.numbers import position_named
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.presume import presume
from invdb.acts.reverse import reverse
from invdb.acts.take_over import StationFill, TakenOver, take_over
from invdb.records.documents import DocumentLink
from invdb.records.stock import Batch, Piece
from invdb.rules.numbering import next_sequence
from invdb.terms import (
    Condition,
    FieldRefused,
    HoursKnown,
    Origin,
    PaperKind,
    PriorLife,
    Refused,
    Scope,
)
from tests.engine_shop import (
    LONG_AGO,
    METER,
    begin,
    came,
    fitted,
    run,
    served,
    sitting_at,
    sound,
    station,
    stripped,
    tag_of,
)
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import state_of
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY
CARD = NewPaper(PaperKind.STATEMENT, "Build card 7")
HOLDER = next_sequence("T", 800)[1]
RAN = PriorLife(HoursKnown.BETWEEN, 300_00, 340_00)


def fill(
    session: Session, shop: Shop, name: str, part: int, cylinder: str = "1", **more: object
) -> StationFill:
    """What the card says is at a station of a cylinder."""
    position = position_named(session, shop.engine, cylinder)
    return replace(
        StationFill(position, station(session, shop.engine, name), part),
        **more,  # type: ignore[arg-type]
    )


def card(shop: Shop, *fills: StationFill) -> TakenOver:
    return TakenOver(shop.engine, fills, METER, paper=CARD)


def test_what_the_card_names_sits_at_its_stations_with_what_it_ran_before(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        record = card(
            shop,
            fill(session, shop, "exhaust valve", shop.valve, serial="1044/3", prior_hours=RAN),
            fill(session, shop, "exhaust springs", shop.spring, quantity=2),
        )
        made = take_over(session, record, shop.by())
        (valve, tag), (springs, _) = made.things
        run(session, shop, METER + 5_00)
        piece = session.get_one(Piece, valve.piece)
        assert (piece.serial, piece.origin, piece.used) == ("1044/3", Origin.UNKNOWN, True)
        assert piece.donor == "came in Linnet One, by its build record"
        linked = session.scalars(select(DocumentLink.document_id)).all()
        assert len(linked) == 2 and len(set(linked)) == 1
    assert sitting_at(shop, "exhaust valve") == {tag: 1}
    assert sitting_at(shop, "exhaust springs") == {tag_of(shop, springs): 2}
    state = state_of(shop, valve)
    assert (state.condition, state.scope) == (Condition.SERVICEABLE, Scope.FLIGHT)
    assert state.run_hours == PriorLife(HoursKnown.BETWEEN, 305_00, 345_00)
    assert sound(shop)


def test_a_record_is_a_document(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        record = card(shop, fill(session, shop, "exhaust valve", shop.valve))
        with pytest.raises(FieldRefused, match="none is named"):
            take_over(session, replace(record, paper=None), shop.by())
        here = add_paper(session, CARD, shop.by())
        take_over(session, replace(record, paper=None, document=here), shop.by())
    with pytest.raises(Refused, match="names nothing"), shop.store.writing() as session:
        take_over(session, card(shop), shop.by())


def test_a_part_that_the_kit_list_does_not_allow_is_taken_only_as_found(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        record = card(shop, fill(session, shop, "exhaust valve", shop.barrel))
    with pytest.raises(FieldRefused, match="by the kit list"), shop.store.writing() as session:
        take_over(session, record, shop.by())
    with shop.store.writing() as session:
        ((barrel, tag),) = take_over(session, replace(record, as_found=True), shop.by()).things
        valve = came(session, shop, shop.valve)
    assert sitting_at(shop, "exhaust valve") == {tag: 1}
    with pytest.raises(Refused, match=f"holds {tag}"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    with shop.store.writing() as session:
        stripped(session, shop, barrel)
        fitted(session, shop, valve, "exhaust valve")
    assert sound(shop)


def test_a_station_takes_no_more_from_a_card_than_from_a_shelf(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        there = came(session, shop, shop.valve)
        fitted(session, shop, there, "exhaust valve", cylinder="2")
        valve = fill(session, shop, "exhaust valve", shop.valve)
        springs = fill(session, shop, "exhaust springs", shop.spring, quantity=3)
        second = fill(session, shop, "exhaust valve", shop.valve, "2")
    for fills, why in (
        ((springs,), "takes 2 off, and holds nothing"),
        ((replace(valve, serial="1"), replace(valve, serial="2")), "takes 1 off, and holds 1"),
        ((second,), f"holds {tag_of(shop, there)}"),
        ((replace(valve, quantity=2),), "single pieces"),
        ((replace(springs, quantity=0),), "is nothing"),
    ):
        with pytest.raises(Refused, match=why), shop.store.writing() as session:
            take_over(session, card(shop, *fills), shop.by())
    assert sound(shop)


def test_the_same_serial_is_the_same_piece(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        one = fill(session, shop, "exhaust valve", shop.valve, serial="A 7")
        two = fill(session, shop, "exhaust valve", shop.valve, "2", serial=" a 7 ")
    with pytest.raises(FieldRefused, match="named twice"), shop.store.writing() as session:
        take_over(session, card(shop, one, two), shop.by())
    with shop.store.writing() as session:
        take_over(session, card(shop, one), shop.by())
    with (
        pytest.raises(FieldRefused, match="with serial A 7 is here already"),
        shop.store.writing() as session,
    ):
        take_over(session, card(shop, two), shop.by())


def test_figures_of_a_card_that_can_not_be_are_refused(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve = fill(session, shop, "exhaust valve", shop.valve)
    backwards = PriorLife(HoursKnown.BETWEEN, 340_00, 300_00)
    for wrong in (replace(valve, prior_hours=backwards), replace(valve, made_on=TODAY + DAY)):
        with pytest.raises(FieldRefused), shop.store.writing() as session:
            take_over(session, card(shop, wrong), shop.by())


def test_a_card_may_say_what_sits_in_what(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = fill(session, shop, "barrel", shop.barrel, tag=HOLDER)
        valve = fill(session, shop, "exhaust valve", shop.valve, inside=HOLDER)
        springs = fill(session, shop, "exhaust springs", shop.spring, inside=HOLDER)
    with pytest.raises(FieldRefused, match="no piece named before"), shop.store.writing() as session:
        take_over(session, card(shop, valve, barrel), shop.by())
    with pytest.raises(FieldRefused, match="held by batch"), shop.store.writing() as session:
        take_over(session, card(shop, barrel, springs), shop.by())
    with shop.store.writing() as session:
        (holder, _), (inner, tag) = take_over(session, card(shop, barrel, valve), shop.by()).things
        run(session, shop, METER + 2_00)
    assert sitting_at(shop, "exhaust valve") == {tag: 1}
    assert served(shop, inner) == served(shop, holder) == [(shop.engine, 0, 0, True)]
    with shop.store.writing() as session:
        stripped(session, shop, holder, reading=METER + 2_00)
    assert served(shop, inner) == [(shop.engine, 2_00, 0, False)]
    assert sound(shop)


def test_what_was_presumed_is_stripped_and_not_named_over(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        record = card(shop, fill(session, shop, "exhaust valve", shop.valve))
    with pytest.raises(Refused, match="is presumed at"), shop.store.writing() as session:
        take_over(session, record, shop.by())


def test_a_card_of_a_past_day_is_refused_with_what_was_fitted_since(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        number = fitted(session, shop, valve, "exhaust valve", on=LAST_WEEK)
        record = card(shop, fill(session, shop, "exhaust valve", shop.valve))
    with (
        pytest.raises(Refused, match=f"Entry {number} of {LAST_WEEK} stands in the way"),
        shop.store.writing() as session,
    ):
        take_over(session, record, shop.by(LONG_AGO))


def test_a_card_reversed_leaves_nothing_behind_unless_something_came_of_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        first = fill(session, shop, "exhaust valve", shop.valve)
        second = fill(session, shop, "exhaust springs", shop.spring, quantity=2)
        made = take_over(session, card(shop, first, second), shop.by())
        reverse(session, made.entry, "The card of another engine", shop.by())
        assert session.scalars(select(Piece.id)).all() == session.scalars(select(Batch.id)).all() == []
        made = take_over(session, card(shop, first, second), shop.by())
        out = stripped(session, shop, made.things[0][0]).entry
    with pytest.raises(Refused, match=f"Entry {out} .*stands in the way"), shop.store.writing() as session:
        reverse(session, made.entry, "The card of another engine", shop.by())
    assert sound(shop)


def test_a_piece_sits_in_another_of_the_record_by_its_number_where_no_tag_was_given(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = fill(session, shop, "barrel", shop.barrel)
        valve = fill(session, shop, "exhaust valve", shop.valve, inside="1")
        with pytest.raises(FieldRefused, match="1 is no piece named before"):
            take_over(session, card(shop, valve), shop.by())
    with shop.store.writing() as session:
        made = take_over(session, card(shop, barrel, valve), shop.by())
        with pytest.raises(FieldRefused, match="3 is no piece"):
            later = fill(session, shop, "exhaust valve", shop.valve, cylinder="2", inside="3")
            take_over(
                session, replace(card(shop, later), paper=NewPaper(CARD.kind, "Build card 8")), shop.by()
            )
    assert state_of(shop, made.things[1][0]).where[0].name.startswith(made.things[0][1])
