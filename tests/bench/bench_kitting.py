"""Kit choice: ours, against one integer programme over everything, and against first come.

``python -m tests.bench.bench_kitting`` prints for each case our time, the time in which a single programme,
neither split nor simplified, optimises the same sums, and the ratio; then what was gained on first come.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass

from invdb.rules.first_come import first_come, first_come_choice
from invdb.rules.kit_goals import Pace, solve_group
from invdb.rules.kit_model import Component, Kit, KitRequest, Need, NeedOption, PositionRequest, Source
from invdb.rules.kit_programme import Group
from invdb.rules.kit_sums import kit_of, steps_of
from invdb.rules.kitting import choose_kit

LINES = 40
CANDIDATES = 10
ROUNDS = 5
SINGLE_PROGRAMME_SECONDS_MAX = 60.0


@dataclass(frozen=True)
class Case:
    """So many cylinders over one shelf; of the ``scarce`` lines there is stock for all but one of them."""

    cylinders: int
    scarce: int

    @property
    def name(self) -> str:
        return f"cylinders {self.cylinders}, scarce lines {self.scarce}"


CASES = (Case(1, 0), Case(1, 2), Case(7, 0), Case(7, 4), Case(7, 12), Case(7, 30))


def kits_and_shelf(case: Case) -> KitRequest:
    """Kits of 40 lines with 10 candidates each, the same whenever the case is the same.

    Single pieces serve lines of one; a third of them ran in one of the cylinders before, and those of
    two lines are matched sets. Batches serve lines of several. Two lines have a set of two as alternate. The
    last cylinders belong to the engine of the highest priority.
    """
    draw = random.Random(case.name)
    positions = [PositionRequest(f"cylinder {i}", priority=i // 3) for i in range(1, case.cylinders + 1)]
    needs: list[Need] = []
    sources: list[Source] = []
    for line in range(LINES):
        scarce = line >= LINES - case.scarce
        quantity = 1 if line < 4 else draw.choice((1, 1, 1, 2, 4, 8))
        shelf = (
            _pieces(draw, line, case, scarce)
            if quantity == 1
            else _batches(draw, line, case, quantity, scarce)
        )
        sources += shelf
        keys = [source.key for source in shelf]
        near, far = keys[: len(keys) * 2 // 3], keys[len(keys) * 2 // 3 :]
        parts = (far[::2], far[1::2]) if line in (2, 3) else (far,)
        options = (
            NeedOption(0, (Component(1, tuple(near)),)),
            NeedOption(1, tuple(Component(1, tuple(part)) for part in parts)),
        )
        needs += [Need(f"{position.key}/{line}", position.key, quantity, options) for position in positions]
    matched = [(f"0/{i}", f"1/{i}") for i in range(CANDIDATES)]
    return KitRequest(positions, needs, sources, matched)


def _pieces(draw: random.Random, line: int, case: Case, scarce: bool) -> list[Source]:
    return [
        Source(
            f"{line}/{i}",
            1,
            f"cylinder {draw.randint(1, case.cylinders)}/{line}" if draw.random() < 1 / 3 else None,
            receipt_rank=draw.randrange(400),
            other_uses=draw.randrange(4),
        )
        for i in range(case.cylinders - 1 if scarce else CANDIDATES)
    ]


def _batches(draw: random.Random, line: int, case: Case, quantity: int, scarce: bool) -> list[Source]:
    total = quantity * (case.cylinders - 1) if scarce else quantity * case.cylinders * 3 // 2
    return [
        Source(
            f"{line}/{i}",
            total // CANDIDATES + (i < total % CANDIDATES),
            shelf_expiry_rank=draw.randrange(20),
            receipt_rank=draw.randrange(400),
            other_uses=draw.randrange(4),
        )
        for i in range(CANDIDATES)
    ]


def single_programme(request: KitRequest) -> Kit:
    """The same sums over every need at once, as one integer programme."""
    group = Group(tuple(request.needs), tuple(position.key for position in request.positions))
    until = time.monotonic() + SINGLE_PROGRAMME_SECONDS_MAX
    pace = Pace(lambda: until - time.monotonic(), lambda: False)
    answer = solve_group(request, steps_of(request), group, first_come_choice(request), pace)
    assert answer is not None
    return kit_of(request, answer.choice, answer.bounds)


def timed(choose: Callable[[KitRequest], Kit], request: KitRequest, rounds: int) -> tuple[Kit, float]:
    """The kit and the median of the seconds it took."""
    seconds = []
    for _ in range(rounds):
        began = time.perf_counter()
        kit = choose(request)
        seconds.append(time.perf_counter() - began)
    return kit, sorted(seconds)[rounds // 2]


def main() -> None:
    choose_kit(kits_and_shelf(Case(2, 1)))  # so that the solver is loaded before the clock runs
    print(f"kit choice, {LINES} lines, {CANDIDATES} candidates each (ms, median of {ROUNDS}; reference once)")
    print(f"{'':32}{'ours':>9}{'single':>9}{'ratio':>8}{'first come':>12}   proven   same")
    for case in CASES:
        request = kits_and_shelf(case)
        ours, seconds = timed(choose_kit, request, ROUNDS)
        single, seconds_single = timed(single_programme, request, 1)
        plain, seconds_plain = timed(first_come, request, ROUNDS)
        same = "yes" if ours.score == single.score else "single is not proven" if not single.proven else "NO"
        print(
            f"{case.name:32}{seconds * 1e3:9.1f}{seconds_single * 1e3:9.1f}{seconds / seconds_single:8.2f}"
            f"{seconds_plain * 1e3:12.1f}   {'yes' if ours.proven else 'NO':8} {same}"
        )
        gained = [
            f"{step.name} {was.total} → {step.total}"
            for step, was in zip(ours.steps, plain.steps, strict=True)
            if step.total != was.total
        ]
        print(f"    on first come: {'; '.join(gained) or 'nothing'}")


if __name__ == "__main__":
    main()
