"""How complete each cylinder's kit could be, by itself and if all were pulled at once."""

from __future__ import annotations

import pytest

from invdb.acts import shop as shops
from invdb.acts.engine_list import engines
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.kit_outlook import PositionOutlook, kit_outlook
from invdb.acts.pull import issue
from invdb.rules.pulling import KitState
from invdb.terms import Layout, Refused, Scope
from tests.kit_shop import reserved, standing_in, stock
from tests.shop import Shop

CYLINDERS = ["1", "2", "3", "4", "5", "6", "7"]


def outlook(shop: Shop, engine: int | None = None) -> tuple[PositionOutlook, ...]:
    with shop.store.reading() as session:
        return kit_outlook(session, engine or shop.engine)


def test_one_valve_completes_any_cylinder_and_only_one_of_them_at_once(shop: Shop) -> None:
    stock(shop, valves=1, springs=14, gaskets=7)
    found = outlook(shop)
    assert [each.position.name for each in found] == CYLINDERS
    assert all(each.alone.state is KitState.COMPLETE for each in found)
    assert all((each.alone.filled, each.alone.lines, each.alone.waiting) == (3, 3, ()) for each in found)
    together = [each.together for each in found if each.together is not None]
    assert sorted(str(each.state) for each in together) == ["complete", *["short"] * 6]
    assert {each.waiting for each in together if each.state is KitState.SHORT} == {("exhaust valve",)}
    assert all(each.proven for each in together)


def test_each_state_of_a_kit_is_told(shop: Shop) -> None:
    stock(shop, valves=1, springs=14, gaskets=7)
    (made,) = reserved(shop, "5")
    standing_in(shop)
    found = {each.position.name: each.alone for each in outlook(shop)}
    assert found["5"].state is KitState.RESERVED
    assert found["5"].pulls == (made.number,)
    assert found["6"].state is KitState.WITH_ALTERNATE
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by())
    assert next(each.alone.state for each in outlook(shop) if each.position.name == "5") is KitState.ISSUED


def test_a_bare_shelf_leaves_every_line_waiting(shop: Shop) -> None:
    (first, *_) = outlook(shop)
    assert (first.alone.state, first.alone.filled) == (KitState.SHORT, 0)
    assert first.alone.waiting == ("exhaust valve", "exhaust springs", "head joint")


def test_what_is_known_is_heard_at_once_and_a_stop_ends_it_there(shop: Shop) -> None:
    stock(shop)
    heard: list[str] = []
    with shop.store.reading() as session:
        found = kit_outlook(
            session,
            shop.engine,
            heard=lambda each, count: heard.append(f"{each.position.name} of {count}"),
            stop=lambda: len(heard) == 3,
        )
    assert heard == ["1 of 7", "2 of 7", "3 of 7"]
    assert [each.position.name for each in found] == ["1", "2", "3"]
    assert all(each.together is None for each in found)


def test_a_single_cylinder_has_no_others_to_share_with(shop: Shop) -> None:
    with shop.store.writing() as session:
        by = shop.by()
        positions = (shops.NewPosition("1", 0, 0),)
        single = shops.add_engine_type(
            session, shops.NewEngineType("Wren", Layout.IN_LINE, positions=positions), by
        )
        engine = shops.add_engine(
            session, shops.NewEngine(single, "W1", "Wren One", Scope.DISPLAY, shop.workshop), by
        )
    (only,) = outlook(shop, engine)
    assert (only.alone.state, only.alone.lines, only.together) == (KitState.NO_KIT_LIST, 0, None)


def test_another_group_has_an_outlook_of_its_own_and_an_unknown_engine_none(shop: Shop) -> None:
    with shop.store.reading() as session:
        assert kit_outlook(session, shop.engine, group="magneto") == ()
        with pytest.raises(Refused, match="not in the store"):
            kit_outlook(session, 999)


def test_the_engines_are_listed_as_they_are_drawn_with_their_doubts(shop: Shop) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(engine=shop.engine_two),), "struck propeller", shop.by())
    with shop.store.reading() as session:
        first, second = engines(session)
    assert (first.name, first.serial, first.engine_type, first.use) == (
        "Linnet One",
        "L1007",
        "Linnet",
        Scope.FLIGHT,
    )
    assert (first.layout, first.inverted) == (Layout.RADIAL, False)
    assert [each.name for each in first.positions] == CYLINDERS
    assert [each.turn_degrees for each in first.positions][:3] == [0, 51, 102]
    assert (first.holds, second.holds) == ((), ("struck propeller",))
