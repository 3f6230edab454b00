"""What an inspection's figures and tests call for, and what may be decided against them.

Every verdict is by the limits of the specification's lines. The rule proposes; a person decides: nothing is
ever proposed to be unsalvageable, and what is outside worn limits is not accepted for flight (an authority's
concession is asked for when such a piece is fitted).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from invdb.rules.limits import LineJudged, LineLimits, Reading, Verdict, judge_line
from invdb.rules.measuring import Measured, kept, shown, shown_beyond
from invdb.rules.specification import SpecLineFacts, seconds_words
from invdb.rules.told import listed
from invdb.terms import Condition, CrackMethod, FieldRefused, Scope, SpecKind

# A drop is said to this many places of its unit; ends in noughts are left off.
_DROP_PLACES = 6


@dataclass(frozen=True)
class RunOfTest:
    """How one test went: ``passed`` is what the person says, None to go by the figures."""

    kind: SpecKind
    name: str
    passed: bool | None = None
    found: str = ""
    method: CrackMethod | None = None
    start: Measured | None = None
    end: Measured | None = None
    held_seconds: int | None = None


@dataclass(frozen=True)
class JudgedTest:
    """A test's outcome: what the person said, what its figures say (None: nothing), and why in a clause."""

    said: bool | None
    by_figures: bool | None
    words: str

    @property
    def passed(self) -> bool | None:
        """What counts as its outcome; None where nobody said, and no figure does."""
        return self.by_figures if self.said is None else self.said

    @property
    def bad(self) -> bool:
        """Whether it was not passed, or its figures say so whatever the person says."""
        return self.passed is False or self.by_figures is False

    @property
    def against_figures(self) -> bool:
        """Whether the person said that it passed where its figures say that it did not."""
        return self.said is True and self.by_figures is False


@dataclass(frozen=True)
class LineFound:
    """How one line of the specification stands: its figures judged, or its test; neither where not taken."""

    line: SpecLineFacts
    judged: LineJudged | None = None
    test: JudgedTest | None = None
    readings: tuple[Reading, ...] = ()

    @property
    def bad(self) -> bool:
        """Whether it speaks against the piece: a figure out of limits, or a test that was not passed."""
        if self.test is not None:
            return self.test.bad
        return self.judged is not None and self.judged.verdict is Verdict.OUT

    @property
    def missing(self) -> str:
        """What of it was not taken: its name, or its places; '' where all was taken or nothing need be."""
        if not self.line.needed:
            return ""
        if self.line.kind.tested:
            return self.line.name if self.test is None or self.test.passed is None else ""
        if self.judged is None:
            return self.line.name
        if not self.judged.missing:
            return ""
        places = listed([place_words(point, direction) for point, direction in self.judged.missing])
        return f"{self.line.name} {places}"

    @property
    def words(self) -> str:
        """Why it stands so, with the place of the worst figure: ``bore top across: 0.02 mm over …``."""
        if self.test is not None:
            return f"{self.line.name}: {self.test.words}"
        if self.judged is None:
            return f"{self.line.name}: not taken"
        for reading, judged in zip(self.readings, self.judged.readings, strict=True):
            if judged.verdict is self.judged.verdict:
                where = place_words(reading.point, reading.direction)
                return f"{' '.join(part for part in (self.line.name, where) if part)}: {judged.words}"
        return f"{self.line.name}: {self.judged.words}"


@dataclass(frozen=True)
class Proposed:
    """The condition that an inspection's figures call for, with its reasons and what was not taken."""

    condition: Condition
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    lines: tuple[LineFound, ...]
    further: tuple[JudgedTest, ...] = ()

    @property
    def bad(self) -> tuple[str, ...]:
        """Everything that speaks against it, each a clause."""
        return (
            *(found.words for found in self.lines if found.bad),
            *(test.words for test in self.further if test.bad),
        )

    @property
    def against_figures(self) -> bool:
        """Whether a test was said to be passed against its figures."""
        tests = (*(found.test for found in self.lines if found.test is not None), *self.further)
        return any(test.against_figures for test in tests)


def place_words(point: str, direction: str) -> str:
    """``top across``; '' where a line names neither."""
    return " ".join(part for part in (point, direction) if part)


def limits_of_sample(limits: LineLimits) -> LineLimits:
    """Limits for a sample of a batch: figures of several things say nothing of ovality or taper."""
    return replace(limits, oval_max=None, taper_max=None)


def judge_test(line: SpecLineFacts | None, run: RunOfTest) -> JudgedTest:
    """The outcome of a test by what its line asks; of a test that no line asks for only what was said.

    A pressure test that began below the pressure, was held for less than was asked, or dropped by more than
    is allowed is not passed.
    """
    said = {True: "passed", False: "not passed", None: "no outcome is given"}[run.passed]
    method = f" by {run.method}" if run.method is not None else ""
    if line is None or run.kind is not SpecKind.PRESSURE_TEST or run.start is None or run.end is None:
        found = f": {run.found.strip()}" if run.found.strip() else ""
        return JudgedTest(run.passed, None, f"{said}{method}{found}")
    faults = _faults(line, run)
    if faults:
        return JudgedTest(run.passed, False, "; ".join(faults))
    drop = run.start.value - run.end.value
    held = seconds_words(run.held_seconds or 0)
    way = "dropped" if drop >= 0 else "rose"
    words = f"{way} {shown(abs(drop), line.unit, _DROP_PLACES)} in {held}"
    if run.passed is False:
        words = f"not passed: {run.found.strip()}" if run.found.strip() else "not passed"
    return JudgedTest(run.passed, None if line.drop_max is None else True, words)


