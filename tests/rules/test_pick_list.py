"""How much of a thing, in words, and in which order a mechanic walks the bins."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.pick_list import PickList, PickRow, PullHead, in_walking_order
from invdb.rules.quantities import quantity_and_unit, quantity_words
from invdb.terms import Condition, Measure, Scope, Tracking

SMALLEST_IN = {"off": 1, "m": 1_000_000, "mm": 1000, "µm": 1, "kg": 1_000_000, "g": 1000, "mg": 1}


@pytest.mark.parametrize(
    ("quantity", "measure", "words"),
    [
        (1, Measure.COUNT, "1 off"),
        (12, Measure.COUNT, "12 off"),
        (0, Measure.COUNT, "0 off"),
        (1_000_000, Measure.COUNT, "1000000 off"),
        (1_250_000, Measure.LENGTH, "1.25 m"),
        (1_000_000, Measure.LENGTH, "1 m"),
        (1_000_001, Measure.LENGTH, "1.000001 m"),
        (25_400, Measure.LENGTH, "25.4 mm"),
        (7, Measure.LENGTH, "7 µm"),
        (0, Measure.LENGTH, "0 m"),
        (350_000, Measure.WEIGHT, "350 g"),
        (1_500_000, Measure.WEIGHT, "1.5 kg"),
        (70, Measure.WEIGHT, "70 mg"),
        (-2, Measure.COUNT, "-2 off"),
        (-1_250_000, Measure.LENGTH, "-1.25 m"),
    ],
)
def test_a_quantity_reads_as_a_person_says_it(quantity: int, measure: Measure, words: str) -> None:
    assert quantity_words(quantity, measure) == words


@given(st.integers(-(2**63), 2**63), st.sampled_from(Measure))
def test_a_quantity_in_words_loses_nothing(quantity: int, measure: Measure) -> None:
    figure, unit = quantity_words(quantity, measure).split(" ")
    assert Decimal(figure) * SMALLEST_IN[unit] == quantity
    assert quantity_and_unit(quantity, measure) == (Decimal(figure), unit)


def row(tag: str, bin_name: str, walking_order: int, pull_number: str = "P-0001") -> PickRow:
    return PickRow(
        pull_number=pull_number,
        bin_name=bin_name,
        walking_order=walking_order,
        station="inlet valve",
        part_number="LN0412-K",
        part_name="Inlet valve",
        tag=tag,
        tracking=Tracking.PIECE,
        quantity=1,
        measure=Measure.COUNT,
        condition=Condition.SERVICEABLE,
        scope=Scope.FLIGHT,
    )


def test_rows_follow_the_walk_then_the_bin_then_the_tag() -> None:
    walk = [
        row("T9", "Z-1", 1),
        row("T10", "Z-1", 1),
        row("T1", "A-9", 2),
        row("T1", "A-10", 2, "P-9"),
        row("T1", "A-10", 2, "P-10"),
        row("T1", "B-1", 3),
    ]
    assert in_walking_order(reversed(walk)) == tuple(walk)


@given(st.permutations([row(f"T{n}", f"A-{n % 3}", n % 2) for n in range(8)]))
def test_the_walk_does_not_depend_on_the_order_given(rows: list[PickRow]) -> None:
    walk = in_walking_order(rows)
    assert walk == in_walking_order(walk)
    assert sorted(map(id, walk)) == sorted(map(id, rows))
    assert [r.walking_order for r in walk] == sorted(r.walking_order for r in rows)


def test_a_row_belongs_to_one_pull_of_its_list() -> None:
    head = PullHead("P-0001", "Linnet PL-0117", "Linnet", "cyl 5", Scope.FLIGHT, "Ines", date(2024, 6, 1))
    printed_at = datetime(2024, 6, 1, tzinfo=UTC)
    PickList("Harrowmere", printed_at, (head,), (row("T1", "A-1", 1),))
    with pytest.raises(ValueError, match="not on the list: .'P-0002'"):
        PickList("Harrowmere", printed_at, (head,), (row("T1", "A-1", 1, "P-0002"),))
    with pytest.raises(ValueError, match="numbers of their own"):
        PickList("Harrowmere", printed_at, (head, head), ())
