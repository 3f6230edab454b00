"""Whether a piece's life is used up, judged by the worst end of what is known."""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import StrEnum

from invdb.rules.told import counted
from invdb.terms import PRIOR_LIFE_UNKNOWN, FieldRefused, HoursKnown, PriorLife

_FIGURE = r"(\d{1,7}(?:\.\d{1,2})?)"
_BETWEEN = re.compile(rf"(?:between\s+)?{_FIGURE}\s*(?:-|–|to|and)\s*{_FIGURE}")
_AT_LEAST = re.compile(rf"(?:at\s+least|>=|≥)\s*{_FIGURE}")


class LifeVerdict(StrEnum):
    """What the hours run say against the limit."""

    NO_LIMIT = "no limit"
    WITHIN = "within limits"
    DUE_SOON = "due soon"
    EXPIRED = "expired"
    UNKNOWN = "unknown"


def life_verdict(used: PriorLife, limit: int | None, soon: int | None = None) -> LifeVerdict:
    """The verdict on hours run (or starts) against a limit, both in the same unit.

    Lower end >= limit, or a finite upper end >= limit: expired. No upper end and the lower end below the
    limit: unknown, never the lower figure. Due soon if the upper end leaves no more than ``soon``.
    """
    if limit is None:
        return LifeVerdict.NO_LIMIT
    low = used.low or 0
    if low >= limit or (used.high is not None and used.high >= limit):
        return LifeVerdict.EXPIRED
    if used.high is None:
        return LifeVerdict.UNKNOWN
    return LifeVerdict.DUE_SOON if soon is not None and limit - used.high <= soon else LifeVerdict.WITHIN


def hours_words(hundredths: int) -> str:
    """'312.50 h' for 31250 hundredths of an hour."""
    sign = "-" if hundredths < 0 else ""
    whole, rest = divmod(abs(hundredths), 100)
    return f"{sign}{whole}.{rest:02d} h"


def starts_words(starts: int) -> str:
    """'1 start', '40 starts'."""
    return counted(starts, "start", "starts")


def prior_hours_words(prior: PriorLife) -> str:
    """'312.50 h', 'between … and …', 'at least …, no upper end known', or 'not known'."""
    return _prior_words(prior, hours_words)


def prior_starts_words(prior: PriorLife) -> str:
    """As ``prior_hours_words``, for starts."""
    return _prior_words(prior, starts_words)


def hours_and_starts_words(hours: PriorLife, starts: PriorLife) -> str:
    """'312.50 h and 40 starts', 'hours not known and at least 40 starts, no upper end known'."""
    said = [
        f"{noun} not known" if prior.known is HoursKnown.UNKNOWN else words(prior)
        for noun, prior, words in (
            ("hours", hours, prior_hours_words),
            ("starts", starts, prior_starts_words),
        )
    ]
    return " and ".join(said)


def _prior_words(prior: PriorLife, words: Callable[[int], str]) -> str:
    match prior.known, prior.low, prior.high:
        case HoursKnown.EXACT, int(low), _:
            return words(low)
        case HoursKnown.BETWEEN, int(low), int(high):
            return f"between {words(low)} and {words(high)}"
        case HoursKnown.AT_LEAST, int(low), _:
            return f"at least {words(low)}, no upper end known"
        case _:
            return "not known"


def read_prior(text: str, field: str, parts: int = 100) -> PriorLife:
    """What a person typed of hours (or starts) run before we had the piece.

    ``120``, ``between 100 and 140``, ``at least 300`` and ``unknown`` are understood.

    ``parts`` is how many of the stored unit go into one: 100 for hours, 1 for starts. Refused, for that
    field, when it can't be read, has a fraction of a start, or its lower figure is the higher one.
    """
    said = " ".join(text.casefold().replace(" h", " ").split()).removesuffix("h").strip()
    if said in {"", "unknown"}:
        return PRIOR_LIFE_UNKNOWN
    if match := _AT_LEAST.fullmatch(said):
        return PriorLife(HoursKnown.AT_LEAST, _scaled(match[1], field, parts))
    if match := _BETWEEN.fullmatch(said):
        low, high = _scaled(match[1], field, parts), _scaled(match[2], field, parts)
        if low > high:
            raise FieldRefused(
                field, f"{text.strip()!r} ends below where it begins.", "Give the lower figure first."
            )
        return PriorLife(HoursKnown.BETWEEN, low, high)
    if re.fullmatch(_FIGURE, said):
        figure = _scaled(said, field, parts)
        return PriorLife(HoursKnown.EXACT, figure, figure)
    raise FieldRefused(
        field,
        f"{text.strip()[:60]!r} can't be read.",
        "Type 120, between 100 and 140, at least 300, or unknown.",
    )


def _scaled(figure: str, field: str, parts: int) -> int:
    whole, _, rest = figure.partition(".")
    if parts == 1 and rest.strip("0"):
        raise FieldRefused(field, f"{figure} is not a whole number.", "Starts are counted.")
    return int(whole) * parts + (int(rest.ljust(2, "0")) if parts == 100 and rest else 0)
