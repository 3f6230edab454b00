"""How far a kit has come: what fills a line, and the state of a pull from what its lines hold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from invdb.terms import PullState


class KitState(StrEnum):
    """How far a kit, or a line of it, could be filled from stock or has been by pulls."""

    COMPLETE = "complete"
    WITH_ALTERNATE = "with alternate"
    SHORT = "short"
    RESERVED = "reserved"
    ISSUED = "issued"
    NO_KIT_LIST = "no kit list"


@dataclass(frozen=True)
class Option:
    """One way to fill one unit of a line: parts (by id) with how many of each, and the authority for it.

    No authority means the part that the line itself asks for.
    """

    members: tuple[tuple[int, int], ...]
    authority: str


def units_filled(options: Iterable[Option], amounts: Mapping[int, int]) -> int:
    """How many units of a line the amounts (by part, in the smallest unit) fill.

    Options are filled in their order, each taking what it can use; a set counts only when every member of it
    is there.
    """
    left = dict(amounts)
    units = 0
    for option in options:
        filled = min(left.get(part, 0) // each for part, each in option.members)
        for part, each in option.members:
            left[part] = left.get(part, 0) - filled * each
        units += filled
    return units


@dataclass(frozen=True)
class LineCounts:
    """What one line of a pull asked for, and what became of it, in the smallest unit."""

    quantity: int
    reserved: int
    issued: int
    returned: int


def pull_state(lines: Iterable[LineCounts], cancelled: bool) -> PullState:
    """The state of a pull: reserved until something is issued, issued when nothing more is set aside, and
    closed when all that was issued was fitted or came back."""
    if cancelled:
        return PullState.CANCELLED
    counts = list(lines)
    waiting = any(line.reserved for line in counts)
    issued = any(line.issued for line in counts)
    out = any(line.issued > line.returned for line in counts)
    if waiting:
        return PullState.PART_ISSUED if issued else PullState.RESERVED
    if out:
        return PullState.ISSUED
    return PullState.CLOSED
