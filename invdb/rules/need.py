"""How many of a part the plan will ask for, month by month: one mass function of all that is due by then.

Months are counted from now: 0 is what is owed already, t all that comes up to the end of the t-th month from
now. Need is

- at each overhaul due, those rejected of the pieces looked at: beta-binomial within an engine, and the
  mixture over what is known of the rate (``reject_rate``). One rate is behind all engines and months, so they
  rise and fall together. A part renewed always is asked for whole: that is a rule, not a rate;
- failures in running: negative binomial in the hours that are planned;
- lives that run out, a known count, each counted once: where the engine is overhauled by then it is replaced
  at the last overhaul before, and is not among those looked at;
- what is owed: open pulls that are short, and pieces robbed from another engine.

Counts at nodes of the rate are multiplied as discrete Fourier transforms longer than the greatest
sum, so nothing wraps round, and the mixture is exact to rounding.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import isfinite
from typing import TYPE_CHECKING

from invdb.rules.counts import Counts, certain, convolve, negative_binomial, weighted
from invdb.rules.reject_rate import LOOKED_MAX, NODES, RejectRecord, grid, node_cells, node_weights
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

MONTHS_MAX = 240
OVERHAULS_MAX = 1_000
LOOKED_TOTAL_MAX = 10_000
KNOWN_MAX = 10_000
HOURS_MAX = 1_000_000.0
FAILURES_MAX = 10_000.0
# The mass of failures that a need in as many cells as ``enough`` says leaves beyond them, at most.
BEYOND_MAX = 1e-12
NEEDS_TOGETHER = 256

# How many overhauls look at how many pieces: ((looked, overhauls), ...).
Looks = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Overhaul:
    """An engine is opened in a month from now, and its pieces of the part are looked at or renewed."""

    engine: str
    month: int
    looked: int


@dataclass(frozen=True)
class RunningOut:
    """The life of so many pieces in an engine runs out in a month from now, at the planned use."""

    engine: str
    month: int
    count: int = 1


@dataclass(frozen=True)
class FailureRecord:
    """Failures in so many hours of a piece's running: those the prior is worth, and our own on top."""

    prior_failures: float
    prior_hours: float
    failures: int = 0
    hours: float = 0.0

    def __post_init__(self) -> None:
        if not (0 < self.prior_failures < 1e6 and 0 < self.prior_hours < 1e9):
            raise Refused(
                f"A prior of {self.prior_failures:g} failures in {self.prior_hours:g} hours is out of range.",
                "Both are above 0; half a failure in the hours that a class is known to run is a mild prior.",
            )
        if not (self.failures >= 0 and 0 <= self.hours < 1e12):
            raise Refused(
                f"{self.failures} failures in {self.hours:g} hours cannot be.",
                "Correct the record of running.",
            )

    @property
    def shape(self) -> float:
        """Of the Gamma of failures an hour, as it is known now."""
        return self.prior_failures + self.failures

    @property
    def rate(self) -> float:
        """Of the same Gamma, in hours."""
        return self.prior_hours + self.hours


@dataclass(frozen=True)
class Need:
    """What the plan holds for one part.

    ``rejects`` is None for a part renewed always. ``hours`` are the planned hours of each month, from the
    first on, times the pieces that run; without ``failures`` they count for nothing.
    """

    overhauls: tuple[Overhaul, ...] = ()
    rejects: RejectRecord | None = None
    hours: tuple[float, ...] = ()
    failures: FailureRecord | None = None
    running_out: tuple[RunningOut, ...] = ()
    owed: int = 0

    def __post_init__(self) -> None:
        if len(self.overhauls) > OVERHAULS_MAX:
            raise Refused(
                f"The plan has {len(self.overhauls):,} overhauls for one part, more than {OVERHAULS_MAX:,}.",
                "Correct the plan, or look less far ahead.",
            )
        for overhaul in self.overhauls:
            if not 0 <= overhaul.looked <= LOOKED_MAX:
                raise Refused(
                    f"{overhaul.looked:,} pieces in {overhaul.engine} are not between 0 and {LOOKED_MAX}.",
                    "Correct the number that the engine holds.",
                )
        looked = sum(each.looked for each in self.overhauls)
        if looked > LOOKED_TOTAL_MAX:
            raise Refused(
                f"The plan looks at {looked:,} pieces of one part, more than {LOOKED_TOTAL_MAX:,}.",
                "Correct the plan, or look less far ahead.",
            )
        known = self.owed + sum(each.count for each in self.running_out)
        if self.owed < 0 or any(each.count < 0 for each in self.running_out) or known > KNOWN_MAX:
            raise Refused(
                f"{known:,} pieces owed or running out of life are not between 0 and {KNOWN_MAX:,}.",
                "Correct what is owed.",
            )
        for hours in self.hours:
            if not (isfinite(hours) and 0 <= hours <= HOURS_MAX):
                raise Refused(
                    f"{hours:g} planned hours in a month are not between 0 and {HOURS_MAX:,.0f}.",
                    "Correct the flying that is planned.",
                )
        if self.failures is not None:
            mean = self.failures.shape * sum(self.hours) / self.failures.rate
            if mean > FAILURES_MAX:
                raise Refused(
                    f"{mean:,.0f} failures would be expected, more than {FAILURES_MAX:,.0f}.",
                    "Correct the hours planned, or the record of failures.",
                )


