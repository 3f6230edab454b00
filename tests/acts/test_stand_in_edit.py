"""Changes of what stands in for what: no ring of one-way steps, and nothing that open pulls rely on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.by import By
from invdb.acts.catalogue import Holds, NewPart, NewStandIn
from invdb.acts.change import seen_of
from invdb.acts.part_page import part_page
from invdb.acts.pull import issue
from invdb.acts.stand_in_edit import (
    add_stand_in_for,
    correct_stand_in,
    end_stand_in,
    replace_stand_in,
    stand_in_as_kept,
)
from invdb.acts.stand_in_graph import stand_in_graph
from invdb.records.catalogue import StandIn
from invdb.terms import FieldRefused, Refused, Tracking
from tests.engine_shop import sound
from tests.kit_shop import proposed, reserved, standing_in, stock
from tests.shop import TODAY, Shop

LATER = TODAY + timedelta(days=10)
BEFORE = TODAY - timedelta(days=1)
WHY = "Pellworth leaflet 31"


def by(shop: Shop, on: date | None = None, note: str = WHY) -> By:
    return By(shop.inspector, on, note)


def seen(session: Session, stand_in: int) -> int:
    return seen_of(session, "stand_in", stand_in)


def valves(session: Session, shop: Shop, count: int) -> list[int]:
    return [
        catalogue.add_part(session, NewPart(1, f"Valve, pattern {n}", Tracking.PIECE), shop.by())
        for n in range(count)
    ]


def numbers(session: Session, *parts: int) -> list[str]:
    return [part_page(session, part).house_number for part in parts]


def test_a_ring_of_one_way_steps_is_refused_by_its_house_numbers(shop: Shop) -> None:
    with shop.store.writing() as session:
        second, third = valves(session, shop, 2)
        add_stand_in_for(session, NewStandIn(shop.valve, ((second, 1),), WHY), by(shop))
        add_stand_in_for(session, NewStandIn(second, ((third, 1),), WHY), by(shop))
        round_it = NewStandIn(third, ((shop.valve, 1),), WHY)
        first_number, second_number, third_number = numbers(session, shop.valve, second, third)
        ring = f"{third_number} → {first_number} → {second_number} → {third_number}"
        with pytest.raises(Refused, match=ring):
            add_stand_in_for(session, round_it, by(shop))
        # Good both ways it closes none, and can't be made one way afterwards.
        made = add_stand_in_for(session, replace(round_it, both_ways=True), by(shop))
        with pytest.raises(Refused, match=ring):
            correct_stand_in(session, made, seen(session, made), round_it, by(shop))
    assert sound(shop)


def test_steps_that_never_hold_on_one_day_make_no_ring(shop: Shop) -> None:
    with shop.store.writing() as session:
        (second,) = valves(session, shop, 1)
        first = add_stand_in_for(session, NewStandIn(shop.valve, ((second, 1),), WHY), by(shop))
        end_stand_in(session, first, seen(session, first), TODAY, by(shop))
        back = NewStandIn(second, ((shop.valve, 1),), WHY)
        with pytest.raises(Refused, match="closes a ring"):
            add_stand_in_for(session, replace(back, holds=Holds(from_on=BEFORE)), by(shop))
        made = add_stand_in_for(session, replace(back, holds=Holds(from_on=TODAY)), by(shop))
        with pytest.raises(Refused, match="closes a ring"):
            correct_stand_in(session, made, seen(session, made), back, by(shop))
        graph = stand_in_graph(session, shop.valve, TODAY)
        (other,) = [node for node in graph.nodes if node.part == second]
        assert (other.stood_in_for, other.through, other.stands_in) == (True, (made,), False)
        (other,) = [node for node in stand_in_graph(session, shop.valve, BEFORE).nodes if node.steps]
        assert (other.stood_in_for, other.stands_in) == (False, True)
        assert [step.waits for step in stand_in_graph(session, shop.valve, BEFORE).steps] == [False, True]


def test_what_open_pulls_rely_on_is_not_ended_and_not_narrowed(shop: Shop) -> None:
    stock(shop, valves=0)
    standing_in(shop)
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        (own,) = session.scalars(select(StandIn.id))
        kept = stand_in_as_kept(session, own)
        with pytest.raises(Refused, match=f"Pull {pull.number} has something that stands in by this"):
            end_stand_in(session, own, seen(session, own), TODAY, by(shop))
        with pytest.raises(Refused, match=f"Pull {pull.number}"):
            narrowed = replace(kept, holds=Holds("2"))
            correct_stand_in(session, own, seen(session, own), narrowed, by(shop))
        # Its wording takes nothing away, nor does it end before its pull may be issued.
        reworded = replace(kept, authority="Pellworth leaflet 31, issue 2", holds=Holds("1, 2"))
        correct_stand_in(session, own, seen(session, own), reworded, by(shop))
        end_stand_in(session, own, seen(session, own), LATER, by(shop))
    shop.clock.instant += timedelta(days=10)
    with shop.store.writing() as session, pytest.raises(Refused, match="may no longer stand in"):
        issue(session, pull.pull, shop.by())


def test_what_stands_in_by_another_way_too_may_be_ended(shop: Shop) -> None:
    stock(shop, valves=0)
    standing_in(shop)
    reserved(shop, "1")
    with shop.store.writing() as session:
        (own,) = session.scalars(select(StandIn.id))
        also = replace(stand_in_as_kept(session, own), authority="Our own trial", holds=Holds("1"))
        add_stand_in_for(session, also, by(shop))
        end_stand_in(session, own, seen(session, own), TODAY, by(shop))


def test_a_stand_in_is_replaced_from_a_day_in_one_entry(shop: Shop) -> None:
    stock(shop, valves=0)
    standing_in(shop)
    with shop.store.writing() as session:
        (own,) = session.scalars(select(StandIn.id))
        kept = stand_in_as_kept(session, own)
        twins = replace(kept, members=((kept.members[0][0], 2),))
        with pytest.raises(Refused, match="stands in for another part"):
            replace_stand_in(
                session, own, seen(session, own), replace(twins, part=shop.barrel), TODAY, by(shop)
            )
        looked = seen(session, own)
        made = replace_stand_in(session, own, looked, twins, TODAY, by(shop))
        assert stand_in_as_kept(session, made).holds == Holds(from_on=TODAY)
        with pytest.raises(Refused, match="Ada Farrow changed this stand-in with entry"):
            end_stand_in(session, own, looked, LATER, by(shop))
        plain, valve = numbers(session, kept.members[0][0], shop.valve)
        for part in (shop.valve, kept.members[0][0]):
            assert part_page(session, part).changes[0].what == (
                f"stand-in {plain} for {valve}: until none → {TODAY}",
                f"stand-in 2 × {plain} for {valve} added: from {TODAY}; authority {kept.authority}",
            )
    (kit,) = proposed(shop, "1").kits
    assert kit.lines[0].missing == 1
    assert sound(shop)


def test_what_makes_no_stand_in_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        second, third = valves(session, shop, 2)
        new = NewStandIn(shop.valve, ((second, 1),), WHY)
        made = add_stand_in_for(session, new, by(shop))
        for act, said in (
            (lambda: add_stand_in_for(session, new, by(shop)), f"Stand-in {made} says so already"),
            (lambda: add_stand_in_for(session, new, by(shop, note="")), "why this is changed"),
            (
                lambda: add_stand_in_for(session, replace(new, members=((third, 1),), document=9), by(shop)),
                "not in the store",
            ),
            (
                lambda: correct_stand_in(
                    session, made, seen(session, made), replace(new, members=((third, 1),)), by(shop)
                ),
                "keeps its parts",
            ),
            (
                lambda: correct_stand_in(session, made, seen(session, made), new, by(shop)),
                "Nothing is changed",
            ),
            (
                lambda: correct_stand_in(
                    session, made, seen(session, made), replace(new, authority=" "), by(shop)
                ),
                "No authority",
            ),
            (lambda: stand_in_as_kept(session, 99), "no such stand-in"),
            (lambda: end_stand_in(session, 99, 1, TODAY, by(shop)), "no such stand-in"),
        ):
            with pytest.raises(Refused, match=said):
                act()


def test_where_a_set_is_used_is_told_with_the_way_there(shop: Shop) -> None:
    with shop.store.writing() as session:
        head, stem, other = valves(session, shop, 3)
        both = add_stand_in_for(session, NewStandIn(shop.valve, ((head, 1), (stem, 2)), WHY), by(shop))
        further = add_stand_in_for(session, NewStandIn(stem, ((other, 1),), WHY), by(shop))
        (use,) = part_page(session, other).uses
        assert (use.station, use.instead_of, use.through) == (
            *("exhaust valve", *numbers(session, shop.valve)),
            (further, both),
        )
        graph = stand_in_graph(session, shop.valve, TODAY)
        assert [node.part for node in graph.nodes if node.stands_in] == [head, stem, other]
        assert [step.members for step in graph.steps] == [((head, 1), (stem, 2)), ((other, 1),)]
        assert not any(step.ended or step.waits for step in graph.steps)
        with pytest.raises(FieldRefused, match="can't be meant"):
            end_stand_in(session, both, seen(session, both), date(1826, 1, 1), by(shop))
