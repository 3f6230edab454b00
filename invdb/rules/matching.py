"""Where a piece is at home: the position and station of the engine that it last ran in and came out of.

What ran together goes back together till it is reworked, so a piece goes back to where it ran, and its mates
with it. Points are those of the ledger's order, ``invdb.rules.points``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from invdb.rules.points import Point

# Up to eight pieces inside each other.
_HOLDERS_MAX = 8


@dataclass(frozen=True)
class Home:
    """Where a piece last ran: its engine, position and station by their ids, when it came out of there, and
    the tags of what ran with it in that position."""

    engine: int
    position: int
    station: int
    stripped_on: date
    mates: tuple[str, ...] = ()


@dataclass(frozen=True)
class CameOut:
    """That a piece was stripped from a station, at a point in the ledger.

    ``engine`` and ``position`` are None where it came out of another piece, the ``holder``, on the bench;
    ``held_since`` is the point at which it had been put into that one. ``mates`` are tags and commas.
    """

    at: Point
    station: int | None
    engine: int | None = None
    position: int | None = None
    mates: str = ""
    holder: int | None = None
    held_since: Point | None = None


def home_of(
    piece: int, came_out: Mapping[int, Sequence[CameOut]], reworked: Collection[Point]
) -> Home | None:
    """The home of a piece; None where it has none.

    ``came_out`` has the strippings of the piece and of whatever it was stripped out of on the bench. What
    was taken out of a barrel on the bench is at home where that barrel came from, if it was in it then.
    ``reworked`` are the points at which the piece became something else than it ran as: reworked, or made
    another part; after one of them it fits no place better than another.
    """
    last = _last(came_out.get(piece, ()), None)
    if last is None or last.station is None:
        return None
    ran = last
    for _ in range(_HOLDERS_MAX):
        if ran.engine is not None or ran.holder is None:
            break
        around = _last(came_out.get(ran.holder, ()), ran.at)
        if around is None or ran.held_since is None or ran.held_since >= around.at:
            return None
        ran = around
    if ran.engine is None or ran.position is None or any(point >= ran.at for point in reworked):
        return None
    mates = tuple(tag.strip() for tag in ran.mates.split(",") if tag.strip())
    return Home(ran.engine, ran.position, last.station, ran.at[0], mates)


def _last(came_out: Sequence[CameOut], until: Point | None) -> CameOut | None:
    """The last stripping, no later than a point (None: of all)."""
    known = [each for each in came_out if until is None or each.at <= until]
    return max(known, key=lambda each: each.at, default=None)