def checked_horizon(months: int) -> int:
    """The horizon, if it is one to reckon with."""
    if not 0 <= months <= MONTHS_MAX:
        raise Refused(f"A horizon of {months} months is not between 0 and {MONTHS_MAX}.", "Choose another.")
    return months


def known_by_month(need: Need, horizon: int) -> tuple[int, ...]:
    """What is needed for certain by each month from 0 to the horizon: owed, renewed always, run out."""
    known = [0] * (horizon + 1)
    known[0] = need.owed
    if need.rejects is None:
        for overhaul in need.overhauls:
            if overhaul.month <= horizon:
                known[max(overhaul.month, 0)] += overhaul.looked
    for _, month, count in _replaced(need, horizon):
        known[month] += count
    return tuple(accumulate(known))


def looks_by_month(need: Need, horizon: int) -> tuple[Looks, ...]:
    """By each month from 0 to the horizon, how many overhauls look at how many pieces to be judged."""
    if need.rejects is None:
        return ((),) * (horizon + 1)
    replaced = _replaced(need, horizon)
    changing = {max(each.month, 0) for each in need.overhauls} | {month for _, month, _ in replaced}
    by_month: list[Looks] = []
    for month in range(horizon + 1):
        as_before = by_month[-1] if by_month else ()
        by_month.append(_looks_at(need, month, replaced) if month in changing else as_before)
    return tuple(by_month)


