"""The shortage board: 5,000 parts, 60 engines, 36 months, against a bare convolution of the same arrays.

``python -m tests.bench.bench_short`` reckons the board from plans and records: what each part's inspections
say of its rate, need and supply by month, P(short) and expected short. The reference is handed what is
convolved, ready made: for each part and month the mass functions of rejects, of failures and of what there
is; it calls ``numpy.convolve`` for need and again for need less supply, and sums what lies above nothing.
Both give the same figures, which is checked. Wall clock, and the processor's own beside it, which a busy
machine does not stretch.

Then the same board where every tenth part shares the stock of its neighbour, and what a sum of money is best
spent on.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable

import numpy as np

from invdb.rules.counts import negative_binomial
from invdb.rules.lead_time import LeadPrior, LeadRecord, LeadTime, lead_time
from invdb.rules.need import (
    FailureRecord,
    Need,
    Overhaul,
    RunningOut,
    enough,
    hours_by_month,
    known_by_month,
    looks_by_month,
    reject_counts,
)
from invdb.rules.pooled import Pool, pooled_shortages
from invdb.rules.reject_rate import Inspected, RejectPrior, RejectRecord, node_weights
from invdb.rules.shortage import PartCase, Shortage, shortages, smallest_batch
from invdb.rules.spending import Offer, best_buys
from invdb.rules.supply import InWork, OnOrder, Supply, YieldRecord, supply_by_month
from tests.bench.measure import Measure

PARTS = 5_000
ENGINES = 60
TYPES = 8
MONTHS = 36
ROUNDS = 5
OFFERS = 200
SECONDS_MAX = 3.0
RATIO_MAX = 3.0
# What is promised of a figure: both ways to it differ by rounding alone.
APART_MAX = 1e-9


def shop(parts: int = PARTS, months: int = MONTHS) -> list[PartCase]:
    """Parts of engines of eight types, each engine opened about once in the time; some parts serve two types.

    A tenth are renewed always, a fifth have a piece whose life runs out, a fifth something on order, a fifth
    pieces out for work; each has up to thirty inspections behind it, and stock for up to thrice its need.
    """
    draw = random.Random(1934)
    engines = [(f"engine {i}", i % TYPES) for i in range(ENGINES)]
    opened = {
        name: sorted(draw.randint(1, months) for _ in range(draw.choice((0, 1, 1, 2)))) for name, _ in engines
    }
    flown = {name: [draw.choice((0.0, 2.0, 5.0, 8.0)) for _ in range(months)] for name, _ in engines}
    priors = [RejectPrior(draw.uniform(0.02, 0.4), draw.uniform(4, 30)) for _ in range(12)]
    firms = [lead_time(record_of(draw)) for _ in range(20)]
    cases = []
    for part in range(parts):
        types = draw.sample(range(TYPES), draw.choice((1, 1, 1, 1, 2)))
        each = draw.choice((1, 1, 2, 4, 7, 7, 9, 12, 14, 14, 24))
        holders = [name for name, kind in engines if kind in types]
        hours = [each * sum(flown[name][month] for name in holders) for month in range(months)]
        inspected = tuple(
            Inspected(each, sum(draw.random() < 0.15 for _ in range(each)))
            for _ in range(draw.randint(0, 30))
        )
        need = Need(
            tuple(Overhaul(name, month, each) for name in holders for month in opened[name]),
            None if draw.random() < 0.1 else RejectRecord(draw.choice(priors), inspected),
            tuple(hours),
            FailureRecord(0.5, draw.uniform(5_000, 50_000), draw.choice((0, 0, 1)), draw.uniform(0, 50_000)),
            (RunningOut(draw.choice(holders), draw.randint(1, months)),) if draw.random() < 0.2 else (),
            draw.choice((0, 0, 0, 1)),
        )
        likely = sum(overhaul.looked for overhaul in need.overhauls) * (0.15 if need.rejects else 1)
        free = int(likely * draw.uniform(0, 3)) + draw.randint(0, 3)
        cases.append(PartCase(f"part {part}", need, supply_of(draw, free, firms)))
    return cases


def record_of(draw: random.Random) -> LeadRecord:
    """A firm's record of two dozen orders, some of them still open."""
    taken = tuple(int(draw.lognormvariate(4, 0.5)) for _ in range(20))
    return LeadRecord(LeadPrior(60), taken, (10, 50, 100))


def supply_of(draw: random.Random, free: int, firms: list[LeadTime]) -> Supply:
    """So many pieces free, and now and then more to come."""
    work, order = draw.random() < 0.2, draw.random() < 0.2
    firm = draw.choice(firms)
    return Supply(
        free,
        (InWork(draw.randint(1, 6), firm, YieldRecord(0.8, 5, 8, 2), draw.choice((0, 10, 50))),)
        if work
        else (),
        (OnOrder(draw.choice((4, 12)), draw.choice(firms), draw.choice((0, 50, 100))),) if order else (),
    )


