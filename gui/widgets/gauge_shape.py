"""Where the parts of a life gauge lie along it, as shares of its length: plain figures, no Tk."""

from __future__ import annotations

from dataclasses import dataclass

from gui.shown import Gauge

# How much of an open end is drawn beyond what is known to have been used, as a share of the gauge.
OPEN_SHARE = 0.12


@dataclass(frozen=True)
class GaugeShape:
    """Shares of the gauge's length, each 0 to 1, in rising order of ``used``, ``doubtful``.

    ``used`` is the end of what was certainly used, ``doubtful`` the end of what may have been. ``open`` is
    True where nobody knows how much more. ``limit`` and ``soon`` are where their ticks stand; ``soon`` None
    for none.
    """

    used: float
    doubtful: float
    open: bool
    limit: float
    soon: float | None


def shape_of(gauge: Gauge) -> GaugeShape:
    """Lay the gauge out: its length is the limit, or what was used if that is more.

    A limit of nothing is a gauge used up from the start.
    """
    high = gauge.used_high if gauge.used_high is not None else gauge.used_low
    whole = max(gauge.limit, gauge.used_low, high)
    if whole <= 0:
        return GaugeShape(1.0, 1.0, gauge.used_high is None, 1.0, None)
    used = max(0.0, gauge.used_low / whole)
    doubtful = max(used, high / whole)
    if gauge.used_high is None:
        doubtful = min(1.0, used + OPEN_SHARE)
    soon = gauge.soon / whole if gauge.soon is not None and 0 < gauge.soon < gauge.limit else None
    return GaugeShape(used, doubtful, gauge.used_high is None, gauge.limit / whole, soon)


def left_share(gauge: Gauge) -> float:
    """How much of the life is surely left, 1 for all of it and 0 for none; 0 where no upper end is known."""
    if gauge.used_high is None or gauge.limit <= 0:
        return 0.0
    return min(1.0, max(0.0, 1 - gauge.used_high / gauge.limit))