def reject_counts(path: tuple[Looks, ...], weights: np.ndarray, size: int | None = None) -> Counts:
    """Rejects by each month, for parts whose engines are opened alike: one path of looks, month by month.

    ``weights`` has the shape (parts, NODES), the answer (parts, months, cells): ``size`` cells at most, and
    without a size as many as hold every piece that is looked at.
    """
    import numpy as np
    from scipy.fft import irfft, next_fast_len, rfft

    most = max(sum(looked * times for looked, times in looks) for looks in path)
    size = min(size or most + 1, most + 1)
    length = 2 * next_fast_len(most // 2 + 1)
    cells = np.zeros((len(weights), len(path), size))
    cells[:, :, 0] = 1.0
    transforms: dict[int, np.ndarray] = {}
    held: Counter[int] = Counter()
    product = np.ones((NODES, length // 2 + 1), complex)
    for month, looks in enumerate(path):
        if month and looks == path[month - 1]:
            cells[:, month] = cells[:, month - 1]
            continue
        wanted = Counter(dict(looks))
        if held - wanted:
            held, product = Counter(), np.ones_like(product)
        for looked, times in (wanted - held).items():
            if looked not in transforms:
                transforms[looked] = rfft(node_cells(looked), length, axis=-1)
            # By squaring: a thousand overhauls alike take ten squares.
            power, left = transforms[looked], times
            while left:
                if left % 2:
                    product *= power
                left //= 2
                if left:
                    power = power * power
        held = wanted
        if held:
            # Mixed before it is transformed back: both are linear, and there are far fewer parts than nodes.
            mixed = weighted(weights, product.view(float)).view(complex)
            cells[:, month] = irfft(mixed, length, axis=-1)[:, :size].clip(0.0)
    looked_by_month = [sum(looked * times for looked, times in looks) for looks in path]
    return Counts(cells, np.outer(weights @ grid()[0], looked_by_month))


def rejects_together(needs: Sequence[Need], sizes: Sequence[int], horizon: int) -> list[Counts | None]:
    """Rejects of each need by each month, in its number of cells at most; None where nothing is to be judged.

    Needs whose engines are opened alike are reckoned together.
    """
    import numpy as np

    alike: dict[tuple[Looks, ...], list[int]] = defaultdict(list)
    for i, need in enumerate(needs):
        if any(path := looks_by_month(need, horizon)):
            alike[path].append(i)
    counts: list[Counts | None] = [None] * len(needs)
    for path, rows in alike.items():
        for start in range(0, len(rows), NEEDS_TOGETHER):
            some = rows[start : start + NEEDS_TOGETHER]
            weights = node_weights([record for i in some if (record := needs[i].rejects) is not None])
            together = reject_counts(path, weights, max(sizes[i] for i in some))
            for row, i in enumerate(some):
                counts[i] = Counts(np.array(together.cells[row, :, : sizes[i]]), together.mean[row])
    return counts


def failure_counts(need: Need, horizon: int, size: int) -> Counts | None:
    """Failures by each month from 0 to the horizon, shape (months, size); None if none are reckoned with."""
    if need.failures is None or not any(need.hours[:horizon]):
        return None
    record = need.failures
    return negative_binomial(record.shape, record.rate, hours_by_month(need, horizon), size)


def hours_by_month(need: Need, horizon: int) -> np.ndarray:
    """The planned hours up to the end of each month from 0 to the horizon; a month not planned has none."""
    import numpy as np

    hours = np.zeros(horizon + 1)
    planned = need.hours[:horizon]
    hours[1 : len(planned) + 1] = planned
    return hours.cumsum()


def enough(needs: Sequence[Need], horizon: int) -> np.ndarray:
    """For each, a count that need by the horizon passes with a chance of ``BEYOND_MAX`` at most."""
    import numpy as np

    horizon = checked_horizon(horizon)
    sure = [known_by_month(need, horizon)[-1] for need in needs]
    looked = [
        0 if need.rejects is None else sum(each.looked for each in need.overhauls if each.month <= horizon)
        for need in needs
    ]
    most: np.ndarray = np.array(sure) + np.array(looked) + failures_enough(needs, horizon)
    return most


def failures_enough(needs: Sequence[Need], horizon: int) -> np.ndarray:
    """For each, a count that failures by the horizon pass with a chance of ``BEYOND_MAX`` at most."""
    import numpy as np
    from scipy.special import betainc

    most = np.zeros(len(needs), int)
    rows, hours, shapes, rates = [], [], [], []
    for row, need in enumerate(needs):
        planned = sum(need.hours[:horizon])
        if need.failures is not None and planned:
            rows.append(row)
            hours.append(planned)
            shapes.append(need.failures.shape)
            rates.append(need.failures.rate)
    share = np.array(hours) / (np.array(rates) + np.array(hours))

    def passes(count: np.ndarray) -> np.ndarray:
        # P(failures > k) is the incomplete beta function of k + 1 and the shape, at h / (rate + h).
        passing: np.ndarray = betainc(count + 1, shapes, share) > BEYOND_MAX
        return passing

    low, high = np.full(len(rows), -1), np.full(len(rows), 8)
    while (over := passes(high)).any():
        low[over], high[over] = high[over], high[over] * 2
    while (high - low > 1).any():
        middle = (low + high) // 2
        over = passes(middle)
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    most[rows] = high
    return most


def need_by_month(need: Need, horizon: int) -> Counts:
    """The need by each month from 0 to the horizon, shape (months, cells), but for ``BEYOND_MAX`` at most."""
    return needs_by_month([need], horizon)[0]


def needs_by_month(needs: Sequence[Need], horizon: int) -> list[Counts]:
    """The same of many, reckoned together."""
    import numpy as np

    sizes = [int(most) + 1 for most in enough(needs, horizon)]
    rejects = rejects_together(needs, sizes, horizon)
    counts = []
    for need, size, failing, rejected in zip(
        needs, sizes, failures_enough(needs, horizon), rejects, strict=True
    ):
        total = certain(np.zeros(horizon + 1, int), 1) if rejected is None else rejected
        failures = failure_counts(need, horizon, int(failing) + 1)
        if failures is not None:
            total = convolve(total, failures, size)
        known = np.array(known_by_month(need, horizon))
        cells = np.zeros((horizon + 1, size))
        for month, first in enumerate(known):
            reach = min(size - first, total.size)
            cells[month, first : first + reach] = total.cells[month, :reach]
        counts.append(Counts(cells, total.mean + known))
    return counts


def _replaced(need: Need, horizon: int) -> list[tuple[str, int, int]]:
    """Of pieces whose life runs out by the horizon: the engine, the month they are replaced, and how many."""
    replaced = []
    for out in need.running_out:
        if out.month > horizon:
            continue
        before = [max(each.month, 0) for each in need.overhauls if each.engine == out.engine]
        before = [month for month in before if month <= max(out.month, 0)]
        if before and need.rejects is None:
            continue
        replaced.append((out.engine, max(before, default=max(out.month, 0)), out.count))
    return replaced


def _looks_at(need: Need, month: int, replaced: list[tuple[str, int, int]]) -> Looks:
    """How many overhauls up to a month look at how many pieces, without those surely replaced by then."""
    looks: Counter[int] = Counter()
    for overhaul in need.overhauls:
        if overhaul.month > month:
            continue
        looked = overhaul.looked
        for engine, when, count in replaced:
            if engine == overhaul.engine and max(overhaul.month, 0) <= when <= month:
                looked -= count
        looks[looked] += 1
    return tuple(sorted((looked, times) for looked, times in looks.items() if looked > 0))
