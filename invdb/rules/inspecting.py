"""What an inspection comes to: its tests judged by what is asked, and the condition that it all calls for.

Everything within new or worn limits and every test passed calls for serviceable; anything out, or a test not
passed, for unserviceable; where something is missing, and nothing is out, it stays uninspected. That a piece
can't be salvaged is a person's word alone, and so is every decision: this only proposes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from invdb.rules.limits import LineJudged, Verdict
from invdb.rules.measuring import Measured, in_base_units, kept, shown
from invdb.terms import Condition, SpecKind

MISSING_NAMED_MAX = 12


@dataclass(frozen=True)
class PressureTerms:
    """What a pressure test asks for, as published: ``pressure`` and ``drop_max`` in ``unit``.

    ``drop_max`` None: how far it may fall isn't published, and a person says whether it passed.
    """

    name: str
    unit: str
    pressure: str
    hold_seconds: int
    drop_max: str | None = None
    medium: str = ""


@dataclass(frozen=True)
class TestJudged:
    """Whether a test passed by its figures, None where they don't say; and why, in one clause."""

    passed: bool | None
    words: str


def judge_pressure(terms: PressureTerms, start: Measured, end: Measured, held_seconds: int) -> TestJudged:
    """A pressure test by its readings at the start and at the end, compared exactly.

    A drop of just what is allowed passes. One begun below the pressure asked for, or held for less than the
    time asked for, is not passed, whatever it held.
    """
    asked = kept(terms.pressure, terms.unit).value
    if start.value < asked:
        return TestJudged(False, f"begun at {start.words}, below the {terms.pressure} {terms.unit} asked for")
    drop = start.value - end.value
    fell = drop_words(drop, terms.unit)
    allowed = None if terms.drop_max is None else kept(terms.drop_max, terms.unit).value
    if allowed is not None and drop > allowed:
        over = exactly(drop - allowed, terms.unit)
        return TestJudged(False, f"{fell}, {over} more than the {terms.drop_max} {terms.unit} allowed")
    if held_seconds < terms.hold_seconds:
        held, wanted = time_words(held_seconds), time_words(terms.hold_seconds)
        return TestJudged(False, f"held for {held} of the {wanted} asked for")
    if allowed is None:
        return TestJudged(None, f"{fell}; what is allowed is not published")
    return TestJudged(True, f"{fell} of the {terms.drop_max} {terms.unit} allowed")


def drop_words(drop: Fraction, unit: str) -> str:
    """``a drop of 0.05 bar``, ``no drop``, ``a rise of 0.1 bar``; the drop is in the base unit."""
    if drop == 0:
        return "no drop"
    return f"a {'drop' if drop > 0 else 'rise'} of {exactly(abs(drop), unit)}"


def exactly(value: Fraction, unit: str) -> str:
    """A value, in the base unit, in full where its decimals end in a unit, else rounded to six places."""
    in_unit = value / in_base_units(unit)
    for places in range(9):
        if (in_unit * 10**places).denominator == 1:
            return shown(value, unit, places)
    return shown(value, unit, 6)


def time_words(seconds: int) -> str:
    """``45 s``, ``10 min``, ``1 min 30 s``, ``2 h 5 min``."""
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    parts = [f"{number} {unit}" for number, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if number]
    return " ".join(parts) or "0 s"


@dataclass(frozen=True)
class LineFound:
    """What an inspection found of one line: the verdict on its figures, or whether its test passed.

    A line of which nothing was measured or tested has neither. ``passed`` is as the person said it.
    """

    kind: SpecKind
    name: str
    judged: LineJudged | None = None
    passed: bool | None = None
    words: str = ""


@dataclass(frozen=True)
class Proposal:
    """The condition that the findings call for, and why, each reason one clause.

    ``out`` names what is out of limits or didn't pass: with any of it nothing is accepted for flight.
    """

    condition: Condition
    reasons: tuple[str, ...]
    out: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The reasons as one clause."""
        return "; ".join(self.reasons)


def propose(lines: Sequence[LineFound]) -> Proposal:
    """What the findings on all lines of a specification call for; lines that ask for neither don't count."""
    asked = [line for line in lines if line.kind.measured or line.kind.tested]
    if not asked:
        return Proposal(Condition.UNINSPECTED, ("there is no specification to judge by",))
    out = tuple(words for line in asked if (words := _out_words(line)))
    missing = tuple(name for line in asked for name in _missing(line))
    lacking = _missing_words(missing)
    if out:
        return Proposal(Condition.UNSERVICEABLE, (*out, *lacking), out, missing)
    if missing:
        return Proposal(Condition.UNINSPECTED, lacking, (), missing)
    verdicts = {line.judged.verdict for line in asked if line.judged is not None}
    worn = [
        f"{line.name}: {line.judged.words}"
        for line in asked
        if line.judged is not None and line.judged.verdict is Verdict.WORN
    ]
    said = ["everything is within worn limits"] if worn else []
    if Verdict.NEW in verdicts and not worn:
        said.append("everything is within new limits")
    if any(line.kind.tested for line in asked):
        said.append("every test passed")
    return Proposal(Condition.SERVICEABLE, (" and ".join(said) or "no limits are published", *worn))


def _out_words(line: LineFound) -> str:
    if line.judged is not None and line.judged.verdict is Verdict.OUT:
        return f"{line.name}: {line.judged.words}"
    if line.passed is False:
        return f"{line.name} not passed: {line.words}" if line.words else f"{line.name} not passed"
    return ""


def _missing(line: LineFound) -> Iterable[str]:
    """What of a line was not measured or tested, by the names of its points and directions."""
    if line.kind.tested:
        return () if line.passed is not None else (line.name,)
    if line.judged is None or not line.judged.readings:
        return (line.name,)
    return tuple(f"{line.name} {place_words(*place)}" for place in line.judged.missing)


def _missing_words(missing: Sequence[str]) -> tuple[str, ...]:
    if not missing:
        return ()
    named = list(missing[:MISSING_NAMED_MAX])
    if len(missing) > MISSING_NAMED_MAX:
        named.append(f"and {len(missing) - MISSING_NAMED_MAX} more")
    return (f"not measured or tested: {', '.join(named)}",)


def place_words(point: str, direction: str) -> str:
    """``at top, along``, as points and directions are named; '' where a line names neither."""
    return ", ".join(part for part in (f"at {point}" if point else "", direction) if part)
