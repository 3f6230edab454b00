"""The history of one piece or batch as a sheet tells it, and where that history is missing.

It is no lie to hold a piece with a gap in its history; it is one to hide the gap (after 14 CFR 43.9 and
FAA AC 20-62E: what cannot be shown by a record is not known).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.inspection_sheet import InspectionDone
from invdb.rules.life import hours_words, starts_words
from invdb.rules.life_limits import LimitLine
from invdb.rules.pick_list import HazardNote
from invdb.terms import (
    Condition,
    HoursKnown,
    Measure,
    Origin,
    PaperKind,
    PlaceKind,
    PriorLife,
    Scope,
    WorkState,
)

# Papers no more than this far apart are taken to follow on one another.
DAYS_APART_MAX = 366

# These say something of a design, an offer, an owner's word or what it was measured with, and nothing of
# where this one thing was.
_NO_WITNESS = frozenset(
    {
        PaperKind.DRAWING,
        PaperKind.AGREEMENT,
        PaperKind.PUBLISHED_DATA,
        PaperKind.CALIBRATION_CERTIFICATE,
    }
)
# With one of these, even undated, what came new has no history before it came.
_SPEAKS_FOR_NEW = frozenset({PaperKind.RELEASE_CERTIFICATE, PaperKind.MAKERS_CERTIFICATE})


@dataclass(frozen=True)
class TraceEntry:
    """One entry of the ledger that concerns the thing, as 14 CFR 43.9 asks: what was done, when, by whom.

    ``licence`` is the kind and number of the person's certificate ('' for none); ``what`` is one sentence;
    ``reverses`` and ``reversed_by`` are entry numbers.
    """

    number: int
    happened_on: date
    recorded_at: datetime
    kind: str
    who: str
    what: str
    licence: str = ""
    note: str = ""
    reverses: int | None = None
    reversed_by: int | None = None


@dataclass(frozen=True)
class Stretch:
    """A time at one place; ``from_on`` is None if no one knows since when, ``to_on`` if it lasts."""

    from_on: date | None
    to_on: date | None
    place: str
    kind: PlaceKind


@dataclass(frozen=True)
class EngineTime:
    """A time in one engine, and what that ran the while; ``to_on`` is None if it lasts.

    ``where`` says where in it and how much of a batch, '' for no more than the engine.
    """

    from_on: date
    to_on: date | None
    engine: str
    where: str
    hours: PriorLife
    starts: PriorLife


@dataclass(frozen=True)
class Gap:
    """A time that is not accounted for; ``from_on`` is None if no one knows it, ``to_on`` if it lasts."""

    from_on: date | None
    to_on: date | None
    why: str


@dataclass(frozen=True)
class PaperLine:
    """A document behind the thing; ``content_held`` if we hold its content and not only its reference."""

    kind: PaperKind
    reference: str
    dated_on: date | None = None
    firm: str = ""
    title: str = ""
    content_held: bool = False


@dataclass(frozen=True)
class ReceivingCheck:
    """What was looked at on receipt and what was found; '' found means not looked at yet."""

    name: str
    found: str


@dataclass(frozen=True)
class HoldLine:
    """A doubt raised, and how it was cleared if it was; ``on_what`` says whether on the part or the thing."""

    reason: str
    raised_on: date
    raised_by: str
    on_what: str = ""
    cleared_on: date | None = None
    cleared_by: str = ""
    cleared_because: str = ""


@dataclass(frozen=True)
class EventLine:
    """An engine event that the thing was inside for, and the inspection that cleared it of it, if one did.

    ``what`` says what befell which engine and when. ``fitted_only``: of a batch, only what is still inside.
    """

    what: str
    event_on: date
    note: str = ""
    fitted_only: bool = False
    cleared_on: date | None = None
    cleared_by: str = ""
    inspection: str = ""


@dataclass(frozen=True)
class ConcessionLine:
    """What an authority allows of the piece beyond a limit, where, on which document, and how that stands.

    ``ends`` and ``left`` are in words, ``left`` '' where no hours end it.
    """

    reference: str
    authority: str
    over: str
    allows: str
    where: str
    document: str
    from_on: date
    ends: str
    left: str
    stands: str
    in_force: bool


@dataclass(frozen=True)
class ComplianceLine:
    """That a directive was complied with on the piece: when, by whom and how."""

    directive: str
    complied_on: date
    complied_by: str
    method: str


@dataclass(frozen=True)
class QuantityAt:
    """How much of a batch is at a place and how much of that is spoken for, in the smallest unit."""

    place: str
    quantity: int
    reserved: int = 0


@dataclass(frozen=True)
class KinBatch:
    """The batch this one was split from, or one split from it."""

    tag: str
    relation: str
    condition: Condition
    quantity: int | None = None
    on: date | None = None


@dataclass(frozen=True)
class MadeHere:
    """Who made it here, to what drawing, of what; '' for what is not recorded."""

    drawing: str = ""
    drawing_revision: str = ""
    material: str = ""
    material_certificate: str = ""
    made_by: str = ""
    inspected_by: str = ""


@dataclass(frozen=True)
class TraceSheet:
    """Everything recorded of one piece or one batch.

    ``measure`` is that of the part; ``quantities`` and ``kin`` hold for a batch alone. What is ``…_in_all``
    was run before receipt and here; it and what is since overhaul, and ``limits``, are a piece's alone, and
    since overhaul only where one is recorded. ``entries`` are in their order. ``last_entry`` and
    ``last_hash`` are those of the whole ledger when the sheet was printed, so that the sheet can be held
    against the ledger later. ``printed_at`` is in the shop's own zone.
    """

    workshop: str
    printed_at: datetime
    tag: str
    is_batch: bool
    part_number: str
    part_name: str
    owner: str
    condition: Condition
    origin: Origin
    received_on: date
    where_now: str
    last_entry: int
    last_hash: str
    other_numbers: tuple[tuple[str, str], ...] = ()
    serial: str = ""
    maker_batch: str = ""
    scope: Scope | None = None
    accepted_by: str = ""
    accepted_on: date | None = None
    work_state: WorkState = WorkState.AS_RECEIVED
    work_reference: str = ""
    used: bool = False
    life_limited: bool = False
    origin_firm: str = ""
    donor: str = ""
    prior_hours: PriorLife | None = None
    prior_starts: PriorLife | None = None
    hours_in_all: PriorLife | None = None
    starts_in_all: PriorLife | None = None
    overhauled_on: date | None = None
    hours_since_overhaul: PriorLife | None = None
    starts_since_overhaul: PriorLife | None = None
    limits: tuple[LimitLine, ...] = ()
    made_here: MadeHere | None = None
    checks: tuple[ReceivingCheck, ...] = ()
    shelf_expiry_on: date | None = None
    hazards: tuple[HazardNote, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    events: tuple[EventLine, ...] = ()
    concessions: tuple[ConcessionLine, ...] = ()
    compliances: tuple[ComplianceLine, ...] = ()
    inspections: tuple[InspectionDone, ...] = ()
    papers: tuple[PaperLine, ...] = ()
    stays: tuple[Stretch, ...] = ()
    engine_times: tuple[EngineTime, ...] = ()
    part_of: tuple[Stretch, ...] = ()
    entries: tuple[TraceEntry, ...] = ()
    gaps: tuple[Gap, ...] = ()
    measure: Measure = Measure.COUNT
    quantities: tuple[QuantityAt, ...] = ()
    kin: tuple[KinBatch, ...] = ()
    note: str = ""


def span_words(from_on: date, to_on: date) -> str:
    """How long it is from one day to a later one, in whole years, months or days: '6 years 2 months'."""
    months = (to_on.year - from_on.year) * 12 + to_on.month - from_on.month - (to_on.day < from_on.day)
    if months < 1:
        return _counted((to_on - from_on).days, "day")
    years, months = divmod(months, 12)
    return " ".join(_counted(count, noun) for count, noun in ((years, "year"), (months, "month")) if count)


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def gaps(
    origin: Origin,
    received_on: date,
    *,
    made_on: date | None = None,
    prior_hours: PriorLife | None = None,
    prior_starts: PriorLife | None = None,
    papers: Iterable[PaperLine] = (),
    prior_periods: Iterable[Stretch] = (),
    stays: Iterable[Stretch] = (),
    days_apart_max: int = DAYS_APART_MAX,
) -> tuple[Gap, ...]:
    """Every time of which the records do not say where the thing was or what it ran, earliest first.

    Before receipt a dated paper speaks for its own day and a period of ``prior_periods`` for all of its days;
    what lies between two of these and is longer than ``days_apart_max`` is a gap. ``made_on`` is None if no
    one knows. ``prior_hours`` and ``prior_starts`` are None where they are not kept, as for a batch. After
    receipt ``stays`` are where our own ledger says it was; a stay outside is out of our hands, so a gap.
    """
    made_on = None if made_on is None else min(made_on, received_on)
    found = [
        *_gaps_before_receipt(origin, received_on, made_on, papers, prior_periods, days_apart_max),
        *_gaps_in_life(made_on, received_on, prior_hours, prior_starts),
        *_gaps_since_receipt(received_on, stays),
    ]
    return tuple(sorted(found, key=lambda gap: (gap.from_on or date.min, gap.to_on or date.max, gap.why)))


def _gaps_before_receipt(
    origin: Origin,
    received_on: date,
    made_on: date | None,
    papers: Iterable[PaperLine],
    prior_periods: Iterable[Stretch],
    days_apart_max: int,
) -> list[Gap]:
    papers = tuple(papers)
    known = [
        (paper.dated_on, paper.dated_on, paper.kind is PaperKind.MAKERS_CERTIFICATE)
        for paper in papers
        if paper.dated_on is not None and paper.dated_on <= received_on and paper.kind not in _NO_WITNESS
    ]
    for period in prior_periods:
        days = [day for day in (period.from_on, period.to_on) if day is not None]
        if days and min(days) <= received_on:
            known.append((min(days), min(max(days), received_on), False))
    known.sort()

    if origin is Origin.MADE_HERE and made_on is None:
        made_on = received_on
    if made_on is None and not known:
        if origin is Origin.NEW and any(paper.kind in _SPEAKS_FOR_NEW for paper in papers):
            return []
        return [Gap(None, received_on, "nothing on file says where it was before it was received")]
    found: list[Gap] = []
    if made_on is None:
        first, _, tells_its_making = known[0]
        if not tells_its_making and origin is not Origin.NEW:
            found.append(Gap(None, first, "when it was made and where it was until then is not known"))
        made_on = first
    unspoken = "how it was kept" if origin is Origin.NEW_OLD_STOCK else "where it was and what it did"
    covered_until = made_on
    for begins, ends, _ in [*known, (received_on, received_on, False)]:
        if (begins - covered_until).days > days_apart_max:
            span = span_words(covered_until, begins)
            found.append(Gap(covered_until, begins, f"no paper covers these {span}: {unspoken} is not known"))
        covered_until = max(covered_until, ends)
    return found


def _gaps_in_life(
    made_on: date | None, received_on: date, prior_hours: PriorLife | None, prior_starts: PriorLife | None
) -> list[Gap]:
    found = []
    for noun, prior, words in (("hours", prior_hours, hours_words), ("starts", prior_starts, starts_words)):
        if prior is None:
            continue
        if prior.known is HoursKnown.UNKNOWN:
            found.append(Gap(made_on, received_on, f"{noun} run before it was received are not known"))
        elif prior.known is HoursKnown.AT_LEAST and prior.low is not None:
            why = f"{noun} run before it was received are at least {words(prior.low)}; no upper end is known"
            found.append(Gap(made_on, received_on, why))
    return found


def _gaps_since_receipt(received_on: date, stays: Iterable[Stretch]) -> list[Gap]:
    found = []
    covered_until: date | None = received_on
    for stay in sorted(stays, key=lambda stay: (stay.from_on or date.min, stay.to_on or date.max)):
        begins = stay.from_on or received_on
        if stay.to_on is not None and stay.to_on <= received_on:
            continue
        if covered_until is not None and begins > covered_until:
            found.append(Gap(covered_until, begins, "no place is recorded"))
        if stay.kind is PlaceKind.OUTSIDE and stay.to_on != begins:
            found.append(Gap(max(begins, received_on), stay.to_on, "it was out of our hands"))
        if covered_until is not None:
            covered_until = None if stay.to_on is None else max(covered_until, stay.to_on)
    return found
