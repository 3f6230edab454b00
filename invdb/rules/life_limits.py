"""How the life of a piece, or of an engine, stands against each of its limits, and which runs out first.

Limits are by hours, starts and calendar months, since new and since overhaul. Across engine types the
smallest limit of the types served holds for the whole life, unless the document that sets it states a
proration: then what was run in each type uses up that type's limit in proportion, and the life ends when the
proportions come to one (linear cumulative damage, after Miner 1945). All is judged by the worst end of what
is known; hours are in hundredths.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from invdb.rules.calendar import months_after, months_between
from invdb.rules.due import DueSoon, severity, worst_verdict
from invdb.rules.life import (
    LifeVerdict,
    hours_words,
    life_verdict,
    prior_hours_words,
    prior_starts_words,
    starts_words,
)
from invdb.rules.running import RAN_NOTHING, Ran, Span
from invdb.rules.told import counted
from invdb.terms import PRIOR_LIFE_UNKNOWN, HoursKnown, LifeMeasure, LifeSince, PriorLife, RunningCounted

# An engine type's id; None for what was run before anyone noted in which type.
EngineType = int | None
_ONE = Fraction(1)


@dataclass(frozen=True)
class Limit:
    """One limit: ``amount`` in hundredths of an hour, starts or months, above zero.

    ``engine_type`` and mods are ids; a limit that asks for a mod, or for its absence, is one of that mod's
    engine type. ``key`` is the id of its record (None for the part's plain limit), ``holds_for`` says in
    words where it holds, ``source`` what sets it, ``concession`` which one put it instead of the usual.
    """

    measure: LifeMeasure
    amount: int
    counted: RunningCounted = RunningCounted.ALL
    since: LifeSince = LifeSince.NEW
    engine_type: int | None = None
    mods_required: frozenset[int] = frozenset()
    mods_barred: frozenset[int] = frozenset()
    prorated: bool = False
    key: int | None = None
    holds_for: str = ""
    source: str = ""
    concession: str = ""


@dataclass(frozen=True)
class Lived:
    """What a piece or an engine has run, by engine type, and the days from which its calendar counts.

    What was run before it came is under None; with no overhaul, what is since overhaul is since new.
    """

    since_new: Mapping[EngineType, Ran] = field(default_factory=dict)
    since_overhaul: Mapping[EngineType, Ran] = field(default_factory=dict)
    made_on: date | None = None
    overhauled_on: date | None = None

    def ran(self, since: LifeSince) -> Mapping[EngineType, Ran]:
        """By engine type, since new or since overhaul."""
        return self.since_new if since is LifeSince.NEW else self.since_overhaul

    def total(self, since: LifeSince) -> Ran:
        """In all engine types together."""
        return sum(self.ran(since).values(), RAN_NOTHING)

    def hours(self, since: LifeSince) -> Span:
        """The hours of that total, flight and ground running together."""
        low = high = open_ = 0
        for ran in self.ran(since).values():
            low += ran.flight.low + ran.ground.low
            high += ran.flight.high + ran.ground.high
            open_ += ran.flight.open + ran.ground.open
        return Span(low, high, open_)

    def counts_from(self, since: LifeSince) -> date | None:
        """The day from which calendar months count."""
        return self.made_on if since is LifeSince.NEW else self.overhauled_on


@dataclass(frozen=True)
class Serving:
    """The engine that a piece serves or is asked for: its type and the mods embodied on it, by their ids."""

    engine_type: int
    mods: frozenset[int] = frozenset()


@dataclass(frozen=True)
class LimitLine:
    """How one limit stands, in the limit's own measure.

    ``left_worst`` is what is left by the worst end (None where no one knows it), ``left_best`` by the best
    (None only where the calendar's first day is not known); below zero they say by how much it is over.
    ``share`` is the proportion used by the worst end that is known. ``due_on`` is the day on which a limit by
    the calendar ends. A line that ``depends`` holds only in some engine, and no engine was named: it decides
    nothing.
    """

    limit: Limit
    used: PriorLife
    left_worst: int | None
    left_best: int | None
    verdict: LifeVerdict
    share: Fraction
    depends: bool = False
    due_on: date | None = None


@dataclass(frozen=True)
class Judged:
    """Every limit's line, the one that governs, and the worst verdict among those that decide."""

    lines: tuple[LimitLine, ...] = ()
    governing: LimitLine | None = None
    verdict: LifeVerdict = LifeVerdict.NO_LIMIT


NOT_LIMITED = Judged()


def judge(
    lived: Lived, limits: Sequence[Limit], on: date, serving: Serving | None, soon: DueSoon | None = None
) -> Judged:
    """How a life stands on a day; ``governing`` is by what is left, see ``first_to_run_out``."""
    lines = limit_lines(lived, limits, on, serving, soon)
    deciding = [line for line in lines if not line.depends]
    return Judged(lines, first_to_run_out(lines), worst_verdict(line.verdict for line in deciding))


def limit_lines(
    lived: Lived, limits: Sequence[Limit], on: date, serving: Serving | None, soon: DueSoon | None = None
) -> tuple[LimitLine, ...]:
    """A line for each limit that holds, or may hold; prorated limits of one kind share one line.

    Without an engine, the limits of types that the piece has not served, and those for some mods only, are
    lines that depend. With one, limits of types neither served nor asked for are left out.
    """
    lines: list[LimitLine] = []
    prorated: dict[tuple[object, ...], list[tuple[Limit, bool]]] = {}
    for limit in limits:
        holds = _holds(limit, lived, serving)
        if holds is None:
            continue
        if limit.measure is LifeMeasure.MONTHS:
            lines.append(_calendar_line(limit, lived, on, not holds, soon))
        elif limit.prorated:
            prorated.setdefault((limit.measure, limit.counted, limit.since), []).append((limit, holds))
        else:
            used = what_counts(lived.total(limit.since), limit.measure, limit.counted)
            lines.append(_plain_line(limit, used, not holds, soon))
    for same in prorated.values():
        lines.append(_prorated_line(same, limits, lived, serving, soon))
    return tuple(lines)


def what_counts(ran: Ran, measure: LifeMeasure, what: RunningCounted) -> Span:
    """What of a running counts against a limit by hours or starts."""
    if measure is LifeMeasure.STARTS:
        return ran.starts
    return ran.hours if what is RunningCounted.ALL else ran.flight


def _served(lived: Lived, since: LifeSince) -> set[EngineType]:
    """The types in which it ran at all, or may have run."""
    return {
        engine_type
        for engine_type, ran in lived.ran(since).items()
        if any((span.high, span.open) != (0, 0) for span in (ran.flight, ran.ground, ran.starts))
    }


def _holds(limit: Limit, lived: Lived, serving: Serving | None) -> bool | None:
    """Whether a limit holds: True; False if that depends on an engine not named; None if it does not."""
    if limit.engine_type is None:
        return True
    own = serving is not None and serving.engine_type == limit.engine_type
    if serving is not None and own:
        bars = limit.mods_required - serving.mods or limit.mods_barred & serving.mods
        return None if bars else True
    served = _served(lived, limit.since)
    # What ran before it came may have run in any type: the worst is taken.
    if limit.engine_type not in served and None not in served:
        return False if serving is None else None
    return serving is not None or not (limit.mods_required or limit.mods_barred)


def _plain_line(limit: Limit, used: Span, depends: bool, soon: DueSoon | None) -> LimitLine:
    verdict = life_verdict(used.known(), limit.amount, soon_for(limit.measure, soon))
    best = limit.amount - used.low
    worst = limit.amount - used.high if not used.open else (best if best <= 0 else None)
    share = Fraction(used.low if used.open else used.high, limit.amount)
    return LimitLine(limit, used.known(), worst, best, verdict, share, depends)


def soon_for(measure: LifeMeasure, soon: DueSoon | None) -> int | None:
    """The threshold for hours or starts, in their unit; None where none is asked."""
    if soon is None:
        return None
    return soon.starts if measure is LifeMeasure.STARTS else soon.hours


def _calendar_line(limit: Limit, lived: Lived, on: date, depends: bool, soon: DueSoon | None) -> LimitLine:
    began = lived.counts_from(limit.since)
    if began is None:
        return LimitLine(limit, PRIOR_LIFE_UNKNOWN, None, None, LifeVerdict.UNKNOWN, Fraction(0), depends)
    due_on = months_after(began, limit.amount)
    elapsed = max(0, months_between(began, on))
    verdict = LifeVerdict.WITHIN
    if due_on <= on:
        verdict = LifeVerdict.EXPIRED
    elif soon is not None and due_on <= months_after(on, soon.months):
        verdict = LifeVerdict.DUE_SOON
    left = months_between(on, due_on)
    share = Fraction((on - began).days, max(1, (due_on - began).days))
    return LimitLine(
        limit, PriorLife(HoursKnown.EXACT, elapsed, elapsed), left, left, verdict, share, depends, due_on
    )


def _prorated_line(
    same: Sequence[tuple[Limit, bool]],
    limits: Sequence[Limit],
    lived: Lived,
    serving: Serving | None,
    soon: DueSoon | None,
) -> LimitLine:
    """One line for prorated limits of one kind, in terms of the limit where it serves, or of the smallest.

    What was run in a type uses up the smallest limit of that type; in a type with no limit of its own, or
    before anyone noted in which, the smallest of all.
    """
    deciding = [limit for limit, holds in same if holds] or [limit for limit, _ in same]
    here = [
        limit
        for limit in deciding
        if serving is not None and limit.engine_type in (serving.engine_type, None)
    ]
    shown = min(here or deciding, key=lambda limit: limit.amount)
    kind = (shown.measure, shown.counted, shown.since)
    alike = [
        limit
        for limit in limits
        if (limit.measure, limit.counted, limit.since) == kind and _holds(limit, lived, serving) is not None
    ]
    smallest = min(limit.amount for limit in alike)
    low = high = Fraction(0)
    open_ = 0
    for engine_type, ran in lived.ran(shown.since).items():
        own = [limit.amount for limit in alike if limit.engine_type in (engine_type, None)]
        amount = min(own, default=smallest) if engine_type is not None else smallest
        used = what_counts(ran, shown.measure, shown.counted)
        low += Fraction(used.low, amount)
        high += Fraction(used.high, amount)
        open_ += used.open
    best = _floor((_ONE - low) * shown.amount)
    worst = _floor((_ONE - high) * shown.amount) if not open_ else (best if low >= _ONE else None)
    verdict = LifeVerdict.WITHIN
    near = soon_for(shown.measure, soon)
    if low >= _ONE or (not open_ and high >= _ONE):
        verdict = LifeVerdict.EXPIRED
    elif open_:
        verdict = LifeVerdict.UNKNOWN
    elif near is not None and worst is not None and worst <= near:
        verdict = LifeVerdict.DUE_SOON
    # Rounded against the piece: what is left downward, so what is used upward.
    used = Span(shown.amount - best, shown.amount - _floor((_ONE - high) * shown.amount), open_)
    share = low if open_ else high
    return LimitLine(shown, used.known(), worst, best, verdict, share, not any(holds for _, holds in same))


def _floor(figure: Fraction) -> int:
    return figure.numerator // figure.denominator


def first_to_run_out(
    lines: Iterable[LimitLine], runs_out: Mapping[Limit, date] | None = None
) -> LimitLine | None:
    """The line that governs: what is expired, then what isn't known, then what runs out first.

    ``runs_out`` gives the earliest day on which each limit runs out, where the use of an engine is known.
    Without it, what is left is compared where all is in one measure; else the verdict, then the proportion
    used, decides. None where no line decides anything.
    """
    deciding = [line for line in lines if not line.depends]
    if not deciding:
        return None
    one_measure = len({line.limit.measure for line in deciding}) == 1

    def order(line: LimitLine) -> tuple[int, date, int, Fraction]:
        rank = min(severity(line.verdict), severity(LifeVerdict.DUE_SOON))
        if line.due_on is not None and runs_out is not None:
            day = line.due_on
        else:
            day = (runs_out or {}).get(line.limit, date.max)
        if runs_out is not None or one_measure:
            left = line.left_worst if line.left_worst is not None and one_measure else 0
            return rank, day, left, -line.share
        return severity(line.verdict), day, 0, -line.share

    return min(deciding, key=order)


def months_words(months: int) -> str:
    """'1 month', '24 months'."""
    return counted(months, "month", "months")


def amount_words(amount: int, measure: LifeMeasure) -> str:
    """'312.50 h', '40 starts' or '24 months'."""
    match measure:
        case LifeMeasure.HOURS:
            return hours_words(amount)
        case LifeMeasure.STARTS:
            return starts_words(amount)
        case LifeMeasure.MONTHS:
            return months_words(amount)


def limit_words(limit: Limit) -> str:
    """'600.00 h since new', '200.00 h since overhaul, flight only, in the Linnet'."""
    words = f"{amount_words(limit.amount, limit.measure)} since {limit.since}"
    if limit.measure is LifeMeasure.HOURS and limit.counted is RunningCounted.FLIGHT:
        words += f", {limit.counted}"
    if limit.holds_for:
        words += f", {limit.holds_for}"
    if limit.prorated:
        words += ", prorated"
    if limit.concession:
        words += f", by concession {limit.concession}"
    return words


def used_words(line: LimitLine) -> str:
    """What is used of the limit: a figure, a range, or how much of it is known."""
    match line.limit.measure:
        case LifeMeasure.HOURS:
            return prior_hours_words(line.used)
        case LifeMeasure.STARTS:
            return prior_starts_words(line.used)
        case LifeMeasure.MONTHS:
            return "not known" if line.used.low is None else months_words(line.used.low)


def left_words(line: LimitLine) -> str:
    """'12.50 h left', 'between 3.00 h and 40.00 h left', 'over by 1.00 h', 'until 2027-03-14'; never more
    than is known."""
    measure, worst, best = line.limit.measure, line.left_worst, line.left_best
    if line.due_on is not None:
        ended = line.verdict is LifeVerdict.EXPIRED
        return f"{'ended' if ended else 'until'} {line.due_on.isoformat()}"
    if best is None:
        return "the day from which it counts is not known"
    if best <= 0:
        return f"over by {amount_words(-best, measure)}" if best else "used up"
    if worst is None:
        return f"at most {amount_words(best, measure)} left, how much is not known"
    if worst == best:
        return f"{amount_words(worst, measure)} left"
    least = amount_words(worst, measure) if worst > 0 else "none"
    return f"between {least} and {amount_words(best, measure)} left"


def bar_words(judged: Judged, flight: bool) -> str | None:
    """Why a life forbids fitting, in a clause; None if it does not. What is not known forbids flight only."""
    for line in judged.lines:
        if not line.depends and line.verdict is LifeVerdict.EXPIRED:
            return f"life expired: {used_words(line)} of {limit_words(line.limit)}"
    for line in judged.lines:
        if flight and not line.depends and line.verdict is LifeVerdict.UNKNOWN:
            if line.limit.measure is LifeMeasure.MONTHS:
                return f"life used is not known: no day from which {limit_words(line.limit)} count"
            return f"life used is not known against {limit_words(line.limit)}"
    return None