def ready_made(case: PartCase, cap: int, months: int) -> list[tuple[np.ndarray, ...]]:
    """For each month the mass functions of rejects (known need included), failures and supply of one part."""
    known = known_by_month(case.need, months)
    path = looks_by_month(case.need, months)
    rejects = np.ones((months + 1, 1))
    if case.need.rejects is not None and any(path):
        rejects = reject_counts(path, node_weights([case.need.rejects])).cells[0]
    failing = case.need.failures
    assert failing is not None
    most = int(enough([Need(hours=case.need.hours, failures=failing)], months)[0]) + 1
    failures = negative_binomial(failing.shape, failing.rate, hours_by_month(case.need, months), most).cells
    supply = supply_by_month(case.supply, months, cap).cells
    return [
        (
            np.concatenate([np.zeros(known[month]), rejects[month]]),
            failures[month],
            supply[month][::-1].copy(),
        )
        for month in range(months + 1)
    ]


def bare(arrays: list[list[tuple[np.ndarray, ...]]]) -> tuple[np.ndarray, np.ndarray]:
    """P(short) and expected short of each part and month, one numpy convolution after another."""
    chance = np.empty((len(arrays), len(arrays[0])))
    expected = np.empty_like(chance)
    for i, by_month in enumerate(arrays):
        for month, (rejects, failures, supply) in enumerate(by_month):
            short = np.convolve(np.convolve(rejects, failures), supply)[len(supply) :]
            chance[i, month] = short.sum()
            expected[i, month] = short @ np.arange(1, len(short) + 1)
    return chance, expected


def apart(ours: list[Shortage], chance: np.ndarray, expected: np.ndarray) -> float:
    """The greatest difference between our figures and the reference's."""
    return max(
        float(np.abs(np.array([each.chance for each in ours]) - chance).max()),
        float(np.abs(np.array([each.expected for each in ours]) - expected).max()),
    )


def main() -> int:
    """Measure; 0 if all is within what is promised."""
    cases = shop()
    ours, references, processor = [], [], []
    caps = enough([case.need for case in cases], MONTHS)
    arrays = [ready_made(case, int(cap), MONTHS) for case, cap in zip(cases, caps, strict=True)]
    for _ in range(ROUNDS):
        began, began_processor = time.perf_counter(), time.process_time()
        board = shortages(cases, MONTHS)
        between = time.perf_counter()
        processor.append(time.process_time() - began_processor)
        chance, expected = bare(arrays)
        ours.append(between - began)
        references.append(time.perf_counter() - between)
    difference = apart(board, chance, expected)
    short = [case for case, each in zip(cases, board, strict=True) if each.chance[-1] > 0.2]
    print(
        f"{PARTS:,} parts, {ENGINES} engines, {MONTHS} months: {len(short):,} parts short by more than 20 %;"
        f" both agree to {difference:.0e}; {statistics.median(processor):.2f} s of the processor"
    )
    measures = [
        Measure(
            "the shortage board",
            statistics.median(ours),
            statistics.median(references),
            ratio_max=RATIO_MAX if difference < APART_MAX else 0.0,
            seconds_max=SECONDS_MAX,
        ),
        Measure(
            "the board with pools",
            seconds(lambda: pooled_shortages(pooled(cases), MONTHS)),
            seconds_max=SECONDS_MAX,
        ),
        Measure("the smallest batch of one part", seconds(lambda: batches(short[:200])) / len(short[:200])),
        Measure(
            f"what a sum is best spent on, {OFFERS} offers",
            seconds(lambda: best_buys(short[:OFFERS], offers(), 500_000, MONTHS)),
        ),
    ]
    for measure in measures:
        print(measure)
    return 0 if all(measure.within for measure in measures) else 1


def seconds(act: Callable[[], object]) -> float:
    """How long something takes."""
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def pooled(cases: list[PartCase]) -> list[Pool]:
    """Every tenth part stands in for the one after it, the others by themselves."""
    pools = []
    for first in range(0, len(cases), 10):
        pools.append(Pool(tuple(cases[first : first + 2]), frozenset({(0, 1)})))
        pools += [Pool((case,)) for case in cases[first + 2 : first + 10]]
    return pools


def batches(cases: list[PartCase]) -> None:
    """The smallest batch of each."""
    for case in cases:
        smallest_batch(case, MONTHS, 0.05, 3)


def offers() -> list[Offer]:
    """One of each part, some with a minimum, cheaper by the ten."""
    draw = random.Random(1935)
    prices = [draw.randint(500, 30_000) for _ in range(OFFERS)]
    return [
        Offer(f"offer {i}", i, draw.choice((1, 1, 2, 5)), ((1, price), (10, price * 4 // 5)), 3)
        for i, price in enumerate(prices)
    ]


if __name__ == "__main__":
    raise SystemExit(main())
