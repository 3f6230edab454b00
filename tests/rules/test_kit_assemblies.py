"""Kits of alike and unlike cylinders whose lines are tied, against every possible choice.

Lines of several units, sets of two parts, alternates, batches, matched sets across a throw, mates with a
home, pieces that were never weighed: whatever may be tied, the best is the best of all.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules import kitting
from invdb.rules.kit_cliques import tree_of_cliques
from invdb.rules.kit_model import (
    Allocation,
    Balance,
    Component,
    Key,
    KitRequest,
    Need,
    NeedOption,
    Pairing,
    PositionRequest,
    Source,
)
from invdb.rules.kitting import choose_kit, first_come
from tests.bench.bench_fits import CASES, Case, engine
from tests.rules import test_kitting as plain

CHOICES_MAX = 15_000


# What is allowed, and what it comes to, worked out from the allocations alone


def allowed(request: KitRequest, allocations: tuple[Allocation, ...]) -> bool:
    if not plain.allowed(replace(request, matched_sets=()), allocations):
        return False
    throw = {p.key: p.throw if p.throw is not None else p.key for p in request.positions}
    went = {n.key: throw[n.position] for n in request.needs}
    for members in request.matched_sets:
        where = [{went[a.need] for a in allocations if a.source == key} for key in members]
        if any(where) and not all(len(w) == 1 and w == where[0] for w in where):
            return False
    for pairing in request.pairings:
        for one, other in itertools.product(allocations, repeat=2):
            if (one.need, other.need) == (pairing.need, pairing.other) and (
                one.source,
                other.source,
            ) in pairing.barred:
                return False
    return all(
        not (masses := masses_of(request, balance, allocations)) or apart(balance, masses) <= balance.spread
        for balance in request.balances
    )


def masses_of(request: KitRequest, balance: Balance, allocations: tuple[Allocation, ...]) -> list[int]:
    """The masses of the positions whose every need that counts is filled, and weighed throughout."""
    found = []
    counted = {need for need, _ in balance.masses}
    for position in request.positions:
        needs = [n for n in request.needs if n.position == position.key and n.key in counted]
        taken = [[a for a in allocations if a.need == n.key] for n in needs]
        if not needs or not all(filled(n, own) for n, own in zip(needs, taken, strict=True)):
            continue
        weights = [(balance.masses.get((a.need, a.source)), a.quantity) for own in taken for a in own]
        if all(mass is not None for mass, _ in weights):
            found.append(sum(mass * quantity for mass, quantity in weights if mass is not None))
    return found


def filled(need: Need, taken: list[Allocation]) -> bool:
    units = 0
    for number, option in enumerate(need.options):
        first = sum(a.quantity for a in taken if (a.option, a.component) == (number, 0))
        units += first // option.components[0].quantity_each
    return units == need.quantity


def apart(balance: Balance, masses: list[int]) -> int:
    every = [*masses, *balance.fixed]
    if balance.target is not None:
        return max(abs(mass - balance.target) for mass in every)
    return max(every) - min(every)


def reckoned(request: KitRequest, allocations: tuple[Allocation, ...]) -> tuple[int, ...]:
    """The sums in their order; the greater the better."""
    sums = plain.reckoned(request, allocations)
    taken = {n.key: {a.source for a in allocations if a.need == n.key} for n in request.needs}
    tenths = sum(
        pairing.tenths.get((one, other), 0)
        for pairing in request.pairings
        for one in taken[pairing.need]
        for other in taken[pairing.other]
    )
    quarters = unknown = 0
    for balance in request.balances:
        masses = masses_of(request, balance, allocations)
        if masses and (far := apart(balance, masses)):
            quarters += -(-4 * far // balance.spread)
        unknown += unknown_masses(request, balance, allocations) - len(masses)
    fits = [-tenths] if request.pairings else []
    spread = [-unknown, -quarters] if request.balances else []
    return (*sums[:-3], *fits, *spread, *sums[-3:])


def unknown_masses(request: KitRequest, balance: Balance, allocations: tuple[Allocation, ...]) -> int:
    """How many positions are filled that could have been weighed, if there is anything to agree with."""
    counted = {need for need, _ in balance.masses}
    needs = {
        p.key: [n for n in request.needs if n.position == p.key and n.key in counted]
        for p in request.positions
    }
    needs = {position: own for position, own in needs.items() if own}
    if balance.target is None and len(needs) + bool(balance.fixed) < 2:
        return len(masses_of(request, balance, allocations))
    return sum(
        all(
            filled(n, [a for a in allocations if a.need == n.key])
            and any(
                all(any((n.key, s) in balance.masses for s in c.candidates) for c in option.components)
                for option in n.options
            )
            for n in own
        )
        for own in needs.values()
    )


def best_of_all(request: KitRequest) -> tuple[int, ...]:
    return max(
        reckoned(request, allocations)
        for combination in itertools.product(*(plain.ways(n, request) for n in request.needs))
        if allowed(request, allocations := tuple(a for way in combination for a in way))
    )


# What may be asked for


@st.composite
def tied(draw: st.DrawFn) -> KitRequest:
    """Up to three cylinders of up to three lines over a short shelf, alike or not, tied in every way."""
    alike = draw(st.booleans())
    count = draw(st.integers(1, 3))
    shared = draw(st.booleans())
    positions = [
        PositionRequest(f"c{i}", draw(st.sampled_from([0, 0, 0, 1])), "throw" if shared and i < 2 else None)
        for i in range(count)
    ]
    stations = ["barrel", "piston", "rod"][: draw(st.integers(1, 3 if count < 3 else 2))]
    ranks = st.sampled_from((0, 1, 7, 90_000))
    shelf = {
        station: [
            Source(
                f"{station}{i}",
                draw(st.sampled_from([1, 1, 1, 2])),
                draw(st.sampled_from([None, None, *(f"c{k}/{station}" for k in range(count))])),
                draw(ranks),
                draw(ranks),
                draw(ranks),
            )
            for i in range(draw(st.integers(1, 4)))
        ]
        for station in stations
    }
    asked = {station: draw(line([each.key for each in shelf[station]])) for station in stations}
    needs: list[Need] = []
    for position in positions:
        for station in stations:
            quantity, options = asked[station] if alike else draw(line([s.key for s in shelf[station]]))
            needs.append(Need(f"{position.key}/{station}", position.key, quantity, options))
    pairings: list[Pairing] = []
    for one, other in itertools.combinations(stations, 2):
        every = [draw(fits(shelf[one], shelf[other])) for _ in range(1 if alike else count)]
        for position, (barred, tenths) in zip(positions, itertools.cycle(every), strict=False):
            pairing = pairing_of(f"{position.key}/{one}", f"{position.key}/{other}", barred, tenths, needs)
            if pairing.barred or pairing.tenths:
                pairings.append(pairing)
    everything = [each for every in shelf.values() for each in every]
    singles = [each.key for each in everything if each.available == 1] + ["on hold"]
    sets = st.lists(st.sampled_from(singles), unique=True, min_size=2, max_size=2).map(tuple)
    matched = draw(st.lists(sets, max_size=2)) if len(singles) > 1 else []
    balances = [
        balance
        for index in range(draw(st.integers(0, 2)))
        if (balance := draw(agreeing(f"b{index}", stations, everything, needs))).masses
    ]
    return KitRequest(positions, needs, everything, matched, pairings, balances)


@st.composite
def line(draw: st.DrawFn, keys: list[Key]) -> tuple[int, tuple[NeedOption, ...]]:
    """How many a line asks for, and of what: mostly one of some pieces, at times an alternate or a set."""
    some = st.lists(st.sampled_from(keys), unique=True, min_size=1).map(tuple)
    kind = draw(st.sampled_from(["one", "one", "one", "alternate", "set", "several"]))
    first = NeedOption(0, (Component(1, draw(some)),))
    if kind == "alternate":
        return 1, (first, NeedOption(1, (Component(draw(st.integers(1, 2)), draw(some)),)))
    if kind == "set":
        return 1, (NeedOption(0, (Component(1, draw(some)), Component(1, draw(some)))),)
    return (2 if kind == "several" else 1), (first,)


@st.composite
def fits(
    draw: st.DrawFn, some: list[Source], others: list[Source]
) -> tuple[frozenset[tuple[Key, Key]], dict[tuple[Key, Key], int]]:
    pairs = [(one.key, other.key) for one in some for other in others]
    barred = draw(st.frozensets(st.sampled_from(pairs), max_size=4))
    return barred, draw(st.dictionaries(st.sampled_from(pairs), st.integers(0, 40), max_size=8))


def pairing_of(
    need: Key,
    other: Key,
    barred: frozenset[tuple[Key, Key]],
    tenths: dict[tuple[Key, Key], int],
    needs: list[Need],
) -> Pairing:
    open_to = {n.key: n.candidates for n in needs}
    pairs = {(a, b) for a in open_to[need] for b in open_to[other]}
    return Pairing(need, other, barred & pairs, {pair: far for pair, far in tenths.items() if pair in pairs})


@st.composite
def agreeing(
    draw: st.DrawFn, key: str, stations: list[str], shelf: list[Source], needs: list[Need]
) -> Balance:
    """Masses of some stations, a few of them never weighed."""
    weighed = draw(st.lists(st.sampled_from(stations), unique=True, min_size=1))
    scale = draw(st.sampled_from([1000, 1_000_000]))
    mass = {each.key: draw(st.sampled_from([None, 0, 3, 10, 40])) for each in shelf}
    masses: dict[tuple[Key, Key], int] = {
        (need.key, source): scale + more
        for need in needs
        if str(need.key).split("/")[1] in weighed
        for source in need.candidates
        if (more := mass[source]) is not None
    }
    usual = scale * len(weighed) + 10
    target = draw(st.sampled_from([None, None, usual]))
    fixed = draw(st.sampled_from([(), (), (usual,), (usual, usual + 20)]))
    return Balance(key, draw(st.sampled_from([4, 12, 100])), masses, target, fixed)


def few(request: KitRequest) -> bool:
    return plain.size(request) <= CHOICES_MAX


# The best of all


@given(tied().filter(few))
def test_the_choice_equals_the_best_of_every_possible_choice(request: KitRequest) -> None:
    kit = choose_kit(request)
    assert allowed(request, kit.allocations)
    assert reckoned(request, kit.allocations) == kit.score == best_of_all(request)
    assert kit.proven


@given(tied().filter(few))
def test_numbered_cylinders_give_the_same_where_there_is_too_much_to_count_it_otherwise(
    request: KitRequest,
) -> None:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(kitting, "assemble", lambda *_: None)
        kit = choose_kit(request)
    assert allowed(request, kit.allocations)
    assert reckoned(request, kit.allocations) == kit.score == best_of_all(request)
    assert kit.proven


@given(tied())
def test_first_come_breaks_no_tie_and_is_never_better(request: KitRequest) -> None:
    taken = first_come(request)
    assert allowed(request, taken.allocations)
    assert reckoned(request, taken.allocations) == taken.score
    assert choose_kit(request).score >= taken.score


@given(tied().filter(few), st.integers(0, 8))
def test_stopped_at_any_point_it_is_no_worse_than_first_come_and_its_bounds_hold(
    request: KitRequest, asked: int
) -> None:
    left = iter([False] * asked)
    kit = choose_kit(request, stop=lambda: next(left, True))
    assert allowed(request, kit.allocations)
    assert kit.score >= first_come(request).score
    plain.assert_bounds_hold(kit, choose_kit(request))
    assert (kit.gap_words == "") == kit.proven


# A whole engine


@st.composite
def five_cylinders(draw: st.DrawFn) -> KitRequest:
    """Five barrels, pistons and rods for up to five cylinders, tied by fits and masses."""
    count = draw(st.integers(4, 5))
    stations = ("barrel", "piston", "rod")
    keys = {station: [f"{station}{i}" for i in range(count)] for station in stations}
    positions = [PositionRequest(f"c{i}") for i in range(count)]
    needs = [
        Need(f"{p.key}/{station}", p.key, 1, (NeedOption(0, (Component(1, tuple(keys[station])),)),))
        for p in positions
        for station in stations
    ]
    bore = {key: draw(st.integers(0, 30)) for key in (*keys["barrel"], *keys["piston"])}
    far: dict[tuple[Key, Key], int] = {
        (one, other): abs(bore[one] - bore[other]) for one in keys["barrel"] for other in keys["piston"]
    }
    most = draw(st.sampled_from([10, 20, 30]))
    barred = frozenset(pair for pair, tenths in far.items() if tenths > most)
    tenths = {pair: each for pair, each in far.items() if pair not in barred}
    mass = {key: 1000 + draw(st.integers(0, 40)) for key in (*keys["piston"], *keys["rod"])}
    masses: dict[tuple[Key, Key], int] = {
        (f"{p.key}/{station}", key): mass[key]
        for p in positions
        for station in ("piston", "rod")
        for key in keys[station]
    }
    target = draw(st.sampled_from([None, 2040]))
    balance = Balance("pistons and rods", draw(st.sampled_from([20, 40])), masses, target)
    sources = [Source(key, 1, receipt_rank=draw(st.integers(0, 9))) for own in keys.values() for key in own]
    pairings = [Pairing(f"{p.key}/barrel", f"{p.key}/piston", barred, tenths) for p in positions]
    return KitRequest(positions, needs, sources, (), pairings, [balance])


@given(five_cylinders())
def test_five_cylinders_are_the_best_of_every_order_of_their_pieces(request: KitRequest) -> None:
    """Every piston to every barrel, every rod to every piston; all alike cylinders being in one order."""
    pairing, balance = request.pairings[0], request.balances[0]
    count = len(request.positions)
    numbers = range(count)
    best: tuple[int, int] | None = None
    for order in itertools.permutations(numbers):
        pairs = [(f"barrel{i}", f"piston{j}") for i, j in zip(numbers, order, strict=True)]
        if pairing.barred.intersection(pairs):
            continue
        tenths = sum(pairing.tenths[pair] for pair in pairs)
        if best is not None and -tenths < best[0]:
            continue
        pistons = [balance.masses["c0/piston", piston] for _, piston in pairs]
        for rods in itertools.permutations(numbers):
            masses = [
                piston + balance.masses["c0/rod", f"rod{i}"] for piston, i in zip(pistons, rods, strict=True)
            ]
            if apart(balance, masses) <= balance.spread:
                best = max(best or (-tenths, -9), (-tenths, -balance.quarters(masses)))
    kit = choose_kit(request)
    assert kit.proven and allowed(request, kit.allocations)
    assert reckoned(request, kit.allocations) == kit.score
    full = all(line.short == 0 for line in kit.lines)
    assert full == (best is not None)
    if best is not None:
        total = {step.name: step.total for step in kit.steps}
        assert (-total["fits"], -total["mass spread"]) == best


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_whole_engine_is_proven(case: Case) -> None:
    request = engine(case)
    kit = choose_kit(request)
    assert kit.proven and not kit.gap_words
    assert all(fill.complete for fill in kit.positions)
    assert kit.score > first_come(request).score


def test_a_weighed_piston_goes_before_one_that_would_hide_how_far_masses_are_apart() -> None:
    # Unweighed, the third piston would leave cylinder 5 out of the reckoning, and no spread at all.
    request = KitRequest(
        [PositionRequest("3"), PositionRequest("5")],
        [
            Need("3/piston", "3", 1, (NeedOption(0, (Component(1, ("p1",)),)),)),
            Need("5/piston", "5", 1, (NeedOption(0, (Component(1, ("unweighed", "p2")),)),)),
        ],
        [Source("p1", 1), Source("unweighed", 1), Source("p2", 1, receipt_rank=5)],
        balances=[Balance("b", 10, {("3/piston", "p1"): 500, ("5/piston", "p2"): 508})],
    )
    kit = choose_kit(request)
    assert {a.source for a in kit.allocations} == {"p1", "p2"}
    assert kit.proven
    lighter = replace(request, balances=[replace(request.balances[0], spread=7)])
    kit = choose_kit(lighter)
    assert {a.source for a in kit.allocations} == {"p1", "unweighed"}
    assert next(step for step in kit.steps if step.name == "positions of unknown mass").total == 1


def test_an_engine_with_too_few_pistons_is_proven_for_as_many_cylinders_as_there_are() -> None:
    request = engine(CASES[1])
    gone = {f"piston {i}" for i in range(9, 20)}
    kit = choose_kit(without(request, gone))
    assert kit.proven
    assert sum(fill.complete for fill in kit.positions) == 9


def without(request: KitRequest, gone: set[str]) -> KitRequest:
    """The same with these pieces out for work: there, but not to be had."""
    return replace(
        request,
        sources=[replace(each, available=0) if each.key in gone else each for each in request.sources],
    )


def test_of_matched_pistons_and_pins_none_is_parted_in_a_whole_engine() -> None:
    matched = [(f"piston {i}", f"pin {i}") for i in range(0, 20, 2)]
    request = replace(engine(CASES[1]), matched_sets=matched)
    kit = choose_kit(request)
    assert kit.proven and allowed(request, kit.allocations)


def test_a_fork_and_a_blade_rod_that_are_matched_go_to_one_throw() -> None:
    request = engine(next(case for case in CASES if case.banks > 1))
    positions = [
        replace(position, throw=f"throw {number % 6}") for number, position in enumerate(request.positions)
    ]
    matched = [(f"rod {i}", f"rod {i + 10}") for i in range(0, 10, 2)]
    request = replace(request, positions=positions, matched_sets=matched)
    kit = choose_kit(request)
    assert kit.proven and allowed(request, kit.allocations)


def test_stopped_halfway_the_gap_of_a_whole_engine_is_stated() -> None:
    request = engine(CASES[1])
    best = choose_kit(request)
    stated = set()
    for asked in (1, 4, 8, 12, 16, 24):
        left = iter([False] * asked)
        kit = choose_kit(request, stop=partial(next, left, True))
        plain.assert_bounds_hold(kit, best)
        stated.add(kit.gap_words.partition(":")[0])
    assert stated >= {"complete positions of priority 0", "fits"}


def test_eight_studs_out_of_ten_batches_are_put_by_numbers_where_there_are_too_many_ways() -> None:
    batches = tuple(f"batch {i}" for i in range(10))
    studs = Need("c/studs", "c", 8, (NeedOption(0, (Component(1, batches),)),))
    barrel = Need("c/barrel", "c", 1, (NeedOption(0, (Component(1, ("old", "new")),)),))
    request = KitRequest(
        [PositionRequest("c")],
        [barrel, studs],
        [Source(key, 2, receipt_rank=i) for i, key in enumerate(batches)]
        + [Source("old", 1), Source("new", 1, receipt_rank=9)],
        (),
        [Pairing("c/barrel", "c/studs", frozenset(("old", key) for key in batches[:7]))],
    )
    kit = choose_kit(request)
    assert {a.source: a.quantity for a in kit.allocations} == {"new": 1} | dict.fromkeys(batches[:4], 2)
    assert kit.proven


def test_every_combination_is_weighed_however_few_columns_are_looked_at_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What costs little is looked at first; the best of the rest must not be lost by it."""
    for case in (CASES[1], CASES[4]):
        usual = choose_kit(engine(case))
        monkeypatch.setattr("invdb.rules.kit_windows.NEAR_COLUMNS", 60)
        assert choose_kit(engine(case)).score == usual.score
        monkeypatch.undo()


