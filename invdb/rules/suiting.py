"""Which things suit each other at the stations of one position: by fit, by size and by finish.

What is known of each thing is given: its latest figures, and the limits of its part for its size. A fit is
judged by the terms that name both parts, before those that name one, before those for any.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TypeVar

from invdb.rules.fits import (
    FitJudged,
    FitTerms,
    FitVerdict,
    Spread,
    clearance,
    judge_fit,
    limits_spread,
    measured_spread,
)
from invdb.rules.limits import LineLimits, Reading
from invdb.terms import FitKind, MatchOn

T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of one thing: its part, size and finish ('' for standard), figures and limits by name.

    ``measured_on`` is the ISO day of the latest of its figures, '' where it was never measured.
    """

    part: int
    part_number: str
    size_class: str
    finish: str
    readings: Mapping[str, Sequence[Reading]] = field(default_factory=dict)
    limits: Mapping[str, LineLimits] = field(default_factory=dict)
    measured_on: str = ""
    _spreads: dict[tuple[str, str], Spread | None] = field(default_factory=dict, repr=False)

    def spread(self, name: str, point: str = "") -> Spread | None:
        """A dimension at one point of it, or at all: as measured, else from the limits, else None."""
        if (name, point) not in self._spreads:
            self._spreads[name, point] = self._spread(name, point)
        return self._spreads[name, point]

    def _spread(self, name: str, point: str) -> Spread | None:
        wanted = point.casefold()
        values = [
            each.measured.value
            for each in _under(self.readings, name) or ()
            if wanted in {"", each.point.casefold()}
        ]
        if values:
            return measured_spread(values)
        limits = _under(self.limits, name)
        return None if limits is None else limits_spread(limits)

    def mass(self, name: str) -> Fraction | None:
        """A mass in grams, as weighed; the mean where it was weighed more than once at a time."""
        readings = _under(self.readings, name)
        return measured_spread([each.measured.value for each in readings]).mean if readings else None


def _under(named: Mapping[str, T], name: str) -> T | None:
    """What stands under a name, whatever the case: two parts' specifications may spell it in two ways."""
    if name in named:
        return named[name]
    wanted = name.casefold()
    return next((value for key, value in named.items() if key.casefold() == wanted), None)


@dataclass(frozen=True)
class FitEnd:
    """One of the two parts of a fit: where it sits, its dimension, and the point of that; None: any part."""

    station: str
    name: str
    point: str = ""
    part: int | None = None


@dataclass(frozen=True)
class FitLine:
    """The terms of a fit between what sits at two stations. Of a ``gap`` the outer dimension is all."""

    id: int
    terms: FitTerms
    outer: FitEnd
    inner: FitEnd
    gap: bool = False
    makes_matched: bool = False

    @property
    def named_parts(self) -> int:
        """How many of its two parts it names: what names more goes before."""
        return (self.outer.part is not None) + (self.inner.part is not None)

    def is_for(self, outer: Known, inner: Known) -> bool:
        """Whether it is for these two parts."""
        return self.outer.part in {None, outer.part} and self.inner.part in {None, inner.part}

    def judge(self, outer: Known, inner: Known) -> FitJudged:
        """The verdict on two things."""
        gap = outer.spread(self.outer.name, self.outer.point)
        if self.gap:
            return judge_fit(self.terms, gap)
        return judge_fit(self.terms, clearance(gap, inner.spread(self.inner.name, self.inner.point)))


@dataclass(frozen=True)
class MatchLine:
    """That what sits at two stations must be of one size, or that two finishes may not meet there."""

    what: MatchOn
    station: str
    other: str
    finish: str = ""
    other_finish: str = ""

    def bar(self, thing: Known, other: Known) -> str | None:
        """Why two things may not go together there, in one clause; None where they may."""
        if self.what is MatchOn.SIZE:
            if thing.size_class.casefold() == other.size_class.casefold():
                return None
            return (
                f"{_size_words(thing)} in size, and the {self.other} {other.part_number} is"
                f" {_size_words(other)}"
            )
        ours, theirs = thing.finish.casefold(), other.finish.casefold()
        if (ours, theirs) != (self.finish.casefold(), self.other_finish.casefold()):
            return None
        return f"{thing.finish}, and may not meet the {other.finish} {self.other} {other.part_number}"


def _size_words(thing: Known) -> str:
    return thing.size_class or "standard"


@dataclass(frozen=True)
class Judgement:
    """One fit of two things, with its verdict."""

    line: FitLine
    judged: FitJudged


