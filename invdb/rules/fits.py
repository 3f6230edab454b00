"""Fits: the clearance of two mating parts, from what they measured or their limits, and its verdict.

Clearance is the outer dimension less the inner one, below zero an interference; a gap is its own clearance.
Where a part was measured at several points its clearance is a range, judged at both ends: never below the
minimum at the tight end, never beyond the worn limit at the loose end. The distance from the target is that
of the mean.

What is machined on assembly goes together as long as there is metal enough, that is, while it isn't too loose
already; what is selected on assembly is made up to its target by what is chosen, such as a shim.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from invdb.rules.limits import LineLimits
from invdb.rules.measuring import kept, places_of, shown, shown_beyond
from invdb.terms import FieldRefused, FitKind

TENTHS_MAX = 1_000


class FitVerdict(StrEnum):
    """How a fit stands."""

    NEW = "within new limits"
    WORN = "within worn limits"
    TIGHT = "too tight"
    LOOSE = "too loose"
    MACHINED = "to be machined"
    SELECTED = "to be selected"
    UNMEASURED = "to be measured"

    @property
    def may_go(self) -> bool:
        """Whether the two may go together."""
        return self not in {FitVerdict.TIGHT, FitVerdict.LOOSE}


@dataclass(frozen=True)
class Spread:
    """A dimension as known, in mm: its ends and its mean. Not ``measured``: from the limits of its part."""

    low: Fraction
    mean: Fraction
    high: Fraction
    measured: bool

    def __post_init__(self) -> None:
        if not self.low <= self.mean <= self.high:
            raise ValueError(f"{self.low} to {self.high} does not go round {self.mean}")


@dataclass(frozen=True)
class FitTerms:
    """What is asked of a fit, as published in ``unit``."""

    name: str
    kind: FitKind
    unit: str
    low: str
    high: str
    worn_high: str | None = None
    target: str | None = None
    operation: str = ""

    @property
    def ends(self) -> tuple[Fraction, Fraction]:
        """The new limits in mm."""
        return kept(self.low, self.unit).value, kept(self.high, self.unit).value

    @property
    def loosest(self) -> Fraction:
        """The worn limit in mm; the new one where none is published."""
        return kept(self.worn_high if self.worn_high is not None else self.high, self.unit).value

    @property
    def aim(self) -> Fraction:
        """The target in mm; the middle of the new limits where none is published."""
        if self.target is not None:
            return kept(self.target, self.unit).value
        low, high = self.ends
        return (low + high) / 2

    @property
    def places(self) -> int:
        """The decimal places that its figures are published to."""
        return places_of(self.low, self.high, self.worn_high, self.target)

    def said(self, value: Fraction) -> str:
        """A figure of it, in mm, in its own unit and to its own decimal places at least."""
        return shown(value, self.unit, least=self.places)

    def said_beyond(self, value: Fraction) -> str:
        """By how much, in mm, a clearance is beyond one of its limits; never nothing."""
        return shown_beyond(value, self.unit, least=self.places)


@dataclass(frozen=True)
class FitJudged:
    """A verdict with its reason in one clause.

    ``tenths`` is how far the mean stays from the target, in tenths of the half-tolerance, rounded up; 0 where
    nothing was measured, or where the target is made on assembly.
    """

    verdict: FitVerdict
    words: str
    tenths: int
    clearance: Spread | None

    @property
    def may_go(self) -> bool:
        """Whether the two may go together."""
        return self.verdict.may_go


def check_terms(terms: FitTerms) -> None:
    """Refuse limits of a fit that contradict one another, FieldRefused with the figures."""
    low, high = terms.ends
    if low > high:
        raise FieldRefused(
            "high",
            f"The limits of {terms.name} are swapped: {terms.low} is more than {terms.high} {terms.unit}.",
            "Give the lower figure first.",
        )
    if terms.loosest < high:
        raise FieldRefused(
            "worn_high",
            f"The worn limit of {terms.name}, {terms.worn_high} {terms.unit}, is inside its new ones.",
            "Check the figures.",
        )
    if not low <= terms.aim <= high:
        raise FieldRefused(
            "target",
            f"The target of {terms.name}, {terms.target} {terms.unit}, is outside its new limits.",
            "Check the figures.",
        )


def measured_spread(values: Collection[Fraction]) -> Spread:
    """What readings of one dimension say of it, in mm; at least one."""
    return Spread(min(values), sum(values, Fraction(0)) / len(values), max(values), True)


def limits_spread(line: LineLimits) -> Spread | None:
    """What the limits of a dimension say of an unmeasured piece; None where an end is open.

    Worn limits are taken, since it may be worn to these and still be good.
    """
    low, high = line.worn
    return None if low is None or high is None else Spread(low, (low + high) / 2, high, False)


def clearance(outer: Spread | None, inner: Spread | None) -> Spread | None:
    """What is between the two, None where either is unknown."""
    if outer is None or inner is None:
        return None
    return Spread(
        outer.low - inner.high,
        outer.mean - inner.mean,
        outer.high - inner.low,
        outer.measured and inner.measured,
    )


def judge_fit(terms: FitTerms, found: Spread | None) -> FitJudged:
    """The verdict on a clearance; None is one that nothing is known of.

    One from limits alone bars only where no two pieces within those limits could go together.
    """
    if terms.kind is FitKind.SELECTED:
        return FitJudged(FitVerdict.SELECTED, _selected_words(terms, found), 0, found)
    if found is None or not found.measured:
        return _unmeasured(terms, found)
    low, high = terms.ends
    said = _fit_words(terms, found)
    over = found.high - terms.loosest
    if over > 0:
        return FitJudged(
            FitVerdict.LOOSE, f"{said}, {terms.said_beyond(over)} too loose", _tenths(terms, found), found
        )
    if terms.kind is FitKind.MACHINED:
        if low <= found.low and found.high <= high:
            return FitJudged(FitVerdict.NEW, said, 0, found)
        if found.low > low:
            return FitJudged(FitVerdict.WORN, f"{said}, within the worn limit", 0, found)
        to = terms.said(terms.aim)
        what = f"{terms.operation} to {to}" if terms.operation else f"to be machined to {to}"
        return FitJudged(FitVerdict.MACHINED, f"{said} as it is; {what}", 0, found)
    if found.low < low:
        return FitJudged(
            FitVerdict.TIGHT,
            f"{said}, {terms.said_beyond(low - found.low)} too tight",
            _tenths(terms, found),
            found,
        )
    within = found.high <= high
    verdict = FitVerdict.NEW if within else FitVerdict.WORN
    words = said if within else f"{said}, worn beyond the new limit"
    return FitJudged(verdict, words, _tenths(terms, found), found)


def _unmeasured(terms: FitTerms, found: Spread | None) -> FitJudged:
    if found is None:
        return FitJudged(FitVerdict.UNMEASURED, "nothing is known of it", 0, None)
    said = _fit_words(terms, found)
    if found.low > terms.loosest:
        return FitJudged(FitVerdict.LOOSE, f"too loose by the limits of the two: {said}", 0, found)
    if terms.kind is not FitKind.MACHINED and found.high < terms.ends[0]:
        return FitJudged(FitVerdict.TIGHT, f"too tight by the limits of the two: {said}", 0, found)
    return FitJudged(FitVerdict.UNMEASURED, f"by limits {said}", 0, found)


def _selected_words(terms: FitTerms, found: Spread | None) -> str:
    low, high = terms.ends
    asked = f"for a clearance of {terms.said(low)} to {terms.said(high)}"
    return asked if found is None or not found.measured else f"{_fit_words(terms, found)} to fill, {asked}"


def selected_range(terms: FitTerms, gap: Spread) -> tuple[Fraction, Fraction]:
    """The thicknesses, in mm, that what is selected may have, from the gap that it fills: least and most.

    A gap of limits alone gives a wide range: all that may prove right, to be issued and the rest returned.
    """
    low, high = terms.ends
    return max(gap.low - high, Fraction(0)), max(gap.high - low, Fraction(0))


def _tenths(terms: FitTerms, found: Spread) -> int:
    low, high = terms.ends
    half = (high - low) / 2
    apart = abs(found.mean - terms.aim)
    if half == 0:
        return 0 if apart == 0 else TENTHS_MAX
    return min(TENTHS_MAX, -(-10 * apart // half))


def _fit_words(terms: FitTerms, found: Spread) -> str:
    """``0.31 mm``, ``0.28 mm to 0.34 mm``; an interference is said to be one."""
    if found.low == found.high:
        return _one_words(terms, found.low)
    return f"{_one_words(terms, found.low)} to {_one_words(terms, found.high)}"


def _one_words(terms: FitTerms, value: Fraction) -> str:
    return f"{terms.said(-value)} interference" if value < 0 else terms.said(value)
