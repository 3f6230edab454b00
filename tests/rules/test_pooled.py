"""Where the stock of one part stands in for others: exact against brute force, simulated within its error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from invdb.rules.lead_time import LeadPrior, LeadRecord, lead_time, month_ends
from invdb.rules.need import FailureRecord, Need, Overhaul, need_by_month
from invdb.rules.pooled import Pool, pooled_shortages, pools_at_end
from invdb.rules.pooled_draws import simulated
from invdb.rules.reject_rate import RejectPrior, RejectRecord
from invdb.rules.shortage import PartCase, shortages
from invdb.rules.supply import InWork, OnOrder, Supply, YieldRecord, supply_by_month
from invdb.terms import Refused

VALVES = RejectRecord(RejectPrior(0.4, 5))
SPRINGS = FailureRecord(0.5, 1_000)
PLATER = lead_time(LeadRecord(LeadPrior(40), (20, 50)))

# Of four oversizes each stands in for the smaller ones: it can be ground down.
CHAIN = frozenset((a, b) for a in range(4) for b in range(a))
# An old and a new pattern that serve each other, and a later one that serves both.
EITHER_WAY = frozenset({(0, 1), (1, 0), (2, 0), (2, 1)})
# Two later patterns, neither of which serves for the other.
FORK = frozenset({(1, 0), (2, 0), (0, 3), (1, 3), (2, 3)})
# One long stud that is cut down to any of three.
STAR = frozenset({(3, 0), (3, 1), (3, 2)})
STAR_OF_PAIRS = frozenset({(3, 0), (3, 1), (3, 2), (0, 1), (1, 0)})
IN_ORDER = [CHAIN, EITHER_WAY, FORK, STAR, STAR_OF_PAIRS]
# Each of two stands in for the next, and it does not pass on.
NOT_PASSED_ON = frozenset({(0, 1), (1, 2)})
CROSSED = frozenset({(0, 2), (0, 3), (1, 2), (1, 3), (0, 1)})
TREE = frozenset({(0, 1), (0, 2), (0, 3), (1, 2)})
IN_NO_ORDER = [NOT_PASSED_ON, CROSSED, TREE]

small_needs = st.builds(
    Need,
    st.lists(st.builds(Overhaul, st.just("Linnet 1"), st.integers(0, 2), st.integers(0, 2)), max_size=2).map(
        tuple
    ),
    st.sampled_from([VALVES, VALVES, None]),
    owed=st.integers(0, 1),
)
small_supplies = st.builds(
    Supply,
    st.integers(0, 3),
    st.lists(
        st.builds(InWork, st.integers(0, 2), st.just(PLATER), st.just(YieldRecord(0.6, 4))), max_size=1
    ).map(tuple),
)
small_cases = st.lists(
    st.builds(PartCase, st.just("valve"), small_needs, small_supplies), min_size=4, max_size=4
).map(tuple)


def most_met(over: Sequence[int], sources: Sequence[frozenset[int]], needs: Sequence[int]) -> int:
    """How many of the pieces that some needs lack can be met from what others have over, by maximum flow."""
    parts = len(over)
    graph = np.zeros((2 * parts + 2, 2 * parts + 2), np.int32)
    for part, has in enumerate(over):
        graph[0, 1 + part] = max(has, 0)
        if part in needs:
            graph[1 + parts + part, -1] = max(-has, 0)
        for giver in sources[part]:
            graph[1 + giver, 1 + parts + part] = 1_000
    return int(maximum_flow(csr_array(graph), 0, 2 * parts + 1).flow_value)


def outcomes(case: PartCase, horizon: int) -> dict[int, float]:
    """How likely each difference of own supply and own need is at the end."""
    need, supply = need_by_month(case.need, horizon), supply_by_month(case.supply, horizon)
    chances: dict[int, float] = {}
    for (needed, one), (there, other) in product(enumerate(need.cells[-1]), enumerate(supply.cells[-1])):
        if one * other > 0:
            chances[there - needed] = chances.get(there - needed, 0) + float(one * other)
    return chances


def brute_force(pool: Pool, horizon: int) -> tuple[np.ndarray, np.ndarray]:
    """P(short) and E[short] at the end, over every way in which supply and need may turn out."""
    parts = range(len(pool.cases))
    chance, expected = np.zeros(len(parts)), np.zeros(len(parts))
    for outcome in product(*(outcomes(case, horizon).items() for case in pool.cases)):
        over, weight = [over for over, _ in outcome], prod(each for _, each in outcome)
        for case, short in served_in_turn(pool, over).items():
            chance[case] += weight * (short > 0)
            expected[case] += weight * short
    return chance, expected


def served_in_turn(pool: Pool, over: Sequence[int]) -> dict[int, int]:
    """What each case is short of: one after another takes what it can, and as many as can be are met."""
    shorts = {}
    for group in pool.groups:
        met = 0
        for place, case in enumerate(group):
            most = most_met(over, pool.sources, group[: place + 1])
            shorts[case] = max(-over[case], 0) - (most - met)
            met = most
    return shorts


@pytest.mark.parametrize("stands_in", IN_ORDER)
@settings(max_examples=10, deadline=None)
@given(small_cases, st.integers(0, 2))
def test_parts_in_order_are_exact(
    stands_in: frozenset[tuple[int, int]], cases: tuple[PartCase, ...], horizon: int
) -> None:
    pool = Pool(cases, stands_in)
    pooled = pooled_shortages([pool], horizon)[0]
    assert pooled.error is None
    chance, expected = brute_force(pool, horizon)
    np.testing.assert_allclose([each.chance[-1] for each in pooled.shortages], chance, atol=1e-10)
    np.testing.assert_allclose([each.expected[-1] for each in pooled.shortages], expected, atol=1e-9)


@pytest.mark.parametrize("stands_in", IN_ORDER)
@given(st.lists(st.integers(-3, 3), min_size=4, max_size=4))
def test_where_stand_ins_pass_on_no_other_way_leaves_fewer_short(
    stands_in: frozenset[tuple[int, int]], over: list[int]
) -> None:
    """Whatever each needs and has: of all that is needed, most is met by own stock first."""
    pool = Pool(tuple(PartCase("valve", Need(), Supply()) for _ in range(4)), stands_in)
    needed = 3
    graph = np.zeros((10, 10), np.int32)
    for part, more in enumerate(over):
        graph[0, 1 + part], graph[5 + part, 9] = needed + more, needed
        for giver in pool.sources[part]:
            graph[1 + giver, 5 + part] = 1_000
    most = int(maximum_flow(csr_array(graph), 0, 9).flow_value)
    assert sum(served_in_turn(pool, over).values()) == 4 * needed - most


def test_who_needs_a_piece_that_fewer_can_serve_has_it_first() -> None:
    owing = tuple(PartCase(name, Need(owed=1), Supply()) for name in ("std", "+0.1", "+0.2"))
    largest = PartCase("+0.3", Need(), Supply(2))
    pooled = pooled_shortages([Pool((*owing, largest), CHAIN)], 0)[0]
    assert [float(each.expected[0]) for each in pooled.shortages] == [1, 0, 0, 0]


@pytest.mark.parametrize("stands_in", IN_ORDER + IN_NO_ORDER)
def test_simulated_parts_agree_with_brute_force_within_their_error(
    stands_in: frozenset[tuple[int, int]],
) -> None:
    cases = tuple(
        PartCase(name, Need((Overhaul("Linnet 1", 1, looked),), VALVES, owed=owed), Supply(free, work))
        for name, looked, owed, free, work in (
            ("std", 3, 1, 1, ()),
            ("+0.1", 2, 0, 2, ()),
            ("+0.2", 2, 1, 1, (InWork(2, PLATER, YieldRecord(0.6, 4)),)),
            ("+0.3", 1, 0, 2, ()),
        )
    )
    pool = Pool(cases, stands_in)
    chance, expected = brute_force(pool, 2)
    spares = pools_at_end([pool], 2)[0].spares
    for group in pool.groups:
        drawn, error = simulated(
            [(spares[case].cells, spares[case].least) for case in group],
            [frozenset(group.index(giver) for giver in pool.sources[case]) for case in group],
        )
        for case, (short, by) in zip(group, drawn, strict=True):
            assert abs(short[0] - chance[case]) < 4 * error
            assert by[0] == pytest.approx(expected[case], abs=12 * error)
        assert error < 0.004


@pytest.mark.parametrize("stands_in", IN_NO_ORDER)
def test_parts_in_no_order_are_simulated_and_say_so(stands_in: frozenset[tuple[int, int]]) -> None:
    cases = tuple(
        PartCase("valve", Need((Overhaul("Linnet 1", 1, 2),), VALVES), Supply(free)) for free in (2, 0, 1, 0)
    )
    pool = Pool(cases, stands_in)
    pooled, again = pooled_shortages([pool, pool], 2)
    assert pooled.error is not None and 0 < pooled.error < 0.004
    chance, _ = brute_force(pool, 2)
    for short, same, exact in zip(pooled.shortages, again.shortages, chance, strict=True):
        assert short.chance.tolist() == same.chance.tolist()
        assert abs(short.chance[2] - exact) < 4 * pooled.error


@settings(max_examples=15, deadline=None)
@given(small_cases, st.integers(0, 3))
def test_parts_by_themselves_are_as_they_are_without_a_pool(
    cases: tuple[PartCase, ...], horizon: int
) -> None:
    pools = [Pool(cases[:1]), Pool(cases[1:3]), Pool(cases[3:], frozenset({(0, 0)}))]
    pooled = pooled_shortages(pools, horizon)
    flat = [each for found in pooled for each in found.shortages]
    for each, alone in zip(flat, shortages(cases, horizon), strict=True):
        assert each.chance.tolist() == alone.chance.tolist()
        assert each.expected.tolist() == alone.expected.tolist()
    assert [found.error for found in pooled] == [None] * 3
    for pool, found in zip(pools_at_end(pools, horizon), pooled, strict=True):
        at_end = [each.expected[-1] for each in found.shortages]
        np.testing.assert_allclose(pool.expected(np.zeros((1, len(at_end)), int))[0], at_end, atol=1e-9)


def test_a_stand_in_that_helps_nobody_changes_nothing() -> None:
    empty = PartCase("+0.1", Need(), Supply())
    worn = PartCase("std", Need((Overhaul("Linnet 1", 1, 4),), VALVES, (90.0,), SPRINGS), Supply(2))
    pooled = pooled_shortages([Pool((worn, empty), frozenset({(1, 0)}))], 3)[0]
    alone = shortages([worn], 3)[0]
    np.testing.assert_allclose(pooled.shortages[0].chance, alone.chance, atol=1e-10)
    np.testing.assert_allclose(pooled.shortages[0].expected, alone.expected, atol=1e-9)


def test_more_than_enough_of_a_stand_in_costs_nothing_to_reckon_with() -> None:
    worn = PartCase("std", Need((Overhaul("Linnet 1", 1, 40),), VALVES), Supply())
    pooled = pooled_shortages(
        [Pool((worn, PartCase("+0.1", Need(), Supply(1_000_000))), frozenset({(1, 0)}))], 1
    )[0]
    assert pooled.shortages[0].expected.tolist() == pytest.approx([0, 0], abs=1e-12)


def test_what_comes_in_for_one_serves_the_other_from_then_on() -> None:
    plan = Need((Overhaul("Linnet 1", 0, 2),))
    coming = PartCase("+0.1", Need(), Supply(on_order=(OnOrder(2, PLATER, 50),)))
    pooled = pooled_shortages([Pool((PartCase("std", plan, Supply()), coming), frozenset({(1, 0)}))], 12)[0]
    here = PLATER.arrival(50, month_ends(12))
    np.testing.assert_allclose(pooled.shortages[0].chance, 1 - here, atol=1e-12)


def test_pieces_added_are_as_if_they_lay_on_the_shelf() -> None:
    cases = tuple(
        PartCase("valve", Need((Overhaul("Linnet 1", 1, 3),), VALVES, owed=1), Supply(free))
        for free in (1, 0, 2, 0)
    )
    for stands_in in (CHAIN, STAR, frozenset(), TREE):
        added = np.array([(0, 0, 0, 0), (1, 0, 2, 1), (0, 9, 0, 3)])
        then = pools_at_end([Pool(cases, stands_in)], 2)[0].expected(added)
        for row, extras in zip(then, added, strict=True):
            more = tuple(
                replace(case, supply=Supply(case.supply.free + int(extra)))
                for case, extra in zip(cases, extras, strict=True)
            )
            there = pools_at_end([Pool(more, stands_in)], 2)[0].expected(np.zeros((1, 4), int))[0]
            np.testing.assert_allclose(row, there, atol=1e-12)


def test_no_pool_is_nothing() -> None:
    assert pooled_shortages([], 12) == []
    assert pooled_shortages([Pool(())], 12)[0].shortages == ()


def test_a_stand_in_that_is_not_there_is_refused() -> None:
    with pytest.raises(Refused) as refused:
        Pool((PartCase("valve", Need(), Supply()),), frozenset({(0, 1)}))
    assert refused.value.reason == "Of 1 parts in a pool, 0 cannot stand in for 1."


def test_parts_that_stand_in_for_one_another_in_too_many_ways_are_refused() -> None:
    cases = tuple(PartCase("valve", Need(owed=1), Supply()) for _ in range(27))
    tangle = frozenset((giver, taker) for taker in range(13) for giver in (13 + taker, 26))
    with pytest.raises(Refused) as refused:
        pooled_shortages([Pool(cases, tangle)], 1)
    assert "27 parts stand in for one another" in refused.value.reason


def test_a_horizon_that_cannot_be_is_refused() -> None:
    for ask in (pooled_shortages, pools_at_end):
        with pytest.raises(Refused) as refused:
            ask([], -1)
        assert refused.value.reason == "A horizon of -1 months is not between 0 and 240."
