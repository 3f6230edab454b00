"""The figures and tests of an inspection as they were typed, read against the specification's lines.

A refusal names its field as ``readings.2`` or ``tests.0.start``: which of those given, counted from none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.instrument import InstrumentFacts, instruments_then
from invdb.acts.measured import KeptReading
from invdb.acts.spec_line import HOLD_SECONDS_MAX
from invdb.records.registry import one_line
from invdb.rules.inspecting import JudgedTest, RunOfTest, judge_test, place_words
from invdb.rules.limits import LineLimits, Reading, suspicious
from invdb.rules.measuring import UNITS, Kind, Measured, kept, read_measured, same_kind, unit_named
from invdb.rules.specification import SpecLineFacts
from invdb.terms import Asked, CrackMethod, FieldRefused, SpecKind

READINGS_MAX = 2000
_KIND_OF = {
    Kind.LENGTH: SpecKind.DIMENSION,
    Kind.ANGLE: SpecKind.DIMENSION,
    Kind.MASS: SpecKind.MASS,
    Kind.FORCE: SpecKind.LOAD_TEST,
}


@dataclass(frozen=True)
class TypedReading:
    """One figure as typed. ``spec_line`` is its line's id; without it the line of that name, if there is one.

    ``unit`` may be left empty for the line's; a unit behind the figure goes before either.
    """

    spec_line: int | None
    name: str
    point: str
    direction: str
    text: str
    unit: str = ""
    instrument: int | None = None


@dataclass(frozen=True)
class TypedTest:
    """One test as it went. ``passed`` None goes by the figures; ``found`` says what was seen.

    A crack test names its ``method``; a pressure test has a ``start`` and an ``end``, in ``unit`` or the
    line's, how long it was held, and its ``medium`` where that is not what the line asks.
    """

    spec_line: int | None
    kind: SpecKind
    name: str
    method: CrackMethod | None = None
    medium: str = ""
    start: str = ""
    end: str = ""
    unit: str = ""
    held_seconds: int | None = None
    passed: bool | None = None
    found: str = ""
    instrument: int | None = None


@dataclass(frozen=True)
class ReadReading:
    """A figure that was read, with its line (None: none asks for it) and its instrument as it was then."""

    line: SpecLineFacts | None
    kind: SpecKind
    name: str
    reading: Reading
    instrument: InstrumentFacts | None


@dataclass(frozen=True)
class ReadTest:
    """A test that was read, with its line, its outcome, its medium and the instrument's calibration then."""

    line: SpecLineFacts | None
    run: RunOfTest
    judged: JudgedTest
    medium: str
    instrument: InstrumentFacts | None


