"""How many of a part there will be, month by month: free, back from work, come in on order.

A piece out for work comes back good by a month if it is back by then (its firm's turn-round) and was worth
bringing back (the yield of that work). What is unknown of a firm's time is shared by all that is out with
it: how many are back is a mixture over the grid of it. What is unknown of a yield is shared by all that it
governs: of those back, the good are beta-binomial. A line on order comes all at once. How long a firm's work
takes and how long its orders take are two records.

Months are counted from now, as for need: index 0 is what is free already.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from invdb.rules.counts import Counts, beta_binomial, binomial, certain, convolve
from invdb.rules.lead_time import LeadTime, month_ends
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

FREE_MAX = 1_000_000
DUE_MAX = 10_000


@dataclass(frozen=True)
class YieldRecord:
    """Pieces that came back from one kind of work: those the prior is worth, and our own on top."""

    prior_mean: float
    prior_weight: float
    good: int = 0
    failed: int = 0

    def __post_init__(self) -> None:
        if not (0 < self.prior_mean < 1 and 0 < self.prior_weight <= 10_000):
            raise Refused(
                f"A yield of {self.prior_mean:g}, worth {self.prior_weight:g} pieces, is out of range.",
                "Give a yield between 0 and 1, worth up to 10,000 pieces.",
            )
        if self.good < 0 or self.failed < 0:
            raise Refused(
                f"{self.good} pieces good and {self.failed} not cannot be.", "Correct the record of the work."
            )

    @property
    def alpha(self) -> float:
        """Of the Beta of the yield, as it is known now."""
        return self.prior_mean * self.prior_weight + self.good

    @property
    def beta(self) -> float:
        """Of the same Beta."""
        return (1 - self.prior_mean) * self.prior_weight + self.failed

    @property
    def mean(self) -> float:
        """The share of pieces expected back good."""
        return self.alpha / (self.alpha + self.beta)


@dataclass(frozen=True)
class InWork:
    """Pieces out for work ``elapsed_days``, or to be sent in ``wait_days``.

    Those out already are among the ``open_days`` of the record that ``turn_round`` rests on.
    """

    count: int
    turn_round: LeadTime
    good: YieldRecord
    elapsed_days: int = 0
    wait_days: int = 0

    def __post_init__(self) -> None:
        _check_due(self.count, self.elapsed_days, self.wait_days)


@dataclass(frozen=True)
class OnOrder:
    """What is still to come of one line, ordered ``elapsed_days`` ago, or to be ordered in ``wait_days``.

    A line ordered already is among the ``open_days`` of the record that ``lead_time`` rests on.
    """

    count: int
    lead_time: LeadTime
    elapsed_days: int = 0
    wait_days: int = 0

    def __post_init__(self) -> None:
        _check_due(self.count, self.elapsed_days, self.wait_days)


@dataclass(frozen=True)
class Supply:
    """What there is of a part and what is coming: free and serviceable, in or for work, on order."""

    free: int = 0
    in_work: tuple[InWork, ...] = ()
    on_order: tuple[OnOrder, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.free <= FREE_MAX:
            raise Refused(
                f"{self.free:,} pieces free are not between 0 and {FREE_MAX:,}.", "Count the stock again."
            )
        if self.most - self.free > DUE_MAX:
            raise Refused(
                f"{self.most - self.free:,} pieces due for one part are more than {DUE_MAX:,}.",
                "Correct what is on order and out for work.",
            )

    @property
    def most(self) -> int:
        """What there would be if everything came and all of it were good."""
        due = sum(each.count for each in self.in_work) + sum(each.count for each in self.on_order)
        return self.free + due

    @property
    def is_certain(self) -> bool:
        """Whether all there is lies on the shelf."""
        return self.most == self.free


def supply_by_month(supply: Supply, horizon: int, cap: int | None = None) -> Counts:
    """What there is by each month from 0 to the horizon, shape (months, cells); nothing lies beyond.

    More than ``cap`` counts as ``cap``: if need cannot pass it, that changes no shortage. The mean is then of
    what is counted.
    """
    import numpy as np

    due = due_by_month(supply, horizon)
    cap = supply.most if cap is None else min(cap, supply.most)
    cells = np.zeros((horizon + 1, cap + 1))
    # free may lie at the cap or above it, and then there is nothing more to tell apart.
    told = max(min(cap - supply.free, due.size), 0)
    cells[:, supply.free : supply.free + told] = due.cells[:, :told]
    cells[:, cap] += due.cells[:, told:].sum(axis=-1)
    return Counts(cells, cells @ np.arange(cap + 1))


def due_by_month(supply: Supply, horizon: int) -> Counts:
    """What has come in by each month from 0 to the horizon, free stock apart; nothing lies beyond."""
    import numpy as np

    total = certain(np.zeros(horizon + 1, int), 1)
    for part in (*_work_groups(supply.in_work, horizon), *_order_groups(supply.on_order, horizon)):
        total = convolve(total, part, total.size + part.size - 1)
    return total


def _work_groups(works: Sequence[InWork], horizon: int) -> list[Counts]:
    """What has come back good, one count for each yield."""
    import numpy as np

    groups: dict[YieldRecord, dict[LeadTime, list[InWork]]] = defaultdict(lambda: defaultdict(list))
    for work in works:
        if work.count:
            groups[work.good][work.turn_round].append(work)
    counts = []
    for good, firms in groups.items():
        back = certain(np.zeros(horizon + 1, int), 1)
        for turn_round, pieces in firms.items():
            from_firm = _back_from(turn_round, pieces, horizon)
            back = convolve(back, from_firm, back.size + from_firm.size - 1)
        cells = np.zeros_like(back.cells)
        for number in range(back.size):
            share = beta_binomial(number, good.alpha, good.beta, number + 1).cells
            cells[:, : number + 1] += back.cells[:, number, None] * share
        counts.append(_whole(cells))
    return counts


def _back_from(turn_round: LeadTime, pieces: Sequence[InWork], horizon: int) -> Counts:
    """How many of a firm's pieces are back, good or not, shape (months, cells)."""
    import numpy as np

    back = certain(np.array(0), 1)
    for each in pieces:
        arrived = _arrived(turn_round, each.elapsed_days, each.wait_days, horizon)
        back = convolve(back, binomial(each.count, arrived, each.count + 1), back.size + each.count)
    return _whole(np.tensordot(turn_round.weights, back.cells, axes=(0, 0)))


