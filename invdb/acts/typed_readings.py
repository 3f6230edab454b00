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
from invdb.rules.inspecting import JudgedTest, RunOfTest, judge_test, place_words
from invdb.rules.limits import LineLimits, Reading, suspicious
from invdb.rules.measuring import UNITS, Kind, Measured, kept, read_measured, same_kind, unit_named
from invdb.rules.specification import SpecLineFacts, single_spaced
from invdb.terms import Asked, CrackMethod, FieldRefused, SpecKind

READINGS_MAX = 2000
# Of many questions no more than this many are put at once.
_ASKED_MAX = 5
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

    Questions are gathered, for ``ask`` to put them all at once: whoever says that it is so has read each.
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
        self._by_name = {_folded(line.name): line for line in lines}
        self._on = on
        self._last = last
        self._sampled = sampled
        self._sure = sure
        self._instruments: dict[int, InstrumentFacts] = {}
        self._looked_up: dict[int, InstrumentFacts] = {}
        self._questions: list[Asked] = []

    def ask(self) -> None:
        """Raise what of all that was read is to be asked about, as one question."""
        if not self._questions:
            return
        first = self._questions[0]
        reasons = list(dict.fromkeys(each.reason for each in self._questions))
        if len(reasons) == 1:
            raise first
        more = f" And {len(reasons) - _ASKED_MAX} more." if len(reasons) > _ASKED_MAX else ""
        raise Asked(
            first.field,
            f"{' '.join(reasons[:_ASKED_MAX])}{more}",
            "Check each of them, or say that it is so.",
        )

    def _question(self, field: str, reason: str, remedy: str) -> None:
        if not self._sure:
            self._questions.append(Asked(field, reason, remedy))

    @contextmanager
    def _within(self, field: str, *, whole: bool = True) -> Iterator[None]:
        """Name the fields of refusals and questions by which of those given they are of, as one field where
        it is ``whole``."""

        def named(refused: FieldRefused) -> str:
            return field if whole else f"{field}.{refused.field}"

        before = len(self._questions)
        try:
            yield
        except FieldRefused as refused:
            which = Asked if isinstance(refused, Asked) else FieldRefused
            raise which(named(refused), refused.reason, refused.remedy) from None
        self._questions[before:] = [
            Asked(named(asked), asked.reason, asked.remedy) for asked in self._questions[before:]
        ]

    def _read(self, text: str, unit: str, field: str) -> Measured:
        """A figure, in ``unit`` or with '' in the one behind it; a comma in it is one of the questions."""
        try:
            return read_measured(text, unit, field, sure=self._sure)
        except Asked as asked:
            self._questions.append(asked)
            return read_measured(text, unit, field, sure=True)

    def readings(self, typed: Sequence[TypedReading]) -> tuple[ReadReading, ...]:
        """The figures; FieldRefused for one that can't be. ``ask`` puts what may be a slip."""
        if len(typed) > READINGS_MAX:
            raise FieldRefused("readings", f"{len(typed)} figures are too many.", "Make two inspections.")
        self._look_up(typed)
        found = []
        seen: set[tuple[str, str, str]] = set()
        for index, each in enumerate(typed):
            with self._within(f"readings.{index}"):
                read = self._reading(each)
            point, direction = read.reading.point, read.reading.direction
            place = (read.name.casefold(), point.casefold(), direction.casefold())
            if place in seen and not self._sampled:
                where = place_words(point, direction)
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
            raise FieldRefused(
                "name",
                f"{line.name} is a {line.kind}, of which no figure is taken.",
                "Give it as a test." if line.kind.tested else "Say in the note what was found of it.",
            )
        point = _place(typed.point, line.limits.points, "point", line.name)
        direction = _place(typed.direction, line.limits.directions, "direction", line.name)
        unit = unit_named(typed.unit) if typed.unit.strip() else line.unit
        if not same_kind(unit, line.unit):
            raise FieldRefused("unit", f"{line.name} is not measured in {unit}.", f"Give it in {line.unit}.")
        measured = self._read(typed.text, unit, "text")
        self._look_at(measured, self._beside(line))
        reading = Reading(point, direction, measured)
        return ReadReading(line, line.kind, line.name, reading, self._instrument(typed.instrument))

    def _unasked(self, typed: TypedReading) -> ReadReading:
        """A figure that no line asks for: kept under its name, and judged by nothing."""
        name = single_spaced(typed.name)
        if not name:
            raise FieldRefused("name", "It isn't said what was measured.", "Name it.")
        measured = self._read(typed.text, unit_named(typed.unit) if typed.unit.strip() else "", "text")
        kind = _KIND_OF.get(UNITS[measured.unit].kind)
        if kind is None:
            raise FieldRefused(
                "unit", f"{measured.words} is no dimension, mass or load.", "Give it as a test, or in words."
            )
        self._look_at(measured, self._as_last(name))
        reading = Reading(single_spaced(typed.point), single_spaced(typed.direction), measured)
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

    def _look_at(self, measured: Measured, beside: LineLimits | None) -> None:
        if beside is None or not same_kind(measured.unit, beside.unit):
            return
        question = suspicious(measured, beside)
        if question is not None:
            self._question("text", question, "Check it, or say that it is so.")

    def tests(self, typed: Sequence[TypedTest]) -> tuple[ReadTest, ...]:
        """The tests; FieldRefused for one that says too little. ``ask`` puts what may be a slip."""
        self._look_up(typed)
        found = []
        seen: set[str] = set()
        for index, each in enumerate(typed):
            with self._within(f"tests.{index}", whole=False):
                read = self._test(each)
                if read.run.name.casefold() in seen:
                    raise FieldRefused("name", f"The test {read.run.name} is given twice.", "Give it once.")
            seen.add(read.run.name.casefold())
            found.append(read)
        return tuple(found)

    def _test(self, typed: TypedTest) -> ReadTest:
        line = self._line(typed.spec_line, typed.name)
        kind = line.kind if line is not None else typed.kind
        name = line.name if line is not None else single_spaced(typed.name)
        if not name:
            raise FieldRefused("name", "It isn't said which test it was.", "Name it.")
        if not kind.tested:
            raise FieldRefused(
                "kind",
                f"{name} is a {kind}, which is not passed or failed.",
                "Give it as a figure." if kind.measured else "Say in the note what was found of it.",
            )
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
        asked = line.unit if line is not None else ""
        start = self._read(typed.start, unit_named(typed.unit) if typed.unit.strip() else asked, "start")
        if start.kind is not Kind.PRESSURE:
            raise FieldRefused(
                "unit", f"{name}: a pressure is not measured in {start.unit}.", "Check the unit."
            )
        end = self._read(typed.end, start.unit, "end")
        if end.unit != start.unit:
            raise FieldRefused(
                "end", f"{name}: it begins in {start.unit} and ends in {end.unit}.", "Give both in one unit."
            )
        if typed.held_seconds is None or not 0 < typed.held_seconds <= HOLD_SECONDS_MAX:
            raise FieldRefused("held_seconds", f"{name}: it isn't said how long it was held.", "Say so.")
        medium = single_spaced(typed.medium) or (line.medium if line is not None else "")
        if not medium:
            raise FieldRefused(
                "medium", f"{name}: the medium is not given.", "Say whether air, water or oil."
            )
        for question in _questions_of_pressure(line, name, start, end, medium):
            self._question(*question)
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
            return self._by_name.get(_folded(name))
        if spec_line not in self._by_id:
            raise FieldRefused(
                "spec_line",
                f"{single_spaced(name) or 'A line'} is no line of the specification in force on"
                f" {self._on.isoformat()} for this size.",
                "Lay the sheet out again.",
            )
        return self._by_id[spec_line]

    def _look_up(self, typed: Sequence[TypedReading] | Sequence[TypedTest]) -> None:
        """Read the instruments that were used all at once."""
        used = {each.instrument for each in typed if each.instrument is not None} - self._looked_up.keys()
        if used:
            self._looked_up |= instruments_then(self._session, used, self._on)

    def _instrument(self, instrument: int | None) -> InstrumentFacts | None:
        if instrument is None:
            return None
        if instrument not in self._instruments:
            found = self._looked_up.get(instrument)
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
            if found.doubt:
                self._question(
                    "instrument",
                    f"{found.words} {found.doubt}.",
                    "Measure with another, or say that it is meant.",
                )
            self._instruments[instrument] = found
        return self._instruments[instrument]


