"""Whether what an authority allows beyond a limit still holds, judged by the worst end of what is known.

A concession ends on a day, or after so many hours, or at whichever of the two comes first (compare 14 CFR
91.417(a)(2): the current status of what limits a part). Hours are in hundredths.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from invdb.rules.life import hours_words
from invdb.rules.running import Span


class ConcessionVerdict(StrEnum):
    """How a concession stands; only one in force is relied on."""

    NOT_YET = "not in force yet"
    IN_FORCE = "in force"
    ENDED = "ended"
    UNKNOWN = "not known"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True)
class ConcessionTerms:
    """From when a concession holds and what ends it: the last day, the hours allowed, or both."""

    from_on: date
    until_on: date | None = None
    hours_allowed: int | None = None
    withdrawn_on: date | None = None


@dataclass(frozen=True)
class ConcessionStanding:
    """The verdict with its reason in one clause.

    ``hours_left`` is between what is left at the worst and at the best, never below zero; None where no hours
    end it. Where nobody knows how much was run, the worst is nothing.
    """

    verdict: ConcessionVerdict
    why: str
    hours_left: Span | None = None

    @property
    def in_force(self) -> bool:
        """Whether it may be relied on."""
        return self.verdict is ConcessionVerdict.IN_FORCE


def standing(concession: ConcessionTerms, on: date, hours_used: Span) -> ConcessionStanding:
    """How a concession stands at the end of a day; ``hours_used`` is what ran under it until then.

    Both of its days count as in force. Used up at the lower end, or at a finite upper end: ended. With no
    upper end and the lower end below what is allowed: not known.
    """
    left = None if concession.hours_allowed is None else _left(concession.hours_allowed, hours_used)
    verdict, why = _judge(concession, on, hours_used)
    return ConcessionStanding(verdict, why, left)


def _left(allowed: int, used: Span) -> Span:
    least = 0 if used.open else max(0, allowed - used.high)
    return Span(least, max(0, allowed - used.low))


def _judge(concession: ConcessionTerms, on: date, used: Span) -> tuple[ConcessionVerdict, str]:
    withdrawn, until, allowed = concession.withdrawn_on, concession.until_on, concession.hours_allowed
    if withdrawn is not None and withdrawn <= on:
        return ConcessionVerdict.WITHDRAWN, f"withdrawn {withdrawn.isoformat()}"
    if on < concession.from_on:
        return ConcessionVerdict.NOT_YET, f"in force from {concession.from_on.isoformat()}"
    if until is not None and until < on:
        return ConcessionVerdict.ENDED, f"ended {until.isoformat()}"
    if allowed is not None:
        if used.low >= allowed or (not used.open and used.high >= allowed):
            return ConcessionVerdict.ENDED, f"its {hours_words(allowed)} are used up"
        if used.open:
            said = f"how much of its {hours_words(allowed)} was run is not known"
            return ConcessionVerdict.UNKNOWN, said
    return ConcessionVerdict.IN_FORCE, _ends_words(until, allowed)


def _ends_words(until: date | None, allowed: int | None) -> str:
    ends = [f"until {until.isoformat()}"] if until is not None else []
    ends += [f"for {hours_words(allowed)}"] if allowed is not None else []
    return " or ".join(ends) + (", whichever comes first" if len(ends) > 1 else "")


def end_words(concession: ConcessionTerms) -> str:
    """'until 2026-06-30', 'for 50.00 h', or both with 'whichever comes first'."""
    return _ends_words(concession.until_on, concession.hours_allowed)


def hours_left_words(left: Span) -> str:
    """'12.50 h', 'between none and 12.50 h', 'none'."""
    least, most = (hours_words(end) if end else "none" for end in (left.low, left.high))
    return least if left.low == left.high else f"between {least} and {most}"
