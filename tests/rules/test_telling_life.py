"""How an entry about an engine is told where it is long, where names are gone, and of mods."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from invdb.rules.folding import Fact, Line
from invdb.rules.telling import tell
from invdb.rules.told import Seat, Told
from invdb.terms import EntryKind, LineKind
from tests.rules.test_telling import told

BENCH = 3


def many(kind: EntryKind, seats: dict[int, Seat], *, out: bool) -> Told:
    """An entry that fits one piece at each seat, or strips it, all found worn."""
    lines = tuple(
        Line(
            12,
            ordinal,
            date(2026, 3, 2),
            LineKind.MOVE,
            100 + ordinal,
            None,
            place if out else BENCH,
            BENCH if out else place,
            1,
        )
        for ordinal, place in enumerate(seats, start=1)
    )
    facts = tuple(
        Fact("stripping", line.ordinal, {"piece_id": line.piece, "found": "worn"}) for line in lines if out
    )
    names = {("piece", 100 + ordinal): f"T{ordinal:05d}" for ordinal in range(1, len(seats) + 1)}
    return replace(told(kind, *lines, facts=facts), seats=seats, names={**names, ("place", BENCH): "Bench"})


CYLINDER = {place: Seat(f"station {place}", "Linnet 117", "cylinder 3") for place in range(10, 15)}


def test_many_in_one_position_are_named_as_far_as_one_reads_and_then_counted() -> None:
    assert tell(many(EntryKind.FITTED, CYLINDER, out=False)) == (
        "Fitted T00001 as station 10, T00002 as station 11, T00003 as station 12 and 2 more in Linnet 117,"
        " cylinder 3"
    )
    assert tell(many(EntryKind.STRIPPED, CYLINDER, out=True)) == (
        "Stripped T00001, T00002, T00003 and 2 more from Linnet 117, cylinder 3, found worn, to Bench"
    )


def test_what_comes_off_several_positions_of_one_engine_names_the_engine_alone() -> None:
    seats = {place: Seat("barrel", "Linnet 117", f"cylinder {place}") for place in (10, 11)}
    assert tell(many(EntryKind.STRIPPED, seats, out=True)) == (
        "Stripped T00001 and T00002 from Linnet 117, found worn, to Bench"
    )


def test_a_long_entry_that_is_loaded_in_part_is_counted_whole() -> None:
    whole = many(EntryKind.STRIPPED, CYLINDER, out=True)
    part = replace(whole, line_counts={LineKind.MOVE: 143})
    assert "T00003 and 140 more from" in tell(part)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (((5, True),), "Embodied mod M1 on Linnet 117"),
        (((5, False),), "Removed mod M1 on Linnet 117"),
        (((5, True), (6, False)), "Embodied mod M1 on Linnet 117 and removed mod M2 on Linnet 117"),
    ],
)
def test_mods_are_told_as_embodied_or_removed(changes: tuple[tuple[int, bool], ...], sentence: str) -> None:
    facts = tuple(Fact("engine_mod", mod, {"embodied": embodied}) for mod, embodied in changes)
    names = {("engine_mod", 5): "M1 on Linnet 117", ("engine_mod", 6): "M2 on Linnet 117"}
    assert tell(replace(told(EntryKind.MOD_STATE, facts=facts), names=names)) == sentence


def test_a_doubtful_piece_out_of_many_is_told_of_itself_alone() -> None:
    facts = tuple(
        Fact(
            "event_clearance", piece, {"event_id": 1, "piece_id": piece, "cleared_by": 1, "inspection": "dye"}
        )
        for piece in (7, 8)
    )
    names = {("engine_event", 1): "overspeed of Linnet 117 on 2026-03-01", ("person", 1): "Ada Farrow"}
    cleared = replace(told(EntryKind.EVENT_CLEARED, facts=facts), names=names)
    assert tell(cleared, ("piece", 8)) == (
        "Cleared of the overspeed of Linnet 117 on 2026-03-01, by Ada Farrow: dye"
    )
    assert tell(cleared).startswith("Cleared piece 7 and piece 8 of the overspeed")
