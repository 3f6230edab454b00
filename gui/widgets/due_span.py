"""How a due list lies on its time axis: how far ahead it looks, and where each bar begins and ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from gui.shown import DueBar
from gui.widgets.time_axis import TimeAxis

YEAR = timedelta(days=365)
AHEAD = (YEAR / 4, YEAR / 2, YEAR, 2 * YEAR, 5 * YEAR, 10 * YEAR, 25 * YEAR)
# What lies behind today is past caring how long; it has this share of the axis.
BEHIND_SHARE = 0.08
SHOWN_SHARE = 0.75
AHEAD_FIRST_MAX = 5


@dataclass(frozen=True)
class BarEnds:
    """Where a bar is drawn, in pixels, and whether it goes on beyond the right end of the axis.

    ``beyond`` alone, with ``left`` at ``right``, is one that only begins there.
    """

    left: float
    right: float
    beyond: bool


def axis_of(today: date, ahead: timedelta, left: float, right: float) -> TimeAxis:
    """An axis that looks so far ahead of today, and a little behind."""
    behind = timedelta(days=max(1, round(ahead.days * BEHIND_SHARE)))
    return TimeAxis(today - behind, today + ahead, left, max(right, left + 1))


def ahead_for(bars: Sequence[DueBar], today: date) -> int:
    """How far ahead to look at first, as a place in ``AHEAD``: until most of what has a day has begun."""
    begins = sorted(bar.earliest for bar in bars if bar.earliest is not None)
    if not begins:
        return 2
    wanted = begins[min(len(begins) - 1, int(len(begins) * SHOWN_SHARE))] - today
    fits = [at for at, ahead in enumerate(AHEAD) if ahead >= wanted]
    return min(fits[0] if fits else len(AHEAD) - 1, AHEAD_FIRST_MAX)


def ends_of(bar: DueBar, axis: TimeAxis) -> BarEnds | None:
    """Where the bar lies on the axis; None where no day can be told."""
    if bar.earliest is None:
        return None
    beyond = bar.latest is None or bar.latest > axis.last
    right = axis.right if beyond or bar.latest is None else axis.within(bar.latest)
    return BarEnds(axis.within(bar.earliest), right, beyond)
