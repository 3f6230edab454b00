"""What a story says of the doubts, concessions and directives on a thing, and of what is inside it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from invdb.acts.thing_now import ThingNow
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.history import ConcessionLine, EventLine, TraceSheet
from invdb.rules.quantities import quantity_words
from invdb.rules.told import stopped
from invdb.terms import Measure

_STANDS = {
    ConcessionVerdict.IN_FORCE: "concession",
    ConcessionVerdict.UNKNOWN: "unknown",
}


@dataclass(frozen=True)
class Noted:
    """One line of a section: the word of its sign, and what it says."""

    sign: str
    words: str


@dataclass(frozen=True)
class Section:
    """Lines that belong together under a heading."""

    title: str
    lines: tuple[Noted, ...]


def sections_of(sheet: TraceSheet, now: ThingNow) -> tuple[Section, ...]:
    """The sections that have anything to say."""
    every = (
        Section("Engine events", tuple(map(_event, sheet.events))),
        Section("Concessions", tuple(map(_concession, sheet.concessions))),
        Section("Directives", tuple(_directives(sheet, now))),
        Section("Inside it", tuple(_inside(now))),
    )
    return tuple(section for section in every if section.lines)


def doubts_in_words(sheet: TraceSheet) -> Iterable[str]:
    """The engine events that no inspection has cleared it of."""
    return (
        f"{event.what}{', what is fitted of it' if event.fitted_only else ''}"
        for event in sheet.events
        if event.cleared_on is None
    )


def _event(event: EventLine) -> Noted:
    note = f" ({event.note})" if event.note else ""
    inside = "What is fitted of it was inside" if event.fitted_only else "Inside"
    if event.cleared_on is None:
        return Noted(
            "event not cleared",
            f"{inside} at the {event.what}{note}, and no inspection named for it has cleared it.",
        )
    return Noted(
        "inspection",
        stopped(
            f"{inside} at the {event.what}{note}; cleared {event.cleared_on.isoformat()} by"
            f" {event.cleared_by}: {event.inspection}"
        ),
    )


def _concession(line: ConcessionLine) -> Noted:
    stands = "In force" if line.in_force else line.stands.capitalize()
    left = f", {line.left} left" if line.left else ""
    return Noted(
        _STANDS.get(ConcessionVerdict(line.stands), "closed"),
        f"{stands}: {line.reference} of {line.authority}, over the {line.over}: {line.allows}; {line.where},"
        f" from {line.from_on.isoformat()}, {line.ends}{left}; {line.document}.",
    )


def _directives(sheet: TraceSheet, now: ThingNow) -> Iterator[Noted]:
    for line in now.directives:
        what = line.what.removeprefix("directive ")
        left = f": {line.left}" if line.left else ""
        # Hours that last longer than its day allows say nothing of when it is due.
        in_time = line.due_on is None or (line.earliest is not None and line.earliest < line.due_on)
        forecast = f"; forecast: {line.forecast}" if line.forecast and in_time else ""
        yield Noted(line.verdict, f"{what}{left}{forecast}.")
    for done in sheet.compliances:
        yield Noted(
            "serviceable",
            stopped(
                f"{done.directive}; complied with {done.complied_on.isoformat()} by {done.complied_by}:"
                f" {done.method}"
            ),
        )


def _inside(now: ThingNow) -> Iterator[Noted]:
    for each in now.inside:
        single = each.measure is Measure.COUNT and each.quantity == 1
        much = "" if single else f", {quantity_words(each.quantity, each.measure)}"
        at = f"{each.station}: " if each.station else ""
        deeper = "↳ " * each.depth
        yield Noted("fitted", f"{deeper}{at}{each.tag} {each.part_name}{much}.")
