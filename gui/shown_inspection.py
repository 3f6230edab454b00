"""What the lines of an inspection sheet ask, what is typed in them, and how that stands: plain values."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from gui.shown import Choice


@dataclass(frozen=True)
class Judgement:
    """How what was filled in stands: the word of its sign ("" for none), and why in words."""

    sign: str
    words: str = ""


@dataclass(frozen=True)
class Figure:
    """One figure as typed, at a point and in a direction; both "" where the line names none."""

    point: str
    direction: str
    text: str


@dataclass(frozen=True)
class Taken:
    """The figures of a line that were typed, and with what they were measured (its key, or None)."""

    figures: tuple[Figure, ...] = ()
    instrument: Any = None


@dataclass(frozen=True)
class Measures:
    """What a line asks to be measured: a box for each of ``points`` in each of ``directions``.

    Either holds "" alone where the line names none. ``captions`` are its limits and what it read last, a line
    each. Of a ``several`` each place may be measured more than once, as one does with a batch. ``judge``
    tells how one box stands, ``judge_all`` how all of them do, and ``instrument_told`` what is to be known of
    an instrument by its key; all three are pure.
    """

    captions: tuple[str, ...]
    unit: str
    points: tuple[str, ...]
    directions: tuple[str, ...]
    several: bool
    instruments: tuple[Choice, ...]
    instrument_told: Callable[[Any], Judgement]
    judge: Callable[[str], Judgement]
    judge_all: Callable[[Taken], Judgement]


@dataclass(frozen=True)
class DoneTest:
    """A test as it was filled in; times and figures as typed. ``passed`` None goes by the figures."""

    method: Any = None
    medium: str = ""
    start: str = ""
    end: str = ""
    held: str = ""
    passed: bool | None = None
    found: str = ""
    instrument: Any = None


@dataclass(frozen=True)
class AskedTest:
    """What a test asks. With a ``unit`` it is a pressure test, begun and ended by a reading.

    ``hold_seconds`` is what its count-down counts (None: nothing is asked), and ``methods`` are the ways to
    choose from (none: there is no choice). ``outcomes`` are what may be said of it. ``judge`` and
    ``instrument_told`` are pure.
    """

    captions: tuple[str, ...]
    outcomes: tuple[Choice, ...]
    instruments: tuple[Choice, ...]
    instrument_told: Callable[[Any], Judgement]
    judge: Callable[[DoneTest], Judgement]
    unit: str = ""
    hold_seconds: int | None = None
    methods: tuple[Choice, ...] = ()
