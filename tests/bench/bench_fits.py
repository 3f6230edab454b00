"""Pulling a whole engine: which piece goes with which, by measured fits and by masses that agree.

``python -m tests.bench.bench_fits`` prints for each case our time, the time of one integer programme over
every pair at every numbered cylinder (the plain way to put it to HiGHS, stopped after half a minute), and the
ratio; then what was gained on shelf order, and the gap that is stated where time runs out. Every case is
twelve cylinders with twenty candidates a station, and is to be proven within two seconds.
"""

from __future__ import annotations

import random
import time
from collections.abc import Sequence
from dataclasses import dataclass

from invdb.rules.first_come import first_come
from invdb.rules.kit_goals import Pace, solve_group
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
from invdb.rules.kit_programme import Group
from invdb.rules.kit_sums import kit_of, steps_of
from invdb.rules.kitting import choose_kit
from tests.bench.bench_kitting import timed
from tests.bench.measure import Measure

CYLINDERS = 12
CANDIDATES = 20
STATIONS = ("barrel", "piston", "pin", "rod", "ring set")
TENTHS_MAX = 20
MASS_MG = 500_000
ROUNDS = 3
SECONDS_MAX = 2.0
REFERENCE_SECONDS_MAX = 30.0
SHORT_SECONDS = 0.05


@dataclass(frozen=True)
class Case:
    """What is tied in an engine: pairs by fits, stations by masses within a spread in mg, bank by bank.

    Of two banks one takes fork rods and one blade rods. ``at_home`` is the share of pieces that ran in the
    engine before.
    """

    name: str
    fits: tuple[tuple[str, str], ...]
    weighed: tuple[str, ...]
    spread: int
    banks: int = 1
    at_home: float = 0.0


BARREL_AND_PISTON = (("barrel", "piston"),)
EVERY_FIT = (("barrel", "piston"), ("piston", "pin"), ("pin", "rod"), ("ring set", "barrel"))
CASES = (
    Case("one fit, masses of two", BARREL_AND_PISTON, ("piston", "rod"), 6_000),
    Case("four fits, masses of two", EVERY_FIT, ("piston", "rod"), 6_000),
    Case("four fits, masses of three", EVERY_FIT, ("piston", "pin", "rod"), 6_000),
    Case("four fits, masses within 2 g", EVERY_FIT, ("piston", "rod"), 2_000),
    Case("four fits, fork and blade", EVERY_FIT, ("piston", "rod"), 8_000, banks=2),
    Case("four fits, half the pieces ran there", EVERY_FIT, ("piston", "rod"), 30_000, at_home=0.5),
)


def engine(case: Case) -> KitRequest:
    """An engine and a shelf, the same whenever the case is the same."""
    draw = random.Random(case.name)
    size = {(station, i): draw.gauss(0, 4) for station in STATIONS for i in range(CANDIDATES)}
    mass = {key: MASS_MG + draw.randrange(20_000) for key in size}
    positions = [PositionRequest(f"cylinder {i}") for i in range(1, CYLINDERS + 1)]
    bank = {position.key: i * case.banks // CYLINDERS for i, position in enumerate(positions)}
    needs, open_to = [], {}
    for position in positions:
        for station in STATIONS:
            need = f"{position.key}/{station}"
            open_to[need] = _candidates(station, bank[position.key], case.banks)
            keys = tuple(_key(station, i) for i in open_to[need])
            needs.append(Need(need, position.key, 1, (NeedOption(0, (Component(1, keys),)),)))
    pairings = [
        _pairing(f"{position.key}/{one}", f"{position.key}/{other}", one, other, size, open_to)
        for position in positions
        for one, other in case.fits
    ]
    balances = [
        Balance(
            number,
            case.spread,
            {
                (f"{position.key}/{station}", _key(station, i)): mass[station, i]
                for position in positions
                if bank[position.key] == number
                for station in case.weighed
                for i in open_to[f"{position.key}/{station}"]
            },
        )
        for number in range(case.banks)
    ]
    sources = [
        Source(
            _key(station, i),
            1,
            f"cylinder {i + 1}/{station}" if draw.random() < case.at_home and i < CYLINDERS else None,
            receipt_rank=draw.randrange(60),
            other_uses=draw.randrange(4),
        )
        for station in STATIONS
        for i in range(CANDIDATES)
    ]
    return KitRequest(positions, needs, sources, (), pairings, balances)


def _key(station: str, number: int) -> str:
    return f"{station} {number}"


def _candidates(station: str, bank: int, banks: int) -> range:
    """Twenty of a station, or of its kind where each bank takes one of its own."""
    if station != "rod":
        return range(CANDIDATES)
    return range(bank * CANDIDATES // banks, (bank + 1) * CANDIDATES // banks)


def _pairing(
    need: str,
    other_need: str,
    one: str,
    other: str,
    size: dict[tuple[str, int], float],
    open_to: dict[str, range],
) -> Pairing:
    """Fits by how far two sizes are apart, barred beyond twice the half-tolerance."""
    tenths: dict[tuple[Key, Key], int] = {
        (_key(one, i), _key(other, j)): round(abs(size[one, i] - size[other, j]))
        for i in open_to[need]
        for j in open_to[other_need]
    }
    barred = frozenset(pair for pair, far in tenths.items() if far > TENTHS_MAX)
    return Pairing(
        need, other_need, barred, {pair: far for pair, far in tenths.items() if far and pair not in barred}
    )


def numbered(request: KitRequest) -> Kit:
    """The same sums as one integer programme over every pair at every cylinder."""
    until = time.monotonic() + REFERENCE_SECONDS_MAX
    pace = Pace(lambda: until - time.monotonic(), lambda: False)
    answer = solve_group(request, steps_of(request), Group(tuple(request.needs), full=True), None, pace)
    if answer is None:
        return first_come(request)
    # With every line filled all positions are complete, which is no column of such a programme.
    return kit_of(request, answer.choice, [len(request.positions), *answer.bounds[1:]])


def gap_when_short(request: KitRequest) -> str:
    """What is said of the gap where there was next to no time."""
    until = time.monotonic() + SHORT_SECONDS
    return choose_kit(request, seconds_left=lambda: until - time.monotonic()).gap_words


def gained(ours: Kit, plain: Kit) -> Sequence[str]:
    """Each sum that differs from that of shelf order."""
    return [
        f"{step.name} {was.total} → {step.total}"
        for step, was in zip(ours.steps, plain.steps, strict=True)
        if step.total != was.total
    ]


def main() -> int:
    """Print every case; 0 if each was proven in time."""
    choose_kit(engine(CASES[0]))  # so that the solver is loaded before the clock runs
    print(f"{CYLINDERS} cylinders, {CANDIDATES} candidates a station (median of {ROUNDS}; reference once)")
    good = True
    for case in CASES:
        request = engine(case)
        ours, seconds = timed(choose_kit, request, ROUNDS)
        reference, seconds_reference = timed(numbered, request, 1)
        measure = Measure(case.name, seconds, seconds_reference, seconds_max=SECONDS_MAX)
        print(measure)
        same = "the same" if ours.score == reference.score else "ANOTHER"
        found = same if reference.proven else "not proven"
        print(f"    {'proven' if ours.proven else 'NOT PROVEN'}; the reference: {found}")
        print(f"    on shelf order: {'; '.join(gained(ours, first_come(request)))}")
        print(f"    after {SHORT_SECONDS * 1e3:g} ms: {gap_when_short(request) or 'proven'}")
        good = good and measure.within and ours.proven and (same == "the same" or not reference.proven)
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
