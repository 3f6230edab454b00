"""Whether a piece's life is used up, judged by the worst end of what is known."""

from __future__ import annotations

from enum import StrEnum

from invdb.terms import HoursKnown, PriorLife


class LifeVerdict(StrEnum):
    """What the hours run say against the limit."""

    NO_LIMIT = "no limit"
    WITHIN = "within limits"
    EXPIRED = "expired"
    UNKNOWN = "unknown"


def life_verdict(used: PriorLife, limit: int | None) -> LifeVerdict:
    """The verdict on hours run (or starts) against a limit, both in the same unit.

    Lower end >= limit, or a finite upper end >= limit: expired. No upper end and the lower end below the
    limit: unknown, never the lower figure.
    """
    if limit is None:
        return LifeVerdict.NO_LIMIT
    low = used.low or 0
    if low >= limit or (used.high is not None and used.high >= limit):
        return LifeVerdict.EXPIRED
    return LifeVerdict.UNKNOWN if used.high is None else LifeVerdict.WITHIN


def hours_words(life: PriorLife) -> str:
    """``120 h``, ``between 100 h and 140.5 h``, ``at least 300 h``, ``hours unknown``; from hundredths."""
    if life.known is HoursKnown.UNKNOWN:
        return "hours unknown"
    low = _hours(life.low or 0)
    if life.known is HoursKnown.AT_LEAST:
        return f"at least {low}"
    if life.known is HoursKnown.BETWEEN:
        return f"between {low} and {_hours(life.high or 0)}"
    return low


def _hours(hundredths: int) -> str:
    whole, rest = divmod(hundredths, 100)
    return f"{whole}.{rest:02d}".rstrip("0") + " h" if rest else f"{whole} h"
