"""State on a date, as believed at an instant, from the entries: against a replay with no cleverness in it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.folding import (
    OUTSIDE_PLACE,
    Contradiction,
    Fact,
    Held,
    LedgerEntry,
    Line,
    PieceState,
    Pulled,
    Sojourn,
    fold,
    fold_batch,
    fold_piece,
    fold_record,
)
from invdb.terms import LineKind
from tests.rules.slow_replay import compare, replay

FIRST = date(2026, 2, 2)
BIN, BENCH, PULL = 2, 3, 4
DAYS = [FIRST + timedelta(days=days) for days in range(6)]


def instant(number: int) -> datetime:
    return datetime(2026, 2, 20, 9, tzinfo=UTC) + timedelta(minutes=number)


def move(
    number: int, on: date, from_place: int, to_place: int, *, piece: int | None = None, quantity: int = 1
) -> Line:
    batch = None if piece is not None else 1
    return Line(number, 1, on, LineKind.MOVE, piece, batch, from_place, to_place, quantity)


def entry(
    number: int, on: date, *lines: Line, reverses: int | None = None, facts: tuple[Fact, ...] = ()
) -> LedgerEntry:
    return LedgerEntry(number, on, instant(number), reverses, lines, facts)


@st.composite
def a_line(draw: st.DrawFn, number: int, ordinal: int, on: date, where: dict[int, int]) -> Line:
    """A move or a reservation of a piece or a batch, mostly from ``where`` it was last said to be."""
    piece = draw(st.sampled_from([None, 1, 2]))
    batch = None if piece else draw(st.sampled_from([1, 2]))
    likely = where.get(piece, OUTSIDE_PLACE) if piece else draw(st.sampled_from([OUTSIDE_PLACE, BIN]))
    here = likely if draw(st.integers(0, 5)) else draw(st.integers(1, 4))
    if draw(st.integers(0, 3)) == 0:
        quantity = draw(st.sampled_from([1, -1])) * (1 if piece else draw(st.integers(1, 4)))
        pull_line = draw(st.sampled_from([1, 2]))
        return Line(number, ordinal, on, LineKind.RESERVE, piece, batch, here, here, quantity, pull_line)
    there = draw(st.sampled_from([place for place in range(1, 5) if place != here]))
    if piece:
        where[piece] = there
    quantity = 1 if piece else draw(st.integers(1, 6))
    for_pull = draw(st.sampled_from([None, None, 1, 2]))
    return Line(number, ordinal, on, LineKind.MOVE, piece, batch, here, there, quantity, for_pull)


@st.composite
def histories(draw: st.DrawFn) -> list[LedgerEntry]:
    """Entries recorded in any order of their days, some reversed; most lines fit, some can't be."""
    entries: list[LedgerEntry] = []
    where: dict[int, int] = {}
    for number in range(1, draw(st.integers(1, 14)) + 1):
        # Most are recorded as they happen; the late ones are what makes it hard.
        on = DAYS[min(number // 3, 5)] if draw(st.booleans()) else draw(st.sampled_from(DAYS))
        reversible = [
            each.number
            for each in entries
            if each.reverses is None and each.number not in {other.reverses for other in entries}
        ]
        if reversible and draw(st.integers(0, 4)) == 0:
            entries.append(entry(number, on, reverses=draw(st.sampled_from(reversible))))
            continue
        lines = [
            draw(a_line(number, ordinal, on, where)) for ordinal in range(1, draw(st.integers(0, 3)) + 1)
        ]
        settings = [
            Fact("part", 1, {"name": f"Name {number}"}),
            Fact("part", 1, {"note": f"Note {number}", "critical": True}),
            Fact("part", 2, {"name": None}),
            Fact("place", PULL, {"pull_id": 1}),
        ]
        facts = tuple(draw(st.lists(st.sampled_from(settings), max_size=2)))
        entries.append(entry(number, on, *lines, facts=facts))
    return entries


@given(histories())
def test_the_state_now_is_that_of_a_day_by_day_replay(entries: list[LedgerEntry]) -> None:
    compare(fold(entries), replay(entries))


@given(histories(), st.sampled_from(DAYS), st.integers(0, 14))
def test_the_state_on_any_day_as_believed_at_any_instant(
    entries: list[LedgerEntry], on: date, known: int
) -> None:
    compare(fold(entries, on, instant(known)), replay(entries, on, instant(known)))


@given(histories(), st.integers(0, 14))
def test_what_was_believed_is_what_stood_before_anything_later_was_recorded(
    entries: list[LedgerEntry], known: int
) -> None:
    believed, stood = fold(entries, None, instant(known)), fold(entries[:known])
    assert list(map(str, believed.contradictions)) == list(map(str, stood.contradictions))
    assert replace(believed, contradictions=[]) == replace(stood, contradictions=[])


@given(histories(), st.randoms(use_true_random=False))
def test_the_order_in_which_entries_are_handed_over_does_not_matter(
    entries: list[LedgerEntry], random: object
) -> None:
    shuffled = list(entries)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    there, here = fold(shuffled), fold(entries)
    assert (there.records, there.pieces, there.holdings) == (here.records, here.pieces, here.holdings)


@given(histories())
def test_an_entry_and_its_reversal_leave_everything_as_if_neither_had_been(
    entries: list[LedgerEntry],
) -> None:
    undone = {each.reverses for each in entries if each.reverses is not None}
    without = [each for each in entries if each.reverses is None and each.number not in undone]
    assert fold(entries).pieces == fold(without).pieces
    assert fold(entries).holdings == fold(without).holdings
    assert fold(entries).records == fold(without).records
    assert fold(entries).pulled == fold(without).pulled


@given(histories())
def test_no_quantity_comes_from_nowhere(entries: list[LedgerEntry]) -> None:
    state = fold(entries)
    undone = {each.reverses for each in entries}
    lines = [
        line
        for each in entries
        if each.number not in undone
        for line in each.lines
        if line.batch is not None and line.kind is LineKind.MOVE
    ]
    for batch in {batch for batch, _ in state.holdings}:
        came = sum(
            line.quantity for line in lines if line.batch == batch and line.from_place == OUTSIDE_PLACE
        )
        went = sum(line.quantity for line in lines if line.batch == batch and line.to_place == OUTSIDE_PLACE)
        assert came - went == sum(
            held.quantity for (each, _), held in state.holdings.items() if each == batch
        )


@given(histories())
def test_what_is_held_is_never_negative_and_never_more_reserved_than_there(
    entries: list[LedgerEntry],
) -> None:
    for (_, place), held in fold(entries).holdings.items():
        assert place != OUTSIDE_PLACE
        assert 0 <= held.reserved <= held.quantity


def test_a_reversal_recorded_later_is_not_believed_before() -> None:
    came = entry(1, DAYS[0], move(1, DAYS[0], OUTSIDE_PLACE, BIN, quantity=9))
    undone = entry(2, DAYS[0], reverses=1)
    assert fold([came, undone], DAYS[3], instant(1)).holdings == {(1, BIN): Held(9, 0)}
    assert fold([came, undone], DAYS[3], instant(2)).holdings == {}
    assert fold([came, undone], DAYS[0]).holdings == {}


def test_within_a_day_the_order_is_that_of_recording() -> None:
    lines = [
        move(3, DAYS[1], BIN, BENCH, piece=1),
        move(7, DAYS[1], BENCH, PULL, piece=1),
        move(1, DAYS[0], OUTSIDE_PLACE, BIN, piece=1),
    ]
    assert fold_piece(lines) == PieceState(
        PULL,
        (
            Sojourn(BIN, DAYS[0], 1, DAYS[1], 3),
            Sojourn(BENCH, DAYS[1], 3, DAYS[1], 7),
            Sojourn(PULL, DAYS[1], 7),
        ),
        None,
    )


def test_a_batch_may_be_short_within_a_day_but_not_at_its_end() -> None:
    early = move(1, DAYS[0], BIN, BENCH, quantity=5)
    late = move(2, DAYS[0], OUTSIDE_PLACE, BIN, quantity=8)
    assert fold_batch([early, late]) == {BENCH: Held(5, 0), BIN: Held(3, 0)}
    with pytest.raises(Contradiction) as caught:
        fold_batch([early, replace(late, happened_on=DAYS[1])])
    assert (caught.value.number, caught.value.happened_on) == (1, DAYS[0])


def test_a_fact_without_a_column_leaves_it_as_it_was() -> None:
    facts = [
        (DAYS[2], 5, {"note": "worn"}),
        (DAYS[0], 1, {"name": "Valve", "note": ""}),
        (DAYS[1], 9, {"note": "ok"}),
    ]
    assert fold_record(facts) == ({"name": "Valve", "note": "worn"}, 9)
    assert fold_record([]) == ({}, 0)


def test_kit_issued_into_a_pull_and_given_back_is_counted() -> None:
    def line(number: int, kind: LineKind, from_place: int, to_place: int, quantity: int) -> LedgerEntry:
        return entry(
            number, DAYS[1], Line(number, 1, DAYS[1], kind, None, 1, from_place, to_place, quantity, 1)
        )

    entries = [
        entry(
            1,
            DAYS[0],
            move(1, DAYS[0], OUTSIDE_PLACE, BIN, quantity=9),
            facts=(Fact("place", PULL, {"pull_id": 1}),),
        ),
        line(2, LineKind.RESERVE, BIN, BIN, 4),
        line(3, LineKind.RESERVE, BIN, BIN, -3),
        line(4, LineKind.MOVE, BIN, PULL, 3),
        line(5, LineKind.MOVE, PULL, BIN, 2),
    ]
    state = fold(entries)
    assert state.pulled == {1: Pulled(reserved=1, issued=3, returned=2)}
    assert state.holdings == {(1, BIN): Held(8, 1), (1, PULL): Held(1, 0)}
    assert state.contradictions == []