def _faults(line: SpecLineFacts, run: RunOfTest) -> list[str]:
    """What of a pressure test was not as asked, each a clause."""
    assert run.start is not None and run.end is not None and line.target is not None
    faults = []
    if run.start.value < kept(line.target, line.unit).value:
        faults.append(f"begun at {run.start.words}, and {line.target} {line.unit} is asked")
    held = run.held_seconds or 0
    if line.hold_seconds is not None and held < line.hold_seconds:
        faults.append(f"held for {seconds_words(held)}, and {seconds_words(line.hold_seconds)} is asked")
    if line.drop_max is not None:
        drop = run.start.value - run.end.value
        over = drop - kept(line.drop_max, line.unit).value
        if over > 0:
            faults.append(
                f"dropped {shown(drop, line.unit, _DROP_PLACES)},"
                f" {shown_beyond(over, line.unit, _DROP_PLACES)} more than is allowed"
            )
    return faults


def propose(
    lines: Sequence[SpecLineFacts],
    readings: Mapping[str, Sequence[Reading]],
    tests: Iterable[RunOfTest],
    standing: Condition,
    *,
    sampled: bool = False,
) -> Proposed:
    """What the figures and the tests call for, by the lines that hold for the piece's size.

    ``readings`` are by the name of their line; ``standing`` is the condition before, which it keeps where
    something was not taken; ``sampled`` for a batch, of which several were measured.
    """
    runs = {run.name: run for run in tests}
    found = tuple(
        _found(line, tuple(readings.get(line.name, ())), runs.pop(line.name, None), sampled)
        for line in lines
        if line.kind.measured or line.kind.tested
    )
    further = tuple(_named(run.name, judge_test(None, run)) for run in runs.values())
    missing = tuple(each.missing for each in found if each.missing)
    proposed = Proposed(Condition.SERVICEABLE, (), missing, found, further)
    if standing is Condition.UNSALVAGEABLE:
        reasons = ("it was found unsalvageable, and figures alone don't undo that",)
        return replace(proposed, condition=standing, reasons=reasons)
    if proposed.bad:
        return replace(proposed, condition=Condition.UNSERVICEABLE, reasons=proposed.bad)
    if not any(each.line.needed for each in found):
        return replace(
            proposed, condition=standing, reasons=(f"nothing is asked of it, so it stays {standing}",)
        )
    if missing:
        untaken = tuple(f"not taken: {name}" for name in missing)
        return replace(proposed, condition=standing, reasons=(*untaken, f"so it stays {standing}"))
    return replace(proposed, reasons=_good_words(found))


def _named(name: str, judged: JudgedTest) -> JudgedTest:
    """A test that no line asks for, so that its reason alone says which it was."""
    return replace(judged, words=f"{name}: {judged.words}")


def _found(
    line: SpecLineFacts, readings: tuple[Reading, ...], run: RunOfTest | None, sampled: bool
) -> LineFound:
    if line.kind.tested:
        return LineFound(line, test=None if run is None else judge_test(line, run))
    if not readings:
        return LineFound(line)
    limits = limits_of_sample(line.limits) if sampled else line.limits
    return LineFound(line, judge_line(readings, limits), readings=readings)


def _good_words(found: Sequence[LineFound]) -> tuple[str, ...]:
    worn = [each.words for each in found if each.judged is not None and each.judged.verdict is Verdict.WORN]
    measured = any(each.judged is not None for each in found)
    tested = any(each.test is not None for each in found)
    new = "all figures are within new limits" if not worn else "all figures are within worn limits"
    said = ([new] if measured else []) + (["every test is passed"] if tested else [])
    return (*said, *worn)


def check_decision(proposed: Proposed, decided: Condition, scope: Scope | None, reason: str) -> None:
    """Refuse a decision that the figures forbid, or one against them without a reason; FieldRefused.

    What is out of limits or failed a test is not accepted for flight, whatever the reason.
    """
    if decided is Condition.SERVICEABLE and scope is None:
        raise FieldRefused(
            "scope", "It isn't said what it is accepted for.", "Choose flight, ground running or display."
        )
    if decided is not Condition.SERVICEABLE and scope is not None:
        raise FieldRefused("scope", f"What is {decided} is accepted for nothing.", "Leave the scope empty.")
    bad = proposed.bad
    if decided is Condition.SERVICEABLE and scope is Scope.FLIGHT and bad:
        raise FieldRefused(
            "decided",
            f"It can't be accepted for flight: {'; '.join(bad)}.",
            "Decide otherwise; an authority's concession is asked for when it is fitted.",
        )
    if reason.strip():
        return
    if decided is not proposed.condition:
        raise FieldRefused(
            "reason",
            f"The figures call for {proposed.condition}, and {decided} is decided:"
            f" {'; '.join(proposed.reasons)}.",
            "Give the reason.",
        )
    if proposed.against_figures:
        raise FieldRefused("reason", "A test is said to be passed against its figures.", "Give the reason.")
