"""Superseded parts, two-way pairs and sets of two, followed from one to the next."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.alternates import STEPS_MAX, Part, StandIn, find_cycle, refuse_cycle, stand_ins
from invdb.rules.effectivity import Effectivity, EngineState
from invdb.terms import Refused, Scope

LINNET = EngineState("Linnet", "PL-0117", frozenset({"M12"}), date(2024, 6, 1), Scope.FLIGHT)


def one_way(number: int, part: str, *members: str, **more: object) -> StandIn:
    return StandIn(number, part, tuple((m, 1) for m in members), **more)  # type: ignore[arg-type]


def both_ways(number: int, part: str, other: str, **more: object) -> StandIn:
    return one_way(number, part, other, both_ways=True, **more)


def members_found(part: str, graph: list[StandIn], position: str = "cylinder 5") -> list[dict[str, int]]:
    return [dict(option.members) for option in stand_ins(part, graph, LINNET, position)]  # type: ignore[arg-type]


def test_a_chain_of_three_supersessions_is_followed_nearest_first() -> None:
    graph = [one_way(1, "v1", "v2"), one_way(2, "v2", "v3"), one_way(3, "v3", "v4")]
    assert members_found("v1", graph) == [{"v2": 1}, {"v3": 1}, {"v4": 1}]
    assert members_found("v4", graph) == []


def test_every_option_carries_its_path_and_each_steps_authority() -> None:
    graph = [
        one_way(1, "v1", "v2", authority="Pellworth leaflet 14"),
        one_way(2, "v2", "v3", authority="concession C7"),
    ]
    last = stand_ins("v1", graph, LINNET, "cylinder 5")[-1]
    assert [(step.stand_in, step.part, step.authority) for step in last.path] == [
        (1, "v1", "Pellworth leaflet 14"),
        (2, "v2", "concession C7"),
    ]


def test_a_two_way_pair_is_visited_once_each_way() -> None:
    graph = [both_ways(1, "plug A", "plug B")]
    assert members_found("plug A", graph) == [{"plug B": 1}]
    assert members_found("plug B", graph) == [{"plug A": 1}]


def test_a_ring_of_two_way_pairs_ends() -> None:
    graph = [both_ways(1, "a", "b"), both_ways(2, "b", "c"), both_ways(3, "c", "a")]
    assert members_found("a", graph) == [{"b": 1}, {"c": 1}]


def test_a_set_of_two_counts_its_quantities_and_its_members_pass_on() -> None:
    graph = [
        StandIn(1, "spring", (("inner", 1), ("outer", 2))),
        one_way(2, "outer", "outer mk2"),
        StandIn(3, "outer mk2", (("coil", 3),)),
    ]
    assert members_found("spring", graph) == [
        {"inner": 1, "outer": 2},
        {"inner": 1, "outer mk2": 2},
        {"inner": 1, "coil": 6},
    ]


def test_members_that_become_the_same_part_are_added_up() -> None:
    graph = [one_way(1, "spring", "inner", "outer"), one_way(2, "inner", "coil"), one_way(3, "outer", "coil")]
    assert {"coil": 2} in members_found("spring", graph)


def test_preference_orders_options_of_the_same_length() -> None:
    graph = [one_way(1, "a", "third", preference=9), one_way(2, "a", "first"), one_way(3, "a", "second")]
    graph += [one_way(4, "third", "far", preference=0)]
    assert members_found("a", graph) == [{"first": 1}, {"second": 1}, {"third": 1}, {"far": 1}]


def test_a_step_that_does_not_hold_here_stops_the_chain_and_what_lies_beyond() -> None:
    for bound in (
        Effectivity(engine_type="Dabchick"),
        Effectivity(positions=frozenset({"cylinder 1"})),
        Effectivity(serial_from="PL-0118"),
        Effectivity(mods_barred=frozenset({"M12"})),
        Effectivity(date_from=date(2024, 6, 2)),
    ):
        graph = [one_way(1, "a", "b"), one_way(2, "b", "c", effectivity=bound), one_way(3, "c", "d")]
        assert members_found("a", graph) == [{"b": 1}]
    only_here = Effectivity(positions=frozenset({"cylinder 1"}))
    graph = [one_way(1, "a", "b", effectivity=only_here)]
    assert members_found("a", graph, "cylinder 1") == [{"b": 1}]


def test_a_both_ways_pair_with_a_one_way_set_cannot_grow_for_ever() -> None:
    graph = [one_way(1, "a", "b", "washer"), both_ways(2, "b", "a")]
    assert members_found("a", graph) == [{"b": 1, "washer": 1}, {"b": 1}]


def test_a_chain_is_followed_eight_steps_and_no_further() -> None:
    graph = [one_way(i, f"p{i}", f"p{i + 1}") for i in range(12)]
    assert members_found("p0", graph) == [{f"p{i}": 1} for i in range(1, STEPS_MAX + 1)]


def test_a_part_with_more_options_than_a_person_can_weigh_is_refused() -> None:
    graph = [one_way(i, "a", f"b{i}") for i in range(501)]
    with pytest.raises(Refused, match="More than 500"):
        stand_ins("a", graph, LINNET, "cylinder 5")


names = st.sampled_from("abcdefg")
pairs = st.lists(st.tuples(names, names, st.booleans(), st.booleans()), max_size=12)
ELSEWHERE = Effectivity(engine_type="Twelve")


@given(pairs)
def test_one_for_one_options_are_exactly_the_parts_within_reach(
    drawn: list[tuple[str, str, bool, bool]],
) -> None:
    graph = [
        one_way(i, part, other, both_ways=both, **({} if here else {"effectivity": ELSEWHERE}))
        for i, (part, other, both, here) in enumerate(drawn)
        if part != other
    ]
    open_steps = {(s.part, s.members[0][0]) for s in graph if s.effectivity != ELSEWHERE}
    open_steps |= {(s.members[0][0], s.part) for s in graph if s.effectivity != ELSEWHERE and s.both_ways}
    distance: dict[Part, int] = {"a": 0}
    for _ in range(7):
        for part, other in open_steps:
            if part in distance:
                distance[other] = min(distance.get(other, 99), distance[part] + 1)
    options = stand_ins("a", graph, LINNET, "cylinder 5")
    assert [len(o.path) for o in options] == sorted(len(o.path) for o in options)
    assert {o.members[0][0]: len(o.path) for o in options} == {p: d for p, d in distance.items() if d}
    assert len(options) == len(distance) - 1


sets = st.lists(
    st.tuples(names, st.lists(st.tuples(names, st.integers(1, 2)), min_size=1, max_size=2)), max_size=8
)


@given(sets)
def test_every_path_replayed_step_by_step_gives_its_members(
    drawn: list[tuple[str, list[tuple[str, int]]]],
) -> None:
    graph = [
        StandIn(i, part, tuple(members))
        for i, (part, members) in enumerate(drawn)
        if part not in dict(members) and len(dict(members)) == len(members)
    ]
    allowed = {(s.id, s.part, s.members) for s in graph}
    for option in stand_ins("a", graph, LINNET, "cylinder 5"):
        assert 1 <= len(option.path) <= STEPS_MAX
        reachable: set[frozenset[tuple[Part, int]]] = {frozenset({("a", 1)})}
        for step in option.path:
            assert (step.stand_in, step.part, step.members) in allowed
            reachable = {
                after for state in reachable for after in replacements(dict(state), step.part, step.members)
            }
        assert frozenset(option.members) in reachable


def replacements(
    state: dict[Part, int], part: Part, members: tuple[tuple[Part, int], ...]
) -> list[frozenset[tuple[Part, int]]]:
    """What the state becomes if 1, 2, … of the part in it are replaced."""
    out = []
    for units in range(1, state.get(part, 0) + 1):
        after = dict(state)
        after[part] -= units
        for member, each in members:
            after[member] = after.get(member, 0) + each * units
        out.append(frozenset((p, q) for p, q in after.items() if q))
    return out


def test_a_ring_of_one_way_steps_is_found_and_named() -> None:
    graph = [one_way(1, "a", "b"), one_way(2, "b", "c", "washer"), both_ways(3, "washer", "a")]
    new = one_way(4, "c", "a")
    assert find_cycle(graph, new) == ["c", "a", "b", "c"]
    with pytest.raises(Refused, match="c → a → b → c"):
        refuse_cycle(graph, new)


def test_a_two_way_step_makes_no_ring_and_none_passes_through_one() -> None:
    graph = [one_way(1, "a", "b"), both_ways(2, "b", "c")]
    assert find_cycle(graph, one_way(3, "c", "a")) is None
    assert find_cycle([one_way(1, "a", "b")], both_ways(2, "b", "a")) is None
    refuse_cycle(graph, one_way(3, "c", "a"))


def test_editing_a_step_is_not_judged_against_its_own_past() -> None:
    graph = [one_way(1, "a", "b"), one_way(2, "b", "c")]
    assert find_cycle(graph, one_way(1, "c", "a")) is None
    assert find_cycle(graph, one_way(9, "c", "a")) == ["c", "a", "b", "c"]


@given(pairs)
def test_entering_steps_one_by_one_never_leaves_a_one_way_ring(
    drawn: list[tuple[str, str, bool, bool]],
) -> None:
    graph: list[StandIn] = []
    refused = 0
    for i, (part, other, both, _) in enumerate(drawn):
        if part == other:
            continue
        new = one_way(i, part, other, both_ways=both)
        if find_cycle(graph, new) is None:
            graph.append(new)
        else:
            refused += 1
            assert rings([*graph, new])
    assert not rings(graph)


def rings(graph: list[StandIn]) -> bool:
    """Whether parts are left after taking away, again and again, those that no one-way step leads to."""
    steps = {(s.part, s.members[0][0]) for s in graph if not s.both_ways}
    while ends := {part for part, _ in steps} - {member for _, member in steps}:
        steps = {step for step in steps if step[0] not in ends}
    return bool(steps)


@pytest.mark.parametrize(
    ("part", "members", "both", "said"),
    [
        ("a", (), False, "cannot stand in"),
        ("a", (("a", 1),), False, "itself"),
        ("a", (("b", 0),), False, "0 of b"),
        ("a", (("b", 1), ("b", 1)), False, "twice"),
        ("a", (("b", 1), ("c", 1)), True, "both ways"),
        ("a", (("b", 2),), True, "both ways"),
    ],
)
def test_a_stand_in_that_makes_no_sense_is_refused_when_entered(
    part: str, members: tuple[tuple[str, int], ...], both: bool, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        StandIn(1, part, members, both_ways=both)
