"""What a sum of money is best spent on, as plain values for the screen and for paper."""

from __future__ import annotations

from dataclasses import dataclass

from invdb.terms import Measure


@dataclass(frozen=True)
class PlannedBuy:
    """So many of a part by one quote, in its smallest unit, and what that costs in minor units.

    ``short_before`` and ``short_after`` are how many of the part are short on average by the end of the
    horizon, in the same unit, without any of the buys and with all of them.
    """

    quote: int
    part: int
    house_number: str
    name: str
    measure: Measure
    firm: str
    quantity: int
    cost: int
    words: str
    short_before: float
    short_after: float


@dataclass(frozen=True)
class SpendingPlan:
    """The buys that lower the weighted expected shortage most for so much money, all in one currency.

    ``before`` and ``after`` are that shortage without and with them, at the end of the horizon, and ``curve``
    is what it comes to for other sums. ``weighed`` says in words how parts are weighed against one another;
    ``apart`` what is left out, such as the quotes in other currencies. Not ``proven`` where the best could
    not be told from others as good.
    """

    money: int
    currency: str
    buys: tuple[PlannedBuy, ...]
    spent: int
    before: float
    after: float
    proven: bool
    curve: tuple[tuple[int, float], ...]
    weighed: str
    apart: tuple[str, ...] = ()
