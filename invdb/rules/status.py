"""The status sheet of an engine: what an owner hands over with it when it is sold.

Its contents are those of 14 CFR 91.417(a)(2): total time in service, the current status of life-limited
parts, time since overhaul, inspection status, the status of directives; with what else is known of doubts
and gaps. Hours are in hundredths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.build import Build, BuiltPosition, BuiltStation
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.history import HoldLine
from invdb.rules.life import LifeVerdict, hours_words, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import LimitLine, limit_words
from invdb.rules.quantities import quantity_words
from invdb.rules.running import RAN_NOTHING, Ran, span_of
from invdb.rules.told import counted
from invdb.terms import HoursKnown, Measure, PriorLife, Scope

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
    """How one limit stands, and in words when it will run out by the engine's own use of late."""

    line: LimitLine
    forecast: str = ""

    @property
    def settled(self) -> bool:
        """Whether there is life left of it, and not near its end."""
        return self.line.verdict in _SETTLED


@dataclass(frozen=True)
class LifeLine:
    """A life-limited piece in the engine, with every limit that holds for it, the governing one first.

    ``since_new`` is what it ran in all; it stands alone where no limit is recorded.
    """

    station: str
    tag: str
    part_number: str
    part_name: str
    serial: str
    limits: tuple[LimitStanding, ...]
    since_new: Ran = RAN_NOTHING


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

    With ``not_applicable`` it says why it does not apply, and has no verdict. ``next_due`` is in words.
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
    verdict: DirectiveVerdict | None = None
    not_applicable: str = ""

    @property
    def overdue(self) -> bool:
        """Whether it should have been complied with by then."""
        return self.verdict is DirectiveVerdict.OVERDUE


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
    verdict: ConcessionVerdict = ConcessionVerdict.IN_FORCE

    @property
    def ended(self) -> bool:
        """Whether nothing more is allowed by it."""
        return self.verdict is ConcessionVerdict.ENDED


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
class IncompletePosition:
    """A position where so many ``stations`` are short of what its kit asks for; what, station by station."""

    position: str
    stations: int
    missing: tuple[str, ...]


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
    """What is not known of the engine or of a piece in it, or of several of which the same is not known.

    Either day is None where no one knows it, or the gap lasts. ``tag`` is that of a piece.
    """

    of: str
    from_on: date | None
    to_on: date | None
    why: str
    tag: str = ""


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
    incomplete: tuple[IncompletePosition, ...] = ()
    debts: tuple[DebtLine, ...] = ()
    presumed: tuple[PresumedStation, ...] = ()
    gaps: tuple[StatusGap, ...] = ()


def incomplete_positions(build: Build) -> tuple[IncompletePosition, ...]:
    """The positions of a build where less is recorded than the kit list asks for; see ``_missing``.

    A position where nothing at all is recorded says only that. What is presumed at a station fills it.
    """
    found: list[IncompletePosition] = []
    for position in build.positions:
        asked = [station for station in position.stations if station.lines]
        name = f"{position.group} {position.name}"
        if asked and not any(station.filling or station.presumed for station in asked):
            found.append(IncompletePosition(name, len(asked), ("all of its kit: nothing is recorded here",)))
            continue
        short = [tuple(_missing(station)) for station in asked if not station.presumed]
        if stations := sum(bool(each) for each in short):
            found.append(IncompletePosition(name, stations, tuple(words for each in short for words in each)))
    return tuple(found)


def _missing(station: BuiltStation) -> Iterator[str]:
    """What of each kit line is missing. A part that no line names stands in for the first that are short.

    It is counted one for one; so half of a set that stands in for one part is not noticed.
    """
    there: dict[int, int] = {}
    for thing in station.filling:
        there[thing.part] = there.get(thing.part, 0) + thing.quantity
    standing_in = sum(
        quantity for part, quantity in there.items() if part not in {line.part for line in station.lines}
    )
    for line in station.lines:
        used = min(there.get(line.part, 0), line.quantity)
        there[line.part] = there.get(line.part, 0) - used
        lent = min(standing_in, line.quantity - used)
        standing_in -= lent
        if short := line.quantity - used - lent:
            what = f"{station.name} ({line.part_name})" if len(station.lines) > 1 else station.name
            if (short, line.quantity) == (1, 1):
                yield what
            else:
                yield f"{what}: {_amount(short, line.measure)} of {_amount(line.quantity, line.measure)}"


def _amount(quantity: int, measure: Measure) -> str:
    return str(quantity) if measure is Measure.COUNT else quantity_words(quantity, measure)


def station_words(position: BuiltPosition, station: str) -> str:
    """'cylinder 5, exhaust valve'."""
    return f"{position.group} {position.name}, {station}"


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
            if not standing.settled:
                yield f"{line.part_name} {line.tag}, {line.station}: {_verdict_words(standing)}"
    for standing in sheet.overhaul.limits:
        if not standing.settled:
            yield f"Overhaul life: {_verdict_words(standing)}"
    for directive in sheet.directives:
        on = f" on {directive.subject}" if directive.subject else ""
        if directive.overdue:
            yield f"Directive {directive.reference}{on} is overdue: {directive.next_due}"
        elif directive.verdict is DirectiveVerdict.UNKNOWN:
            yield f"When directive {directive.reference}{on} is due is not known: {directive.next_due}"
    for concession in sheet.concessions:
        what = f"{concession.reference} for {concession.piece}"
        if concession.ended:
            yield f"Concession {what} has ended: {concession.ends}"
        elif concession.verdict is ConcessionVerdict.UNKNOWN:
            yield f"Whether concession {what} still holds is not known: {concession.left}"
    for event in sheet.events:
        yield f"{event.kind.capitalize()} of {event.event_on.isoformat()} is not cleared"
    if stations := sum(at.stations for at in sheet.incomplete):
        yield counted(stations, "station is incomplete", "stations are incomplete")
    if sheet.presumed:
        yield counted(
            len(sheet.presumed),
            "station holds what nobody has identified",
            "stations hold what nobody has identified",
        )
    if sheet.gaps:
        yield counted(len(sheet.gaps), "gap in the history is known", "gaps in the history are known")


def _verdict_words(standing: LimitStanding) -> str:
    return f"{standing.line.verdict} ({limit_words(standing.line.limit)})"
