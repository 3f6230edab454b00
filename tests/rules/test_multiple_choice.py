"""One choice of each group within a sum: against every combination, and against an integer programme."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from invdb.rules.multiple_choice import Chosen, best_within

Groups = list[list[tuple[int, float]]]

choices = st.tuples(st.integers(0, 30), st.floats(0, 10))
few_groups = st.lists(st.lists(choices, max_size=4), max_size=5)


def gained(groups: Groups, chosen: Chosen, money: int) -> float:
    """What is gained, if it is within the money."""
    taken = [group[place] for group, place in zip(groups, chosen.places, strict=True) if place is not None]
    assert sum(cost for cost, _ in taken) <= money
    return sum(gain for _, gain in taken)


@given(few_groups, st.integers(0, 80))
def test_no_combination_gains_more(groups: Groups, money: int) -> None:
    chosen = best_within(groups, money)
    assert chosen.proven
    best = max(
        sum(gain for _, gain in together)
        for together in product(*([(0, 0.0), *group] for group in groups))
        if sum(cost for cost, _ in together) <= money
    )
    assert gained(groups, chosen, money) == pytest.approx(best, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("money", [0, 3_000, 40_000, 500_000])
def test_as_much_is_gained_as_by_an_integer_programme(money: int) -> None:
    draw = np.random.default_rng(1929)
    groups = [
        [
            (int(cost), float(gain))
            for cost, gain in zip(draw.integers(100, 9_000, 6), draw.random(6), strict=True)
        ]
        for _ in range(40)
    ]
    chosen = best_within(groups, money)
    flat = [(row, *choice) for row, group in enumerate(groups) for choice in group]
    one_each = np.array([[row == place for row, _, _ in flat] for place in range(40)], float)
    found = milp(
        [-gain for _, _, gain in flat],
        integrality=np.ones(len(flat), int),
        bounds=Bounds(0, 1),
        constraints=[
            LinearConstraint(one_each, -np.inf, 1),
            LinearConstraint(np.array([[cost for _, cost, _ in flat]], float), -np.inf, money),
        ],
        options={"mip_rel_gap": 0.0},
    )
    assert chosen.proven
    assert gained(groups, chosen, money) == pytest.approx(-(found.fun or 0.0), abs=2e-6)


def test_where_too_many_combinations_lie_close_the_answer_is_not_called_proven(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("invdb.rules.multiple_choice.COMBINATIONS_MAX", 2)
    groups = [[(10 + i, 1.0 + i / 9 + (i % 3) / 50)] for i in range(12)]
    chosen = best_within(groups, 101)
    assert not chosen.proven
    assert gained(groups, chosen, 101) > 0


def test_nothing_to_choose_from_is_nothing_chosen() -> None:
    assert best_within([], 10) == Chosen((), True)
    assert best_within([[], []], 10) == Chosen((None, None), True)
