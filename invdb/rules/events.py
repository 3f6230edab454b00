"""What an engine event leaves in doubt: a propeller strike taints every piece inside the engine then.

The doubt follows each piece wherever it goes, until an inspection named for the event clears it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from invdb.rules.points import Point
from invdb.terms import EngineEventKind


def event_words(kind: EngineEventKind, engine: str, on: date) -> str:
    """'propeller strike of Linnet 142 on 2025-05-04'."""
    return f"{kind} of {engine} on {on.isoformat()}"


def doubt_words(kind: EngineEventKind, engine: str, on: date) -> str:
    """Why a thing that was inside then may not be used, in one clause."""
    return f"inside {engine} at the {kind} of {on.isoformat()}, and no inspection named for it has cleared it"


@dataclass(frozen=True)
class Gain:
    """That a place gained so much of a batch at a point of the ledger, or lost it (below zero)."""

    at: Point
    quantity: int


def inside_since(gains: Iterable[Gain], event: Point, until: Point | None = None) -> bool:
    """Whether some of what a place held at an event may have been there ever since, until before a point.

    Nobody can tell like things apart: as long as the place was never empty since, what is there is taken to
    be what was there. ``gains`` need be in no order; what came and went in one entry counts together.
    """
    ordered = sorted(gains, key=lambda gain: gain.at)
    held = sum(gain.quantity for gain in ordered if gain.at <= event)
    if held <= 0:
        return False
    later: dict[Point, int] = {}
    for gain in ordered:
        if gain.at > event and (until is None or gain.at < until):
            later[gain.at] = later.get(gain.at, 0) + gain.quantity
    for gained in later.values():
        held += gained
        if held <= 0:
            return False
    return True
