"""How a piece in an engine stands: its life against its limits as a gauge, and what is held against it."""

from __future__ import annotations

from dataclasses import dataclass

from gui.shown import Gauge
from gui.signs import urgency
from invdb.acts.life import LifeStanding
from invdb.rules.due import DueSoon
from invdb.rules.life_limits import (
    LimitLine,
    amount_words,
    limit_words,
    soon_for,
    used_words,
)
from invdb.terms import LifeMeasure

HUNDREDTHS = 100


@dataclass(frozen=True)
class Standing:
    """How a piece in an engine stands: its life, and what is held against it.

    ``holds`` are the reasons of open holds, ``events`` the engine events that no inspection has cleared.
    ``worked_out`` is False where its life was not asked for, which is not to say that it has no limit.
    """

    life: LifeStanding = LifeStanding()
    holds: tuple[str, ...] = ()
    events: tuple[str, ...] = ()
    worked_out: bool = True

    @property
    def sign(self) -> str:
        """The word of the most urgent sign that fits."""
        words: list[str] = [self.life.verdict if self.worked_out else "not worked out"]
        words += ["event not cleared"] if self.events else []
        words += ["on hold"] if self.holds else []
        return max(words, key=urgency)

    @property
    def doubts(self) -> tuple[str, ...]:
        """All that is held against it, in words."""
        return (*(f"on hold: {reason}" for reason in self.holds), *self.events)

    @property
    def forecast(self) -> str:
        """When the limit that governs runs out, in words, or ""."""
        return self.life.forecast.words if self.life.forecast is not None else ""


UNTOUCHED = Standing()
NOT_WORKED_OUT = Standing(worked_out=False)


def gauge_of(line: LimitLine, soon: DueSoon) -> Gauge:
    """The gauge of one limit, in that limit's own measure."""
    amount = line.limit.amount
    near = soon.months if line.limit.measure is LifeMeasure.MONTHS else soon_for(line.limit.measure, soon)
    return Gauge(
        line.used.low or 0,
        line.used.high,
        amount,
        f"{used_words(line)} of {limit_words(line.limit)}",
        line.verdict,
        amount - near if near is not None else None,
    )


def left_figure(line: LimitLine) -> str:
    """What is surely left in a few letters: "12 h left", "due 2027-03" of a calendar limit; "" if unknown.

    Hours are rounded down, since there must never seem to be more left than there is.
    """
    if line.due_on is not None:
        return f"due {line.due_on:%Y-%m}"
    if line.left_worst is None:
        return ""
    if line.limit.measure is LifeMeasure.HOURS:
        return f"{max(line.left_worst, 0) // HUNDREDTHS} h left"
    return f"{amount_words(max(line.left_worst, 0), line.limit.measure)} left"
