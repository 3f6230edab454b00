"""How an entry is told: what is named, what is counted, and what is said where little is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.folding import Fact, Line, Plain
from invdb.rules.telling import tell
from invdb.rules.told import NAMED_MAX, Told, listed, stopped
from invdb.terms import EntryKind, LineKind, Measure

OUTSIDE, GOODS_IN, A_03 = 1, 2, 3
NAMES = {
    ("place", OUTSIDE): "Outside",
    ("place", GOODS_IN): "Goods in",
    ("place", A_03): "A-03",
    ("piece", 7): "T00007-V",
    ("batch", 4): "B00004-S",
    ("person", 1): "A. Brandreth (licence HM-0442)",
    ("firm", 2): "Tarn & Holloway",
    ("engine", 1): "Linnet PL-0112",
    ("part", 1): "VX0001-Y Exhaust valve",
    ("pull_line", 9): "pull P00003-M, Linnet PL-0112 cylinder 5",
}
PIECE = ("piece", 7)
BATCH = ("batch", 4)


def line(
    from_place: int,
    to_place: int,
    kind: LineKind = LineKind.MOVE,
    quantity: int = 1,
    batch: int | None = None,
    pull_line: int | None = None,
) -> Line:
    piece = None if batch is not None else 7
    on = date(2026, 3, 2)
    return Line(12, 1, on, kind, piece, batch, from_place, to_place, quantity, pull_line)


def told(kind: EntryKind, *lines: Line, facts: tuple[Fact, ...] = ()) -> Told:
    return Told(
        12,
        kind,
        1,
        lines,
        facts,
        {each.kind: sum(other.kind is each.kind for other in lines) for each in lines},
        {fact.record: sum(other.record == fact.record for other in facts) for fact in facts},
        NAMES,
        {BATCH: Measure.LENGTH},
    )


def booked(**values: Plain) -> Told:
    fact = Fact("piece", 7, {"part_id": 1, "origin": "new", **values})
    return told(EntryKind.GOODS_IN, line(OUTSIDE, GOODS_IN), facts=(fact,))


@pytest.mark.parametrize(
    ("values", "source"),
    [
        ({"origin_firm_id": 2}, "from Tarn & Holloway "),
        ({"origin": "salvaged", "donor_engine_id": 1}, "salvaged from Linnet PL-0112 "),
        ({"origin": "salvaged", "donor": "a Dabchick at Saltby"}, "salvaged from a Dabchick at Saltby "),
        (
            {"origin": "salvaged", "donor_engine_id": 1, "origin_firm_id": 2},
            "salvaged from Linnet PL-0112, from Tarn & Holloway ",
        ),
        ({"origin": "made here"}, "made here "),
        ({"origin": "unknown"}, "of unknown origin "),
        ({}, ""),
    ],
)
def test_goods_in_say_where_they_came_from(values: dict[str, Plain], source: str) -> None:
    assert tell(booked(**values), PIECE) == f"Booked in 1 piece {source}into Goods in"


def test_several_pieces_are_counted_also_where_one_is_told_of() -> None:
    both = replace(booked(origin_firm_id=2), fact_counts={"piece": 2})
    assert tell(both, PIECE) == "Booked in 2 pieces from Tarn & Holloway into Goods in"
    assert tell(both) == (
        "Booked in 2 pieces of VX0001-Y Exhaust valve as T00007-V and 1 more from Tarn & Holloway"
        " into Goods in"
    )


def test_a_move_says_from_where_and_to_where_and_how_much_of_a_batch() -> None:
    assert tell(told(EntryKind.MOVED, line(GOODS_IN, A_03)), PIECE) == "Moved from Goods in to A-03"
    some = told(EntryKind.MOVED, line(GOODS_IN, A_03, quantity=1_250_000, batch=4))
    assert tell(some, BATCH) == "Moved 1.25 m from Goods in to A-03"
    assert tell(some) == "Moved 1.25 m B00004-S from Goods in to A-03"
    away = told(EntryKind.MOVED, line(A_03, OUTSIDE))
    assert tell(away, PIECE) == "Moved from A-03 out of our hands"
    home = told(EntryKind.MOVED, line(OUTSIDE, A_03))
    assert tell(home, PIECE) == "Moved to A-03"


def test_what_is_only_written_down_is_no_move() -> None:
    noted = told(EntryKind.MOVED, facts=(Fact("piece", 7, {"note": "due back 2026-04-01"}),))
    assert tell(noted, PIECE) == "Noted: due back 2026-04-01"
    assert tell(noted) == "Noted on T00007-V: due back 2026-04-01"


def test_what_is_set_aside_and_handed_over_names_the_pull() -> None:
    aside = line(A_03, A_03, LineKind.RESERVE, pull_line=9)
    assert tell(told(EntryKind.RESERVED, aside), PIECE) == (
        "Reserved for pull P00003-M, Linnet PL-0112 cylinder 5"
    )
    over = line(A_03, 44, pull_line=9)
    assert tell(told(EntryKind.ISSUED, over), PIECE) == (
        "Issued to pull P00003-M, Linnet PL-0112 cylinder 5, from A-03"
    )


def test_acceptance_is_signed() -> None:
    accepted = told(EntryKind.ACCEPTED, facts=(Fact("piece", 7, {"scope": "flight"}),))
    assert tell(accepted, PIECE) == "Accepted for flight by A. Brandreth (licence HM-0442)"


def test_a_reversal_names_what_it_reverses() -> None:
    reversal = replace(told(EntryKind.REVERSED), reverses=11, reversed_kind=EntryKind.SPLIT)
    assert tell(reversal) == "Reversed entry 11, split"


def test_what_has_no_name_is_told_by_its_kind_and_number() -> None:
    nameless = replace(told(EntryKind.MOVED, line(GOODS_IN, A_03)), names={})
    assert tell(nameless) == "Moved piece 7 from place 2 to place 3"


@pytest.mark.parametrize("kind", list(EntryKind))
@pytest.mark.parametrize("about", [None, PIECE, BATCH])
def test_every_kind_has_a_sentence_even_of_an_entry_that_holds_nothing(
    kind: EntryKind, about: tuple[str, int] | None
) -> None:
    sentence = tell(told(kind), about)
    assert sentence[0].isupper()
    assert sentence == " ".join(sentence.split())


@given(st.lists(st.text("ABC", min_size=1), min_size=1, max_size=9), st.integers(0, 40))
def test_a_list_accounts_for_everything(names: list[str], count: int) -> None:
    words = listed(names, count)
    total = max(count, len(names))
    assert all(name in words for name in names[:NAMED_MAX])
    left = total - min(len(names), NAMED_MAX)
    assert words.endswith(f" and {left} more") == (left > 0)


def test_two_and_three_are_joined_as_one_writes_them() -> None:
    assert listed(["A"]) == "A"
    assert listed(["A", "B"]) == "A and B"
    assert listed(["A", "B", "C"]) == "A, B and C"
    assert listed(["A", "B", "C", "D"]) == "A, B, C and 1 more"


def test_a_sentence_gets_one_stop() -> None:
    assert [stopped(words) for words in ("Moved", "Bent?", "No log.")] == ["Moved.", "Bent?", "No log."]
