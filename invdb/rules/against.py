"""What stands against an engine, by its status sheet: each thing in a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.life_limits import left_words, limit_words
from invdb.rules.status import DirectiveLine, LimitStanding, StatusSheet
from invdb.rules.told import counted, listed


@dataclass(frozen=True)
class Against:
    """What stands against an engine, in a sentence; ``grave`` where it forbids, else a doubt or a warning."""

    words: str
    grave: bool = True


def against(sheet: StatusSheet) -> tuple[Against, ...]:
    """Each thing on record that stands against the engine: what forbids before doubts and warnings."""
    found = tuple(_against(sheet))
    return tuple(sorted(found, key=lambda each: not each.grave))


def _against(sheet: StatusSheet) -> Iterator[Against]:
    held: dict[str, list[str]] = {}
    for hold in sheet.holds:
        held.setdefault(hold.reason, []).append(hold.on_what or "the engine")
    for reason, subjects in held.items():
        what = subjects[0] if len(subjects) == 1 else f"{len(subjects)} things"
        yield Against(f"On hold, {what}: {reason}")
    for line in sheet.life:
        for standing in line.limits:
            if not standing.settled:
                named = f"{line.part_name} {line.tag}, {line.station}"
                yield Against(f"{named}: {_verdict_words(standing)}", standing.expired)
    for standing in sheet.overhaul.limits:
        if not standing.settled:
            yield Against(f"Overhaul life: {_verdict_words(standing)}", standing.expired)
    yield from _orders_against(sheet)
    for event in sheet.events:
        yield Against(f"{event.kind.capitalize()} of {event.event_on.isoformat()} is not cleared")
    if stations := sum(at.stations for at in sheet.incomplete):
        where = listed([at.position for at in sheet.incomplete])
        yield Against(f"{counted(stations, 'station is', 'stations are')} incomplete, at {where}")
    if things := len(sheet.presumed):
        yield Against(
            f"{counted(things, 'presumed thing has', 'presumed things have')} not been identified",
            grave=False,
        )
    if gaps := len(sheet.gaps):
        yield Against(
            counted(gaps, "gap in the history is known", "gaps in the history are known"), grave=False
        )


def _orders_against(sheet: StatusSheet) -> Iterator[Against]:
    for directive in sheet.directives:
        named = f"irective {directive.reference}{_on_words(directive)}"
        if directive.overdue:
            yield Against(f"D{named} is overdue: {directive.next_due}")
        elif directive.verdict is DirectiveVerdict.UNKNOWN:
            yield Against(f"When d{named} is due is not known: {directive.next_due}", grave=False)
        elif directive.verdict is DirectiveVerdict.DUE_SOON:
            yield Against(f"D{named} is due soon: {directive.next_due}", grave=False)
    for concession in sheet.concessions:
        what = f"{concession.reference} for {concession.piece}"
        if concession.ended:
            yield Against(f"Concession {what} has ended: {concession.ends}")
        elif concession.verdict is ConcessionVerdict.UNKNOWN:
            yield Against(
                f"Whether concession {what} still holds is not known: {concession.left}", grave=False
            )


def _on_words(directive: DirectiveLine) -> str:
    if len(directive.pieces) == 1:
        return f" on {directive.part_name} {directive.pieces[0]}"
    return f" on {len(directive.pieces)} pieces ({directive.part_name})" if directive.pieces else ""


def _verdict_words(standing: LimitStanding) -> str:
    return f"{standing.line.verdict} ({limit_words(standing.line.limit)}; {left_words(standing.line)})"
