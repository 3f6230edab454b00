"""What may be fitted in spite of a bar, on whose word; and when a station is full.

The tool refuses what its data forbid. For flight, nothing unsalvageable, unserviceable, expired or in doubt
goes in without an authority's concession and its document, and nowhere does a part that the kit list does not
allow; a lesser rule may be overridden by a named person with a licence number and a written reason.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from enum import StrEnum

from invdb.rules.availability import Bar, BarKind
from invdb.terms import ConcessionOver, Scope


class Leave(StrEnum):
    """What it takes to fit a thing in spite of a bar."""

    NONE = "nothing"
    CONCESSION = "concession"
    LICENCE = "licence"


# Where a thing is, and for whom, is put right and not overridden.
_NEVER = frozenset({BarKind.PLACE, BarKind.RESERVED})
_CONCEDED = {
    BarKind.PART: {ConcessionOver.PART},
    BarKind.CONDITION: {ConcessionOver.CONDITION, ConcessionOver.WORN_LIMIT},
    BarKind.LIFE: {ConcessionOver.LIFE_LIMIT},
    BarKind.SHELF_LIFE: {ConcessionOver.LIFE_LIMIT},
    BarKind.HOLD: {ConcessionOver.HOLD},
    BarKind.EVENT: {ConcessionOver.HOLD},
}


def leave_for(kind: BarKind, use: Scope) -> Leave:
    """What it takes to fit a thing in an engine of this use in spite of a bar of this kind."""
    if kind in _NEVER:
        return Leave.NONE
    if kind is BarKind.PART or (kind in _CONCEDED and use is Scope.FLIGHT):
        return Leave.CONCESSION
    return Leave.LICENCE


def standing_bars(
    bars: Iterable[Bar], use: Scope, conceded: Collection[ConcessionOver], overridden: bool
) -> tuple[Bar, ...]:
    """The bars that still stand: less those that a concession lifts and, if ``overridden``, lesser ones.

    ``overridden`` says that a person with a licence number has given a written reason.
    """
    return tuple(
        bar
        for bar in bars
        if not (
            _CONCEDED.get(bar.kind, set()) & set(conceded)
            or (overridden and leave_for(bar.kind, use) is Leave.LICENCE)
        )
    )


def way_out(bars: Iterable[Bar], use: Scope) -> str:
    """What may be done about bars that stand, by the worst of them, in one sentence."""
    leaves = {leave_for(bar.kind, use) for bar in bars}
    if Leave.NONE in leaves:
        return "Put that right first."
    if Leave.CONCESSION in leaves:
        return "Choose another, or record an authority's concession with its document."
    return "A licensed person may override this with a written reason."
