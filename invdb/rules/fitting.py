"""What may be fitted in spite of a bar, on whose word; and whether a station has room for what is in it.

The tool refuses what its data forbid. For flight, nothing unsalvageable, unserviceable, expired, in doubt or
outside the limits of its fits goes in without an authority's concession and its document; nowhere does a part
that the kit list does not allow, or one of the wrong size or finish. A lesser rule may be overridden by a
named person with a licence number and a written reason.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from invdb.rules.availability import Bar, BarKind
from invdb.rules.pulling import Option
from invdb.terms import ConcessionOver, Condition, Scope


class Leave(StrEnum):
    """What it takes to fit a thing in spite of a bar."""

    NONE = "nothing"
    CONCESSION = "concession"
    LICENCE = "licence"


# Where a thing is, for whom it is set aside and whose it is are put right and not overridden.
_NEVER = frozenset({BarKind.PLACE, BarKind.RESERVED, BarKind.OWNER})
_CONCEDED = {
    BarKind.PART: {ConcessionOver.PART},
    BarKind.CONDITION: {ConcessionOver.CONDITION, ConcessionOver.WORN_LIMIT},
    BarKind.LIFE: {ConcessionOver.LIFE_LIMIT},
    BarKind.SHELF_LIFE: {ConcessionOver.LIFE_LIMIT},
    BarKind.HOLD: {ConcessionOver.HOLD},
    BarKind.EVENT: {ConcessionOver.HOLD},
    BarKind.FIT: {ConcessionOver.WORN_LIMIT},
    BarKind.MATCH: {ConcessionOver.PART},
}


def leave_for(kind: BarKind, use: Scope) -> Leave:
    """What it takes to fit a thing in an engine of this use in spite of a bar of this kind."""
    if kind in _NEVER:
        return Leave.NONE
    if kind in {BarKind.PART, BarKind.MATCH} or (kind in _CONCEDED and use is Scope.FLIGHT):
        return Leave.CONCESSION
    return Leave.LICENCE


def conceded_bars(bars: Iterable[Bar], conceded: Collection[ConcessionOver]) -> tuple[Bar, ...]:
    """The bars that concessions over these lift."""
    return tuple(bar for bar in bars if _CONCEDED.get(bar.kind, set()) & set(conceded))


def standing_bars(
    bars: Iterable[Bar], use: Scope, conceded: Collection[ConcessionOver], overridden: bool
) -> tuple[Bar, ...]:
    """The bars that still stand: less those that a concession lifts and, if ``overridden``, lesser ones.

    ``overridden`` says that a person with a licence number has given a written reason.
    """
    bars = tuple(bars)
    lifted = conceded_bars(bars, conceded)
    return tuple(
        bar
        for bar in bars
        if bar not in lifted and not (overridden and leave_for(bar.kind, use) is Leave.LICENCE)
    )


def way_out(bars: Iterable[Bar], use: Scope) -> str:
    """What may be done about bars that stand, by the worst of them, in one sentence."""
    leaves = {leave_for(bar.kind, use) for bar in bars}
    if Leave.NONE in leaves:
        return "Put that right first."
    if Leave.CONCESSION in leaves:
        return "Choose another, or record an authority's concession with its document."
    return "A licensed person may override this with a written reason."


@dataclass(frozen=True)
class Wanted:
    """How many units a kit line takes at a station (in the smallest unit of its part), and what fills one.

    Several lines may share a station, such as two springs of a nest.
    """

    units: int
    options: tuple[Option, ...]

    @property
    def parts(self) -> frozenset[int]:
        """The parts that fill it, each by itself or with others."""
        return frozenset(part for option in self.options for part, _ in option.members)


def has_room(lines: Sequence[Wanted], amounts: Mapping[int, int], strange: int = 0) -> bool:
    """Whether all that is at a station finds a place there, as no more than its kit lines take.

    ``amounts`` are by part. A set that stands in takes up a whole unit as soon as one of its members is
    there. ``strange`` counts things of parts that no line takes, allowed there all the same: each takes up a
    line of its own; where the kit list wants nothing at all, one may be there.
    """
    known = {part for line in lines for part in line.parts}
    short = {part: amount for part, amount in amounts.items() if part in known and amount > 0}
    left = tuple(line.units for line in lines)
    if not lines:
        return strange <= 1
    return _place(lines, left, short, strange)


def _place(
    lines: Sequence[Wanted],
    left: tuple[int, ...],
    short: Mapping[int, int],
    strange: int,
) -> bool:
    """Place what is ``short`` of a place yet, the part with the fewest ways first.

    ``left`` are the units that each line still takes. Each way is tried with as many units as the part fills.
    """
    if not short:
        unused = sum(now == line.units for now, line in zip(left, lines, strict=True))
        return unused >= strange
    ways = {part: _ways(lines, part) for part in short}
    part = min(short, key=lambda each: (len(ways[each]), each))
    for at, which, each in ways[part]:
        units = min(left[at], -(-short[part] // each))
        if units <= 0:
            continue
        now = {
            other: amount - units * dict(lines[at].options[which].members).get(other, 0)
            for other, amount in short.items()
        }
        if _place(
            lines,
            tuple(room - units if line == at else room for line, room in enumerate(left)),
            {other: amount for other, amount in now.items() if amount > 0},
            strange,
        ):
            return True
    return False


def _ways(lines: Sequence[Wanted], part: int) -> list[tuple[int, int, int]]:
    """The ways to place a part: line, option of it, and how much of the part one unit takes."""
    return [
        (at, which, each)
        for at, line in enumerate(lines)
        for which, option in enumerate(line.options)
        for member, each in option.members
        if member == part
    ]


_WORSE = {
    Condition.SERVICEABLE: 0,
    Condition.UNINSPECTED: 1,
    Condition.UNSERVICEABLE: 2,
    Condition.UNSALVAGEABLE: 3,
}


def worse(known: Condition, found: Condition) -> Condition:
    """The worse of two conditions: what is stripped is no better than it was known to be."""
    return max(known, found, key=_WORSE.__getitem__)