def _questions_of_pressure(
    line: SpecLineFacts | None, name: str, start: Measured, end: Measured, medium: str
) -> Iterator[tuple[str, str, str]]:
    """What of a pressure test may be a slip: its field, the question, and the way out."""
    if end.value > start.value:
        yield (
            "end",
            f"{name}: it ends at {end.words}, above the {start.words} that it began at.",
            "Check them, or say that it is so.",
        )
    if line is None or line.target is None:
        return
    question = suspicious(start, LineLimits(name, line.unit, line.target, line.target))
    if question is not None:
        yield "start", question, "Check it, or say that it is so."
    if line.medium.casefold() != medium.casefold():
        yield (
            "medium",
            f"{name}: it was tested with {medium}, and {line.medium} is asked.",
            "Test it with that, or say that it is meant.",
        )


def _place(given: str, known: tuple[str, ...], what: str, name: str) -> str:
    """A point or direction as its line names it; '' where the line names none and none is given."""
    wanted = _folded(given)
    if not known and not wanted:
        return ""
    for each in known:
        if _folded(each) == wanted:
            return each
    if not known:
        raise FieldRefused(what, f"{name} is measured at one {what} alone.", "Leave it empty.")
    said = (
        f"{name} has no {what} {single_spaced(given)!r}." if wanted else f"The {what} of {name} is missing."
    )
    raise FieldRefused(what, said, f"Give one of: {', '.join(known)}.")


def _folded(name: str) -> str:
    """A name as it is compared: whatever its case and spaces."""
    return single_spaced(name).casefold()
