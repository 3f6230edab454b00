"""What falls due on engines and on what is in them: one line each, the worst first.

A line is made by whoever knows its limit: the life of a piece or an engine, a directive, a concession. Hours
are in hundredths. Where an amount is a range, ``…_left`` is its worst end.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from invdb.rules.life import LifeVerdict


class DueKind(StrEnum):
    """What it is that falls due."""

    PIECE_LIFE = "life of a piece"
    ENGINE_LIFE = "life of the engine"
    DIRECTIVE = "directive"
    CONCESSION = "concession"


@dataclass(frozen=True)
class DueSoon:
    """How near its limit a thing is due soon: hundredths of an hour, starts, calendar months.

    With as much left as this, or less, it is due soon.
    """

    hours: int = 25_00
    starts: int = 40
    months: int = 3


@dataclass(frozen=True)
class DueLine:
    """One thing that falls due, or whose falling due isn't known.

    ``subject`` names what it is on in words a person would use; ``what`` the limit or order; ``left`` what
    is left of it. ``piece`` is None where it is on the engine itself; ``record`` is the id of the limit,
    directive or concession (None for the part's plain limit). ``due_on`` is a day fixed by the calendar;
    ``earliest`` and ``latest`` are the forecast range from the engine's own use (``latest`` None: perhaps
    never while the engine stands), and ``forecast`` says it in words.
    """

    kind: DueKind
    subject: str
    what: str
    left: str
    verdict: LifeVerdict
    engine: int
    engine_name: str
    position: str = ""
    station: str = ""
    piece: int | None = None
    tag: str = ""
    part_number: str = ""
    part_name: str = ""
    record: int | None = None
    hours_left: int | None = None
    starts_left: int | None = None
    due_on: date | None = None
    earliest: date | None = None
    latest: date | None = None
    forecast: str = ""


# What is over its limit comes first, then what nobody can tell, then what is near.
_SEVERITY = {
    LifeVerdict.EXPIRED: 0,
    LifeVerdict.UNKNOWN: 1,
    LifeVerdict.DUE_SOON: 2,
    LifeVerdict.WITHIN: 3,
    LifeVerdict.NO_LIMIT: 4,
}


def severity(verdict: LifeVerdict) -> int:
    """0 for the worst verdict, rising as there is less to worry about."""
    return _SEVERITY[verdict]


def worst_verdict(verdicts: Iterable[LifeVerdict]) -> LifeVerdict:
    """The worst of several verdicts; NO_LIMIT where there are none."""
    return min(verdicts, key=severity, default=LifeVerdict.NO_LIMIT)


def worst_first(lines: Iterable[DueLine]) -> tuple[DueLine, ...]:
    """Lines by verdict, then by the earliest day on which each may run out, then by what is left."""
    return tuple(sorted(lines, key=_order))


def _order(line: DueLine) -> tuple[int, date, int, int, str, str, str, str]:
    days = [day for day in (line.due_on, line.earliest) if day is not None]
    hours = line.hours_left if line.hours_left is not None else 2**63
    starts = line.starts_left if line.starts_left is not None else 2**63
    first = min(days, default=date.max)
    return (severity(line.verdict), first, hours, starts, line.engine_name, line.subject, line.what, line.tag)
