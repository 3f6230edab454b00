"""The list of parts: what fits, in which order, and what lies on the shelf of each."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.hold import Subject, raise_hold
from invdb.acts.part_list import PartColumn, PartFilter, PartSort, on_shelf, part_rows, place_in_list
from invdb.acts.spec import NewSpec, add_spec, withdraw_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.terms import SpecKind
from tests.kit_shop import good
from tests.shop import BEGUN_ON, Shop

STEM = NewSpecLine(SpecKind.DIMENSION, "stem", unit="mm", new_low="9.94", new_high="9.96")


def names(session: Session, which: PartFilter | None = None, sort: PartSort | None = None) -> list[str]:
    return [row.name for row in part_rows(session, which or PartFilter(), sort).rows]


def specified(session: Session, shop: Shop, part: int, revision: str = "A") -> int:
    return add_spec(session, NewSpec(part, revision, BEGUN_ON, "Sheet 4", (STEM,)), shop.by())


def test_every_part_stands_in_the_list_with_what_it_is(shop: Shop) -> None:
    with shop.store.reading() as session:
        page = part_rows(session, PartFilter())
    assert (page.fitting, page.total, len(page.rows)) == (5, 5, 5)
    valve = next(row for row in page.rows if row.part == shop.valve)
    assert (valve.name, valve.family, valve.life_limited) == ("Exhaust valve", "Exhaust valves", True)
    assert (valve.revision, valve.on_shelf, valve.shelf_words) == ("", 0, "0 off")


@pytest.mark.parametrize("typed", ["exh val", "pw 1187", "PW1187", "exhaust valves"])
def test_typing_any_number_or_name_or_the_family_finds_the_part(shop: Shop, typed: str) -> None:
    with shop.store.reading() as session:
        assert names(session, PartFilter(text=typed)) == ["Exhaust valve"]


def test_what_fits_no_word_is_not_listed(shop: Shop) -> None:
    with shop.store.reading() as session:
        page = part_rows(session, PartFilter(text="exhaust barrel"))
    assert (page.rows, page.fitting, page.total) == ((), 0, 5)


def test_the_parts_without_a_specification_in_force(shop: Shop) -> None:
    with shop.store.writing() as session:
        spec = specified(session, shop, shop.valve)
        later = NewSpec(shop.barrel, "A", BEGUN_ON + timedelta(days=3650), "Sheet 5", (STEM,))
        add_spec(session, later, shop.by())
        without = names(session, PartFilter(without_spec=True))
        assert "Exhaust valve" not in without
        assert "Cylinder barrel" in without, "its specification is not in force yet"
        withdraw_spec(session, spec, "Misprinted", shop.by())
        assert "Exhaust valve" in names(session, PartFilter(without_spec=True))


def test_life_limited_on_hold_and_of_a_family(shop: Shop) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(part=shop.spring),), "Broke on the bench", shop.by())
        assert names(session, PartFilter(life_limited=True)) == ["Exhaust valve"]
        assert names(session, PartFilter(on_hold=True)) == ["Valve spring"]
        assert names(session, PartFilter(on_hold=True, life_limited=True)) == []
        family = part_rows(session, PartFilter(text="Head gaskets")).rows
        assert [row.name for row in family] == ["Head gasket"]


def test_only_what_is_serviceable_and_fitted_nowhere_is_on_the_shelf(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.valve)
        good(session, shop, shop.spring, quantity=12)
        shop.book_in(session, shop.valve, pieces=2)
        assert on_shelf(session, [shop.valve, shop.spring, shop.barrel]) == {
            shop.valve: 1,
            shop.spring: 12,
            shop.barrel: 0,
        }


@pytest.mark.parametrize(
    ("column", "first"),
    [
        (PartColumn.NUMBER, "Cylinder barrel"),
        (PartColumn.NAME, "Cylinder barrel"),
        (PartColumn.FAMILY, "Cylinder barrel"),
        (PartColumn.SPEC, "Exhaust valve"),
    ],
)
def test_the_list_is_sorted_by_any_heading(shop: Shop, column: PartColumn, first: str) -> None:
    with shop.store.writing() as session:
        specified(session, shop, shop.valve)
        assert names(session, sort=PartSort(column))[0] == first


def test_sorted_by_what_lies_on_the_shelf_and_by_revision_either_way(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.spring, quantity=12)
        good(session, shop, shop.valve)
        specified(session, shop, shop.valve, "A")
        specified(session, shop, shop.spring, "B")
        most = names(session, sort=PartSort(PartColumn.ON_SHELF, descending=True))
        assert most[:2] == ["Valve spring", "Exhaust valve"]
        latest = names(session, sort=PartSort(PartColumn.SPEC, descending=True))
        assert latest[:2] == ["Valve spring", "Exhaust valve"], "those without one stay last"


def test_where_a_part_stands_in_the_list_as_filtered_and_sorted(shop: Shop) -> None:
    with shop.store.reading() as session:
        by_name = PartSort(PartColumn.NAME)
        rows = names(session, sort=by_name)
        assert place_in_list(session, shop.spring, PartFilter(), by_name) == rows.index("Valve spring")
        assert place_in_list(session, shop.spring, PartFilter(life_limited=True)) is None


def test_a_page_of_the_list_is_what_lies_between(shop: Shop) -> None:
    with shop.store.reading() as session:
        every = part_rows(session, PartFilter()).rows
        assert part_rows(session, PartFilter(), None, 2, 2).rows == every[2:4]
