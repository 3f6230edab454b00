"""What the widgets show, as plain values: rows, columns, hits, fields, cylinders, stretches.

A presenter makes these and needs no Tk for it; a worker may hand them across.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Hit:
    """One thing found: what it is called, what tells it apart, of what kind, a way to it, its sign's word."""

    headline: str
    detail: str
    kind: str
    ref: Any
    sign: str = ""


@dataclass(frozen=True)
class Hits:
    """What was found, best first, and a sentence about it, such as that nothing fits but for a typing slip.

    What is found with such a sentence is never taken unasked.
    """

    hits: tuple[Hit, ...]
    note: str = ""


@dataclass(frozen=True)
class Column:
    """One column of a list. ``width`` is in pixels at 100 %; ``sort`` is False where order means nothing."""

    name: str
    word: str
    width: int = 120
    right: bool = False
    sort: bool = True


@dataclass(frozen=True)
class Row:
    """One row of a list: ``cells`` in the order of the columns, and the word of the sign that colours it.

    ``key`` tells the row from every other and stays the same when the list is read again.
    """

    key: Any
    cells: tuple[str, ...]
    sign: str = ""


@dataclass(frozen=True)
class Page:
    """Some rows of a list, how many fit the filter, and how many there are without it."""

    rows: tuple[Row, ...]
    fitting: int
    total: int


@dataclass(frozen=True)
class Sort:
    """By which column, by name, and which way."""

    column: str
    descending: bool = False


@dataclass(frozen=True)
class Deed:
    """Something a person may do here and now: its word, its key as written ("Ctrl+R"), and the doing."""

    word: str
    run: Callable[[], None]
    key: str = ""
    hint: str = ""


@dataclass(frozen=True)
class Empty:
    """What an empty list says: what would stand there, how to begin, and a deed or two to begin with."""

    headline: str
    how_to_begin: str = ""
    deeds: tuple[Deed, ...] = ()


class FieldKind(StrEnum):
    """How a field of a form is filled in, and so what value it gives.

    TEXT, LINES and QUANTITY give stripped text; CHOICE the key of the chosen; FIND the ``ref`` of a hit;
    DATE a date; TICK a bool; TICKS a frozenset of keys; FILES a tuple of :class:`ChosenFile`; ROWS a tuple of
    values by the names of the columns. Where nothing was filled in, CHOICE, FIND and DATE give None. TOLD and
    JUDGED are not filled in: they show words, or a judgement, that other fields lead to, and give None.
    MEASURES and TEST are lines of an inspection; see ``gui.shown_inspection``. SPEC_LINES gives a tuple of
    the lines of a specification; see ``gui.shown_spec``.
    """

    TEXT = "text"
    LINES = "lines"
    QUANTITY = "quantity"
    CHOICE = "choice"
    FIND = "find"
    DATE = "date"
    TICK = "tick"
    TICKS = "ticks"
    FILES = "files"
    ROWS = "rows"
    TOLD = "told"
    JUDGED = "judged"
    MEASURES = "measures"
    TEST = "test"
    SPEC_LINES = "specification lines"


@dataclass(frozen=True)
class Choice:
    """One of several: what it stands for, and its word."""

    key: Any
    word: str


@dataclass(frozen=True)
class ChosenFile:
    """A file to be attached, and the key of the kind of paper it is said to be."""

    path: Path
    kind: Any


Values = Mapping[str, Any]


@dataclass(frozen=True)
class Field:
    """One field of a form.

    ``choices`` serve CHOICE, TICKS and the kinds of FILES. ``find`` serves FIND: from a worker's job and the
    words typed to hits. ``start`` is what is offered. ``kept`` fields keep their value for "Another like
    this". ``check`` gets the value and all values and raises Refused to say what is wrong. ``shown_when``
    gets all values and says whether the field has anything to ask. ``unit`` stands behind a quantity.
    ``columns`` are the fields of each of the ROWS. ``asks`` is what MEASURES, TEST and
    SPEC_LINES ask for.
    """

    name: str
    word: str
    kind: FieldKind = FieldKind.TEXT
    needed: bool = False
    start: Any = None
    kept: bool = True
    hint: str = ""
    unit: str = ""
    section: str = ""
    choices: tuple[Choice, ...] = ()
    find: Callable[[Any, str], Sequence[Hit] | Hits] | None = None
    check: Callable[[Any, Values], None] | None = None
    shown_when: Callable[[Values], bool] | None = None
    columns: tuple[Field, ...] = ()
    asks: Any = None


class CylinderShape(StrEnum):
    """How a cylinder is drawn: a finned barrel standing alone, or one bore in a cooled block."""

    FINNED = "finned"
    BLOCK = "block"


