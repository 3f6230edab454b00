"""What the shortage board says, as plain values: a row for each part, and what a row's figures rest on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from invdb.terms import Measure


@dataclass(frozen=True)
class ShortSettings:
    """The shop's own choices: chances in per cent, months, and days where a firm has no record.

    A part is watched from ``watch_percent`` on and short from ``short_percent`` on.
    """

    watch_percent: int = 5
    short_percent: int = 20
    horizon_months: int = 24
    lead_days: int = 90
    turn_round_days: int = 60


class ShortAction(StrEnum):
    """What can be done about a part that runs short."""

    BUY = "buy"
    MAKE = "have made"
    RECONDITION = "recondition"
    ROB = "take from the engine in store"


@dataclass(frozen=True)
class Advice:
    """One thing to do: how many, and in words with what it rests on (firm, minimum, price, engine)."""

    action: ShortAction
    quantity: int
    words: str


@dataclass(frozen=True)
class ShortRow:
    """One part with its stand-ins, over the horizon.

    Quantities are in the part's smallest unit. ``chances`` and ``expected`` are P(short) and the expected
    number short by the end of each month of the board, the first for now. ``engines`` are those it would
    stop, flying ones first. ``pooled`` are the house numbers of what shares its stock. ``error`` is the
    standard error of P(short) where it is simulated, None where exact. ``inspections`` is how many pieces
    looked at the reject rate rests on: with 0 the belief alone speaks. ``measure`` is how the part is
    counted.
    """

    part: int
    house_number: str
    name: str
    family: str
    free: int
    coming: int
    need_mean: float
    need_low: int
    need_high: int
    chances: tuple[float, ...]
    expected: tuple[float, ...]
    first_watch: date | None
    first_short: date | None
    engines: tuple[str, ...]
    stops_flying: bool
    advice: tuple[Advice, ...]
    pooled: tuple[str, ...] = ()
    error: float | None = None
    inspections: int = 0
    measure: Measure = Measure.COUNT

    @property
    def p_short(self) -> float:
        """P(short) by the end of the horizon."""
        return self.chances[-1]

    @property
    def expected_short(self) -> float:
        """The expected number short by the end of the horizon."""
        return self.expected[-1]


@dataclass(frozen=True)
class ShortBoard:
    """Every part that matters, worst first. ``months`` are the first days of this month and the next ones."""

    day: date
    months: tuple[date, ...]
    settings: ShortSettings
    rows: tuple[ShortRow, ...]


@dataclass(frozen=True)
class ShortList:
    """The board as it goes to paper: whose it is, when printed in the shop's zone, and what of it is shown.

    ``only`` says in words by what it was filtered; empty: the whole board.
    """

    workshop: str
    printed_at: datetime
    board: ShortBoard
    only: str = ""


@dataclass(frozen=True)
class Ground:
    """One thing that went into a figure: in words, and how many pieces it adds on average by the horizon."""

    words: str
    mean: float


@dataclass(frozen=True)
class MonthOutlook:
    """Need and supply by the end of a month: the mean, and the range that holds them with 80 %."""

    month: date
    need_mean: float
    need_low: int
    need_high: int
    supply_mean: float
    supply_low: int
    supply_high: int
    p_short: float


@dataclass(frozen=True)
class ShortReasons:
    """What a row's figures rest on: what went into need, into supply, and what each rate rests on."""

    row: ShortRow
    months: tuple[MonthOutlook, ...]
    need: tuple[Ground, ...]
    supply: tuple[Ground, ...]
    rates: tuple[str, ...]
