"""The sheet of an inspection: what is to be measured and tested, to be filled in, and what was found.

Every value is plain; a sheet on paper and a form on screen show the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.limits import Judged, LineJudged, LineLimits, Verdict
from invdb.rules.measuring import both_ways, kept, other_unit, shown
from invdb.rules.pick_list import HazardNote
from invdb.rules.specification import SpecLineFacts, seconds_words
from invdb.terms import Condition, CrackMethod, Scope, SpecKind


@dataclass(frozen=True)
class InstrumentNote:
    """Something that measures, as it may be chosen for a reading; ``out`` is why not to trust it, or ''."""

    id: int
    number: str
    name: str
    calibrated_on: date | None = None
    calibration_due_on: date | None = None
    out: str = ""


@dataclass(frozen=True)
class LastReading:
    """A figure that was read before, as ``98.02 mm``, with its verdict by the limits of this sheet."""

    point: str
    direction: str
    figure: str
    unit: str
    measured_on: date
    judged: Judged


@dataclass(frozen=True)
class SheetLine:
    """One line to fill in, and what the latest inspection that measured it read."""

    line: SpecLineFacts
    last: tuple[LastReading, ...] = ()


@dataclass(frozen=True)
class SheetToFill:
    """A sheet for one piece or batch, or for any piece of a part: then ``tag`` is '' and nothing is known of
    how it stands.

    ``revision`` is '' where the part has no specification in force; ``checks_missing`` are the receiving
    checks not recorded yet, in words; ``against`` what stands against accepting it, each a clause.
    """

    workshop: str
    printed_at: datetime
    on: date
    part_number: str
    part_name: str
    size_class: str = ""
    finish: str = ""
    tag: str = ""
    is_batch: bool = False
    serial: str = ""
    condition: Condition | None = None
    scope: Scope | None = None
    where: str = ""
    owner: str = ""
    spec: int | None = None
    revision: str = ""
    source: str = ""
    document: str = ""
    lines: tuple[SheetLine, ...] = ()
    hazards: tuple[HazardNote, ...] = ()
    checks_missing: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    instruments: tuple[InstrumentNote, ...] = ()

    @property
    def measured(self) -> tuple[SheetLine, ...]:
        """The lines of which figures are read."""
        return tuple(each for each in self.lines if each.line.kind.measured)

    @property
    def tested(self) -> tuple[SheetLine, ...]:
        """The lines that are passed or not."""
        return tuple(each for each in self.lines if each.line.kind.tested)

    @property
    def stated(self) -> tuple[SheetLine, ...]:
        """The lines that say what it must be, of which nothing is filled in."""
        return tuple(each for each in self.lines if not each.line.kind.measured and not each.line.kind.tested)


@dataclass(frozen=True)
class ReadingDone:
    """A figure that was read: as entered, with what, and its verdict then and by the present limits.

    A verdict is None where no specification had a line of that name.
    """

    point: str
    direction: str
    figure: str
    unit: str
    instrument: str
    then: Judged | None
    present: Judged | None

    @property
    def words(self) -> str:
        """``98.02 mm (3.85906 in)``."""
        return both_ways(kept(self.figure, self.unit))


@dataclass(frozen=True)
class LineDone:
    """What was read of one line, judged by the revision in force then and by the present one."""

    kind: SpecKind
    name: str
    readings: tuple[ReadingDone, ...]
    limits_then: LineLimits | None
    limits_present: LineLimits | None
    then: LineJudged | None
    present: LineJudged | None

    @property
    def differs(self) -> str:
        """Where the two revisions disagree: ``within new limits then, out of limits now``; else ''."""
        before = Verdict.UNJUDGED if self.then is None else self.then.verdict
        after = Verdict.UNJUDGED if self.present is None else self.present.verdict
        return "" if before is after else f"{before} then, {after} by the present revision"


@dataclass(frozen=True)
class BenchTested:
    """How a test came out: as the person said, and what its figures say."""

    kind: SpecKind
    name: str
    passed: bool
    words: str = ""
    found: str = ""
    method: CrackMethod | None = None
    medium: str = ""
    start: str = ""
    end: str = ""
    unit: str = ""
    held_seconds: int | None = None
    instrument: str = ""


@dataclass(frozen=True)
class InspectionDone:
    """One inspection as kept; ``entry`` is its number in the ledger.

    ``revision`` is the one in force then, ``revision_present`` the present one, '' where there is none.
    """

    id: int
    entry: int
    tag: str
    is_batch: bool
    part_number: str
    part_name: str
    size_class: str
    inspected_on: date
    inspected_by: str
    licence_number: str
    proposed: Condition
    decided: Condition
    scope: Scope | None
    reason: str
    note: str
    revision: str
    revision_present: str
    lines: tuple[LineDone, ...]
    tests: tuple[BenchTested, ...]
    papers: tuple[str, ...] = ()

    @property
    def differs(self) -> tuple[str, ...]:
        """Every line on which the present revision judges otherwise: ``bore: …``."""
        return tuple(f"{line.name}: {line.differs}" for line in self.lines if line.differs)

    @property
    def against_proposal(self) -> bool:
        """Whether the person decided otherwise than the figures called for."""
        return self.proposed is not self.decided


@dataclass(frozen=True)
class FilledSheet:
    """An inspection on paper: what was found, whose sheet it is, and when it was printed."""

    workshop: str
    printed_at: datetime
    serial: str
    done: InspectionDone
    hazards: tuple[HazardNote, ...] = ()


def asked_words(line: SpecLineFacts) -> str:
    """What a line asks for besides its limits, in one clause: a test's terms, a target, its wording."""
    words = []
    if line.kind is SpecKind.PRESSURE_TEST:
        words += [f"with {line.medium}"] if line.medium else []
        words += [f"at {_both(line.target, line)}"] if line.target is not None else []
        words += [f"held for {seconds_words(line.hold_seconds)}"] if line.hold_seconds is not None else []
        words += [f"drop at most {_both(line.drop_max, line)}"] if line.drop_max is not None else []
    elif line.target is not None:
        words.append(f"target {_both(line.target, line)}")
    if line.spread_max is not None:
        words.append(f"within {_both(line.spread_max, line)} in one set")
    return ", ".join([*words, *([line.wording] if line.wording else [])])


def _both(text: str, line: SpecLineFacts) -> str:
    return both_ways(kept(text, line.unit))


def bounds_words(low: str | None, high: str | None, unit: str) -> tuple[str, str]:
    """Limits as published, ``at most 98.03 mm``, and their figures the other way, ``3.85945 in``.

    Both are '' where there is no limit, the second where the unit has no other way.
    """
    if low is None and high is None:
        return "", ""
    before = "at most " if low is None else "at least " if high is None else ""
    figures = [text for text in (low, high) if text is not None]
    other = other_unit(unit)
    if other is None:
        return f"{before}{' to '.join(figures)} {unit}", ""
    turned = [shown(kept(text, unit).value, other).removesuffix(f" {other}") for text in figures]
    return f"{before}{' to '.join(figures)} {unit}", f"{' to '.join(turned)} {other}"