class BenchReader:
    """Reads what was typed, by the lines that hold on a day; ``sure`` lets pass what is asked about.

    ``last`` are its latest figures by name, beside which one without limits is looked at. Of a ``sampled``
    batch a place may be measured several times.
    """

    def __init__(
        self,
        session: Session,
        lines: Sequence[SpecLineFacts],
        on: date,
        *,
        last: Mapping[str, Sequence[KeptReading]],
        sampled: bool,
        sure: bool,
    ) -> None:
        self._session = session
        self._by_id = {line.id: line for line in lines}
        self._by_name = {line.name.casefold(): line for line in lines}
        self._on = on
        self._last = last
        self._sampled = sampled
        self._sure = sure
        self._instruments: dict[int, InstrumentFacts] = {}

    def readings(self, typed: Sequence[TypedReading]) -> tuple[ReadReading, ...]:
        """The figures; FieldRefused for one that can't be, Asked for one that may be a slip."""
        if len(typed) > READINGS_MAX:
            raise FieldRefused("readings", f"{len(typed)} figures are too many.", "Make two inspections.")
        found = []
        seen: set[tuple[str, str, str]] = set()
        for index, each in enumerate(typed):
            with _named(f"readings.{index}"):
                read = self._reading(each)
            place = (read.name, read.reading.point, read.reading.direction)
            if place in seen and not self._sampled:
                where = place_words(*place[1:])
                raise FieldRefused(
                    f"readings.{index}",
                    f"{' '.join(word for word in (read.name, where) if word)} is given twice.",
                    "Give it once.",
                )
            seen.add(place)
            found.append(read)
        return tuple(found)

    def _reading(self, typed: TypedReading) -> ReadReading:
        line = self._line(typed.spec_line, typed.name)
        if line is None:
            return self._unasked(typed)
        if not line.kind.measured:
            raise FieldRefused("name", f"{line.name} is a {line.kind}, and no figure.", "Give it as a test.")
        point = _place(typed.point, line.limits.points, "point", line.name)
        direction = _place(typed.direction, line.limits.directions, "direction", line.name)
        unit = unit_named(typed.unit) if typed.unit.strip() else line.unit
        if not same_kind(unit, line.unit):
            raise FieldRefused("unit", f"{line.name} is not measured in {unit}.", f"Give it in {line.unit}.")
        measured = read_measured(typed.text, unit, "text", sure=self._sure)
        self._ask(measured, self._beside(line))
        reading = Reading(point, direction, measured)
        return ReadReading(line, line.kind, line.name, reading, self._instrument(typed.instrument))

    def _unasked(self, typed: TypedReading) -> ReadReading:
        """A figure that no line asks for: kept under its name, and judged by nothing."""
        name = one_line(typed.name)
        if not name:
            raise FieldRefused("name", "It isn't said what was measured.", "Name it.")
        measured = read_measured(typed.text, unit_named(typed.unit), "text", sure=self._sure)
        kind = _KIND_OF.get(UNITS[measured.unit].kind)
        if kind is None:
            raise FieldRefused(
                "unit", f"{measured.words} is no dimension, mass or load.", "Give it as a test, or in words."
            )
        self._ask(measured, self._as_last(name))
        reading = Reading(one_line(typed.point), one_line(typed.direction), measured)
        return ReadReading(None, kind, name, reading, self._instrument(typed.instrument))

    def _beside(self, line: SpecLineFacts) -> LineLimits | None:
        return line.limits if line.limits.limited else self._as_last(line.name)

    def _as_last(self, name: str) -> LineLimits | None:
        """What it last measured, as if those were its limits: a figure far from that is asked about."""
        last = self._last.get(name, ())
        if not last:
            return None
        low, *_, high = sorted([*last, *last], key=lambda each: kept(each.figure, each.unit).value)
        if low.unit != high.unit:
            return LineLimits(name, low.unit, low.figure)
        return LineLimits(name, low.unit, low.figure, high.figure)

    def _ask(self, measured: Measured, beside: LineLimits | None) -> None:
        if self._sure or beside is None or not same_kind(measured.unit, beside.unit):
            return
        question = suspicious(measured, beside)
        if question is not None:
            raise Asked("text", question, "Check it, or say that it is so.")

    def tests(self, typed: Sequence[TypedTest]) -> tuple[ReadTest, ...]:
        """The tests; FieldRefused for one that says too little, Asked for one that may be a slip."""
        found = []
        seen: set[str] = set()
        for index, each in enumerate(typed):
            with _named(f"tests.{index}", whole=False):
                read = self._test(each)
                if read.run.name.casefold() in seen:
                    raise FieldRefused("name", f"The test {read.run.name} is given twice.", "Give it once.")
            seen.add(read.run.name.casefold())
            found.append(read)
        return tuple(found)

    def _test(self, typed: TypedTest) -> ReadTest:
        line = self._line(typed.spec_line, typed.name)
        kind = line.kind if line is not None else typed.kind
        name = line.name if line is not None else one_line(typed.name)
        if not name:
            raise FieldRefused("name", "It isn't said which test it was.", "Name it.")
        if not kind.tested:
            raise FieldRefused("kind", f"A {kind} is no test.", "Give it as a figure.")
        run = RunOfTest(kind, name, typed.passed, typed.found, typed.method)
        medium = ""
        if kind is SpecKind.PRESSURE_TEST:
            run, medium = self._pressure(typed, line, name)
        if kind is SpecKind.CRACK_TEST and typed.method is None:
            raise FieldRefused("method", f"{name}: it isn't said how cracks were looked for.", "Choose how.")
        judged = judge_test(line, run)
        if judged.passed is None:
            raise FieldRefused(
                "passed", f"{name}: it isn't said whether it was passed.", "Say so; no figure tells it."
            )
        if judged.said is False and not typed.found.strip():
            raise FieldRefused("found", f"{name}: it isn't said what was found.", "Say what.")
        return ReadTest(line, run, judged, medium, self._instrument(typed.instrument))

    def _pressure(self, typed: TypedTest, line: SpecLineFacts | None, name: str) -> tuple[RunOfTest, str]:
        unit = line.unit if line is not None and not typed.unit.strip() else unit_named(typed.unit)
        if UNITS[unit].kind is not Kind.PRESSURE:
            raise FieldRefused("unit", f"{name}: a pressure is not measured in {unit}.", "Check the unit.")
        start = read_measured(typed.start, unit, "start", sure=self._sure)
        end = read_measured(typed.end, unit, "end", sure=self._sure)
        if typed.held_seconds is None or not 0 < typed.held_seconds <= HOLD_SECONDS_MAX:
            raise FieldRefused("held_seconds", f"{name}: it isn't said how long it was held.", "Say so.")
        medium = one_line(typed.medium) or (line.medium if line is not None else "")
        if not medium:
            raise FieldRefused(
                "medium", f"{name}: the medium is not given.", "Say whether air, water or oil."
            )
        if not self._sure:
            _ask_of_pressure(line, name, start, end, medium)
        run = RunOfTest(
            SpecKind.PRESSURE_TEST,
            name,
            typed.passed,
            typed.found,
            typed.method,
            start,
            end,
            typed.held_seconds,
        )
        return run, medium

    def _line(self, spec_line: int | None, name: str) -> SpecLineFacts | None:
        if spec_line is None:
            return self._by_name.get(one_line(name).casefold())
        if spec_line not in self._by_id:
            raise FieldRefused(
                "spec_line",
                f"{one_line(name) or 'A line'} is no line of the specification in force on"
                f" {self._on.isoformat()} for this size.",
                "Lay the sheet out again.",
            )
        return self._by_id[spec_line]

    def _instrument(self, instrument: int | None) -> InstrumentFacts | None:
        if instrument is None:
            return None
        if instrument not in self._instruments:
            found = instruments_then(self._session, [instrument], self._on).get(instrument)
            if found is None:
                raise FieldRefused(
                    "instrument", "There is no such instrument.", "Choose one, or add it first."
                )
            if found.withdrawn_on is not None and found.withdrawn_on <= self._on:
                raise FieldRefused(
                    "instrument",
                    f"{found.words} was withdrawn on {found.withdrawn_on.isoformat()}.",
                    "Choose another.",
                )
            if found.doubt and not self._sure:
                raise Asked(
                    "instrument",
                    f"{found.words} {found.doubt}.",
                    "Measure with another, or say that it is meant.",
                )
            self._instruments[instrument] = found
        return self._instruments[instrument]


