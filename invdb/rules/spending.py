"""What a sum of money is best spent on: the offers that leave the least weighted shortage.

What is made least is the sum, over parts, of the weight of the part times E[short] of it at the end of the
horizon. An offer that arrives by then counts whole, whenever it arrives; one that arrives later is of no use.
Of each offer at most one quantity is bought, at or above its minimum, at the price that this quantity has.

For each part, or each group of parts that share stock, every choice of quantities has a cost and an effect;
one choice is taken of each, within the money. Piece by piece (marginal analysis, Sherbrooke 1968) that is
best only where neither minimums nor prices by quantity nor shared stock stand in the way, so the choices are
made exactly (``multiple_choice``). The answer is proven if nothing that may be better was left out.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import TYPE_CHECKING

from invdb.rules.multiple_choice import best_within
from invdb.rules.need import checked_horizon
from invdb.rules.pooled import Pool, PoolAtEnd, pooled_shortages, pools_at_end
from invdb.rules.shortage import PartCase
from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

MONEY_MAX = 10**13
QUANTITY_MAX = 10_000
# Pieces by which E[short] must fall for one piece more to be worth a look.
HELP_MIN = 1e-6
USEFUL_FIRST = 16
# Choices of one group of parts that share stock; beyond it the greatest quantities are left out.
CHOICES_MAX = 2_000


@dataclass(frozen=True)
class Offer:
    """So many of a part to be had, from a minimum to the most there are (None: as many as one likes).

    ``part`` is the place of the case among all cases, pool by pool. ``prices`` are (from so many on, price of
    each in minor units of money), the fewest first. ``arrives_month`` is by the end of which month from now.
    """

    key: str
    part: int
    minimum: int
    prices: tuple[tuple[int, int], ...]
    arrives_month: int
    most: int | None = None

    def __post_init__(self) -> None:
        froms = [start for start, _ in self.prices]
        if not froms or froms != sorted(set(froms)) or any(price < 0 for _, price in self.prices):
            raise Refused(
                f"The prices of {self.key} are not ascending by quantity, or one is below nothing.",
                "Give each quantity once, the least first, with its price.",
            )
        if not 1 <= self.minimum <= QUANTITY_MAX or froms[0] < 1 or self.arrives_month < 0:
            raise Refused(
                f"A minimum of {self.minimum:,} of {self.key}, from {froms[0]:,}, in month "
                f"{self.arrives_month} is out of range.",
                f"Give from 1 to {QUANTITY_MAX:,} pieces, and a month from 0.",
            )

    @property
    def fewest(self) -> int:
        """The fewest that can be bought: those that have a price, if they are more than the minimum."""
        return max(self.minimum, self.prices[0][0])

    def cost(self, quantity: int) -> int:
        """What so many cost, in minor units; at least ``fewest``."""
        place = bisect_right(self.prices, quantity, key=lambda each: each[0]) - 1
        return quantity * self.prices[place][1]

    def quantities(self, useful: int) -> list[int]:
        """What may be worth buying if more than ``useful`` is no use: more only where its price falls."""
        most = QUANTITY_MAX if self.most is None else min(self.most, QUANTITY_MAX)
        enough = max(useful, self.fewest)
        falls = [start for start, _ in self.prices if enough < start <= most]
        return [*range(self.fewest, min(enough, most) + 1), *falls]


@dataclass(frozen=True)
class Buy:
    """So many of an offer, and what they cost in minor units."""

    key: str
    quantity: int
    cost: int


@dataclass(frozen=True)
class Spending:
    """What to buy, in the order of the offers, with the weighted expected shortage before it and after it."""

    buys: tuple[Buy, ...]
    spent: int
    before: float
    after: float
    proven: bool


@dataclass(frozen=True)
class _Choice:
    """Some offers of one group taken together: what they cost, and how much less weighted shortage."""

    cost: int
    gain: float
    buys: tuple[tuple[Offer, int], ...]


@dataclass(frozen=True, eq=False)
class _Group:
    """Parts that share stock: where they are among all, their weights, and what may be bought of them."""

    parts: tuple[int, ...]
    weights: tuple[float, ...]
    at_end: PoolAtEnd

    def shortages(self, added: np.ndarray) -> np.ndarray:
        """The weighted E[short] with so many more of each, (choices, parts); shape (choices)."""
        import numpy as np

        weighed: np.ndarray = self.at_end.expected(added) @ np.array(self.weights)
        return weighed


def best_buys(
    pools: Sequence[Pool | PartCase],
    offers: Sequence[Offer],
    money: int,
    horizon: int,
    weights: Sequence[float] | None = None,
) -> Spending:
    """The buys that leave the least weighted expected shortage for so much money, in minor units.

    Pools and single parts may be mixed; ``weights`` are of each case, pool by pool, and 1 if not given.
    """
    problem = _Problem(pools, offers, _checked_money(money), horizon, weights)
    return problem.within(money)


def curve(
    pools: Sequence[Pool | PartCase],
    offers: Sequence[Offer],
    budgets: Iterable[int],
    horizon: int,
    weights: Sequence[float] | None = None,
) -> tuple[tuple[int, float], ...]:
    """The least weighted expected shortage for each sum of money, as (money, shortage), the least first."""
    sums = sorted({_checked_money(money) for money in budgets})
    if not sums:
        return ()
    problem = _Problem(pools, offers, sums[-1], horizon, weights)
    points: list[tuple[int, float]] = []
    for money in sums:
        # What a lesser sum buys a greater one buys as well, even where neither is proven.
        after = min(problem.within(money).after, points[-1][1] if points else float("inf"))
        points.append((money, after))
    return tuple(points)


class _Problem:
    """The choices of each group of parts, worked out once for every sum up to the greatest."""

    def __init__(
        self,
        pools: Sequence[Pool | PartCase],
        offers: Sequence[Offer],
        money: int,
        horizon: int,
        weights: Sequence[float] | None,
    ) -> None:
        checked_horizon(horizon)
        all_pools = [pool if isinstance(pool, Pool) else Pool((pool,)) for pool in pools]
        count = sum(len(pool.cases) for pool in all_pools)
        weighed = _checked_weights(weights, count)
        self.offers = tuple(offers)
        by_part: dict[int, list[Offer]] = defaultdict(list)
        for offer in _checked_offers(offers, count):
            if offer.arrives_month <= horizon:
                by_part[offer.part].append(offer)
        groups = _groups(all_pools, weighed, by_part, horizon)
        self.before = _left_out(all_pools, weighed, groups, horizon)
        self.whole = True
        self.choices: list[list[_Choice]] = []
        for group in groups:
            before, choices, whole = _choices(group, by_part, money)
            self.before += before
            self.choices.append(choices)
            self.whole = self.whole and whole

    def within(self, money: int) -> Spending:
        """The best of the choices within a sum."""
        chosen = best_within(
            [[(each.cost, each.gain) for each in choices if each.cost <= money] for choices in self.choices],
            money,
        )
        taken = [
            choices[place]
            for choices, place in zip(self.choices, chosen.places, strict=True)
            if place is not None
        ]
        bought = {offer.key: number for choice in taken for offer, number in choice.buys}
        buys = tuple(
            Buy(offer.key, bought[offer.key], offer.cost(bought[offer.key]))
            for offer in self.offers
            if offer.key in bought
        )
        after = self.before - sum(choice.gain for choice in taken)
        return Spending(
            buys, sum(buy.cost for buy in buys), self.before, max(after, 0.0), chosen.proven and self.whole
        )


def _groups(
    pools: Sequence[Pool], weights: Sequence[float], by_part: dict[int, list[Offer]], horizon: int
) -> list[_Group]:
    """Those groups of parts of which anything can be bought."""
    found: list[tuple[tuple[int, ...], Pool]] = []
    first = 0
    for pool in pools:
        for places, parted in pool.parted():
            parts = tuple(first + place for place in places)
            if any(part in by_part for part in parts):
                found.append((parts, parted))
        first += len(pool.cases)
    at_end = pools_at_end([parted for _, parted in found], horizon)
    return [
        _Group(parts, tuple(weights[part] for part in parts), end)
        for (parts, _), end in zip(found, at_end, strict=True)
    ]


def _left_out(
    pools: Sequence[Pool], weights: Sequence[float], groups: Sequence[_Group], horizon: int
) -> float:
    """The weighted E[short] of all parts that lie in none of the groups."""
    grouped = {part for group in groups for part in group.parts}
    left: list[Pool] = []
    weighed: list[float] = []
    first = 0
    for pool in pools:
        for places, parted in pool.parted():
            if first + places[0] not in grouped:
                left.append(parted)
                weighed += [weights[first + place] for place in places]
        first += len(pool.cases)
    shorts = [each for found in pooled_shortages(left, horizon) for each in found.shortages]
    return sum(weight * float(each.expected[-1]) for weight, each in zip(weighed, shorts, strict=True))


def _choices(group: _Group, by_part: dict[int, list[Offer]], money: int) -> tuple[float, list[_Choice], bool]:
    """What may be taken of a group, the cheapest first and each better than all before it.

    First the weighted E[short] with nothing taken, last whether all that may help has been looked at.
    """
    import numpy as np

    tables = [
        _part_choices(by_part[part], _useful(group, place), money) if part in by_part else [_NO_BUYS]
        for place, part in enumerate(group.parts)
    ]
    whole = True
    while sum(len(table) > 1 for table in tables) > 1 and prod(map(len, tables)) > CHOICES_MAX:
        max(tables, key=len).pop()
        whole = False
    # Of every part nothing comes first, and so it does of all together.
    together = [each for each in product(*tables) if sum(choice.cost for choice in each) <= money]
    short = group.shortages(np.array([[choice.number for choice in each] for each in together]))
    nothing = float(short[0])
    choices = [
        _Choice(
            sum(choice.cost for choice in each),
            nothing - float(left),
            tuple(buy for choice in each for buy in choice.buys),
        )
        for each, left in zip(together[1:], short[1:], strict=True)
    ]
    better: list[_Choice] = []
    for choice in sorted(choices, key=lambda each: (each.cost, -each.gain)):
        if choice.gain > (better[-1].gain if better else 0.0):
            better.append(choice)
    return nothing, better, whole


@dataclass(frozen=True)
class _PartChoice:
    """Some offers of one part taken together, and how many pieces of it all are of use."""

    number: int
    cost: int
    buys: tuple[tuple[Offer, int], ...]


_NO_BUYS = _PartChoice(0, 0, ())


def _part_choices(offers: Sequence[Offer], useful: int, money: int) -> list[_PartChoice]:
    """The cheapest way to each number of pieces, nothing first; more than ``useful`` counts as that."""
    import numpy as np

    # Of each number of pieces: what it costs at least, and for each offer how many of it are among them, and
    # how many are there without.
    costs = np.full(useful + 1, money + 1)
    costs[0] = 0
    steps: list[tuple[Offer, np.ndarray, np.ndarray]] = []
    for offer in offers:
        before, costs = costs, costs.copy()
        of_it, without = np.zeros(useful + 1, int), np.arange(useful + 1)
        for quantity in offer.quantities(useful):
            price = offer.cost(quantity)
            told = max(useful - quantity, 0)
            better = (before[:told] + price < costs[quantity : quantity + told]).nonzero()[0]
            # All that comes to what is useful, or to more, comes to the same.
            past = told + int(before[told:].argmin())
            if before[past] + price < costs[useful]:
                better = np.append(better, past)
            to = np.minimum(better + quantity, useful)
            costs[to], of_it[to], without[to] = before[better] + price, quantity, better
        steps.append((offer, of_it, without))
    choices = []
    for number in (costs <= money).nonzero()[0]:
        buys, left = [], int(number)
        for offer, of_it, without in reversed(steps):
            if of_it[left]:
                buys.append((offer, int(of_it[left])))
            left = int(without[left])
        choices.append(_PartChoice(int(number), int(costs[number]), tuple(buys)))
    return choices


def _useful(group: _Group, place: int) -> int:
    """From how many pieces of a part on one more of it helps by less than ``HELP_MIN``.

    Each piece helps at most as much as the one before, and less if there is more of its stand-ins.
    """
    import numpy as np

    most = USEFUL_FIRST
    while True:
        added = np.zeros((most + 1, len(group.parts)), int)
        added[:, place] = np.arange(most + 1)
        helped = -np.diff(group.at_end.expected(added).sum(axis=1))
        little = (helped < HELP_MIN).nonzero()[0]
        if len(little) or most == QUANTITY_MAX:
            return int(little[0]) if len(little) else QUANTITY_MAX
        most = min(4 * most, QUANTITY_MAX)


def _checked_money(money: int) -> int:
    if not 0 <= money <= MONEY_MAX:
        raise Refused(
            f"A sum of {money:,} is not between 0 and {MONEY_MAX:,}.", "Give the sum in minor units."
        )
    return money


def _checked_weights(weights: Sequence[float] | None, count: int) -> list[float]:
    if weights is None:
        return [1.0] * count
    if len(weights) != count or not all(0 <= each < 1e9 for each in weights):
        raise Refused(
            f"{len(weights)} weights for {count} parts do not give each part one from 0 on.",
            "Give one for each part.",
        )
    return list(weights)


def _checked_offers(offers: Sequence[Offer], count: int) -> Sequence[Offer]:
    keys = set()
    for offer in offers:
        if not 0 <= offer.part < count:
            raise Refused(
                f"{offer.key} is for part {offer.part} of {count}.", "Count the parts from 0, pool by pool."
            )
        if offer.key in keys:
            raise Refused(f"There are two offers {offer.key}.", "Tell them apart.")
        keys.add(offer.key)
    return offers
