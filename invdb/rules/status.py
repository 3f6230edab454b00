"""The status sheet of an engine: what an owner hands over with it when it is sold.

Its contents are those of 14 CFR 91.417(a)(2): total time in service, the current status of life-limited
parts, time since overhaul, inspection status, the status of directives; with what else is known of doubts
and gaps. Hours are in hundredths.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.history import HoldLine
from invdb.rules.life import LifeVerdict, hours_words, prior_hours_words, prior_starts_words, starts_words
from invdb.rules.running import RAN_NOTHING, Ran, span_of
from invdb.terms import HoursKnown, LifeMeasure, LifeSince, PriorLife, RunningCounted, Scope

_SETTLED = frozenset({LifeVerdict.WITHIN, LifeVerdict.NO_LIMIT})


@dataclass(frozen=True)
class RunTotals:
    """What an engine ran: before its log began, where flight and ground are not told apart, and since."""

    before_hours: PriorLife
    before_starts: PriorLife
    logged: Ran = RAN_NOTHING
    log_begun_on: date | None = None

    @property
    def hours(self) -> PriorLife:
        """Flight and ground running together, in all its life."""
        return (span_of(self.before_hours) + self.logged.hours).known()

    @property
    def starts(self) -> PriorLife:
        """In all its life."""
        return (span_of(self.before_starts) + self.logged.starts).known()


@dataclass(frozen=True)
class LimitStanding:
    """How one limit stands: ``limit`` and ``used`` in hundredths of an hour, starts, or calendar months.

    A limit by the calendar has ``due_on``, the day it runs out, where that is known. ``forecast`` says in
    words when it will run out by the engine's own recent use. ``source`` is the document that sets it.
    """

    measure: LifeMeasure
    used: PriorLife
    limit: int
    verdict: LifeVerdict
    counted: RunningCounted = RunningCounted.ALL
    since: LifeSince = LifeSince.NEW
    due_on: date | None = None
    forecast: str = ""
    source: str = ""


@dataclass(frozen=True)
class LifeLine:
    """A life-limited piece in the engine, with every limit that holds for it, the governing one first."""

    station: str
    tag: str
    part_number: str
    part_name: str
    serial: str
    limits: tuple[LimitStanding, ...]


@dataclass(frozen=True)
class OverhaulStatus:
    """What the engine ran since its last overhaul; with none recorded, since new.

    A figure that an overhaul's report does not reset still counts since new.
    """

    overhauled_on: date | None
    report: str
    hours: PriorLife
    starts: PriorLife
    limits: tuple[LimitStanding, ...] = ()


@dataclass(frozen=True)
class DirectiveLine:
    """How one directive stands on the engine or on a piece in it (``subject``).

    With ``not_applicable`` it says why it does not apply, and the rest is empty. ``next_due`` is in words.
    """

    reference: str
    issue: str
    title: str
    method: str
    subject: str = ""
    complied_on: date | None = None
    complied_by: str = ""
    complied_method: str = ""
    next_due: str = ""
    overdue: bool = False
    not_applicable: str = ""


@dataclass(frozen=True)
class ConcessionLine:
    """What an authority allows beyond a limit for a piece in the engine.

    Its end and what is left of it are in words.
    """

    reference: str
    authority: str
    piece: str
    station: str
    allows: str
    ends: str
    left: str
    document: str = ""
    ended: bool = False


@dataclass(frozen=True)
class EventLine:
    """What befell the engine, or once befell another that a piece in it was inside, and is not cleared.

    ``of_engine`` is the engine it befell; ``not_cleared`` names each thing that no inspection has cleared.
    """

    kind: str
    event_on: date
    of_engine: str
    note: str
    not_cleared: tuple[str, ...]


@dataclass(frozen=True)
class ModLine:
    """A mod of the type that is embodied, since when if known."""

    code: str
    name: str
    since_on: date | None = None


@dataclass(frozen=True)
class IncompleteStation:
    """A station where something that its kit asks for is missing; quantities in words."""

    station: str
    part: str
    missing: str


@dataclass(frozen=True)
class DebtLine:
    """What was robbed from the engine and is owed back."""

    station: str
    part: str
    owed_on: date
    authorised_by: str
    for_engine: str = ""
    reason: str = ""


@dataclass(frozen=True)
class PresumedStation:
    """A station presumed filled, by what it should be; nobody has seen what is there."""

    station: str
    part: str
    presumed_on: date


@dataclass(frozen=True)
class StatusGap:
    """What is not known of the engine or of a piece in it; either day is None where no one knows it."""

    of: str
    from_on: date | None
    to_on: date | None
    why: str


@dataclass(frozen=True)
class StatusSheet:
    """Everything an owner hands over about an engine, as it stood at the end of ``as_of``.

    ``meter`` is its reading in hundredths, None where it has no meter. ``presumed`` stations hold something
    that nobody has identified. ``last_entry`` and ``last_hash`` are those of the whole ledger when the sheet
    was printed; ``printed_at`` is in the shop's own zone.
    """

    workshop: str
    printed_at: datetime
    as_of: date
    name: str
    type_name: str
    serial: str
    owner: str
    use: Scope
    totals: RunTotals
    meter: int | None
    overhaul: OverhaulStatus
    last_entry: int
    last_hash: str
    life: tuple[LifeLine, ...] = ()
    directives: tuple[DirectiveLine, ...] = ()
    concessions: tuple[ConcessionLine, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    events: tuple[EventLine, ...] = ()
    mods: tuple[ModLine, ...] = ()
    incomplete: tuple[IncompleteStation, ...] = ()
    debts: tuple[DebtLine, ...] = ()
    presumed: tuple[PresumedStation, ...] = ()
    gaps: tuple[StatusGap, ...] = ()


def months_words(months: int) -> str:
    """'1 month', '24 months'."""
    return f"{months} month" if months == 1 else f"{months} months"


def figure_words(figure: int, measure: LifeMeasure) -> str:
    """'312.50 h', '40 starts' or '24 months'."""
    match measure:
        case LifeMeasure.HOURS:
            return hours_words(figure)
        case LifeMeasure.STARTS:
            return starts_words(figure)
        case LifeMeasure.MONTHS:
            return months_words(figure)


def amount_words(amount: PriorLife, measure: LifeMeasure) -> str:
    """A figure, a range, 'at least …, no upper end known', or 'not known'."""
    match measure:
        case LifeMeasure.HOURS:
            return prior_hours_words(amount)
        case LifeMeasure.STARTS:
            return prior_starts_words(amount)
        case LifeMeasure.MONTHS:
            return _months_amount_words(amount)


def _months_amount_words(amount: PriorLife) -> str:
    match amount.known, amount.low, amount.high:
        case HoursKnown.EXACT, int(low), _:
            return months_words(low)
        case HoursKnown.BETWEEN, int(low), int(high):
            return f"between {months_words(low)} and {months_words(high)}"
        case HoursKnown.AT_LEAST, int(low), _:
            return f"at least {months_words(low)}, no upper end known"
        case _:
            return "not known"


def limit_words(standing: LimitStanding) -> str:
    """'600.00 h since new', '200.00 h since overhaul, flight only', '120 months since new'."""
    words = f"{figure_words(standing.limit, standing.measure)} since {standing.since}"
    if standing.measure is LifeMeasure.HOURS and standing.counted is RunningCounted.FLIGHT:
        words += f", {standing.counted}"
    return words


def used_words(standing: LimitStanding) -> str:
    """What is used up of the limit, as far as it is known."""
    return amount_words(standing.used, standing.measure)


def left_words(standing: LimitStanding) -> str:
    """What is left of a limit, the worse end first: never more than is known.

    'at most 40.00 h, how much is not known' where what was used has no upper end; 'none, over by 3.00 h'
    once it is used up at the least. By the calendar, the day it runs out.
    """
    if standing.due_on is not None:
        ended = standing.verdict is LifeVerdict.EXPIRED
        return (
            f"none, since {standing.due_on.isoformat()}" if ended else f"until {standing.due_on.isoformat()}"
        )
    used, measure = standing.used, standing.measure
    most = standing.limit - (used.low or 0)
    if most <= 0:
        return f"none, over by {figure_words(-most, measure)}" if most else "none"
    if used.high is None:
        if used.known is HoursKnown.UNKNOWN:
            return "not known"
        return f"at most {figure_words(most, measure)}, how much is not known"
    least = standing.limit - used.high
    if least == most:
        return figure_words(most, measure)
    return (
        f"between {figure_words(least, measure) if least > 0 else 'none'} and {figure_words(most, measure)}"
    )


def least_left(standing: LimitStanding) -> int | None:
    """What is left at the worst, in the measure's unit; below zero when over, None where no one knows it."""
    if standing.used.high is not None:
        return standing.limit - standing.used.high
    over = standing.limit - (standing.used.low or 0)
    return over if over <= 0 else None