def _ask_of_pressure(
    line: SpecLineFacts | None, name: str, start: Measured, end: Measured, medium: str
) -> None:
    if end.value > start.value:
        raise Asked(
            "end",
            f"{name}: it ends at {end.words}, above the {start.words} that it began at.",
            "Check them, or say that it is so.",
        )
    if line is None or line.target is None:
        return
    question = suspicious(start, LineLimits(name, line.unit, line.target, line.target))
    if question is not None:
        raise Asked("start", question, "Check it, or say that it is so.")
    if line.medium.casefold() != medium.casefold():
        raise Asked(
            "medium",
            f"{name}: it was tested with {medium}, and {line.medium} is asked.",
            "Test it with that, or say that it is meant.",
        )


def _place(given: str, known: tuple[str, ...], what: str, name: str) -> str:
    """A point or direction as its line names it; '' where the line names none and none is given."""
    wanted = one_line(given).casefold()
    if not known and not wanted:
        return ""
    for each in known:
        if each.casefold() == wanted:
            return each
    if not known:
        raise FieldRefused(what, f"{name} is measured at one {what} alone.", "Leave it empty.")
    said = f"{name} has no {what} {one_line(given)!r}." if wanted else f"The {what} of {name} is missing."
    raise FieldRefused(what, said, f"Give one of: {', '.join(known)}.")


@contextmanager
def _named(field: str, *, whole: bool = True) -> Iterator[None]:
    """Name the fields of refusals by which of those given they are of, as one field where it is ``whole``."""
    try:
        yield
    except FieldRefused as refused:
        which = Asked if isinstance(refused, Asked) else FieldRefused
        named = field if whole else f"{field}.{refused.field}"
        raise which(named, refused.reason, refused.remedy) from None