def test_mates_that_cannot_all_go_home_are_weighed_one_against_the_other() -> None:
    # Barrel and piston of cylinder 3 ran together, and are worn out of their fit.
    request = KitRequest(
        [PositionRequest("3"), PositionRequest("5")],
        [
            Need(f"{number}/{station}", number, 1, (NeedOption(0, (Component(1, sources),)),))
            for number in "35"
            for station, sources in (("barrel", ("b1", "b2")), ("piston", ("p1", "p2")))
        ],
        [Source("b1", 1, "3/barrel"), Source("b2", 1), Source("p1", 1, "3/piston"), Source("p2", 1)],
        (),
        [Pairing(f"{n}/barrel", f"{n}/piston", frozenset({("b1", "p1")}), {("b1", "p2"): 9}) for n in "35"],
    )
    kit = choose_kit(request)
    assert kit.proven
    home = next(step for step in kit.steps if step.name == "mates back to their own station")
    assert home.total == 1


# The tree of cliques


@given(st.sets(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=14))
def test_cliques_hold_every_tie_and_what_a_clique_shares_with_all_before_it_lies_in_one(
    ties: set[tuple[int, int]],
) -> None:
    cliques = tree_of_cliques(range(8), ties)
    for tie in ties:
        assert any(set(tie) <= set(clique.members) for clique in cliques)
    before: set[int] = set()
    for clique in cliques:
        assert set(clique.members) & before == set(clique.shared)
        if clique.parent is not None:
            assert clique.shared and set(clique.shared) <= set(cliques[clique.parent].members)
        before |= set(clique.members)
    assert before == set(range(8))
