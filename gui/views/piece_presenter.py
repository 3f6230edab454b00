"""The story of one piece or batch as it stands beside the list: what is shown of its trace, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from gui.shown import LifeLine, Moment, Stretch
from invdb.rules.history import Gap, HoldLine, TraceEntry, TraceSheet
from invdb.rules.life import prior_hours_words, prior_starts_words
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, PlaceKind, Scope

MISSING = "history missing"
GAP_UNBEGUN = timedelta(days=365)

PLACE_SIGNS = {
    PlaceKind.STORES: "in stores",
    PlaceKind.BIN: "in stores",
    PlaceKind.QUARANTINE: "in quarantine",
    PlaceKind.FIRM: "out for work",
    PlaceKind.BENCH: "on the bench",
    PlaceKind.ENGINE: "fitted",
    PlaceKind.STATION: "fitted",
    PlaceKind.PIECE: "fitted",
    PlaceKind.PULL: "issued",
    PlaceKind.SCRAP: "unsalvageable",
}
INSPECTIONS = (EntryKind.ACCEPTED, EntryKind.CONDITION_SET)
NARROW_SCOPES = {Scope.GROUND_RUNNING: "ground running only", Scope.DISPLAY: "display only"}

Fact = tuple[str, str]


@dataclass(frozen=True)
class EntryTold:
    """One entry as a person reads it: a line that says which, a sentence, and what else there is to say.

    ``sign`` is the word of its sign, or "". ``can_be_reversed`` is False for what is reversed, or reverses.
    """

    number: int
    head: str
    sentence: str
    sign: str = ""
    can_be_reversed: bool = True


@dataclass(frozen=True)
class PieceStory:
    """All that is shown of one piece or batch."""

    tag: str
    title: str
    signs: tuple[str, ...]
    facts: tuple[Fact, ...]
    hazards: str
    life: LifeLine
    gaps: tuple[str, ...]
    papers: tuple[str, ...]
    entries: tuple[EntryTold, ...]
    sheet: TraceSheet


def story_of(sheet: TraceSheet) -> PieceStory:
    """The story that a trace tells, the latest entry first."""
    return PieceStory(
        tag=sheet.tag,
        title=f"{sheet.tag}   {sheet.part_name}",
        signs=_signs(sheet),
        facts=tuple(_facts(sheet)),
        hazards=_hazards(sheet),
        life=life_of(sheet),
        gaps=tuple(f"{_days(gap.from_on, gap.to_on)}: {gap.why}." for gap in sheet.gaps),
        papers=tuple(_papers(sheet)),
        entries=tuple(_told(entry) for entry in reversed(sheet.entries)),
        sheet=sheet,
    )


def _signs(sheet: TraceSheet) -> tuple[str, ...]:
    signs: list[str] = [sheet.condition]
    if any(hold.cleared_on is None for hold in sheet.holds):
        signs.insert(0, "on hold")
    if sheet.scope in NARROW_SCOPES:
        signs.append(NARROW_SCOPES[sheet.scope])
    if sheet.shelf_expiry_on is not None and sheet.shelf_expiry_on <= sheet.printed_at.date():
        signs.append("expired")
    if not sheet.papers:
        signs.append("no papers")
    if sheet.gaps:
        signs.append("history missing")
    return tuple(signs)


def _facts(sheet: TraceSheet) -> Iterable[Fact]:
    others = "".join(f"; {kind} {number}" for kind, number in sheet.other_numbers)
    yield "Part", f"{sheet.part_number}{others}"
    if not sheet.is_batch:
        yield "Serial", sheet.serial or "none"
    elif sheet.maker_batch:
        yield "Maker's batch", sheet.maker_batch
    yield "Condition", standing(sheet)
    if sheet.is_batch and sheet.quantities:
        yield "Where", "; ".join(_quantities(sheet))
    else:
        yield "Where", sheet.where_now
    yield "Owner", sheet.owner
    for hold in sheet.holds:
        if hold.cleared_on is None:
            about = f" ({hold.on_what})" if hold.on_what else ""
            yield "On hold", f"{hold.reason}{about}, since {hold.raised_on.isoformat()}, {hold.raised_by}"
    yield "Origin", _origin(sheet)
    if sheet.work_reference:
        yield "Done since", f"{sheet.work_state}, {sheet.work_reference}"
    if not sheet.is_batch:
        if sheet.prior_hours is not None:
            yield "Hours before", prior_hours_words(sheet.prior_hours)
        if sheet.prior_starts is not None and (sheet.used or sheet.life_limited):
            yield "Starts before", prior_starts_words(sheet.prior_starts)
    if sheet.shelf_expiry_on is not None:
        yield "Shelf life", f"ends {sheet.shelf_expiry_on.isoformat()}"
    if sheet.made_here is not None:
        made = sheet.made_here
        yield (
            "Made here",
            (
                f"drawing {made.drawing} rev {made.drawing_revision}; {made.material},"
                f" {made.material_certificate}; by {made.made_by}, inspected by {made.inspected_by}"
            ),
        )
    yield "Looked at", "; ".join(f"{each.name}: {each.found or 'not yet'}" for each in sheet.checks)
    for kin in sheet.kin:
        amount = "" if kin.quantity is None else f", {quantity_words(kin.quantity, sheet.measure)}"
        yield kin.relation.capitalize(), f"{kin.tag}, {kin.condition}{amount}"
    if sheet.note:
        yield "Remark", sheet.note


def standing(sheet: TraceSheet) -> str:
    """The condition with what it was accepted for, by whom and when."""
    if sheet.condition is not Condition.SERVICEABLE or sheet.scope is None:
        return str(sheet.condition)
    words = f"{sheet.condition} for {sheet.scope}"
    if sheet.accepted_on is not None:
        words += f", accepted {sheet.accepted_on.isoformat()} by {sheet.accepted_by}"
    return words


def _quantities(sheet: TraceSheet) -> list[str]:
    lines = []
    for at in sheet.quantities:
        words = f"{quantity_words(at.quantity, sheet.measure)} in {at.place}"
        if at.reserved:
            words += f" ({quantity_words(at.reserved, sheet.measure)} reserved)"
        lines.append(words)
    return lines


def _origin(sheet: TraceSheet) -> str:
    words = str(sheet.origin)
    if sheet.donor:
        words += f" from {sheet.donor}"
    if sheet.origin_firm:
        words += f", from {sheet.origin_firm}"
    return f"{words}, {'used' if sheet.used else 'unused'}; received {sheet.received_on.isoformat()}"


def _hazards(sheet: TraceSheet) -> str:
    if not sheet.hazards:
        return ""
    told = [f"{each.word}: {each.caution}" if each.caution else each.word for each in sheet.hazards]
    return f"⚠ {'; '.join(told)}"


def _days(since: date | None, until: date | None) -> str:
    begun = since.isoformat() if since else ""
    if since is None:
        return f"Until {until.isoformat()}" if until else "No day known"
    return f"{begun} to {until.isoformat() if until else 'now'}"


def _papers(sheet: TraceSheet) -> Iterable[str]:
    for paper in sheet.papers:
        words = [f"{paper.kind} {paper.reference}", paper.title, paper.firm]
        if paper.dated_on is not None:
            words.append(paper.dated_on.isoformat())
        words.append("kept here" if paper.content_held else "by its number only")
        yield ", ".join(word for word in words if word)


def _told(entry: TraceEntry) -> EntryTold:
    head = f"{entry.number}   {entry.happened_on.isoformat()}   {entry.kind}   {entry.who}"
    if entry.recorded_at.date() > entry.happened_on:
        head += f"   (recorded {entry.recorded_at.date().isoformat()})"
    sentence = entry.what
    if entry.note and entry.note not in sentence:
        sentence += f" “{entry.note}”"
    if entry.reversed_by is not None:
        return EntryTold(
            entry.number, head, f"{sentence} Reversed by entry {entry.reversed_by}.", "reversed", False
        )
    if entry.reverses is not None:
        return EntryTold(entry.number, head, sentence, "reversed", False)
    return EntryTold(entry.number, head, sentence)


def life_of(sheet: TraceSheet) -> LifeLine:
    """The life line: where it was, what was held against it, and what happened when."""
    today = sheet.printed_at.date()
    return LifeLine(
        today=today,
        stretches=(*_gap_stretches(sheet.gaps), *_place_stretches(sheet)),
        holds=tuple(_hold_stretch(sheet, hold) for hold in sheet.holds),
        moments=tuple(_moments(sheet)),
    )


def _gap_stretches(gaps: Sequence[Gap]) -> Iterable[Stretch]:
    """One band for each time that is missing, whatever is missing of it."""
    missing: dict[tuple[date, date | None], list[str]] = {}
    for gap in gaps:
        since = gap.from_on or (gap.to_on and gap.to_on - GAP_UNBEGUN)
        if since is None or since == gap.to_on:
            continue
        why = gap.why if gap.from_on else f"since no one knows when; {gap.why}"
        missing.setdefault((since, gap.to_on), []).append(why)
    for (since, until), reasons in missing.items():
        yield Stretch(since, until, MISSING, "history missing", "\n".join(reasons))


def _place_stretches(sheet: TraceSheet) -> Iterable[Stretch]:
    if sheet.is_batch:
        begun = _entry_on(sheet, sheet.received_on)
        yield Stretch(sheet.received_on, None, "in stores", sheet.where_now, *_opened(begun))
        return
    for stay in sheet.stays:
        if stay.kind is PlaceKind.OUTSIDE:
            continue
        since = stay.from_on or sheet.received_on
        sign = PLACE_SIGNS[stay.kind]
        yield Stretch(since, stay.to_on, sign, stay.place, *_opened(_entry_on(sheet, since)))


def _opened(entry: TraceEntry | None) -> tuple[str, int | None]:
    return (entry.what, entry.number) if entry is not None else ("", None)


def _entry_on(sheet: TraceSheet, day: date) -> TraceEntry | None:
    """The last entry of that day that still stands, which is what put the thing where it then was."""
    stand = (entry for entry in reversed(sheet.entries) if entry.reversed_by is None)
    return next((entry for entry in stand if entry.happened_on == day), None)


def _hold_stretch(sheet: TraceSheet, hold: HoldLine) -> Stretch:
    detail = f"raised by {hold.raised_by}"
    if hold.cleared_on is not None:
        detail += f"; cleared by {hold.cleared_by}: {hold.cleared_because}"
    raised = (e for e in sheet.entries if e.kind == EntryKind.HOLD_RAISED and e.reversed_by is None)
    number = next((entry.number for entry in raised if entry.happened_on == hold.raised_on), None)
    return Stretch(hold.raised_on, hold.cleared_on, "on hold", hold.reason, detail, number)


def _moments(sheet: TraceSheet) -> Iterable[Moment]:
    for paper in sheet.papers:
        if paper.dated_on is not None:
            yield Moment(paper.dated_on, "paper", f"{paper.kind} {paper.reference}", paper.title)
    for entry in sheet.entries:
        if entry.kind in INSPECTIONS and entry.reversed_by is None:
            yield Moment(entry.happened_on, "inspection", entry.kind, entry.what, entry.number)
