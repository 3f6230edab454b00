"""Verdicts on what was measured: by the new and the worn limits of a dimension, its ovality and its taper.

A limit itself is within: a bore at its worn limit is within worn limits. All comparisons are of exact
fractions, made of the texts that were published and entered.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from invdb.rules.measuring import Measured, in_base_units, kept, shown, shown_beyond
from invdb.terms import FieldRefused

# How many times too big or too small a slip of the pen makes a figure: a decimal place, an inch read as mm.
_SLIPS = (
    (Fraction(10), "ten times"),
    (Fraction(100), "a hundred times"),
    (Fraction(1000), "a thousand times"),
    (Fraction(127, 5), "25.4 times"),
)
_NEAR = Fraction(1, 10)
# A difference whose decimals don't end is said to so many places of its unit.
_PLACES_SAID = 6


class Verdict(StrEnum):
    """How a figure stands against its limits."""

    NEW = "within new limits"
    WORN = "within worn limits"
    OUT = "out of limits"
    UNJUDGED = "no limits"

    @property
    def rank(self) -> int:
        """Worse is greater; what isn't judged is no worse than what is within new limits."""
        return {Verdict.UNJUDGED: 0, Verdict.NEW: 1, Verdict.WORN: 2, Verdict.OUT: 3}[self]


@dataclass(frozen=True)
class LineLimits:
    """The limits of one line of a specification, as published in ``unit``; None where there is none.

    A worn limit that isn't published is the new one: what may not wear may not leave its new limits.
    """

    name: str
    unit: str
    new_low: str | None = None
    new_high: str | None = None
    worn_low: str | None = None
    worn_high: str | None = None
    oval_max: str | None = None
    taper_max: str | None = None
    points: tuple[str, ...] = ()
    directions: tuple[str, ...] = ()

    def exact(self, text: str | None) -> Fraction | None:
        """One of its figures in the base unit."""
        return None if text is None else kept(text, self.unit).value

    @property
    def new(self) -> tuple[Fraction | None, Fraction | None]:
        """The new limits in the base unit."""
        return self.exact(self.new_low), self.exact(self.new_high)

    @property
    def worn(self) -> tuple[Fraction | None, Fraction | None]:
        """The worn limits in the base unit; where one isn't published, the new one."""
        return (
            self.exact(self.worn_low if self.worn_low is not None else self.new_low),
            self.exact(self.worn_high if self.worn_high is not None else self.new_high),
        )

    @property
    def limited(self) -> bool:
        """Whether anything bounds the figure."""
        return any(text is not None for text in (self.new_low, self.new_high, self.worn_low, self.worn_high))

    @property
    def places(self) -> tuple[tuple[str, str], ...]:
        """Every point with every direction at which it is measured; ('', '') where none is named."""
        return tuple((point, way) for point in self.points or ("",) for way in self.directions or ("",))


@dataclass(frozen=True)
class Judged:
    """A verdict, and why in one clause."""

    verdict: Verdict
    words: str


@dataclass(frozen=True)
class Reading:
    """One figure at a point, in a direction; both '' where the line names none."""

    point: str
    direction: str
    measured: Measured


@dataclass(frozen=True)
class LineJudged:
    """How a line's readings stand: each of them, their ovality and taper, the worst, and what is missing."""

    readings: tuple[Judged, ...]
    ovality: Judged | None
    taper: Judged | None
    verdict: Verdict
    missing: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        """The worst of it in one clause."""
        every = [*self.readings, *(each for each in (self.ovality, self.taper) if each is not None)]
        return next((each.words for each in every if each.verdict is self.verdict), str(self.verdict))


def check_limits(line: LineLimits) -> None:
    """Refuse limits that contradict one another: FieldRefused, naming the two figures."""
    new_low, new_high = line.new
    for low, high, field, words in (
        (line.new_low, line.new_high, "new_high", "new limits"),
        (line.worn_low, line.worn_high, "worn_high", "worn limits"),
    ):
        if _more(low, high, line.unit):
            raise FieldRefused(
                field,
                f"The {words} of {line.name} are swapped: {low} is more than {high} {line.unit}.",
                "Give the lower figure first.",
            )
    for low, high, worn, field, words in (
        (line.worn_low, line.new_low, line.worn_low, "worn_low", "lower"),
        (line.new_high, line.worn_high, line.worn_high, "worn_high", "upper"),
    ):
        if _more(low, high, line.unit):
            raise FieldRefused(
                field,
                f"The {words} worn limit of {line.name}, {worn} {line.unit}, is inside its new limits.",
                "Check both; a worn limit lies beyond the new one.",
            )
    worn_low, worn_high = line.worn
    if worn_low is not None and new_high is not None and worn_low > new_high:
        raise FieldRefused(
            "worn_low", f"What is new would be worn out: {line.name}.", "Check the lower worn limit."
        )
    if worn_high is not None and new_low is not None and worn_high < new_low:
        raise FieldRefused(
            "worn_high", f"What is new would be worn out: {line.name}.", "Check the upper worn limit."
        )
    for text, field in ((line.oval_max, "oval_max"), (line.taper_max, "taper_max")):
        if text is not None and kept(text, line.unit).value < 0:
            raise FieldRefused(field, f"{text} {line.unit} is below zero.", "Check the figure.")


