"""What was specified, inspected, worked on, matched and scrapped, told in one sentence without a full
stop.
"""

from __future__ import annotations

from invdb.rules.folding import Fact, RecordKey
from invdb.rules.told import Told, counted, listed
from invdb.terms import EntryKind, LineKind

BENCH_KINDS = frozenset(
    {
        EntryKind.SPECIFICATION,
        EntryKind.INSPECTED,
        EntryKind.REIDENTIFIED,
        EntryKind.SENT_FOR_WORK,
        EntryKind.BACK_FROM_WORK,
        EntryKind.SCRAPPED,
        EntryKind.MATCHED,
    }
)


def tell_bench(told: Told, about: RecordKey | None = None) -> str:
    """The sentence of an entry about specifications, inspections and work on pieces."""
    match told.kind:
        case EntryKind.SPECIFICATION | EntryKind.CATALOGUE:
            return _specified(told)
        case EntryKind.INSPECTED:
            return _inspected(told, about)
        case EntryKind.REIDENTIFIED:
            return _reidentified(told, about)
        case EntryKind.SENT_FOR_WORK:
            return _sent(told, about)
        case EntryKind.BACK_FROM_WORK:
            return _back(told, about)
        case EntryKind.SCRAPPED:
            return _scrapped(told, about)
        case EntryKind.MATCHED:
            return _matched(told)
    return str(told.kind).capitalize()


def _subject(told: Told, fact: Fact, about: RecordKey | None) -> str:
    """The tag of what a fact is about, with a space before it, unless the sentence is told about that."""
    for record in ("piece", "batch"):
        key = fact.values.get(f"{record}_id")
        if key is not None:
            return "" if about == (record, key) else f" {told.name(record, key)}"
    return ""


def _specified(told: Told) -> str:
    withdrawn = any("withdrawn_on" in fact.values for fact in told.facts)
    for record, words in (
        ("spec", "the specification"),
        ("fit_limit", "the limits of the fit"),
        ("match_rule", "a rule of size and finish"),
        ("balance_set", "the masses of"),
        ("part_size", "the size"),
        ("instrument", "the instrument"),
    ):
        facts = told.facts_of(record)
        if not facts:
            continue
        name = told.names.get((record, facts[0].record_id), "")
        what = f"{words} {name}".strip()
        if withdrawn and "withdrawn_on" in facts[0].values:
            return f"Withdrew {what}"
        if record == "instrument" and "number" not in facts[0].values:
            return f"Recorded the calibration of {what} on {facts[0].values.get('calibrated_on')}"
        lines = told.fact_counts.get("spec_line", 0)
        rest = f", {counted(lines, 'line', 'lines')}" if lines else ""
        return f"Put in {what}{rest}"
    return str(told.kind).capitalize()


def _inspected(told: Told, about: RecordKey | None) -> str:
    facts = told.facts_of("inspection")
    if not facts:
        return "Inspected"
    values = facts[0].values
    figures, tests = told.fact_counts.get("measurement", 0), told.fact_counts.get("bench_test", 0)
    done = [counted(figures, "figure", "figures")] if figures else []
    done += [counted(tests, "test", "tests")] if tests else []
    scope = f" for {values['scope']}" if values.get("scope") else ""
    words = f"Inspected{_subject(told, facts[0], about)}"
    if done:
        words += f" ({listed(done)})"
    words += f": {values.get('decided')}{scope}"
    against = values.get("decided") != values.get("proposed")
    if values.get("reason"):
        if against:
            words += f", against the figures, which call it {values.get('proposed')}"
        words += f", since: {values['reason']}"
    return words


def _reidentified(told: Told, about: RecordKey | None) -> str:
    facts = told.facts_of("reidentification")
    return _became(told, facts[0], about) if facts else "Re-identified"


def _became(told: Told, fact: Fact, about: RecordKey | None) -> str:
    values = fact.values
    old, new = (_identity(told, fact, which) for which in ("old", "new"))
    words = f"Re-identified{_subject(told, fact, about)}, {old}, as {new}"
    return f"{words} by {values['authority']}" if values.get("authority") else words


def _identity(told: Told, fact: Fact, which: str) -> str:
    part = told.name("part", fact.values.get(f"{which}_part_id") or 0)
    more = [str(fact.values.get(f"{which}_{each}") or "") for each in ("size_class", "finish")]
    said = ", ".join(each for each in more if each)
    return f"{part} ({said})" if said else part


def _sent(told: Told, about: RecordKey | None) -> str:
    orders = told.facts_of("work_order")
    if not orders:
        return "Sent for work"
    values = orders[0].values
    lines = told.lines_of(LineKind.MOVE, about)
    what = (
        f" {told.handled(lines, told.line_counts.get(LineKind.MOVE, 0))}" if about is None and lines else ""
    )
    due = f", due {values['due_on']}" if values.get("due_on") else ""
    to = told.name("place", values.get("place_id") or 0)
    return f"Sent{what} to {to} for {values.get('kind')} on order {values.get('number')}{due}"


def _back(told: Told, about: RecordKey | None) -> str:
    facts = told.facts_of("work_line")
    if not facts:
        return "Back from work"
    scrapped = told.facts_of("scrapping")
    became = told.facts_of("reidentification")
    resets = told.fact_counts.get("life_reset", 0)
    reports = dict.fromkeys(str(fact.values.get("report") or "") for fact in facts)
    words = "Back from work"
    if about is None:
        lines = told.lines_of(LineKind.MOVE, None)
        if lines:
            words += f": {told.handled(lines, told.line_counts.get(LineKind.MOVE, 0))}"
    words += f", by {listed([each for each in reports if each])}" if any(reports) else ""
    if scrapped:
        words += f"; {scrapped[0].values.get('how')}"
    for fact in became[:1]:
        words += f"; now {_identity(told, fact, 'new')}"
    return f"{words}; its life since overhaul begins anew" if resets else words


def _scrapped(told: Told, about: RecordKey | None) -> str:
    facts = told.facts_of("scrapping")
    if not facts:
        return "Scrapped"
    values = facts[0].values
    return f"Scrapped{_subject(told, facts[0], about)}, {values.get('how')}: {values.get('reason')}"


def _matched(told: Told) -> str:
    sets = told.facts_of("matched_set")
    if not sets:
        return "Matched"
    values = sets[0].values
    name = told.name("matched_set", sets[0].record_id)
    if values.get("ended_on"):
        return f"Ended the matched set {name}: {values.get('ended_because')}"
    members = [
        told.name("piece", fact.values.get("piece_id") or 0) for fact in told.facts_of("matched_member")
    ]
    return f"Recorded {listed(members)} as {values.get('kind')}, {values.get('why')}"
