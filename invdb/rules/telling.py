"""What happened, in one sentence of the trade, from an entry's kind, its lines and its facts.

A sentence told *about* one piece or batch leaves that thing's own tag out, since it stands on its own sheet;
told about nothing, as in a list of entries, it names what was handled.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from invdb.rules.folding import OUTSIDE_PLACE, Fact, Line, Plain, RecordKey
from invdb.rules.setting_up import tell_set_up
from invdb.rules.telling_bench import BENCH_KINDS, tell_bench
from invdb.rules.telling_buying import BUYING_KINDS, order_told, tell_buying
from invdb.rules.telling_life import tell_life
from invdb.rules.told import Told, counted, listed, thing_of
from invdb.terms import Condition, EntryKind, LineKind, Origin, Scope


def tell(told: Told, about: RecordKey | None = None) -> str:
    """The sentence, without a full stop; ``about`` is ("piece", id) or ("batch", id).

    Of an entry that holds nothing, its kind is all there is to say.
    """
    if told.kind is not EntryKind.REVERSED and not told.lines and not told.facts:
        return str(told.kind).capitalize()
    match told.kind:
        case EntryKind.STORE_BEGUN:
            return _store_begun(told)
        case EntryKind.GOODS_IN:
            return _goods_in(told, about)
        case EntryKind.ACCEPTED:
            return _accepted(told, about)
        case EntryKind.CONDITION_SET:
            return _condition_set(told, about)
        case EntryKind.SPLIT:
            return _split(told, about)
        case EntryKind.MOVED:
            return _moved(told, about)
        case EntryKind.HOLD_RAISED | EntryKind.HOLD_CLEARED:
            return _hold(told, about)
        case EntryKind.PAPERS:
            return _papers(told, about)
        case EntryKind.RESERVED:
            return _reserved(told, about)
        case EntryKind.ISSUED:
            return _issued(told, about)
        case EntryKind.RETURNED:
            return _returned(told, about)
        case EntryKind.CANCELLED:
            return _cancelled(told, about)
        case EntryKind.REVERSED:
            kind = f", {told.reversed_kind}" if told.reversed_kind else ""
            return f"Reversed entry {told.reverses}{kind}"
        case EntryKind.CATALOGUE if told.facts_of("instrument"):
            return tell_bench(told, about)
        case EntryKind.CATALOGUE | EntryKind.PEOPLE | EntryKind.PLACES | EntryKind.ENGINES:
            return tell_set_up(told)
        case kind if kind in BENCH_KINDS:
            return tell_bench(told, about)
        case kind if kind in BUYING_KINDS:
            return tell_buying(told, about)
        case _:
            return tell_life(told, about)


def _stock_facts(told: Told, about: RecordKey | None) -> list[Fact]:
    facts = [fact for fact in told.facts if fact.record in {"piece", "batch"}]
    return [fact for fact in facts if about in {None, (fact.record, fact.record_id)}]


def _stock_count(told: Told) -> int:
    return told.fact_counts.get("piece", 0) + told.fact_counts.get("batch", 0)


def _pulls(told: Told, lines: Iterable[Line]) -> str:
    pulls = dict.fromkeys(
        told.name("pull_line", line.pull_line) for line in lines if line.pull_line is not None
    )
    return listed(list(pulls))


def _way(told: Told, lines: Sequence[Line]) -> str:
    """``from Goods in to A-03``; of several lines, the ends that they share."""
    begins = {line.from_place for line in lines}
    ends = {line.to_place for line in lines}
    parts = []
    if len(begins) == 1 and OUTSIDE_PLACE not in begins:
        parts.append(f"from {told.name('place', min(begins))}")
    if len(ends) == 1:
        (end,) = ends
        parts.append("out of our hands" if end == OUTSIDE_PLACE else f"to {told.name('place', end)}")
    else:
        parts.append(f"to {listed([told.name('place', end) for end in sorted(ends)])}")
    return " ".join(parts)


def _and_moved(told: Told, about: RecordKey | None) -> str:
    lines = told.lines_of(LineKind.MOVE, about)
    return f", and moved {_way(told, lines)}" if lines else ""


def _store_begun(told: Told) -> str:
    names = [fact.values.get("name") for fact in told.facts if fact.record == "owner"]
    return f"Began the store of {names[0]}" if names else "Began the store"


def _goods_in(told: Told, about: RecordKey | None) -> str:
    facts = _stock_facts(told, about) or _stock_facts(told, None)
    lines = told.lines_of(LineKind.MOVE, about) or told.lines_of(LineKind.MOVE, None)
    pieces, batches = told.fact_counts.get("piece", 0), told.fact_counts.get("batch", 0)
    what = [counted(pieces, "piece", "pieces")] if pieces else []
    if batches == 1 and lines and lines[0].batch is not None:
        what.append(told.amount(lines[0]))
    elif batches:
        what.append(counted(batches, "batch", "batches"))
    words = [f"Booked in {listed(what)}"]
    if about is None:
        parts = dict.fromkeys(told.name("part", fact.values["part_id"]) for fact in facts)
        words.append(f"of {listed(list(parts))}")
        tags = [told.name(fact.record, fact.record_id) for fact in facts]
        words.append(f"as {listed(tags, _stock_count(told))}")
    if facts:
        words += _source(told, facts[0])
    ends = sorted({line.to_place for line in lines})
    if ends:
        words.append(f"into {listed([told.name('place', end) for end in ends])}")
    return " ".join(words) + order_told(told)


def _source(told: Told, fact: Fact) -> list[str]:
    origin, engine, donor = (fact.values.get(name) for name in ("origin", "donor_engine_id", "donor"))
    words = []
    if origin == Origin.SALVAGED:
        given = told.name("engine", engine) if engine is not None else str(donor or "an engine not named")
        words.append(f"salvaged from {given}{',' if fact.values.get('origin_firm_id') else ''}")
    elif origin == Origin.MADE_HERE:
        words.append("made here")
    elif origin == Origin.UNKNOWN:
        words.append("of unknown origin")
    if fact.values.get("origin_firm_id") is not None:
        words.append(f"from {told.name('firm', fact.values['origin_firm_id'])}")
    return words


def _accepted(told: Told, about: RecordKey | None) -> str:
    facts = _stock_facts(told, about)
    scope = next((f" for {fact.values['scope']}" for fact in facts if fact.values.get("scope")), "")
    by = f" by {told.name('person', told.who)}"
    return f"Accepted{_what(told, about)}{scope}{by}{_and_moved(told, about)}"


def _condition_set(told: Told, about: RecordKey | None) -> str:
    facts = _stock_facts(told, about)
    to = next((f" to {fact.values['condition']}" for fact in facts if fact.values.get("condition")), "")
    return f"Set{_what(told, about)}{to}{_and_moved(told, about)}"


def _what(told: Told, about: RecordKey | None) -> str:
    """The things whose facts an entry sets, unless it is told about one."""
    if about is not None:
        return ""
    tags = [told.name(fact.record, fact.record_id) for fact in _stock_facts(told, None)]
    return f" {listed(tags, _stock_count(told))}".rstrip()


def _split(told: Told, about: RecordKey | None) -> str:
    children = [fact for fact in told.facts if fact.record == "batch" and fact.values.get("parent_batch_id")]
    made = {line.batch: line for line in told.lines if line.from_place == OUTSIDE_PLACE}
    said = []
    for child in children:
        line = made.get(child.record_id)
        share = f"{told.amount(line)}, {_standing(child)}" if line is not None else _standing(child)
        if about == ("batch", child.record_id):
            place = f", into {told.name('place', line.to_place)}" if line is not None else ""
            return f"Split off from {told.name('batch', child.values['parent_batch_id'])}: {share}{place}"
        said.append(f"{told.name('batch', child.record_id)}: {share}")
    more = told.fact_counts.get("batch", 0) - len(said)
    shares = f"{'; '.join(said)}{f'; and {more} more' if more > 0 else ''}"
    if about is not None or not children:
        return f"Split off {shares}"
    return f"Split {told.name('batch', children[0].values['parent_batch_id'])} into {shares}"


def _standing(fact: Fact) -> str:
    """``serviceable for flight``, ``unserviceable``."""
    condition, scope = fact.values.get("condition"), fact.values.get("scope")
    if condition == Condition.SERVICEABLE and scope is not None:
        return f"{condition} for {Scope(str(scope))}"
    return str(condition)


def _moved(told: Told, about: RecordKey | None) -> str:
    lines = told.lines_of(LineKind.MOVE, about)
    if not lines:
        return _noted(told, about)
    if about is not None:
        return "; ".join(
            " ".join(part for part in ("Moved", told.amount(line), _way(told, [line])) if part)
            for line in lines
        )
    return f"Moved {told.handled(lines, told.line_counts.get(LineKind.MOVE, 0))} {_way(told, lines)}"


def _noted(told: Told, about: RecordKey | None) -> str:
    """What was written down of a thing where it is, as when it is due back."""
    facts = _stock_facts(told, about)
    note = next((fact.values["note"] for fact in facts if fact.values.get("note")), None)
    on = f" on{_what(told, about)}" if about is None and facts else ""
    return f"Noted{on}: {note}" if note else f"Noted{on}"


def _hold(told: Told, about: RecordKey | None) -> str:
    raised = told.kind is EntryKind.HOLD_RAISED
    holds = [fact for fact in told.facts if fact.record == "hold"]
    own = [fact for fact in holds if about is not None and _is_of(told, fact, about)]
    facts = own or holds
    if not facts:
        return "Put on hold" if raised else "Hold cleared"
    why = str(facts[0].values.get("reason" if raised else "cleared_because") or "no reason given")
    subjects = list(dict.fromkeys(told.name("hold", fact.record_id) for fact in facts))
    if own:
        return f"Put on hold: {why}" if raised else f"Hold cleared: {why}"
    if about is not None:
        subjects = subjects[:1]
    count = told.fact_counts.get("hold", 0) if about is None else 1
    if raised:
        return f"Put {listed(subjects, count)} on hold: {why}"
    return f"Cleared the hold on {listed(subjects, count)}: {why}"


def _is_of(told: Told, hold: Fact, about: RecordKey) -> bool:
    record, record_id = about
    if f"{record}_id" in hold.values:
        return hold.values[f"{record}_id"] == record_id
    return told.name("hold", hold.record_id) == told.name(record, record_id)


def _papers(told: Told, about: RecordKey | None) -> str:
    links = [fact for fact in told.facts if fact.record == "document_link"]
    if about is not None:
        links = [fact for fact in links if fact.values.get(f"{about[0]}_id") == about[1]]
    documents = list(dict.fromkeys(fact.values["document_id"] for fact in links))
    documents += [
        fact.record_id
        for fact in told.facts
        if fact.record == "document" and about is None and fact.record_id not in documents
    ]
    filed = f"Filed {listed([told.name('document', document) for document in documents])}"
    if about is not None or not links:
        return filed
    behind = []
    for fact in links:
        for record in ("piece", "batch", "part", "engine"):
            if fact.values.get(f"{record}_id") is not None:
                behind.append(told.name(record, fact.values[f"{record}_id"]))
    count = told.fact_counts["document_link"] if len(documents) == 1 else None
    return f"{filed} with {listed(list(dict.fromkeys(behind)), count)}"


def _reserved(told: Told, about: RecordKey | None) -> str:
    lines = told.lines_of(LineKind.RESERVE, about)
    if not lines:
        return "Reserved"
    pulls = _pulls(told, lines)
    if about is not None:
        amounts = listed([amount for amount in (told.amount(line) for line in lines) if amount])
        return " ".join(part for part in ("Reserved", amounts, f"for {pulls}") if part)
    count = told.line_counts.get(LineKind.RESERVE, 0)
    short = told.fact_counts.get("pull_line", 0) - count
    lacking = f", {counted(short, 'line', 'lines')} short" if short > 0 else ""
    return f"Reserved {told.handled(lines, count)} for {pulls}{lacking}"


def _issued(told: Told, about: RecordKey | None) -> str:
    lines = told.lines_of(LineKind.MOVE, about)
    if not lines:
        return "Issued"
    if about is None:
        handled = told.handled(lines, told.line_counts.get(LineKind.MOVE, 0))
        return f"Issued {handled} to {_pulls(told, lines)}"
    said = []
    for line in lines:
        to = f"to {_pulls(told, [line])}, from {told.name('place', line.from_place)}"
        said.append(" ".join(part for part in ("Issued", told.amount(line), to) if part))
    return "; ".join(said)


def _returned(told: Told, about: RecordKey | None) -> str:
    how: dict[int | None, Plain] = {}
    how.update(
        (fact.record_id, fact.values.get("returned_as")) for fact in told.facts if fact.record == "pull_line"
    )
    lines = told.lines_of(LineKind.MOVE, None)
    back = [line for line in lines if line.pull_line is not None]
    if about is None:
        ways = {str(how[line.pull_line]) for line in back if how.get(line.pull_line)}
        said = f" {min(ways)}" if len(ways) == 1 else ""
        count = sum(1 for line in lines if line.pull_line is not None)
        more = told.line_counts.get(LineKind.MOVE, 0) > len(lines)
        return (
            f"{told.handled(back, count)}{' and more' if more else ''} came back{said}"
            f" from {_pulls(told, back)}"
        )
    # What came back handled or altered became a batch of its own, in the line after.
    children = {
        line.ordinal: after for line, after in zip(lines, lines[1:], strict=False) if after.pull_line is None
    }
    said_lines = []
    for line in back:
        child = children.get(line.ordinal)
        ending = line if child is None else child
        way = f"{how.get(line.pull_line) or ''} from {_pulls(told, [line])}".strip()
        place = told.name("place", ending.to_place)
        if child is not None and about == thing_of(child):
            of = f"{told.amount(line)} of {told.name(*thing_of(line))}"
            return f"Came back {way}: {of}, into {place}"
        if about == thing_of(line):
            amount = told.amount(line)
            began = f"{amount} came back" if amount else "Came back"
            becoming = f" as {told.name(*thing_of(child))}" if child is not None else ""
            said_lines.append(f"{began} {way}{becoming}, into {place}")
    return "; ".join(said_lines) or "Came back"


def _cancelled(told: Told, about: RecordKey | None) -> str:
    if about is not None:
        lines = told.lines_of(LineKind.RESERVE, about)
        return f"No longer reserved for {_pulls(told, lines)}, which was cancelled"
    pulls = [told.name("pull", fact.record_id) for fact in told.facts if fact.record == "pull"]
    return f"Cancelled {listed(pulls)}".rstrip()
