"""What may be overridden and by whom, what a station has room for, and what stripping makes of things."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.availability import Bar, BarKind
from invdb.rules.fitting import (
    Leave,
    Wanted,
    conceded_bars,
    has_room,
    leave_for,
    standing_bars,
    way_out,
    worse,
)
from invdb.rules.pulling import Option
from invdb.terms import ConcessionOver, Condition, Scope

FLIGHT, GROUND, DISPLAY = Scope
SAFETY = {BarKind.CONDITION, BarKind.LIFE, BarKind.SHELF_LIFE, BarKind.HOLD, BarKind.EVENT, BarKind.FIT}
NEVER_WRONG = {BarKind.PART, BarKind.MATCH}
LESSER = {BarKind.QUARANTINE, BarKind.UNINSPECTED, BarKind.SCOPE, BarKind.RENEWED}
NEVER = {BarKind.PLACE, BarKind.RESERVED, BarKind.OWNER}


def test_for_flight_an_authority_alone_lets_in_what_may_hurt_someone() -> None:
    assert {kind for kind in BarKind if leave_for(kind, FLIGHT) is Leave.CONCESSION} == {
        *SAFETY,
        *NEVER_WRONG,
    }
    assert {kind for kind in BarKind if leave_for(kind, FLIGHT) is Leave.LICENCE} == LESSER
    assert {kind for kind in BarKind if leave_for(kind, FLIGHT) is Leave.NONE} == NEVER


@pytest.mark.parametrize("use", [GROUND, DISPLAY])
def test_on_the_ground_a_licence_is_enough_but_never_for_the_wrong_part(use: Scope) -> None:
    assert {kind for kind in BarKind if leave_for(kind, use) is Leave.LICENCE} == LESSER | SAFETY
    assert all(leave_for(kind, use) is Leave.CONCESSION for kind in NEVER_WRONG)
    assert all(leave_for(kind, use) is Leave.NONE for kind in NEVER)


@pytest.mark.parametrize(
    ("over", "lifted"),
    [
        (ConcessionOver.PART, NEVER_WRONG),
        (ConcessionOver.CONDITION, {BarKind.CONDITION}),
        (ConcessionOver.WORN_LIMIT, {BarKind.CONDITION, BarKind.FIT}),
        (ConcessionOver.LIFE_LIMIT, {BarKind.LIFE, BarKind.SHELF_LIFE}),
        (ConcessionOver.HOLD, {BarKind.HOLD, BarKind.EVENT}),
    ],
)
def test_a_concession_lifts_what_it_is_over_and_nothing_else(
    over: ConcessionOver, lifted: set[BarKind]
) -> None:
    bars = [Bar(kind, str(kind)) for kind in BarKind]
    assert {bar.kind for bar in conceded_bars(bars, {over})} == lifted
    left = {bar.kind for bar in standing_bars(bars, FLIGHT, {over}, overridden=False)}
    assert left == set(BarKind) - lifted


@given(
    st.lists(st.sampled_from(BarKind), unique=True),
    st.sampled_from(Scope),
    st.sets(st.sampled_from(ConcessionOver)),
    st.booleans(),
)
def test_a_reason_and_a_concession_never_raise_a_bar_and_each_only_lifts_its_own(
    kinds: list[BarKind], use: Scope, conceded: set[ConcessionOver], overridden: bool
) -> None:
    bars = [Bar(kind, f"{kind} bars it") for kind in kinds]
    left = standing_bars(bars, use, conceded, overridden)
    assert set(left) <= set(bars)
    assert set(standing_bars(bars, use, conceded, True)) <= set(standing_bars(bars, use, conceded, False))
    for bar in set(bars) - set(left):
        by_reason = overridden and leave_for(bar.kind, use) is Leave.LICENCE
        assert by_reason or bar in conceded_bars(bars, conceded)
    assert all(bar in left for bar in bars if bar.kind in NEVER)


def test_the_way_out_is_that_of_the_worst_bar() -> None:
    owner, life, scope = (Bar(kind, "") for kind in (BarKind.OWNER, BarKind.LIFE, BarKind.SCOPE))
    assert way_out([scope], FLIGHT) == "A licensed person may override this with a written reason."
    assert "concession" in way_out([scope, life], FLIGHT)
    assert "licensed" in way_out([scope, life], GROUND)
    assert way_out([scope, life, owner], FLIGHT) == "Put that right first."


@given(st.sampled_from(Condition), st.sampled_from(Condition))
def test_nothing_gets_better_by_being_stripped(known: Condition, found: Condition) -> None:
    assert worse(known, found) == worse(found, known)
    assert worse(worse(known, found), found) == worse(known, found)
    assert worse(known, Condition.SERVICEABLE) is known
    assert worse(known, Condition.UNSALVAGEABLE) is Condition.UNSALVAGEABLE


def wanted(units: int, *options: dict[int, int]) -> Wanted:
    """A kit line that takes so many units, each filled by one of these: parts with how many of each."""
    return Wanted(units, tuple(Option(tuple(option.items()), "") for option in options))


def test_a_station_takes_as_much_as_its_line_and_no_more() -> None:
    springs = [wanted(2, {1: 1})]
    assert has_room(springs, {1: 2})
    assert not has_room(springs, {1: 3})
    wire = [wanted(500_000, {2: 1})]
    assert has_room(wire, {2: 500_000}) and not has_room(wire, {2: 500_001})


def test_a_set_that_stands_in_takes_the_place_of_one_with_its_first_member() -> None:
    line = [wanted(1, {1: 1}, {2: 1, 3: 2})]
    assert has_room(line, {2: 1})
    assert has_room(line, {2: 1, 3: 2})
    assert not has_room(line, {2: 2})
    assert not has_room(line, {3: 3})
    assert not has_room(line, {1: 1, 2: 1})
    assert has_room([wanted(2, {1: 1}, {2: 1, 3: 2})], {1: 1, 2: 1, 3: 1})


def test_two_lines_share_a_station_and_each_takes_its_own() -> None:
    nest = [wanted(1, {1: 1}), wanted(1, {2: 1})]
    assert has_room(nest, {1: 1, 2: 1})
    assert not has_room(nest, {1: 2})
    either = [wanted(1, {1: 1}, {3: 1}), wanted(1, {2: 1}, {3: 1})]
    assert has_room(either, {3: 2}) and has_room(either, {1: 1, 3: 1}) and has_room(either, {2: 1, 3: 1})
    assert not has_room(either, {1: 1, 2: 1, 3: 1})


def test_a_strange_part_takes_up_a_line_of_its_own() -> None:
    assert has_room([], {9: 1}, strange=1)
    assert not has_room([], {9: 2}, strange=2)
    one = [wanted(1, {1: 1})]
    assert has_room(one, {9: 1}, strange=1)
    assert not has_room(one, {1: 1, 9: 1}, strange=1)
    nest = [wanted(1, {1: 1}), wanted(1, {2: 1})]
    assert has_room(nest, {1: 1, 9: 1}, strange=1)
    assert not has_room(nest, {1: 1, 2: 1, 9: 1}, strange=1)


option = st.dictionaries(st.integers(1, 3), st.integers(1, 2), min_size=1, max_size=2)
line = st.builds(
    lambda units, options: wanted(units, *options),
    st.integers(1, 2),
    st.lists(option, min_size=1, max_size=2),
)


def by_trying_all(lines: list[Wanted], amounts: dict[int, int]) -> bool:
    """Whether some number of units of each option covers the amounts: every number is tried."""
    known = {part for each in lines for part in each.parts}
    ways = [(at, one) for at, each in enumerate(lines) for one in each.options]
    for units in product(*(range(lines[at].units + 1) for at, _ in ways)):
        used = [0] * len(lines)
        held = dict.fromkeys(known, 0)
        for (at, one), count in zip(ways, units, strict=True):
            used[at] += count
            for part, each in one.members:
                held[part] += count * each
        within = all(now <= each.units for now, each in zip(used, lines, strict=True))
        if within and all(held[part] >= amounts.get(part, 0) for part in known):
            return True
    return False


@given(st.lists(line, min_size=1, max_size=2), st.dictionaries(st.integers(1, 3), st.integers(0, 3)))
def test_room_is_found_when_there_is_any(lines: list[Wanted], amounts: dict[int, int]) -> None:
    assert has_room(lines, amounts) == by_trying_all(lines, amounts)
