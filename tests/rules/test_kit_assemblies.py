"""Kits of alike and unlike cylinders whose lines are tied, against every possible choice.

Lines of several units, sets of two parts, alternates, batches, matched sets across a throw, mates with a
home, pieces that were never weighed: whatever may be tied, the best is the best of all.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules import kitting
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
    quarters = 0
    for balance in request.balances:
        masses = masses_of(request, balance, allocations)
        if masses and (far := apart(balance, masses)):
            quarters += -(-4 * far // balance.spread)
    fits = [-tenths] if request.pairings else []
    spread = [-quarters] if request.balances else []
    return (*sums[:-3], *fits, *spread, *sums[-3:])


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