def not_within(standing: LimitStanding) -> bool:
    """Whether a limit is used up, nearly so, or nobody knows."""
    return standing.verdict not in _SETTLED


def meter_words(meter: int | None) -> str:
    """'reads 812.40 h', or that there is none."""
    return "no meter, logged by hand" if meter is None else f"reads {hours_words(meter)}"


def against(sheet: StatusSheet) -> tuple[str, ...]:
    """Each thing on record that stands against the engine, in a sentence; the gravest kinds first."""
    return tuple(_against(sheet))


def _against(sheet: StatusSheet) -> Iterator[str]:
    held: dict[str, list[str]] = {}
    for hold in sheet.holds:
        held.setdefault(hold.reason, []).append(hold.on_what or "the engine")
    for reason, subjects in held.items():
        what = subjects[0] if len(subjects) == 1 else f"{len(subjects)} things"
        yield f"On hold, {what}: {reason}"
    for line in sheet.life:
        for standing in line.limits:
            if not_within(standing):
                what = f"{line.part_name} {line.tag}, {line.station}"
                yield f"{what}: {standing.verdict} ({limit_words(standing)})"
    for standing in sheet.overhaul.limits:
        if not_within(standing):
            yield f"Overhaul life: {standing.verdict} ({limit_words(standing)})"
    for directive in sheet.directives:
        if directive.overdue:
            yield f"Directive {directive.reference} is overdue: {directive.next_due}"
    for concession in sheet.concessions:
        if concession.ended:
            yield f"Concession {concession.reference} for {concession.piece} has ended: {concession.ends}"
    for event in sheet.events:
        yield f"{event.kind.capitalize()} of {event.event_on.isoformat()} is not cleared"
    if sheet.incomplete:
        yield _counted(len(sheet.incomplete), "station is incomplete", "stations are incomplete")
    if sheet.presumed:
        yield _counted(
            len(sheet.presumed),
            "station holds what nobody has identified",
            "stations hold what nobody has identified",
        )
    if sheet.gaps:
        yield _counted(len(sheet.gaps), "gap in the history is known", "gaps in the history are known")


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