def _order_groups(orders: Sequence[OnOrder], horizon: int) -> list[Counts]:
    """What has come in, one count for each firm's lead time."""
    import numpy as np

    groups: dict[LeadTime, list[OnOrder]] = defaultdict(list)
    for order in orders:
        if order.count:
            groups[order.lead_time].append(order)
    counts = []
    for lead, lines in groups.items():
        cells = np.ones((len(lead.weights), horizon + 1, 1))
        for line in lines:
            arrived = _arrived(lead, line.elapsed_days, line.wait_days, horizon)[..., None]
            before = cells
            cells = np.zeros((*before.shape[:2], before.shape[2] + line.count))
            cells[..., : before.shape[2]] = before * (1 - arrived)
            cells[..., line.count :] += before * arrived
        counts.append(_whole(np.tensordot(lead.weights, cells, axes=(0, 0))))
    return counts


@lru_cache(maxsize=1024)
def _arrived(lead: LeadTime, elapsed_days: int, wait_days: int, horizon: int) -> np.ndarray:
    """P(here) at each node by the end of each month, shape (nodes, months)."""
    arrived = lead.arrival_by_node(elapsed_days, month_ends(horizon) - wait_days)
    arrived.flags.writeable = False
    return arrived


def _whole(cells: np.ndarray) -> Counts:
    import numpy as np

    return Counts(cells, cells @ np.arange(cells.shape[-1]))


def _check_due(count: int, elapsed_days: int, wait_days: int) -> None:
    if not 0 <= count <= DUE_MAX:
        raise Refused(f"{count:,} pieces due are not between 0 and {DUE_MAX:,}.", "Correct the number.")
    if elapsed_days < 0 or wait_days < 0 or (elapsed_days and wait_days):
        raise Refused(
            f"What is {elapsed_days} days on its way cannot be sent in {wait_days} days.",
            "Correct the dates.",
        )
