"""The status sheet of an engine: what an owner hands over with it when it is sold.

Its contents are those of 14 CFR 91.417(a)(2): total time in service, the current status of life-limited
parts, time since overhaul, inspection status, the status of directives; with what else is known of doubts
and gaps. Hours are in hundredths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime

from invdb.rules.build import Build, BuiltPosition, BuiltStation
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.due import severity
from invdb.rules.history import HoldLine
from invdb.rules.life import LifeVerdict, hours_words
from invdb.rules.life_limits import LimitLine
from invdb.rules.quantities import quantity_words
from invdb.rules.running import RAN_NOTHING, Ran, span_of
from invdb.terms import Measure, PriorLife, Scope

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
    """How one limit stands, and in words when it will run out by the engine's own use of late.

    ``forecast`` says nothing of that use, which the sheet says once, and is '' where what is left says all.
    """

    line: LimitLine
    forecast: str = ""

    @property
    def settled(self) -> bool:
        """Whether there is life left of it, and not near its end."""
        return self.line.verdict in _SETTLED

    @property
    def expired(self) -> bool:
        """Whether none is left of it, or perhaps none."""
        return self.line.verdict is LifeVerdict.EXPIRED


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
    """How one directive stands on the engine, or on those pieces in it with which it stands alike.

    ``part_name`` and ``pieces`` (each its tag, and where it sits) say on what; with no pieces it is on the
    engine itself. With ``not_applicable`` it says why it does not apply, and has no verdict. ``terms`` are
    when it is to be complied with at all, ``next_due`` what of that comes next; both in words.
    """

    reference: str
    issue: str
    title: str
    method: str
    part_name: str = ""
    pieces: tuple[str, ...] = ()
    terms: str = ""
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

    @property
    def in_doubt(self) -> bool:
        """Whether it is due soon, or no one knows when."""
        return self.verdict in (DirectiveVerdict.DUE_SOON, DirectiveVerdict.UNKNOWN)

    @property
    def subject(self) -> str:
        """'Gudgeon pin, Linnet: T01147-E (cylinder 1), T01152-K (cylinder 2)'; '' for the engine itself."""
        return f"{self.part_name}: {', '.join(self.pieces)}" if self.pieces else ""


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

    group: str
    position: str
    station: str
    part: str
    presumed_on: date
    renewed_always: bool = False

    @property
    def where(self) -> str:
        """'cylinder 5, exhaust valve'."""
        return f"{self.group} {self.position}, {self.station}"


@dataclass(frozen=True)
class PresumedPositions:
    """What is presumed alike at one position or ``several``: how many things at each, the stations by name.

    What is renewed always is only counted; where it is all there is, no station is named.
    """

    positions: str
    several: bool
    things: int
    presumed_on: date
    stations: tuple[str, ...]
    renewed_always: int


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

    ``meter`` is its reading in hundredths, None where it has no meter. ``ran_of_late`` says in words by what
    use forecasts are made, '' where the log is too short for any. ``presumed`` stations hold something that
    nobody has identified. ``last_entry`` and ``last_hash`` are those of the whole ledger when the sheet was
    printed; ``printed_at`` is in the shop's own zone.
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
    ran_of_late: str = ""
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


def presumed_positions(presumed: Iterable[PresumedStation]) -> tuple[PresumedPositions, ...]:
    """What is presumed, position by position; those at which the same is presumed since the same day as one.

    In the order in which positions first come.
    """
    at: dict[tuple[str, str, date], list[PresumedStation]] = {}
    for each in presumed:
        at.setdefault((each.group, each.position, each.presumed_on), []).append(each)
    alike: dict[tuple[str, date, int, tuple[str, ...], int], list[str]] = {}
    for (group, position, on), things in at.items():
        names = tuple(dict.fromkeys(each.station for each in things if not each.renewed_always))
        renewed = sum(each.renewed_always for each in things)
        alike.setdefault((group, on, len(things), names, renewed), []).append(position)
    return tuple(
        PresumedPositions(f"{group} {', '.join(positions)}", len(positions) > 1, things, on, names, renewed)
        for (group, on, things, names, renewed), positions in alike.items()
    )


def directives_together(lines: Iterable[DirectiveLine]) -> tuple[DirectiveLine, ...]:
    """Directives that stand alike on several pieces as one line; the worst standing of each first.

    Those that do not apply come last.
    """
    alike: dict[DirectiveLine, list[str]] = {}
    order: dict[tuple[str, str], int] = {}
    for line in lines:
        alike.setdefault(replace(line, pieces=()), []).extend(line.pieces)
        order.setdefault((line.reference, line.issue), len(order))
    found = [replace(line, pieces=tuple(pieces)) for line, pieces in alike.items()]

    def place(line: DirectiveLine) -> tuple[bool, int, int]:
        worst = 0 if line.verdict is None else severity(line.verdict.as_life)
        return line.verdict is None, order[line.reference, line.issue], worst

    return tuple(sorted(found, key=place))


def station_words(position: BuiltPosition, station: str) -> str:
    """'cylinder 5, exhaust valve'."""
    return f"{position.group} {position.name}, {station}"


def meter_words(meter: int | None) -> str:
    """'reads 812.40 h', or that there is none."""
    return "no meter, logged by hand" if meter is None else f"reads {hours_words(meter)}"


def of_late_words(sheet: StatusSheet) -> str:
    """By what recent use the forecasts on the sheet are made."""
    if not sheet.ran_of_late:
        return "the log is too short yet for a forecast of what runs out when"
    return f"{sheet.ran_of_late}; forecasts go by the fastest and the slowest of these paces"
