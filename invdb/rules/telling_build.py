"""What went into an engine or came out of it, in one sentence of the trade; see ``telling``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from invdb.rules.folding import OUTSIDE_PLACE, Fact, Line, RecordKey
from invdb.rules.life import hours_words
from invdb.rules.told import Seat, Told, counted, listed, thing_of
from invdb.terms import EntryKind, LineKind


def tell_build(told: Told, about: RecordKey | None) -> str:
    """The sentence of an entry that took over, fitted, stripped or robbed, without a full stop."""
    match told.kind:
        case EntryKind.BUILD_TAKEN_OVER if told.facts_of("presumption"):
            return _presumed(told)
        case EntryKind.BUILD_TAKEN_OVER:
            return _taken_over(told, about)
        case EntryKind.FITTED:
            return _fitted(told, about)
        case _:
            return _stripped(told, about)


def meter_words(told: Told) -> str:
    """``, at 1012.50 h on the meter``; nothing where no meter was read."""
    readings = (fact.values.get("reading") for fact in told.facts_of("running"))
    return next((f", at {hours_words(each)} on the meter" for each in readings if isinstance(each, int)), "")


def _into(told: Told, about: RecordKey | None) -> list[Line]:
    """The lines that put things at stations."""
    return [line for line in told.lines_of(LineKind.MOVE, about) if line.to_place in told.seats]


def _as_at(seat: Seat) -> str:
    """``as the exhaust valve of Linnet 117, cylinder 3``."""
    return f"as the {seat.station} of {seat.within}"


def _whence(seats: Iterable[Seat]) -> str:
    """What stations are all within: one position, one engine, or several."""
    seats = tuple(seats)
    within = list(dict.fromkeys(seat.within for seat in seats))
    engines = {seat.engine for seat in seats}
    return engines.pop() if len(within) > 1 and len(engines) == 1 and all(engines) else listed(within)


def _presumed(told: Told) -> str:
    engine = told.name("engine", told.facts_of("presumption")[0].values["engine_id"])
    count = counted(told.fact_counts["presumption"], "piece or batch", "pieces and batches")
    return f"Presumed {count} in {engine}, unidentified"


def _taken_over(told: Told, about: RecordKey | None) -> str:
    links = told.facts_of("document_link")
    document = told.name("document", links[0].values["document_id"]) if links else ""
    if about is not None:
        said = [
            " ".join(part for part in (told.amount(line), _as_at(told.seats[line.to_place])) if part)
            for line in _into(told, about)
        ]
        by = f", {document}" if document else ""
        return f"Taken over {listed(said)}, by the build record{by}"
    engine = next((told.seats[line.to_place].engine for line in _into(told, None)), "")
    counts = [
        counted(told.fact_counts[record], *words)
        for record, words in (("piece", ("piece", "pieces")), ("batch", ("batch", "batches")))
        if record in told.fact_counts
    ]
    of = f" of {engine}" if engine else ""
    by = f", {document}" if document else ""
    return f"Took over the build record{of}{by}: {listed(counts)}"


def _fitted(told: Told, about: RecordKey | None) -> str:
    lines = _into(told, about)
    seats = [told.seats[line.to_place] for line in lines]
    within = {seat.within for seat in seats}
    count = told.line_counts.get(LineKind.MOVE, 0) if about is None else len(lines)
    tail = meter_words(told) + (", in place of what was robbed" if told.facts_of("debt") else "")
    if about is not None:
        said = [
            " ".join(part for part in (told.amount(line), _as_at(seat)) if part)
            for line, seat in zip(lines, seats, strict=True)
        ]
    elif count == 1 or len(within) > 1:
        said = [f"{told.handled_one(line)} {_as_at(seat)}" for line, seat in zip(lines, seats, strict=True)]
    else:
        said = [
            f"{told.handled_one(line)} as {seat.station}" for line, seat in zip(lines, seats, strict=True)
        ]
        tail = f" in {_whence(seats)}{tail}"
    return f"Fitted {listed(said, count)}{tail}"


def _stripped(told: Told, about: RecordKey | None) -> str:
    every = told.lines_of(LineKind.MOVE, None)
    # Some of a batch comes out as a batch of its own, in the line after.
    became = {
        line.ordinal: after
        for line, after in zip(every, every[1:], strict=False)
        if line.to_place == OUTSIDE_PLACE and after.from_place == OUTSIDE_PLACE and after.batch is not None
    }
    out = [line for line in every if line.from_place in told.seats]
    verb = "Robbed" if told.kind is EntryKind.ROBBED else "Stripped"
    if not out:
        return _found_empty(told) if told.facts_of("presumption") else verb
    if about is not None:
        own = [
            line
            for line in out
            if about == thing_of(line) or (line.ordinal in became and about == thing_of(became[line.ordinal]))
        ]
        if not own:
            return _rode_along(told, out, about)
        said = [_one(told, verb, line, became.get(line.ordinal), about) for line in own]
        return f"{'; '.join(said)}{meter_words(told)}"
    names = [
        told.handled_one(line)
        + (f" as {told.name(*thing_of(became[line.ordinal]))}" if line.ordinal in became else "")
        for line in out
    ]
    ends = dict.fromkeys(became.get(line.ordinal, line).to_place for line in out)
    # A life-limited piece that came out inside another has a record of its own, and no line.
    came_out = {thing_of(became.get(line.ordinal, line)) for line in out}
    found = {
        str(fact.values["found"])
        for fact in told.facts_of("stripping")
        if came_out & {("piece", fact.values.get("piece_id")), ("batch", fact.values.get("batch_id"))}
    }
    # What is robbed was not looked at: that comes before it is accepted again.
    looked_at = len(found) == 1 and told.kind is EntryKind.STRIPPED
    said_found = f", {_found_words(min(found))}" if looked_at else ""
    from_ = _whence(told.seats[line.from_place] for line in out)
    to = _to(told, ends)
    return (
        f"{verb} {listed(names, _came_out(told))} from {from_}{_for(told)}{said_found}{to}{meter_words(told)}"
    )


def _to(told: Told, places: Iterable[int]) -> str:
    known = [told.name("place", place) for place in places if place != OUTSIDE_PLACE]
    return f", to {listed(known)}" if known else ""


def _for(told: Told) -> str:
    """For whom, and on whose word, an engine was robbed; and that nobody had seen what was presumed."""
    debts = told.facts_of("debt")
    if debts:
        needed_by = told.name("engine", debts[0].values["for_engine_id"])
        authority = told.name("person", debts[0].values["authorised_by"])
        return f", for {needed_by}, authorised by {authority}"
    return ", presumed there until then" if told.facts_of("presumption") else ""


def _one(told: Told, verb: str, line: Line, child: Line | None, about: RecordKey) -> str:
    """How one thing came out, told about it, or about the batch that it had been some of."""
    seat = _as_at(told.seats[line.from_place])
    amount = told.amount(line)
    if child is not None and about == thing_of(child):
        seat = f"{seat}, {amount} of {told.name(*thing_of(line))}"
    elif amount:
        became = f" as {told.name(*thing_of(child))}" if child is not None else ""
        seat = f"{amount}{became}, fitted {seat}"
    fact = _stripping_of(told, thing_of(child) if child is not None else thing_of(line))
    ending = line if child is None else child
    found = "" if told.kind is EntryKind.ROBBED else _found(fact)
    return f"{verb} {seat}{_for(told)}{found}{_to(told, [ending.to_place])}"


def _stripping_of(told: Told, thing: RecordKey) -> Mapping[str, object]:
    record, record_id = thing
    facts = told.facts_of("stripping")
    return next((fact.values for fact in facts if fact.values.get(f"{record}_id") == record_id), {})


def _found(stripping: Mapping[str, object]) -> str:
    """``, found worn, arrow forward, life control by tag``."""
    words = [f", {_found_words(str(stripping['found']))}"] if stripping.get("found") else []
    words += [f", {stripping['orientation']}"] if stripping.get("orientation") else []
    words += [f", life control by {stripping['control']}"] if stripping.get("control") else []
    return "".join(words)


def _found_words(found: str) -> str:
    """``found worn``, ``found: Bent 0.4 mm in 100``."""
    return f"found{':' if found[:1].isupper() else ''} {found}"


def _came_out(told: Told) -> int:
    """How many things came out by themselves: what becomes a batch, or was presumed, has two lines."""
    lines = told.line_counts.get(LineKind.MOVE, 0)
    return lines // 2 if told.facts_of("presumption") else lines - told.fact_counts.get("batch", 0)


def _rode_along(told: Told, out: list[Line], about: RecordKey) -> str:
    """What is said of a piece that came out inside another."""
    holders = [told.name(*thing_of(line)) for line in out if line.piece is not None]
    inside = f"inside {holders[0]}" if len(holders) == 1 else "inside another piece"
    from_ = _whence(told.seats[line.from_place] for line in out)
    control = _stripping_of(told, about).get("control")
    kept = f", life control by {control}" if control else ""
    return f"Came out of {from_}, {inside}{kept}{meter_words(told)}"


def _found_empty(told: Told) -> str:
    facts: list[Fact] = told.facts_of("presumption")
    where = listed(
        [told.name("presumption", fact.record_id) for fact in facts], told.fact_counts["presumption"]
    )
    found = {str(fact.values["found"]) for fact in facts if fact.values.get("found")}
    return f"Found nothing at {where}{f': {min(found)}' if len(found) == 1 else ''}"
