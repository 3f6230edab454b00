"""Whether a piece or a batch may go into a kit for an engine, and every bar in words where it may not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from invdb.rules.life_limits import NOT_LIMITED, Limit, Lived, Serving, bar_words, judge
from invdb.terms import Condition, PlaceKind, Scope


class BarKind(StrEnum):
    """Which rule a bar comes from; what may be set aside, and by whom, hangs on it."""

    PLACE = "place"
    QUARANTINE = "quarantine"
    UNINSPECTED = "uninspected"
    CONDITION = "condition"
    SCOPE = "scope"
    SHELF_LIFE = "shelf life"
    LIFE = "life"
    RENEWED = "renewed always"
    HOLD = "hold"
    EVENT = "engine event"
    OWNER = "owner"
    PART = "part"
    RESERVED = "reserved"
    FIT = "fit"
    MATCH = "size or finish"


@dataclass(frozen=True)
class Bar:
    """Why something may not be taken, in one clause, and the rule that it comes from."""

    kind: BarKind
    words: str


STORES_KINDS = frozenset({PlaceKind.BIN, PlaceKind.STORES})


@dataclass(frozen=True)
class Asking:
    """The engine and the line that ask: its use, its owner, the owners who have agreed, and the day.

    ``serving`` is its type and mods, by which life limits differ; None while no engine is named.
    """

    use: Scope
    owner: int
    agreed_owners: frozenset[int]
    on: date
    renewed_always: bool
    serving: Serving | None = None


@dataclass(frozen=True)
class Offered:
    """What is known of a thing at one place, hours in hundredths.

    ``free`` is what is neither issued nor set aside, in the smallest unit; ``lived`` is None for a
    batch; there may be no ``limits`` on record, though the part is ``life_limited``. ``doubts`` are of engine
    events that it has not been cleared of, each a clause.
    """

    condition: Condition
    scope: Scope | None
    owner: int
    owner_name: str
    used: bool
    holds: tuple[str, ...]
    reserved_for: tuple[str, ...]
    free: int
    place_name: str
    place_kind: PlaceKind
    place_firm: str
    pull: str
    note: str
    shelf_expiry_on: date | None
    lived: Lived | None
    limits: tuple[Limit, ...]
    life_limited: bool
    doubts: tuple[str, ...] = ()


def bars(offered: Offered, asking: Asking) -> tuple[str, ...]:
    """Every reason why this may not be taken, in plain clauses; empty when it may."""
    return tuple(bar.words for bar in every_bar(offered, asking))


def every_bar(offered: Offered, asking: Asking) -> tuple[Bar, ...]:
    """The same with the rule that each reason comes from."""
    return (*_bars_by_place(offered), *_bars_by_state(offered, asking), *_bars_by_right(offered, asking))


def _bars_by_place(offered: Offered) -> Iterator[Bar]:
    kind = offered.place_kind
    if kind in STORES_KINDS:
        return
    if kind is PlaceKind.FIRM:
        due = f" ({offered.note})" if offered.note else ""
        yield Bar(BarKind.PLACE, f"out for work at {offered.place_firm or offered.place_name}{due}")
        return
    words = {
        PlaceKind.QUARANTINE: "in quarantine",
        PlaceKind.BENCH: "on the bench",
        PlaceKind.PULL: f"issued for pull {offered.pull}",
        PlaceKind.SCRAP: "scrapped",
        PlaceKind.OUTSIDE: "no longer here",
        PlaceKind.ENGINE: f"fitted in {offered.place_name}",
        PlaceKind.STATION: f"fitted in {offered.place_name}",
        PlaceKind.PIECE: f"fitted in {offered.place_name}",
    }
    yield Bar(BarKind.QUARANTINE if kind is PlaceKind.QUARANTINE else BarKind.PLACE, words[kind])


def _bars_by_state(offered: Offered, asking: Asking) -> Iterator[Bar]:
    if offered.condition is Condition.UNINSPECTED:
        yield Bar(BarKind.UNINSPECTED, str(offered.condition))
    elif offered.condition is not Condition.SERVICEABLE:
        yield Bar(BarKind.CONDITION, str(offered.condition))
    elif offered.scope is None:
        yield Bar(BarKind.SCOPE, "not accepted for any scope")
    elif not offered.scope.covers(asking.use):
        yield Bar(BarKind.SCOPE, f"accepted for {offered.scope} only")
    if offered.shelf_expiry_on is not None and offered.shelf_expiry_on <= asking.on:
        yield Bar(BarKind.SHELF_LIFE, f"shelf life ended {offered.shelf_expiry_on.isoformat()}")
    yield from _bars_by_life(offered, asking)
    if asking.renewed_always and offered.used:
        yield Bar(BarKind.RENEWED, "used, and this line is always renewed")


def _bars_by_life(offered: Offered, asking: Asking) -> Iterator[Bar]:
    flight = asking.use is Scope.FLIGHT
    judged = NOT_LIMITED
    if offered.lived is not None and offered.limits:
        judged = judge(offered.lived, offered.limits, asking.on, asking.serving)
        words = bar_words(judged, flight)
        if words is not None:
            yield Bar(BarKind.LIFE, words)
    if offered.life_limited and not judged.lines and flight:
        yield Bar(BarKind.LIFE, "life-limited, and the limit is not recorded")


def _bars_by_right(offered: Offered, asking: Asking) -> Iterator[Bar]:
    for reason in offered.holds:
        yield Bar(BarKind.HOLD, f"on hold: {reason}")
    for doubt in offered.doubts:
        yield Bar(BarKind.EVENT, doubt)
    if offered.owner != asking.owner and offered.owner not in asking.agreed_owners:
        yield Bar(BarKind.OWNER, f"belongs to {offered.owner_name}, with no agreement for this engine")
    if offered.free <= 0 and offered.reserved_for:
        yield Bar(BarKind.RESERVED, f"reserved for pull {', '.join(offered.reserved_for)}")
