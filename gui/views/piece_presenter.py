"""The story of one piece or batch as it stands beside the list: what is shown of its trace, and why."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from gui.shown import LifeLine
from gui.views.piece_doubts import Section, doubts_in_words, sections_of
from gui.views.piece_life import (
    VERDICT_SIGNS,
    Fact,
    LimitShown,
    fitted_words,
    life_facts,
    limits_of,
)
from gui.views.piece_line import MISSING, life_line_of
from invdb.acts.matched import MatchedFacts
from invdb.acts.thing_now import ThingNow
from invdb.acts.things import ThingState
from invdb.rules.history import TraceEntry, TraceSheet
from invdb.rules.quantities import quantity_words
from invdb.terms import SAFETY_LINE, Condition, Origin, Scope

NARROW_SCOPES = {Scope.GROUND_RUNNING: "ground running only", Scope.DISPLAY: "display only"}


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
    """All that is shown of one piece or batch; ``work`` is the order that it is out for work on, or ""."""

    tag: str
    title: str
    signs: tuple[str, ...]
    facts: tuple[Fact, ...]
    hazards: str
    sections: tuple[Section, ...]
    limits: tuple[LimitShown, ...]
    caution: str
    life: LifeLine
    gaps: tuple[str, ...]
    papers: tuple[str, ...]
    entries: tuple[EntryTold, ...]
    sheet: TraceSheet
    now: ThingNow
    work: str = ""


def story_of(sheet: TraceSheet, now: ThingNow, work: str = "", identity: tuple[Fact, ...] = ()) -> PieceStory:
    """The story that a trace tells, the latest entry first, with how the thing stands now.

    ``work`` says on which order it is out for work, and when it is due; "" where it isn't out. ``identity``
    is what of the thing itself its part does not say, as :func:`identity_facts` tells it.
    """
    return PieceStory(
        tag=sheet.tag,
        title=f"{sheet.tag}   {sheet.part_name}",
        signs=_signs(sheet, now, work),
        facts=tuple(_facts(sheet, now, work, identity)),
        hazards=_hazards(sheet),
        sections=sections_of(sheet, now),
        limits=limits_of(now),
        caution=SAFETY_LINE if now.life is not None else "",
        life=life_line_of(sheet, now),
        gaps=tuple(f"{_days(gap.from_on, gap.to_on)}: {gap.why}." for gap in sheet.gaps),
        papers=tuple(_papers(sheet)),
        entries=tuple(_told(entry) for entry in reversed(sheet.entries)),
        sheet=sheet,
        now=now,
        work=work,
    )


def _signs(sheet: TraceSheet, now: ThingNow, work: str) -> tuple[str, ...]:
    signs: list[str] = []
    if work:
        signs.append("overdue" if "overdue" in work else "out for work")
    if any(hold.cleared_on is None for hold in sheet.holds):
        signs.append("on hold")
    if any(event.cleared_on is None for event in sheet.events):
        signs.append("event not cleared")
    signs.append(sheet.condition)
    if sheet.scope in NARROW_SCOPES:
        signs.append(NARROW_SCOPES[sheet.scope])
    if now.life is not None and now.life.stands.verdict in VERDICT_SIGNS:
        signs.append(VERDICT_SIGNS[now.life.stands.verdict])
    if sheet.shelf_expiry_on is not None and sheet.shelf_expiry_on <= sheet.printed_at.date():
        signs.append("expired")
    if any(line.in_force for line in sheet.concessions):
        signs.append("concession")
    if now.fitted:
        signs.append("fitted")
    if not sheet.papers:
        signs.append("no papers")
    if sheet.gaps:
        signs.append(MISSING)
    return tuple(dict.fromkeys(signs))


def identity_facts(state: ThingState, sets: Iterable[MatchedFacts]) -> tuple[Fact, ...]:
    """The size and the finish that a thing has of its own, and what it goes back together with."""
    facts = [(word, text) for word, text in (("Size", state.size_class), ("Finish", state.finish)) if text]
    for each in sets:
        others = each.others(state.thing.piece or 0)
        facts.append(("Goes with", f"{others}: {each.kind} since {each.made_on.isoformat()}, {each.why}"))
    return tuple(facts)


def _facts(sheet: TraceSheet, now: ThingNow, work: str, identity: tuple[Fact, ...]) -> Iterable[Fact]:
    others = "".join(f"; {kind} {number}" for kind, number in sheet.other_numbers)
    yield "Part", f"{sheet.part_number}{others}"
    yield from identity
    if not sheet.is_batch:
        yield "Serial", sheet.serial or "none"
    elif sheet.maker_batch:
        yield "Maker's batch", sheet.maker_batch
    yield "Condition", standing(sheet)
    yield from _where(sheet, now)
    if work:
        yield "Out for work", work
    yield "Owner", sheet.owner
    for hold in sheet.holds:
        if hold.cleared_on is None:
            about = f" ({hold.on_what})" if hold.on_what else ""
            yield "On hold", f"{hold.reason}{about}, since {hold.raised_on.isoformat()}, {hold.raised_by}"
    for doubt in doubts_in_words(sheet):
        yield "In doubt", f"not cleared of the {doubt}"
    yield "Origin", _origin(sheet)
    if sheet.work_reference:
        yield "Done since", f"{sheet.work_state}, {sheet.work_reference}"
    yield from life_facts(sheet, now)
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


def _where(sheet: TraceSheet, now: ThingNow) -> Iterable[Fact]:
    fitted = fitted_words(sheet, now)
    if not sheet.is_batch:
        yield "Where", fitted or sheet.where_now
        return
    lying = _quantities(sheet, {each.path for each in now.fitted})
    if lying or not fitted:
        yield "Where", "; ".join(lying) or sheet.where_now
    if fitted:
        yield "Fitted", fitted


def _quantities(sheet: TraceSheet, fitted: Collection[str]) -> list[str]:
    """How much of a batch lies where, without what is fitted."""
    lines = []
    for at in sheet.quantities:
        if at.place in fitted:
            continue
        words = f"{quantity_words(at.quantity, sheet.measure)} in {at.place}"
        if at.reserved:
            words += f" ({quantity_words(at.reserved, sheet.measure)} reserved)"
        lines.append(words)
    return lines


def _origin(sheet: TraceSheet) -> str:
    words = str(sheet.origin)
    if sheet.donor:
        words += f" from {sheet.donor}" if sheet.origin is Origin.SALVAGED else f", {sheet.donor}"
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
