"""What happened to engines and to what is in them, in one sentence of the trade; see ``telling``."""

from __future__ import annotations

from typing import cast

from invdb.rules.folding import Fact, Plain, RecordKey
from invdb.rules.life import hours_and_starts_words, hours_words, prior_hours_words, prior_starts_words
from invdb.rules.telling_build import tell_build
from invdb.rules.told import Told, listed
from invdb.terms import NO_PRIOR_LIFE, EntryKind, HoursKnown, LineKind, PriorLife, RunningUse

# The record that the sentence of each kind is told from.
_TOLD_BY = {
    EntryKind.LOG_BEGUN: "engine",
    EntryKind.RUNNING_LOGGED: "running",
    EntryKind.METER_CHANGED: "running",
    EntryKind.LIFE_RESET: "life_reset",
    EntryKind.ENGINE_EVENT: "engine_event",
    EntryKind.DIRECTIVE: "directive",
    EntryKind.CONCESSION: "concession",
}


def tell_life(told: Told, about: RecordKey | None = None) -> str:
    """The sentence of an entry about an engine's build, log, events, directives or mods."""
    needed = _TOLD_BY.get(told.kind)
    if needed is not None and not told.facts_of(needed):
        return str(told.kind).capitalize()
    match told.kind:
        case EntryKind.LOG_BEGUN:
            return _log_begun(told)
        case EntryKind.RUNNING_LOGGED:
            return _logged(told)
        case EntryKind.METER_CHANGED:
            return _meter_changed(told)
        case EntryKind.LIFE_RESET:
            return _reset(told, about)
        case EntryKind.ENGINE_EVENT:
            return _event(told)
        case EntryKind.EVENT_CLEARED:
            return _cleared(told, about)
        case EntryKind.DIRECTIVE:
            return _directive(told)
        case EntryKind.COMPLIED:
            return _complied(told, about)
        case EntryKind.CONCESSION:
            return _concession(told, about)
        case EntryKind.MOD_STATE:
            return _mod_state(told)
        case EntryKind.RECALLED:
            return _recalled(told, about)
        case _:
            return tell_build(told, about)


def _prior(values: dict[str, Plain], known: str, low: str, high: str) -> PriorLife:
    """A figure for hours or starts from the columns of a fact."""
    said = values.get(known) or HoursKnown.EXACT
    ends = [cast("int | None", values.get(end)) for end in (low, high)]
    if said in {HoursKnown.EXACT, HoursKnown.BETWEEN}:
        ends = [end or 0 for end in ends]
    return PriorLife(HoursKnown(str(said)), *ends)


def _log_begun(told: Told) -> str:
    fact = told.facts_of("engine")[0]
    values = dict(fact.values)
    reading = values.get("log_reading")
    at = f"at {hours_words(reading)} on the meter" if isinstance(reading, int) else "by hand, without a meter"
    before = hours_and_starts_words(
        *(_prior(values, *_columns(f"prior_{what}")) for what in ("hours", "starts"))
    )
    return f"Began the log of {told.name('engine', fact.record_id)} {at}; run before: {before}"


def _columns(stem: str) -> tuple[str, str, str]:
    return f"{stem}_known", f"{stem}_low", f"{stem}_high"


def _logged(told: Told) -> str:
    fact = told.facts_of("running")[0]
    values = dict(fact.values)
    use = "flight" if values.get("use") == RunningUse.FLIGHT else str(values.get("use"))
    hours = _prior(values, *_columns("hours"))
    reading = values.get("reading")
    ran = told.ran.get(fact.record_id)
    words = [use]
    if ran is not None:
        words = [f"{prior_hours_words(ran.hours.known())} of {use}"]
    elif reading is None:
        words = [f"{prior_hours_words(hours)} of {use}"]
    starts = _prior(values, "starts_known", "line_starts_low", "line_starts_high")
    if starts != NO_PRIOR_LIFE:
        words.append(prior_starts_words(starts))
    how = f"to {hours_words(reading)} on the meter" if isinstance(reading, int) else "by hand"
    return f"Logged {listed(words)} of {told.name('engine', values['engine_id'])} {how}"


def _meter_changed(told: Told) -> str:
    fact = told.facts_of("running")[0]
    values = dict(fact.values)
    old, new = values.get("reading"), cast(int, values.get("new_reading") or 0)
    last = f"last read at {hours_words(old)}" if isinstance(old, int) else "with no last reading"
    unread = _prior(values, *_columns("hours"))
    ran = f"; ran unread {prior_hours_words(unread)}" if unread.high != 0 else ""
    engine = told.name("engine", values["engine_id"])
    return f"Changed the meter of {engine}, {last}, for one at {hours_words(new)}{ran}"


def _of(told: Told, facts: list[Fact], about: RecordKey | None) -> list[Fact]:
    """The facts whose subject is what is told about; all of them where it is told about nothing."""
    if about is None:
        return facts
    record, record_id = about
    return [fact for fact in facts if fact.values.get(f"{record}_id") == record_id]


def _subject(told: Told, fact: Fact) -> str:
    """What a fact is on: a piece, a batch or an engine."""
    for record in ("piece", "batch", "engine"):
        if fact.values.get(f"{record}_id") is not None:
            return told.name(record, fact.values[f"{record}_id"])
    return told.name(fact.record, fact.record_id)


