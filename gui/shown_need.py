"""What the charts of Buying show, as plain values: need and supply by month, and shortage against money."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Spread:
    """A mean, and the range that holds the figure with 80 %."""

    low: float
    mean: float
    high: float


@dataclass(frozen=True)
class NeedMonth:
    """How a part stands by the end of a month: what is wanted by then, what there will be, the chance of
    running short (0 to 1), the word of its sign, and all of it in words.

    ``need`` and ``supply`` are None while only the chance is known.
    """

    word: str
    chance: float
    sign: str
    told: str
    need: Spread | None = None
    supply: Spread | None = None


@dataclass(frozen=True)
class NeedPicture:
    """One part's months, in ``unit``, and the chances from which it is watched and counts as short."""

    unit: str
    months: tuple[NeedMonth, ...]
    watch: float
    short: float


@dataclass(frozen=True)
class MoneyPoint:
    """What shortage is left where so much is spent: how far across (0 to 1), what is left, both in words."""

    money: float
    left: float
    word: str
    told: str


@dataclass(frozen=True)
class MoneyCurve:
    """The points of the curve, the least money first, and which of them is the sum that was asked about."""

    points: tuple[MoneyPoint, ...]
    asked: int | None = None


def standing_of(chance: float, watch: float, short: float) -> str:
    """The word of the sign for a chance, both thresholds given as shares."""
    if chance >= short:
        return "runs short"
    return "to watch" if chance >= watch else "enough in sight"
