"""What is not known of the history of an engine and of what is in it, as its status sheet says it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from invdb.rules.life import prior_hours_words, prior_starts_words
from invdb.rules.status import RunTotals, StatusGap
from invdb.terms import HoursKnown, PriorLife


def life_gaps(
    of: str, tag: str, received_on: date, hours: PriorLife, starts: PriorLife
) -> tuple[StatusGap, ...]:
    """What is not known of what a piece ran before it was received; a range is known."""
    return tuple(
        StatusGap(of, None, received_on, f"{noun} run before it was received: {words}", tag)
        for noun, prior, words in (
            ("hours", hours, prior_hours_words(hours)),
            ("starts", starts, prior_starts_words(starts)),
        )
        if prior.known in _OPEN
    )


_OPEN = frozenset({HoursKnown.UNKNOWN, HoursKnown.AT_LEAST})


# More pieces than this of which the same is not known are named by their tags alone.
_NAMED_MAX = 3


def together(gaps: Iterable[StatusGap]) -> tuple[StatusGap, ...]:
    """Gaps that are the same but for whose they are, as one; in the order in which they first come."""
    alike: dict[tuple[date | None, date | None, str], list[StatusGap]] = {}
    for gap in gaps:
        alike.setdefault((gap.from_on, gap.to_on, gap.why), []).append(gap)
    return tuple(StatusGap(_whose(same), *key) for key, same in alike.items())


def _whose(same: list[StatusGap]) -> str:
    if len(same) > _NAMED_MAX and all(gap.tag for gap in same):
        return f"{len(same)} pieces: {', '.join(gap.tag for gap in same)}"
    return "; ".join(gap.of for gap in same)


def log_gaps(totals: RunTotals) -> tuple[StatusGap, ...]:
    """What is not known exactly of what the engine ran before its log; or that no log is kept."""
    engine = "the engine"
    if totals.log_begun_on is None:
        return (StatusGap(engine, None, None, "no log is kept: what it ran is not known"),)
    return tuple(
        StatusGap(engine, None, totals.log_begun_on, f"{noun} run before its log began: {words}")
        for noun, prior, words in (
            ("hours", totals.before_hours, prior_hours_words(totals.before_hours)),
            ("starts", totals.before_starts, prior_starts_words(totals.before_starts)),
        )
        if prior.known is not HoursKnown.EXACT
    )