def _more(low: str | None, high: str | None, unit: str) -> bool:
    """Whether the first of two published figures is more than the second, where there are both."""
    return low is not None and high is not None and kept(low, unit).value > kept(high, unit).value


def judge(value: Fraction, line: LineLimits) -> Judged:
    """The verdict on one figure, in the base unit; a limit itself is within."""
    if not line.limited:
        return Judged(Verdict.UNJUDGED, "no limits are published")
    worn_low, worn_high = line.worn
    if worn_low is not None and value < worn_low:
        what = "worn" if line.worn_low is not None else "new"
        return Judged(Verdict.OUT, f"{_by(worn_low - value, line)} below the lower {what} limit")
    if worn_high is not None and value > worn_high:
        what = "worn" if line.worn_high is not None else "new"
        return Judged(Verdict.OUT, f"{_by(value - worn_high, line)} over the upper {what} limit")
    new_low, new_high = line.new
    if new_low is not None and value < new_low:
        return Judged(Verdict.WORN, f"worn {_by(new_low - value, line)} below the lower new limit")
    if new_high is not None and value > new_high:
        return Judged(Verdict.WORN, f"worn {_by(value - new_high, line)} over the upper new limit")
    if new_low is None and new_high is None:
        return Judged(Verdict.WORN, "within worn limits; no new ones are published")
    return Judged(Verdict.NEW, "within new limits")


def _by(difference: Fraction, line: LineLimits) -> str:
    """A difference in the published unit, exactly where its decimals end, else rounded; never to nothing."""
    in_unit = difference / in_base_units(line.unit)
    for places in range(9):
        if in_unit * 10**places == int(in_unit * 10**places):
            return shown(difference, line.unit, places)
    return shown_beyond(difference, line.unit, _PLACES_SAID)


def judge_line(readings: Sequence[Reading], line: LineLimits) -> LineJudged:
    """The verdict on all that was measured of a line.

    Ovality is the greatest difference between directions at one point, taper that between points in one
    direction; either is judged where it is limited and there are two figures to compare.
    """
    judged = tuple(judge(reading.measured.value, line) for reading in readings)
    ovality = _difference(readings, "ovality", line, line.oval_max, by_point=True)
    taper = _difference(readings, "taper", line, line.taper_max, by_point=False)
    every = [*judged, *(each for each in (ovality, taper) if each is not None)]
    verdict = max((each.verdict for each in every), key=lambda each: each.rank, default=Verdict.UNJUDGED)
    there = {(reading.point, reading.direction) for reading in readings}
    missing = tuple(place for place in line.places if place not in there)
    return LineJudged(judged, ovality, taper, verdict, missing)


def _difference(
    readings: Iterable[Reading], what: str, line: LineLimits, most: str | None, *, by_point: bool
) -> Judged | None:
    groups: dict[str, list[Fraction]] = {}
    for reading in readings:
        key = reading.point if by_point else reading.direction
        groups.setdefault(key, []).append(reading.measured.value)
    apart = max((max(each) - min(each) for each in groups.values() if len(each) > 1), default=None)
    if apart is None or most is None:
        return None
    allowed = kept(most, line.unit).value
    if apart > allowed:
        return Judged(Verdict.OUT, f"{what} {_by(apart, line)}, {_by(apart - allowed, line)} over its limit")
    return Judged(Verdict.NEW, f"{what} {_by(apart, line)}")


def suspicious(measured: Measured, line: LineLimits) -> str | None:
    """The question to ask of a figure far from its limits that a slip of the pen would explain; else None.

    A tenth beside the limits is far: nothing on these engines wears so much and is still measured.
    """
    worn_low, worn_high = line.worn
    ends = [end for end in (worn_low, worn_high, *line.new) if end is not None]
    if not ends or measured.value < 0 or min(ends) <= 0:
        return None
    if measured.value == 0:
        # Of what has an upper limit alone, such as a bend, none at all is the best there is.
        lower = worn_low is not None or line.new_low is not None
        return f"{measured.words} is far from the limits of {line.name}: is it so?" if lower else None
    low, high = min(ends) * (1 - _NEAR), max(ends) * (1 + _NEAR)
    # Of what is only bounded above, such as a bow, less is better.
    no_lower = worn_low is None and line.new[0] is None
    if measured.value <= high and (no_lower or low <= measured.value):
        return None
    for times, words in _SLIPS:
        for value, way in ((measured.value / times, "big"), (measured.value * times, "small")):
            if low <= value <= high:
                return f"{measured.words} is {words} too {way} for {line.name}: a slip of the pen?"
    if not low / 2 <= measured.value <= high * 2:
        return f"{measured.words} is far from the limits of {line.name}: is it so?"
    return None