@dataclass(frozen=True)
class Suited:
    """How two things suit each other: every fit between them, and every rule of size or finish in the way."""

    fits: tuple[Judgement, ...]
    unmatched: tuple[str, ...]

    @property
    def may_go(self) -> bool:
        """Whether the two may go together."""
        return not self.unmatched and all(each.judged.may_go for each in self.fits)

    @property
    def tenths(self) -> int:
        """How far their fits stay from their targets, added up."""
        return sum(each.judged.tenths for each in self.fits)

    @property
    def unmeasured(self) -> int:
        """How many fits are to be as they are found, and aren't known since not both things were measured."""
        return sum(
            each.line.terms.kind is FitKind.AS_FOUND and each.judged.verdict is FitVerdict.UNMEASURED
            for each in self.fits
        )

    @property
    def fit_bars(self) -> tuple[str, ...]:
        """The fits outside their limits, each in one clause."""
        return tuple(
            f"{each.line.terms.name} {each.judged.words}" for each in self.fits if not each.judged.may_go
        )


_SUITED = Suited((), ())


class Suiting:
    """The fits and the rules of size and finish of one group of an engine type, by the stations they tie."""

    def __init__(self, fits: Iterable[FitLine], matches: Iterable[MatchLine]) -> None:
        self.fits = tuple(fits)
        self._fits: dict[tuple[str, str], list[FitLine]] = defaultdict(list)
        self._matches: dict[tuple[str, str], list[MatchLine]] = defaultdict(list)
        self._suited: dict[tuple[str, int, str, int], Suited] = {}
        self._kept: list[Known] = []
        for line in sorted(self.fits, key=lambda each: -each.named_parts):
            self._fits[line.outer.station, line.inner.station].append(line)
        for match in matches:
            self._matches[match.station, match.other].append(match)

    @property
    def stations(self) -> frozenset[str]:
        """Every station that is tied to another, or whose own gap is judged."""
        return frozenset(station for pair in (*self._fits, *self._matches) for station in pair)

    def tied(self, station: str, other: str) -> bool:
        """Whether anything is asked of what sits at these two stations together."""
        return any(
            pair in table
            for pair in ((station, other), (other, station))
            for table in (self._fits, self._matches)
        )

    def selecting(self, station: str) -> FitLine | None:
        """The fit that what sits at a station is selected for on assembly, if it is."""
        return next(
            (
                line
                for line in self.fits
                if line.terms.kind is FitKind.SELECTED and line.inner.station == station
            ),
            None,
        )

    def judge(self, station: str, thing: Known, other_station: str, other: Known) -> Suited:
        """How a thing at one station suits another at another; things that nothing ties suit each other."""
        if not self.tied(station, other_station):
            return _SUITED
        key = (station, id(thing), other_station, id(other))
        if key not in self._suited:
            # What is remembered by its identity has to live as long as the memory of it.
            self._kept += [thing, other]
            judgements = (
                *self._judged(station, thing, other_station, other),
                *(self._judged(other_station, other, station, thing) if other_station != station else ()),
            )
            unmatched = (
                *self._unmatched(station, thing, other_station, other),
                *(self._unmatched(other_station, other, station, thing) if other_station != station else ()),
            )
            self._suited[key] = Suited(judgements, unmatched)
        return self._suited[key]

    def _judged(self, outer: str, thing: Known, inner: str, other: Known) -> Iterator[Judgement]:
        seen: set[str] = set()
        for line in self._fits.get((outer, inner), ()):
            if line.terms.name not in seen and line.is_for(thing, other):
                seen.add(line.terms.name)
                yield Judgement(line, line.judge(thing, other))

    def _unmatched(self, station: str, thing: Known, other_station: str, other: Known) -> Iterator[str]:
        for match in self._matches.get((station, other_station), ()):
            bar = match.bar(thing, other)
            if bar is not None:
                yield f"{thing.part_number} is {bar}"


@dataclass(frozen=True)
class BalanceLine:
    """Positions whose masses agree, in mg: within ``spread`` of one another, or of ``target``.

    ``positions`` None for all of the group; ``masses`` are (station, name of the mass).
    """

    id: int
    name: str
    unit: str
    spread: int
    target: int | None
    positions: frozenset[str] | None
    masses: tuple[tuple[str, str], ...]

    def holds_for(self, position: str) -> bool:
        """Whether a position counts."""
        return self.positions is None or position in self.positions
