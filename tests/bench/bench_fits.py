"""Fits and masses of a whole engine: ours, against one programme whose cylinders are numbered.

``python -m tests.bench.bench_fits`` prints for each case our time and whether it is proven, the same of the
numbered programme within a minute, and the ratio; then what was gained over taking things in shelf order.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from invdb.rules.first_come import first_come, first_come_choice
from invdb.rules.kit_goals import Answer, Pace, solve_group
from invdb.rules.kit_model import Kit, KitRequest
from invdb.rules.kit_programme import Group, Infeasible
from invdb.rules.kit_sums import column_values, steps_of, totals
from invdb.rules.kitting import choose_kit
from tests.rules.test_kit_ties import engine

OURS_SECONDS_MAX = 2.0
NUMBERED_SECONDS_MAX = 60.0
# Cylinders, candidates a station, and the allowed spread in mg of masses that differ by up to 60 g.
CASES = ((4, 10, 24_000), (7, 20, 24_000), (12, 20, 24_000))


def timed(do: Callable[[], Kit | Answer | None]) -> tuple[Kit | Answer | None, float]:
    begins = time.perf_counter()
    try:
        return do(), time.perf_counter() - begins
    except Infeasible:
        return None, time.perf_counter() - begins


def numbered(request: KitRequest) -> Answer | None:
    """Every cylinder by its number, from the choice of shelf order."""
    ends = time.perf_counter() + NUMBERED_SECONDS_MAX
    pace = Pace(lambda: ends - time.perf_counter(), lambda: False)
    group = Group(tuple(request.needs), tuple(position.key for position in request.positions))
    return solve_group(request, steps_of(request), group, first_come_choice(request), pace)


def proven(request: KitRequest, answer: Answer | None) -> bool:
    if answer is None:
        return False
    positions = [position.key for position in request.positions]
    values = column_values(request, request.needs, positions, answer.choice)
    return totals(steps_of(request), values) == answer.bounds


def main() -> int:
    """Print every case; 1 if a whole engine is not proven within what is promised."""
    over = 0
    print(f"{'cylinders × candidates, spread':34} {'ours':>9} {'numbered':>10} {'ratio':>8}")
    for cylinders, candidates, spread in CASES:
        request = engine(cylinders, candidates, 1, spread)
        kit, ours = timed(lambda request=request: choose_kit(request))  # type: ignore[misc]
        assert isinstance(kit, Kit)
        answer, theirs = timed(lambda request=request: numbered(request))  # type: ignore[misc]
        assert answer is None or isinstance(answer, Answer)
        known = "proven" if proven(request, answer) else "not proven"
        name = f"{cylinders} × {candidates}, {spread / 1000:g} g"
        own = "proven" if kit.proven else "not proven"
        print(f"{name:34} {ours:8.2f}s {theirs:9.2f}s {ours / theirs:8.3f}   {own}, numbered {known}")
        plain = {step.name: step.total for step in first_come(request).steps}
        gained = [f"{step.name} {step.total} instead of {plain[step.name]}" for step in kit.steps]
        print(f"    {'; '.join(gained)}")
        over |= not kit.proven or ours > OURS_SECONDS_MAX
    return int(over)


if __name__ == "__main__":
    raise SystemExit(main())