def _subjects(told: Told, facts: list[Fact]) -> str:
    names = dict.fromkeys(_subject(told, fact) for fact in facts)
    return listed(list(names), told.fact_counts.get(facts[0].record, 0))


def _reset(told: Told, about: RecordKey | None) -> str:
    fact = told.facts_of("life_reset")[0]
    values = dict(fact.values)
    of = "" if about is not None else f" of {_subject(told, fact)}"
    if "report" not in values:
        return f"Withdrew the overhaul{of} from its counts"
    counts = [word for word in ("hours", "starts", "calendar") if values.get(f"resets_{word}") is not False]
    hours, starts = (_prior(values, *_columns(what)) for what in ("hours", "starts"))
    ran = {hours, starts} != {NO_PRIOR_LIFE}
    already = f"; run since then already: {hours_and_starts_words(hours, starts)}" if ran else ""
    on = f" of {values['overhauled_on']}" if values.get("overhauled_on") != values.get("reset_on") else ""
    return f"Began the {listed(counts)}{of} anew since the overhaul{on}, by {values['report']}{already}"


def _event(told: Told) -> str:
    fact = told.facts_of("engine_event")[0]
    note = f": {fact.values['note']}" if fact.values.get("note") else ""
    kind = str(fact.values["kind"])
    return f"{kind[0].upper()}{kind[1:]} of {told.name('engine', fact.values['engine_id'])}{note}"


def _cleared(told: Told, about: RecordKey | None) -> str:
    facts = _of(told, told.facts_of("event_clearance"), about)
    if not facts:
        return "Event cleared"
    values = facts[0].values
    event = told.name("engine_event", values["event_id"])
    what = "" if about is not None else f" {_subjects(told, facts)}"
    by = told.name("person", values["cleared_by"])
    return f"Cleared{what} of the {event}, by {by}: {values['inspection']}"


def _directive(told: Told) -> str:
    facts = told.facts_of("directive")
    new = [fact for fact in facts if "reference" in fact.values]
    old = [told.name("directive", fact.record_id) for fact in facts if "reference" not in fact.values]
    names = [f"{told.name('directive', fact.record_id)}: {fact.values['title']}" for fact in new]
    if new and old:
        return f"Put directive {listed(names)}, in the place of {listed(old)}"
    return f"Recorded directive {listed(names)}" if new else f"Withdrew directive {listed(old)}"


def _complied(told: Told, about: RecordKey | None) -> str:
    facts = _of(told, told.facts_of("compliance"), about)
    if not facts:
        return "Directive complied with"
    values = facts[0].values
    directive = told.name("directive", values["directive_id"])
    on = "" if about is not None else f" on {_subjects(told, facts)}"
    by = told.name("person", values["complied_by"])
    return f"Complied with directive {directive}{on}, by {by}: {values['method']}"


def _concession(told: Told, about: RecordKey | None) -> str:
    fact = told.facts_of("concession")[0]
    values = fact.values
    if "reference" not in values:
        return f"Withdrew concession {told.name('concession', fact.record_id)}"
    ends = [f"until {values['until_on']}"] if values.get("until_on") else []
    hours = values.get("hours_allowed")
    ends += [f"for {hours_words(hours)}"] if isinstance(hours, int) else []
    of = "" if about is not None else f" for {told.name('piece', values['piece_id'])}"
    engine = told.name("engine", values["engine_id"])
    at = f", {told.name('position', values['position_id'])}" if values.get("position_id") else ""
    return (
        f"Took up concession {values['reference']} of {values['authority']}{of} in {engine}{at}, over the"
        f" {values['over']}: {values['allows']}, {' or '.join(ends)}"
    )


def _mod_state(told: Told) -> str:
    said: list[str] = []
    for verb, embodied in (("Embodied", True), ("Removed", False)):
        facts = [
            fact for fact in told.facts_of("engine_mod") if fact.values.get("embodied", True) is embodied
        ]
        if facts:
            names = [told.name("engine_mod", fact.record_id) for fact in facts]
            said.append(f"{verb if not said else verb.lower()} mod {listed(names)}")
    return " and ".join(said) or "Mod state"


def _recalled(told: Told, about: RecordKey | None) -> str:
    holds = _of(told, told.facts_of("hold"), about)
    moves = told.lines_of(LineKind.MOVE, about)
    place = f" to {told.name('place', moves[0].to_place)}" if moves else ""
    held, moved = "", ""
    if about is None:
        held = f"put {_subjects(told, holds)} on hold" if holds else ""
        handled = told.handled(moves, told.line_counts.get(LineKind.MOVE, 0))
        moved = f"moved {handled}{place}" if moves else ""
    else:
        held = "put on hold" if holds else ""
        moved = f"moved{place}" if moves else ""
    done = " and ".join(part for part in (held, moved) if part) or "named"
    reasons = {str(fact.values["reason"]) for fact in told.facts_of("hold") if fact.values.get("reason")}
    why = f": {min(reasons)}" if len(reasons) == 1 else ""
    return f"{done[0].upper()}{done[1:]} in a recall{why}"
