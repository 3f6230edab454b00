"""When an engine is due for overhaul, month by month, by what it will use up of each of its limits.

A limit is in hours, starts or calendar months alike: so much is left of it, each month uses up some, and the
overhaul gives all of it back. Months are counted from now, as in ``need``: 0 is now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True)
class Wearing:
    """A limit that wears: its whole ``amount``, what is ``left``, and what each month from the first uses.

    All in one unit: hundredths of an hour, starts or months. Past the last month named nothing is used.
    """

    amount: float
    left: float
    uses: tuple[float, ...]


@dataclass(frozen=True)
class Due:
    """The month in which an overhaul falls due, and which of the limits brings it."""

    month: int
    limit: int


def used_up_in(wearing: Wearing) -> int | None:
    """The month by whose end nothing of a limit is left; 0 if it is so now, None if it never is."""
    if wearing.left <= 0:
        return 0
    for month, used in enumerate(accumulate(wearing.uses), start=1):
        if used >= wearing.left:
            return month
    return None


def overhauls_due(limits: Sequence[Wearing], horizon: int, planned: int | None = None) -> tuple[Due, ...]:
    """The overhauls that the limits call for up to the horizon, each counted on from the one before.

    Up to the month ``planned`` none is called for: what is planned goes first, and counts begin anew in it.
    """
    due: list[Due] = []
    left = [limit.left for limit in limits]
    for month in range(horizon + 1):
        for each, limit in enumerate(limits):
            if 0 < month <= len(limit.uses):
                left[each] -= limit.uses[month - 1]
        if planned is not None and month <= planned:
            if month == planned:
                left = [limit.amount for limit in limits]
            continue
        over = [each for each, rest in enumerate(left) if rest <= 0]
        if over:
            due.append(Due(month, min(over, key=lambda each: left[each] / limits[each].amount)))
            left = [limit.amount for limit in limits]
    return tuple(due)