@dataclass(frozen=True)
class Cylinder:
    """One cylinder of an engine picture, where it sits on the real engine.

    ``x`` and ``y`` are its middle in any unit, x to the right and y upward; ``angle`` is where its head
    points, in degrees clockwise from straight up. ``filled`` (0 to 1) is what it stands for in this view,
    ``figure`` says it in figures ("12/14"), ``sign`` is the word of its sign and ``detail`` what pointing at
    it tells. ``ticked`` is whether it is among those gathered for something.
    """

    name: str
    x: float
    y: float
    angle: float
    shape: CylinderShape = CylinderShape.FINNED
    filled: float = 0.0
    figure: str = ""
    sign: str = ""
    detail: str = ""
    ticked: bool = False


@dataclass(frozen=True)
class Stretch:
    """A time during which a piece was one thing: in stores, fitted, out for work, on hold, history missing.

    ``until`` is None if it still is. ``sign`` is the word of its sign, ``word`` stands in the band and
    ``detail`` is what pointing at it tells; ``ref`` is the entry to open, or None.
    """

    since: date
    until: date | None
    sign: str
    word: str
    detail: str = ""
    ref: Any = None


@dataclass(frozen=True)
class Moment:
    """Something on one day of a piece's life: an inspection, a paper, an entry."""

    on: date
    sign: str
    word: str
    detail: str = ""
    ref: Any = None


@dataclass(frozen=True)
class LifeLine:
    """All that a life line draws. ``holds`` run apart from the places; ``today`` ends what has not ended."""

    today: date
    stretches: tuple[Stretch, ...] = ()
    holds: tuple[Stretch, ...] = ()
    moments: tuple[Moment, ...] = field(default=())


@dataclass(frozen=True)
class Gauge:
    """Life used against the limit that governs, in that limit's own unit.

    ``used_high`` is None where no upper end is known. ``soon`` is from where on it is due soon, or None.
    ``figure`` says both in words ("412.50 of 600.00 h since new") and ``sign`` is the word of its sign.
    """

    used_low: int
    used_high: int | None
    limit: int
    figure: str
    sign: str
    soon: int | None = None


@dataclass(frozen=True)
class FilledStation:
    """One station of a position with one thing that is in it, or with the words that say that nothing is.

    ``x`` and ``y`` are where it sits within the cylinder's own square, -1 to 1, the head upward. ``thing`` is
    its tag and part, ``words`` what else there is to say of it in one line, ``depth`` how many other things
    of the same position it lies within. ``detail`` is what pointing at it tells; ``key`` is what an act on it
    needs and stays the same when it is read again. A ``section`` other than the one before gets a heading.
    """

    key: Any
    station: str
    x: float
    y: float
    thing: str
    sign: str
    words: str = ""
    gauge: Gauge | None = None
    depth: int = 0
    detail: str = ""
    section: str = ""


@dataclass(frozen=True)
class DueBar:
    """Something that falls due, with the earliest and the latest day that the use so far leads one to expect.

    ``earliest`` is None where no day can be told at all; ``latest`` None where it may also be much later.
    ``words`` says what is left and when, ``sign`` is the word of its sign.
    """

    key: Any
    engine: str
    what: str
    sign: str
    earliest: date | None
    latest: date | None
    words: str
    detail: str = ""


@dataclass(frozen=True)
class DayMark:
    """A day on which something changed, and what, for a slider over time."""

    on: date
    word: str


@dataclass(frozen=True)
class ChartBand:
    """A range of a strip's figures that means one thing, told by the word of its sign."""

    low: float
    high: float
    sign: str


@dataclass(frozen=True)
class ChartLine:
    """A figure drawn across a strip, and what it is: ``word`` stands at its end."""

    value: float
    word: str
    sign: str = ""


@dataclass(frozen=True)
class ChartPoint:
    """What a strip tells of one cylinder: a range with its mean, all None where nothing is known.

    Not ``measured``: it follows from limits alone, and is drawn open. ``figure`` stands beneath it, ``sign``
    is the word of its sign and ``detail`` what pointing at it tells.
    """

    name: str
    low: float | None
    mean: float | None
    high: float | None
    figure: str
    sign: str
    measured: bool = True
    detail: str = ""


@dataclass(frozen=True)
class ChartStrip:
    """One row of a chart by cylinder: a fit's clearances, or masses that are to agree.

    ``caption`` says the limits as published and ``told`` how it stands; ``sign`` is the worst of its points.
    """

    key: Any
    name: str
    caption: str
    told: str
    sign: str
    bands: tuple[ChartBand, ...]
    lines: tuple[ChartLine, ...]
    points: tuple[ChartPoint, ...]
