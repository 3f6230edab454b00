"""Whether an authority's directive applies to an engine or a piece, and when it is next due.

A directive is complied with by its reference and method, once or again and again (14 CFR part 39). It is
first due within so many hours or months of the day it takes effect, or by a day; then, if it recurs, every
so many hours or months since it was last complied with. The first to come governs. Hours are in hundredths.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from invdb.rules.calendar import months_after
from invdb.rules.due import DueSoon
from invdb.rules.effectivity import Effectivity, EngineState, applies
from invdb.rules.life import LifeVerdict, hours_words
from invdb.rules.life_limits import months_words
from invdb.rules.running import NOTHING, Span
from invdb.terms import Scope


@dataclass(frozen=True)
class Applicability:
    """What a directive is for; None sets no bound.

    ``serial_from`` and ``serial_to`` are engine serials, both inclusive.
    """

    engine_type: str | None = None
    serial_from: str | None = None
    serial_to: str | None = None
    part: int | None = None
    batch: int | None = None

    @property
    def on_engines(self) -> bool:
        """Whether it is for engines as such, and not for pieces of a part or a batch."""
        return self.part is None and self.batch is None


def engine_bar(applicability: Applicability, engine_type: str, serial: str, on: date) -> str | None:
    """None if a directive is for this engine as far as type and serial go, else why not, in one clause."""
    bounds = Effectivity(
        applicability.engine_type,
        serial_from=applicability.serial_from,
        serial_to=applicability.serial_to,
    )
    return applies(bounds, EngineState(engine_type, serial, frozenset(), on, Scope.FLIGHT), "")


class DirectiveVerdict(StrEnum):
    """How a directive stands on an engine or a piece."""

    COMPLIED = "complied with"
    DUE_LATER = "due later"
    DUE_SOON = "due soon"
    OVERDUE = "overdue"
    UNKNOWN = "not known"

    @property
    def as_life(self) -> LifeVerdict:
        """The same among the verdicts of everything that falls due."""
        return {
            DirectiveVerdict.COMPLIED: LifeVerdict.NO_LIMIT,
            DirectiveVerdict.DUE_LATER: LifeVerdict.WITHIN,
            DirectiveVerdict.DUE_SOON: LifeVerdict.DUE_SOON,
            DirectiveVerdict.OVERDUE: LifeVerdict.EXPIRED,
            DirectiveVerdict.UNKNOWN: LifeVerdict.UNKNOWN,
        }[self]


@dataclass(frozen=True)
class DirectiveTerms:
    """When a directive is due. With none of the three that say when first, it is from ``effective_on`` on."""

    effective_on: date
    within_hours: int | None = None
    within_months: int | None = None
    due_on: date | None = None
    every_hours: int | None = None
    every_months: int | None = None

    @property
    def recurs(self) -> bool:
        """Whether it is to be complied with again and again."""
        return self.every_hours is not None or self.every_months is not None


@dataclass(frozen=True)
class DirectiveStanding:
    """The verdict with its reason in one clause, and the next limits: by hours, by the calendar, or both.

    ``hours_left`` is between what is left at the worst and at the best, below zero when over, and None where
    no hours count; with ``open`` in it nobody knows the worst. ``due_on`` is the last day in time.
    """

    verdict: DirectiveVerdict
    why: str
    hours_limit: int | None = None
    hours_left: Span | None = None
    due_on: date | None = None


def standing(
    terms: DirectiveTerms,
    on: date,
    *,
    complied_on: date | None = None,
    ran: Span = NOTHING,
    soon: DueSoon | None = None,
) -> DirectiveStanding:
    """How a directive stands at the end of a day, by the worst end of what is known.

    ``complied_on`` is when it was last complied with, None if never; ``ran`` what the engine or piece ran
    since then, or else since the directive took effect. Once as many hours were run as are allowed it is
    overdue; so is a day after the last one. With no upper end to what was run and the lower end below what
    is allowed, nobody knows, unless the calendar has overrun already.
    """
    if complied_on is not None and not terms.recurs:
        return DirectiveStanding(DirectiveVerdict.COMPLIED, f"complied with {complied_on.isoformat()}")
    hours, last_day, since = _limits(terms, complied_on)
    left = None if hours is None else Span(hours - ran.high, hours - ran.low, ran.open)
    verdict, why = _judge(hours, ran, last_day, on, soon)
    return DirectiveStanding(verdict, f"{why}{since}", hours, left, last_day)


def _limits(terms: DirectiveTerms, complied_on: date | None) -> tuple[int | None, date | None, str]:
    """The hours and the last day that hold now, and since when the hours count, in words."""
    if complied_on is not None:
        months = terms.every_months
        last_day = None if months is None else months_after(complied_on, months)
        return terms.every_hours, last_day, f", last complied with {complied_on.isoformat()}"
    days = [terms.due_on] if terms.due_on is not None else []
    if terms.within_months is not None:
        days.append(months_after(terms.effective_on, terms.within_months))
    if terms.within_hours is None and not days:
        days.append(terms.effective_on)
    return terms.within_hours, min(days, default=None), f", in effect from {terms.effective_on.isoformat()}"


def _judge(
    hours: int | None, ran: Span, last_day: date | None, on: date, soon: DueSoon | None
) -> tuple[DirectiveVerdict, str]:
    if last_day is not None and on > last_day:
        return DirectiveVerdict.OVERDUE, f"was due by {last_day.isoformat()}"
    if hours is not None and (ran.low >= hours or (not ran.open and ran.high >= hours)):
        return DirectiveVerdict.OVERDUE, f"was due within {hours_words(hours)}"
    ends = [] if hours is None else [f"within {hours_words(hours)}"]
    ends += [] if last_day is None else [f"by {last_day.isoformat()}"]
    said = f"due {' or '.join(ends)}"
    if hours is not None and ran.open:
        return DirectiveVerdict.UNKNOWN, f"{said}, and how much was run is not known"
    if soon is not None and (
        (hours is not None and hours - ran.high <= soon.hours)
        or (last_day is not None and months_after(on, soon.months) >= last_day)
    ):
        return DirectiveVerdict.DUE_SOON, said
    return DirectiveVerdict.DUE_LATER, said


def terms_words(terms: DirectiveTerms) -> str:
    """'once, within 10.00 h or 3 months of 2025-05-01', 'every 50.00 h, first by 2025-06-30'."""
    firsts = [] if terms.within_hours is None else [hours_words(terms.within_hours)]
    firsts += [] if terms.within_months is None else [months_words(terms.within_months)]
    first = f"within {' or '.join(firsts)} of {terms.effective_on.isoformat()}" if firsts else ""
    if terms.due_on is not None:
        first = f"{first} or by {terms.due_on.isoformat()}" if first else f"by {terms.due_on.isoformat()}"
    first = first or f"from {terms.effective_on.isoformat()} on"
    again = [] if terms.every_hours is None else [hours_words(terms.every_hours)]
    again += [] if terms.every_months is None else [months_words(terms.every_months)]
    return f"every {' or '.join(again)}, first {first}" if again else f"once, {first}"


def left_words(standing: DirectiveStanding) -> str:
    """'4.00 h, until 2025-08-01', 'none, over by 2.50 h'; '' once it is complied with for good."""
    said = [] if standing.hours_left is None else [_hours_left_words(standing.hours_left)]
    if standing.due_on is not None:
        said.append(f"until {standing.due_on.isoformat()}")
    return ", ".join(said)


def next_due_words(standing: DirectiveStanding) -> str:
    """'4.00 h left, until 2025-08-01', 'was due by 2025-06-23', 'was due within 50.00 h, over by 2.50 h'."""
    hours, limit = standing.hours_left, standing.hours_limit
    if standing.verdict is DirectiveVerdict.COMPLIED:
        return "nothing more is due"
    if standing.verdict is DirectiveVerdict.UNKNOWN:
        return standing.why
    if standing.verdict is DirectiveVerdict.OVERDUE:
        if hours is not None and limit is not None and hours.low <= 0:
            return f"was due within {hours_words(limit)}, {_over_words(hours)}"
        return f"was due by {standing.due_on.isoformat()}" if standing.due_on else standing.why
    said = [] if hours is None else [f"{_hours_left_words(hours)} left"]
    said += [] if standing.due_on is None else [f"until {standing.due_on.isoformat()}"]
    return ", ".join(said)


def _over_words(left: Span) -> str:
    """By how much hours are over of which by the worst end none are left."""
    if left.high > 0:
        return "which perhaps are run"
    if left.open:
        return f"over by {hours_words(-left.high)} or more"
    if left.low != left.high:
        return f"over by between {hours_words(-left.high)} and {hours_words(-left.low)}"
    return f"over by {hours_words(-left.high)}" if left.high else "which are run"


def _hours_left_words(left: Span) -> str:
    if left.open:
        if left.high <= 0:
            return f"none, over by {hours_words(-left.high)} or more"
        return f"at most {hours_words(left.high)} and perhaps none"
    least, most = (hours_words(end) if end > 0 else "none" for end in (left.low, left.high))
    if least != most:
        return f"between {least} and {most}"
    return least if left.high >= 0 else f"none, over by {hours_words(-left.high)}"
