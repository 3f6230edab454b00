"""Mods of one engine over time: which are embodied on a day, and what stands in the way of a change."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class ModChange:
    """That a mod was embodied on an engine, or removed (not ``embodied``), by the entry ``number``.

    ``happened_on`` is the entry's day. ``since_on`` is the day from which it holds, which an entry that only
    records an old embodiment gives as an earlier one; None where nobody knows, and then it always held.
    """

    happened_on: date
    number: int
    embodied: bool
    since_on: date | None


def mod_state(changes: Iterable[ModChange], on: date) -> ModChange | None:
    """What holds on a day: the last thing said that begins by then; None where nothing does."""
    said = [each for each in changes if each.since_on is None or each.since_on <= on]
    return max(said, key=lambda each: (each.happened_on, each.number), default=None)


def change_after(changes: Iterable[ModChange], on: date) -> ModChange | None:
    """The first change that was made after a day or holds from after it; None where there is none."""
    later = [each for each in changes if max(each.happened_on, each.since_on or date.min) > on]
    return min(later, key=lambda each: (each.happened_on, each.number), default=None)
