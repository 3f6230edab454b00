"""Fits and masses in the kit choice: against every possible choice, and what no choice may break."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.kit_assemblies import assemble
from invdb.rules.kit_goals import Answer, Pace, solve_group
from invdb.rules.kit_model import (
    Balance,
    Component,
    Key,
    Kit,
    KitRequest,
    Need,
    NeedOption,
    Pairing,
    PositionRequest,
    Source,
)
from invdb.rules.kit_programme import Group, Infeasible
from invdb.rules.kit_sums import kit_of, steps_of
from invdb.rules.kit_ties import Choice
from invdb.rules.kitting import choose_kit, first_come

Taking = dict[Key, Key | None]


def line(key: Key, position: Key, *sources: Key) -> Need:
    return Need(key, position, 1, (NeedOption(0, (Component(1, sources),)),))


def takings(request: KitRequest) -> Iterator[Taking]:
    """Every way to give each line one piece or none, no piece twice over what there is."""
    for taken in itertools.product(*((None, *need.candidates) for need in request.needs)):
        if all(taken.count(source.key) <= source.available for source in request.sources):
            yield dict(zip((need.key for need in request.needs), taken, strict=True))


def allowed(request: KitRequest, taking: Taking) -> bool:
    for pairing in request.pairings:
        if (taking[pairing.need], taking[pairing.other]) in pairing.barred:
            return False
    for balance in request.balances:
        masses = masses_of(request, balance, taking)
        if masses and apart(balance, masses) > balance.spread:
            return False
    throws = {p.key: p.throw if p.throw is not None else p.key for p in request.positions}
    for members in request.matched_sets:
        where = [[throws[n.position] for n in request.needs if taking[n.key] == key] for key in members]
        if any(where) and (not all(where) or len({each for went in where for each in went}) > 1):
            return False
    return True


def masses_of(request: KitRequest, balance: Balance, taking: Taking) -> list[int]:
    """The masses of the positions that are filled and weighed."""
    found = []
    counted = {need for need, _ in balance.masses}
    for position in request.positions:
        needs = [n.key for n in request.needs if n.position == position.key and n.key in counted]
        weights = [balance.masses.get((need, taking[need])) for need in needs]  # type: ignore[arg-type]
        if needs and all(weight is not None for weight in weights):
            found.append(sum(weight for weight in weights if weight is not None))
    return found


def apart(balance: Balance, masses: list[int]) -> int:
    every = [*masses, *balance.fixed]
    if balance.target is not None:
        return max(abs(mass - balance.target) for mass in every)
    return max(every) - min(every)


def reckoned(request: KitRequest, taking: Taking) -> tuple[int, ...]:
    """The sums in their order, worked out from what is taken alone; the greater the better."""
    source = {each.key: each for each in request.sources}
    filled = {need.key: taking[need.key] is not None for need in request.needs}
    taken = [(need, source[key]) for need in request.needs if (key := taking[need.key]) is not None]
    tenths = 0
    for pairing in request.pairings:
        one, other = taking[pairing.need], taking[pairing.other]
        if one is not None and other is not None:
            tenths += pairing.tenths.get((one, other), 0)
    quarters = unknown = 0
    for balance in request.balances:
        masses = masses_of(request, balance, taking)
        if masses and (far := apart(balance, masses)):
            quarters += -(-4 * far // balance.spread)
        counted = {need for need, _ in balance.masses}
        places = [
            [n.key for n in request.needs if n.position == p.key and n.key in counted]
            for p in request.positions
        ]
        places = [needs for needs in places if needs]
        if balance.target is not None or len(places) + bool(balance.fixed) > 1:
            unknown += sum(all(filled[need] for need in needs) for needs in places) - len(masses)
    return (
        *(
            sum(
                all(filled[n.key] for n in request.needs if n.position == p.key)
                for p in request.positions
                if p.priority == level
            )
            for level in sorted({p.priority for p in request.positions}, reverse=True)
        ),
        sum(filled.values()),
        sum(filled.values()),
        sum(each.home_line == need.key for need, each in taken),
        0,
        *([-tenths] if request.pairings else []),
        *([-unknown, -quarters] if request.balances else []),
        -sum(each.other_uses for _, each in taken),
        -sum(each.shelf_expiry_rank for _, each in taken),
        -sum(each.receipt_rank for _, each in taken),
    )


def taking_of(request: KitRequest, kit: Kit) -> Taking:
    taking: Taking = dict.fromkeys(need.key for need in request.needs)
    taking.update((each.need, each.source) for each in kit.allocations)
    return taking


@st.composite
def tied(draw: st.DrawFn) -> KitRequest:
    """Up to three cylinders of barrel, piston and rod over a short shelf, with fits and masses among them."""
    count = draw(st.integers(1, 3))
    shared = draw(st.booleans())
    positions = [
        PositionRequest(f"c{i}", draw(st.integers(0, 1)), "throw" if shared and i < 2 else None)
        for i in range(count)
    ]
    stations = ["barrel", "piston", "rod"][: draw(st.integers(1, 3))] if count < 3 else ["barrel", "piston"]
    ranks = st.sampled_from((0, 1, 7, 90_000))
    shelf: dict[str, list[Source]] = {
        station: [
            Source(
                f"{station}{i}",
                draw(st.sampled_from([1, 1, 1, 2])),
                draw(st.sampled_from([None, *(f"c{k}/{station}" for k in range(count))])),
                draw(ranks),
                draw(ranks),
                draw(ranks),
            )
            for i in range(draw(st.integers(1, 3)))
        ]
        for station in stations
    }
    needs, pairings = [], []
    for position in positions:
        for station in stations:
            keys = [each.key for each in shelf[station]]
            some = draw(st.lists(st.sampled_from(keys), unique=True, min_size=1, max_size=3))
            needs.append(line(f"{position.key}/{station}", position.key, *some))
        for one, other in itertools.combinations(stations, 2):
            pairs = [(a.key, b.key) for a in shelf[one] for b in shelf[other]]
            barred = frozenset(draw(st.lists(st.sampled_from(pairs), max_size=3)))
            tenths = draw(st.dictionaries(st.sampled_from(pairs), st.integers(0, 40), max_size=6))
            if draw(st.booleans()):
                pairings.append(Pairing(f"{position.key}/{one}", f"{position.key}/{other}", barred, tenths))
    balances = []
    for index in range(draw(st.integers(0, 2))):
        weighed = draw(st.lists(st.sampled_from(stations), unique=True, min_size=1))
        weight: dict[Key, int | None] = {
            each.key: draw(st.sampled_from([None, 1000, 1003, 1010, 1040]))
            for station in weighed
            for each in shelf[station]
        }
        masses: dict[tuple[Key, Key], int] = {
            (need.key, key): mass
            for need in needs
            for key in need.candidates
            if (mass := weight.get(key)) is not None
        }
        if masses:
            mean = 1010 * len(weighed)
            target = draw(st.sampled_from([None, mean]))
            fixed = draw(st.sampled_from([(), (mean,)]))
            balances.append(Balance(f"b{index}", draw(st.sampled_from([4, 12, 100])), masses, target, fixed))
    singles = [each.key for every in shelf.values() for each in every if each.available == 1]
    sets = st.lists(st.sampled_from(singles), unique=True, min_size=2, max_size=2).map(tuple)
    matched = draw(st.lists(sets, max_size=1)) if len(singles) > 1 else []
    sources = [each for every in shelf.values() for each in every]
    return KitRequest(positions, needs, sources, matched, pairings, balances)


@given(tied())
def test_the_choice_equals_the_best_of_every_possible_choice(request: KitRequest) -> None:
    best = max(reckoned(request, each) for each in takings(request) if allowed(request, each))
    kit = choose_kit(request)
    taking = taking_of(request, kit)
    assert allowed(request, taking)
    assert reckoned(request, taking) == kit.score == best
    assert kit.proven


@given(tied())
def test_first_come_takes_nothing_that_does_not_suit_and_is_never_better(request: KitRequest) -> None:
    plain = first_come(request)
    taking = taking_of(request, plain)
    assert allowed(request, taking)
    assert reckoned(request, taking) == plain.score
    assert choose_kit(request).score >= plain.score


def engine(cylinders: int, candidates: int, seed: int, spread: int = 6_000) -> KitRequest:
    """An engine whose every cylinder takes any of the barrels, pistons, pins and rods on the shelf.

    Clearances are spread over the tolerance and a little beyond, masses over some 20 g.
    """
    rng = random.Random(seed)
    stations = ("barrel", "piston", "pin", "rod")
    size = {station: [rng.gauss(0, 4) for _ in range(candidates)] for station in stations}
    mass = {station: [rng.randrange(20_000) for _ in range(candidates)] for station in stations[1:]}
    keys = {station: [f"{station}{i}" for i in range(candidates)] for station in stations}
    positions = [PositionRequest(f"c{i}") for i in range(cylinders)]
    needs = [line(f"{p.key}/{s}", str(p.key), *keys[s]) for p in positions for s in stations]
    pairings = []
    for one, other in (("barrel", "piston"), ("piston", "pin"), ("pin", "rod")):
        far: dict[tuple[Key, Key], int] = {
            (keys[one][i], keys[other][j]): abs(round(size[one][i] - size[other][j]))
            for i in range(candidates)
            for j in range(candidates)
        }
        barred = frozenset(pair for pair, tenths in far.items() if tenths > 10)
        tenths = {pair: each for pair, each in far.items() if each and pair not in barred}
        pairings += [Pairing(f"{p.key}/{one}", f"{p.key}/{other}", barred, tenths) for p in positions]
    masses: dict[tuple[Key, Key], int] = {
        (f"{p.key}/{s}", keys[s][i]): mass[s][i]
        for p in positions
        for s in stations[1:]
        for i in range(candidates)
    }
    sources = [Source(key, 1, receipt_rank=i) for s in stations for i, key in enumerate(keys[s])]
    return KitRequest(positions, needs, sources, (), pairings, [Balance("b", spread, masses)])


@pytest.mark.parametrize("seed", range(3))
def test_five_cylinders_equal_the_best_of_all_orders_of_what_is_on_the_shelf(seed: int) -> None:
    """Five barrels, five pistons: every assignment of the one to the other is tried."""
    whole = engine(5, 5, seed)
    (balance,) = whole.balances
    needs = [n for n in whole.needs if n.key.endswith(("barrel", "piston"))]  # type: ignore[union-attr]
    keys = {need.key for need in needs}
    request = KitRequest(
        whole.positions,
        needs,
        whole.sources[:10],
        (),
        [p for p in whole.pairings if {p.need, p.other} <= keys],
        [
            Balance(
                "b",
                18_000,
                {pair: mass for pair, mass in whole.balances[0].masses.items() if pair[0] in keys},
            )
        ],
    )
    best: tuple[int, ...] | None = None
    barrels = [n.key for n in needs if str(n.key).endswith("barrel")]
    pistons = [n.key for n in needs if str(n.key).endswith("piston")]
    for order in itertools.permutations([f"piston{i}" for i in range(5)]):
        taking: Taking = {key: f"barrel{i}" for i, key in enumerate(barrels)}
        taking |= dict(zip(pistons, order, strict=True))
        if allowed(request, taking):
            best = max(best or (), reckoned(request, taking))
    kit = choose_kit(request)
    assert kit.proven
    if best is not None:
        assert kit.score == best


def test_a_whole_engine_is_proven() -> None:
    """Twelve cylinders, twenty candidates a station: fits of three pairs, and masses that must agree."""
    kit = choose_kit(engine(12, 20, 1, spread=24_000))
    assert kit.proven
    assert all(fill.short == 0 for fill in kit.lines)


@pytest.mark.parametrize("seed", range(4))
def test_assemblies_equal_what_the_numbered_programme_finds(seed: int) -> None:
    """Alike cylinders are put to the solver without their numbers, which must change nothing."""
    request = engine(3, 5, seed, spread=12_000)
    steps = steps_of(request)
    group = Group(tuple(request.needs), full=True)
    pace = Pace(lambda: 60.0, lambda: False)
    numbered = solved(lambda: solve_group(request, steps, group, None, pace))
    assembled = solved(lambda: assemble(request, steps, group, None, pace))
    assert (numbered is None) == (assembled is None)
    if numbered is not None and assembled is not None:
        assert score(request, assembled.choice) == score(request, numbered.choice)


def solved(solve: Callable[[], Answer | None]) -> Answer | None:
    try:
        return solve()
    except Infeasible:
        return None


def score(request: KitRequest, choice: Choice) -> tuple[int, ...]:
    return kit_of(request, choice, None).score


def test_stopped_at_once_the_gap_of_what_is_not_proven_is_known() -> None:
    request = engine(4, 6, 1, spread=40_000)
    kit = choose_kit(request, stop=lambda: True)
    assert not kit.proven
    assert kit.score == first_come(request).score


def test_a_need_of_two_takes_none_that_does_not_suit_both() -> None:
    valves = Need("valves", "c", 2, (NeedOption(0, (Component(1, ("v1", "v2", "v3")),)),))
    guides = Need("guides", "c", 2, (NeedOption(0, (Component(1, ("g1", "g2")),)),))
    request = KitRequest(
        [PositionRequest("c")],
        [valves, guides],
        [Source(key, 1) for key in ("v1", "v2", "v3", "g1", "g2")],
        (),
        [Pairing("valves", "guides", frozenset({("v1", "g2")}), {("v2", "g1"): 4, ("v3", "g2"): 3})],
    )
    kit = choose_kit(request)
    assert {each.source for each in kit.allocations} == {"v2", "v3", "g1", "g2"}
    assert next(step for step in kit.steps if step.name == "fits").total == 7
    assert kit.proven
