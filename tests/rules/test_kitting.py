"""Which piece goes to which line: cylinders of the Linnets competing for the same shelf."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.kit_goals import Pace, solve_group
from invdb.rules.kit_model import (
    Allocation,
    Component,
    Key,
    Kit,
    KitRequest,
    Need,
    NeedOption,
    PositionRequest,
    Source,
)
from invdb.rules.kit_programme import Group, Programme
from invdb.rules.kit_sums import Column, kit_of, steps_of
from invdb.rules.kitting import choose_kit, first_come
from invdb.terms import Measure, Refused

C3, C5 = PositionRequest("cylinder 3"), PositionRequest("cylinder 5")


def one_of(*sources: Key, preference: int = 0, each: int = 1) -> NeedOption:
    """An option of a single part, fed by any of these sources."""
    return NeedOption(preference, (Component(each, sources),))


def need(key: str, position: PositionRequest, *options: NeedOption, quantity: int = 1) -> Need:
    return Need(key, position.key, quantity, options)


def taken_by(kit: Kit) -> dict[Key, set[Key]]:
    """The sources that each need takes from."""
    taken: dict[Key, set[Key]] = {}
    for allocation in kit.allocations:
        taken.setdefault(allocation.need, set()).add(allocation.source)
    return taken


def complete(kit: Kit) -> set[Key]:
    return {fill.position for fill in kit.positions if fill.complete}


# The scenes that the workshop knows


def test_two_cylinders_compete_for_the_last_good_barrel_and_the_obvious_choice_blocks_the_second() -> None:
    # Cylinder 3 takes either barrel, cylinder 5 only the standard one, which is also the older on the shelf.
    standard, oversize = Source("T00101", 1, receipt_rank=0), Source("T00102", 1, receipt_rank=1)
    request = KitRequest(
        (C3, C5),
        (
            need("3/barrel", C3, one_of("T00101"), one_of("T00102", preference=1)),
            need("5/barrel", C5, one_of("T00101")),
        ),
        (standard, oversize),
    )
    plain = first_come(request)
    assert taken_by(plain) == {"3/barrel": {"T00101"}}
    assert complete(plain) == {"cylinder 3"}
    best = choose_kit(request)
    assert taken_by(best) == {"3/barrel": {"T00102"}, "5/barrel": {"T00101"}}
    assert complete(best) == {"cylinder 3", "cylinder 5"}
    assert best.proven and best.score > plain.score


def test_the_engine_of_higher_priority_is_completed_first_whoever_is_asked_first() -> None:
    flying = PositionRequest("flying", priority=2)
    request = KitRequest(
        (C3, C5, flying),
        (
            need("3/valve", C3, one_of("v1")),
            need("5/valve", C5, one_of("v2")),
            need("flying/valves", flying, one_of("v1", "v2"), quantity=2),
        ),
        (Source("v1", 1), Source("v2", 1)),
    )
    kit = choose_kit(request)
    assert complete(kit) == {"flying"}
    assert kit.proven


def test_a_complete_cylinder_comes_before_more_lines_filled() -> None:
    # v1 could fill a line of each of two hopeless cylinders' worth, or complete one.
    shelf = (Source("v1", 1), Source("v2", 1))
    request = KitRequest(
        (C3, C5),
        (
            need("3/a", C3, one_of("v1", "v2"), quantity=2),
            need("5/a", C5, one_of("v1")),
            need("5/b", C5, one_of("v2")),
            need("5/c", C5),
        ),
        shelf,
    )
    kit = choose_kit(request)
    assert complete(kit) == {"cylinder 3"}
    assert [step.total for step in kit.steps[:2]] == [1, 1]
    assert kit.proven


def test_a_mate_goes_back_to_its_own_station_before_the_preferred_part_is_fitted() -> None:
    request = KitRequest(
        (C3,),
        (need("3/piston", C3, one_of("new"), one_of("mate", preference=1)),),
        (Source("new", 1), Source("mate", 1, home_line="3/piston")),
    )
    assert taken_by(choose_kit(request)) == {"3/piston": {"mate"}}


def test_eight_studs_are_six_of_the_preferred_and_two_alternates() -> None:
    request = KitRequest(
        (C3,),
        (need("3/stud", C3, one_of("old pattern"), one_of("new pattern", preference=1), quantity=8),),
        (Source("old pattern", 6), Source("new pattern", 20)),
    )
    kit = choose_kit(request)
    assert kit.allocations == (
        Allocation("3/stud", 0, 0, "old pattern", 6),
        Allocation("3/stud", 1, 0, "new pattern", 2),
    )


def test_a_short_line_is_filled_as_far_as_the_shelf_goes() -> None:
    request = KitRequest(
        (C3,), (need("3/stud", C3, one_of("b1", "b2"), quantity=8),), (Source("b1", 3), Source("b2", 2))
    )
    kit = choose_kit(request)
    assert (kit.lines[0].filled, kit.lines[0].short) == (5, 3)
    assert not complete(kit)
    assert kit.proven


def test_a_set_of_two_counts_only_when_both_are_there() -> None:
    pair = NeedOption(0, (Component(1, ("inner",)), Component(1, ("outer",))))
    request = KitRequest(
        (C3,), (need("3/spring", C3, pair, quantity=4),), (Source("inner", 4), Source("outer", 3))
    )
    kit = choose_kit(request)
    assert (kit.lines[0].filled, kit.lines[0].short) == (3, 1)
    assert {(a.source, a.quantity) for a in kit.allocations} == {("inner", 3), ("outer", 3)}
    alone = replace(request, sources=(Source("inner", 4), Source("outer", 0)))
    assert choose_kit(alone).allocations == ()


def test_a_matched_set_goes_whole_into_one_cylinder_or_stays_on_the_shelf() -> None:
    needs = (
        need("3/rod", C3, one_of("rod A", "rod B")),
        need("3/cap", C3, one_of("cap A", "cap B")),
        need("5/rod", C5, one_of("rod A")),
    )
    shelf = tuple(Source(key, 1) for key in ("rod A", "cap A", "rod B", "cap B"))
    matched = (("rod A", "cap A"), ("rod B", "cap B"))
    kit = choose_kit(KitRequest((C3, C5), needs, shelf, matched))
    # Cylinder 5 has no line for a cap, so rod A can't go there without parting the set.
    assert taken_by(kit) in [{"3/rod": {f"rod {x}"}, "3/cap": {f"cap {x}"}} for x in "AB"]
    assert complete(kit) == {"cylinder 3"}


def test_a_matched_set_whose_other_half_may_not_be_used_stays_on_the_shelf() -> None:
    request = KitRequest(
        (C3,), (need("3/rod", C3, one_of("rod A")),), (Source("rod A", 1),), (("rod A", "cap A"),)
    )
    kit = choose_kit(request)
    assert kit.allocations == first_come(request).allocations == ()
    assert kit.proven


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (Source("a", 1, other_uses=1, shelf_expiry_rank=9), Source("b", 1, other_uses=2)),
        (Source("a", 1, shelf_expiry_rank=1, receipt_rank=9), Source("b", 1, shelf_expiry_rank=2)),
        (Source("a", 1, receipt_rank=3), Source("b", 1, receipt_rank=4)),
    ],
)
def test_of_two_good_pieces_the_one_is_taken_that_serves_least_else_then_expires_first_then_came_first(
    better: Source, worse: Source
) -> None:
    for shelf in ((better, worse), (worse, better)):
        request = KitRequest((C3,), (need("3/gasket", C3, one_of("a", "b")),), shelf)
        assert taken_by(choose_kit(request)) == {"3/gasket": {"a"}}
        # The same when a second cylinder asks for the same shelf and a third piece lies on it.
        request = KitRequest(
            (C3, C5),
            (need("3/gasket", C3, one_of("b", "a")), need("5/gasket", C5, one_of("c", "b"))),
            (*shelf, Source("c", 1, other_uses=99)),
        )
        assert taken_by(choose_kit(replace(request, needs=request.needs[:1]))) == {"3/gasket": {"a"}}


def test_a_batch_named_by_two_options_is_counted_once() -> None:
    twice = need("3/stud", C3, one_of("b1"), one_of("b1", preference=1), quantity=2)
    kit = choose_kit(KitRequest((C3,), (twice,), (Source("b1", 1),)))
    assert kit.allocations == (Allocation("3/stud", 0, 0, "b1", 1),)
    assert not complete(kit) and kit.proven


@pytest.mark.parametrize("oldest", ["a", "b", "c"])
def test_the_last_sum_counts_however_large_those_before_it_are(oldest: str) -> None:
    # One lot of each cylinder is so much better than the rest that the sums before the last grow immense.
    late = {"other_uses": 100_000, "shelf_expiry_rank": 100_000}
    batches = [Source(key, 200, receipt_rank=50_000 - (key == oldest), **late) for key in "abc"]
    request = KitRequest(
        (C3, C5),
        (
            need("3/stud", C3, one_of("a", "b", "c", "end"), quantity=100),
            need("5/stud", C5, one_of("a", "b", "c", "end"), quantity=100),
        ),
        (*batches, Source("end", 1)),
    )
    kit = choose_kit(request)
    assert taken_by(kit)["3/stud"] | taken_by(kit)["5/stud"] == {oldest, "end"}
    assert kit.proven


# What is measured and not counted


def cord(key: str, position: PositionRequest, micrometres: int, *rolls: Key) -> Need:
    return Need(key, position.key, micrometres, (one_of(*rolls),), Measure.LENGTH)


def test_a_length_is_cut_whole_from_one_roll() -> None:
    rolls = (Source("roll 1", 900_000), Source("roll 2", 900_000))
    request = KitRequest((C3,), (cord("3/cord", C3, 1_200_000, "roll 1", "roll 2"),), rolls)
    kit = choose_kit(request)
    assert kit.allocations == () and kit.lines[0].short == 1_200_000
    enough = KitRequest((C3,), request.needs, (*rolls[:1], Source("roll 2", 5_000_000)))
    assert choose_kit(enough).allocations == (Allocation("3/cord", 0, 0, "roll 2", 1_200_000),)
    assert choose_kit(enough).lines[0].filled == 1_200_000


def test_three_cuts_are_laid_on_two_rolls_so_that_all_are_had() -> None:
    cuts = [
        cord(f"cut {i}", C3, length, "roll 1", "roll 2")
        for i, length in enumerate((2_000_000, 3_000_000, 3_000_000))
    ]
    request = KitRequest((C3,), cuts, (Source("roll 1", 5_000_000), Source("roll 2", 3_000_000)))
    assert not complete(
        first_come(replace(request, sources=(Source("roll 1", 3_000_000), Source("roll 2", 5_000_000))))
    )
    for shelf in (request.sources, (Source("roll 1", 3_000_000), Source("roll 2", 5_000_000))):
        kit = choose_kit(replace(request, sources=shelf))
        assert complete(kit) == {"cylinder 3"}
        assert kit.proven


@pytest.mark.parametrize("length", [2_500_001, 500_000_001, 300_000_000_001])
def test_a_roll_that_is_one_micrometre_too_short_for_two_cuts_gives_one(length: int) -> None:
    cuts = (cord("cut 1", C3, length, "roll", "end"), cord("cut 2", C5, length - 1, "roll", "end"))
    one_short = KitRequest((C3, C5), cuts, (Source("roll", 2 * length - 2), Source("end", length - 2)))
    kit = choose_kit(one_short)
    assert sum(line.filled > 0 for line in kit.lines) == 1
    assert kit.proven
    just = replace(one_short, sources=(Source("roll", 2 * length - 1), Source("end", length - 2)))
    assert complete(choose_kit(just)) == {"cylinder 3", "cylinder 5"}


@given(st.data())
def test_cuts_that_fit_their_rolls_to_the_micrometre_are_told_from_those_that_do_not(
    data: st.DataObject,
) -> None:
    scale = data.draw(st.sampled_from([10**6, 10**8, 10**11]))
    near = st.builds(lambda times, off: times * scale + off, st.integers(1, 4), st.integers(-3, 3))
    lengths = data.draw(st.lists(near, min_size=4, max_size=4))
    on_first = data.draw(st.integers(1, 3))
    missing = data.draw(st.tuples(st.integers(0, 1), st.integers(0, 1)))
    rolls = [sum(lengths[:on_first]) - missing[0], sum(lengths[on_first:]) - missing[1]]
    request = KitRequest(
        (C3,),
        [cord(f"cut {i}", C3, length, 1, 2) for i, length in enumerate(lengths)],
        (Source(1, rolls[0]), Source(2, rolls[1])),
    )
    most = max(
        sum(roll > 0 for roll in laid)
        for laid in itertools.product(range(3), repeat=4)
        if all(
            sum(length for length, on in zip(lengths, laid, strict=True) if on == roll) <= rolls[roll - 1]
            for roll in (1, 2)
        )
    )
    kit = choose_kit(request)
    assert sum(line.filled > 0 for line in kit.lines) == most
    assert kit.proven


# Against every possible choice


def every_choice(request: KitRequest) -> Iterator[tuple[Allocation, ...]]:
    """Every set of allocations that the hard rules allow, by plain enumeration."""
    for combination in itertools.product(*(ways(n, request) for n in request.needs)):
        allocations = tuple(a for way in combination for a in way)
        if allowed(request, allocations):
            yield allocations


def ways(need: Need, request: KitRequest) -> list[tuple[Allocation, ...]]:
    """Every way to fill the need by any number of units, were it alone."""
    available = {source.key: source.available for source in request.sources}
    whole = need.measure is not Measure.COUNT
    found = []
    for units in itertools.product(range((1 if whole else need.quantity) + 1), repeat=len(need.options)):
        if sum(units) > (1 if whole else need.quantity):
            continue
        splits = []
        for o, (option, count) in enumerate(zip(need.options, units, strict=True)):
            for c, component in enumerate(option.components):
                total = count * component.quantity_each * (need.quantity if whole else 1)
                splits.append(
                    [
                        tuple(
                            Allocation(need.key, o, c, s, q)
                            for s, q in zip(component.candidates, parts, strict=True)
                            if q
                        )
                        for parts in itertools.product(
                            *(
                                ((0, total) if whole else range(min(total, available[s]) + 1))
                                for s in component.candidates
                            )
                        )
                        if sum(parts) == total
                    ]
                )
        found += [tuple(a for part in parts for a in part) for parts in itertools.product(*splits)]
    return sorted(set(found), key=str)


def allowed(request: KitRequest, allocations: tuple[Allocation, ...]) -> bool:
    position = {n.key: n.position for n in request.needs}
    for source in request.sources:
        if sum(a.quantity for a in allocations if a.source == source.key) > source.available:
            return False
    for members in request.matched_sets:
        where = [{position[a.need] for a in allocations if a.source == key} for key in members]
        if any(where) and not all(len(w) == 1 and w == where[0] for w in where):
            return False
    return True


def reckoned(request: KitRequest, allocations: tuple[Allocation, ...]) -> tuple[int, ...]:
    """The sums in their order, worked out from the allocations alone; the greater the better."""
    source = {s.key: s for s in request.sources}
    filled, units_filled, preference = {}, 0, 0
    pieces: list[tuple[Allocation, int]] = []
    for n in request.needs:
        whole = n.measure is not Measure.COUNT
        units = 0
        for o, option in enumerate(n.options):
            first = [a for a in allocations if (a.need, a.option, a.component) == (n.key, o, 0)]
            drawn = sum(a.quantity for a in first) // option.components[0].quantity_each
            count = drawn // n.quantity if whole else drawn
            units += count
            preference += count * option.preference
        filled[n.key] = units == (1 if whole else n.quantity)
        units_filled += units
        pieces += [(a, 1 if whole else a.quantity) for a in allocations if a.need == n.key]
    done = {
        p.key: all(filled[n.key] for n in request.needs if n.position == p.key) for p in request.positions
    }
    return (
        *(
            sum(done[p.key] for p in request.positions if p.priority == level)
            for level in sorted({p.priority for p in request.positions}, reverse=True)
        ),
        sum(filled.values()),
        units_filled,
        sum(count for a, count in pieces if source[a.source].home_line == a.need),
        -preference,
        -sum(count * source[a.source].other_uses for a, count in pieces),
        -sum(count * source[a.source].shelf_expiry_rank for a, count in pieces),
        -sum(count * source[a.source].receipt_rank for a, count in pieces),
    )


@st.composite
def requests(draw: st.DrawFn) -> KitRequest:
    """Up to three cylinders and four lines, over a shelf of up to five pieces and small batches."""
    positions = [PositionRequest(f"c{i}", draw(st.integers(0, 1))) for i in range(draw(st.integers(1, 3)))]
    keys = [f"n{i}" for i in range(draw(st.integers(1, 4)))]
    # Ranks far apart keep neighbouring sums from being merged, small ones merge them all.
    ranks = st.sampled_from(draw(st.sampled_from([(0, 1, 2), (0, 7, 90_000, 100_000)])))
    shelf = [
        Source(
            f"s{i}",
            draw(st.integers(0, 3)),
            draw(st.sampled_from([None, *keys])),
            draw(ranks),
            draw(ranks),
            draw(ranks),
        )
        for i in range(draw(st.integers(1, 5)))
    ]

    def options(keys: list[Key]) -> st.SearchStrategy[list[NeedOption]]:
        sources = st.lists(st.sampled_from(keys), unique=True, max_size=3).map(tuple)
        components = st.lists(st.builds(Component, st.integers(1, 2), sources), min_size=1, max_size=2)
        return st.lists(st.builds(NeedOption, st.integers(0, 2), components.map(tuple)), max_size=2)

    cut = draw(st.integers(0, len(shelf) - 1))
    counted = options([s.key for s in shelf[cut:]])
    measured = options([s.key for s in shelf[:cut]]) if cut else counted
    singles = [s.key for s in shelf if s.available == 1] + ["on hold"]
    needs = []
    for key in keys:
        measure = draw(
            st.sampled_from([Measure.COUNT, Measure.COUNT, Measure.LENGTH] if cut else [Measure.COUNT])
        )
        options_drawn = draw(counted if measure is Measure.COUNT else measured)
        position = draw(st.sampled_from(positions)).key
        needs.append(Need(key, position, draw(st.integers(1, 2)), tuple(options_drawn), measure))
    return KitRequest(
        positions,
        needs,
        shelf,
        draw(
            st.lists(
                st.lists(st.sampled_from(singles), unique=True, min_size=2, max_size=2).map(tuple), max_size=2
            )
        )
        if len(singles) > 1
        else (),
    )


def size(request: KitRequest) -> int:
    product = 1
    for n in request.needs:
        product *= len(ways(n, request))
    return product


@given(requests().filter(lambda request: size(request) <= 20_000))
def test_the_choice_equals_the_best_of_every_possible_choice(request: KitRequest) -> None:
    best = max(reckoned(request, allocations) for allocations in every_choice(request))
    kit = choose_kit(request)
    assert allowed(request, kit.allocations)
    assert reckoned(request, kit.allocations) == kit.score == best
    assert kit.proven


@given(requests())
def test_first_come_is_allowed_and_never_better(request: KitRequest) -> None:
    plain = first_come(request)
    assert allowed(request, plain.allocations)
    assert reckoned(request, plain.allocations) == plain.score
    kit = choose_kit(request)
    assert kit.score >= plain.score
    for line, n in zip(kit.lines, request.needs, strict=True):
        assert line.filled + line.short == n.quantity and line.filled >= 0 <= line.short


@st.composite
def large_requests(draw: st.DrawFn) -> KitRequest:
    """Three cylinders of five lines over some thirty pieces and batches, some lines with stock for all."""
    positions = [PositionRequest(f"c{i}", draw(st.integers(0, 1))) for i in range(3)]
    needs: list[Need] = []
    shelf: list[Source] = []
    ranks = st.integers(0, draw(st.sampled_from([300, 100_000])))
    for line in range(5):
        quantity = draw(st.sampled_from([1, 1, 2, 5]))
        homes = st.sampled_from([None, *(f"c{i}/{line}" for i in range(3))])
        keys = [f"{line}/{i}" for i in range(6)]
        for key in keys:
            available = draw(st.integers(0, quantity)) if quantity > 1 else 1
            shelf.append(
                Source(key, available, draw(homes), draw(ranks), draw(ranks), draw(st.integers(0, 3)))
            )
        for position in positions:
            near = draw(st.lists(st.sampled_from(keys), unique=True, min_size=1, max_size=4).map(tuple))
            far = draw(st.lists(st.sampled_from(keys), unique=True, max_size=3).map(tuple))
            needs.append(
                need(
                    f"{position.key}/{line}",
                    position,
                    one_of(*near),
                    one_of(*far, preference=1, each=draw(st.sampled_from([1, 1, 2]))),
                    quantity=quantity,
                )
            )
    return KitRequest(positions, needs, shelf)


@given(large_requests())
def test_weighing_groups_apart_loses_nothing_on_one_programme_over_everything(request: KitRequest) -> None:
    everything = Group(tuple(request.needs), tuple(position.key for position in request.positions))
    pace = Pace(lambda: 60.0, lambda: False)
    together = solve_group(request, steps_of(request), everything, {}, pace)
    assert together is not None
    kit = choose_kit(request)
    assert kit.score == kit_of(request, together.choice, together.bounds).score
    assert kit.proven


@given(requests())
def test_the_same_request_gives_the_same_kit(request: KitRequest) -> None:
    assert choose_kit(request) == choose_kit(request)


# Stopping


def contested() -> KitRequest:
    """Two cylinders, two lines each, over a shelf that first come deals out badly."""
    return KitRequest(
        (C3, C5),
        (
            need("3/barrel", C3, one_of("b1"), one_of("b2", preference=1)),
            need("3/piston", C3, one_of("p1"), one_of("p2", preference=1)),
            need("5/barrel", C5, one_of("b1")),
            need("5/piston", C5, one_of("p1")),
        ),
        (Source("b1", 1), Source("b2", 1), Source("p1", 1), Source("p2", 1)),
    )


def test_stopped_at_once_it_gives_first_come_and_does_not_call_it_proven() -> None:
    for kit in (
        choose_kit(contested(), stop=lambda: True),
        choose_kit(contested(), seconds_left=lambda: 0.0),
    ):
        assert kit.score == first_come(contested()).score
        assert not kit.proven


@given(requests(), st.integers(0, 6))
def test_stopped_at_any_point_it_is_no_worse_than_first_come_and_its_bounds_hold(
    request: KitRequest, asked: int
) -> None:
    left = iter([False] * asked)
    kit = choose_kit(request, stop=lambda: next(left, True))
    assert allowed(request, kit.allocations)
    assert kit.score >= first_come(request).score
    assert_bounds_hold(kit, choose_kit(request))


def unsure(
    programme: Programme, weights: Sequence[int], seconds: float, sure=Programme.minimise
) -> tuple[dict[Column, int] | None, float]:
    """A solver that finds the best and cannot show that nothing is better by three."""
    found, lower = sure(programme, weights, seconds)
    return found, lower - 3


@given(requests())
def test_bounds_hold_where_the_solver_leaves_a_gap(request: KitRequest) -> None:
    best = choose_kit(request)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(Programme, "minimise", unsure)
        kit = choose_kit(request)
    assert kit.score >= first_come(request).score
    assert_bounds_hold(kit, best)


def assert_bounds_hold(kit: Kit, best: Kit) -> None:
    """Each bound is no worse than the best sum, as long as the sums before it are the best."""
    for step, best_step in zip(kit.steps, best.steps, strict=True):
        assert step.bound is not None
        assert step.bound >= best_step.total if step.most else step.bound <= best_step.total
        if step.total != best_step.total:
            assert not kit.proven
            break


def test_a_solver_that_leaves_a_gap_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def pair(outer: Key) -> NeedOption:
        return NeedOption(0, (Component(1, ("inner 1", "inner 2")), Component(1, (outer,))))

    # Both springs want the older inner coil, so the best sum stays ten from the best either could have.
    request = KitRequest(
        (C3, C5),
        (need("3/spring", C3, pair("outer 1")), need("5/spring", C5, pair("outer 2"))),
        (
            Source("inner 1", 1),
            Source("inner 2", 1, receipt_rank=10),
            Source("outer 1", 1),
            Source("outer 2", 1),
        ),
    )
    assert choose_kit(request).proven
    monkeypatch.setattr(Programme, "minimise", unsure)
    kit = choose_kit(request)
    assert complete(kit) == {"cylinder 3", "cylinder 5"}
    assert not kit.proven
    assert (kit.steps[-1].total, kit.steps[-1].bound) == (10, 7)


@given(large_requests())
def test_sums_are_merged_only_as_far_as_the_solver_can_tell_them_apart(request: KitRequest) -> None:
    solve = Programme.minimise

    def watched(
        programme: Programme, weights: Sequence[int], seconds: float
    ) -> tuple[dict[Column, int] | None, float]:
        assert all(abs(weight) < 1_000_000 for weight in weights)
        return solve(programme, weights, seconds)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(Programme, "minimise", watched)
        assert choose_kit(request).proven


# What no proposal can weigh


def test_a_line_that_asks_for_nothing_or_too_much_is_refused() -> None:
    for quantity in (0, -1, 10_001):
        with pytest.raises(Refused, match=str(quantity)):
            need("3/stud", C3, quantity=quantity)


def test_more_positions_than_one_proposal_can_weigh_are_refused() -> None:
    with pytest.raises(Refused, match="201 positions"):
        KitRequest([PositionRequest(i) for i in range(201)], (), ())


def test_a_request_that_contradicts_itself_is_an_error_of_the_caller() -> None:
    with pytest.raises(ValueError, match="not asked for"):
        KitRequest((C3,), (need("5/a", C5),), ())
    with pytest.raises(ValueError, match="not given"):
        KitRequest((C3,), (need("3/a", C3, one_of("ghost")),), ())
    with pytest.raises(ValueError, match="counted for one need and measured"):
        KitRequest((C3,), (cord("3/a", C3, 5, "roll"), need("3/b", C3, one_of("roll"))), (Source("roll", 9),))
    with pytest.raises(ValueError, match="single piece"):
        KitRequest((C3,), (), (Source("batch", 2),), (("batch", "cap"),))
    with pytest.raises(ValueError, match="twice"):
        KitRequest((C3,), (need("3/a", C3), need("3/a", C3)), ())
