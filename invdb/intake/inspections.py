"""What measures, and what was measured and tested by whom and what was decided, as tables."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable
from typing import TypeVar

from invdb.acts.goods_in import ReceivingChecks
from invdb.intake.catalogue import PartRow
from invdb.intake.table import Row, read_table, unique
from invdb.terms import Condition, CrackMethod, Scope, SpecKind

T = TypeVar("T")
_CHECKS = ("Right part", "Papers match", "Damage", "Hazards")


@dataclass(frozen=True)
class InstrumentRow:
    """Something that measures, and until when its calibration holds."""

    line: int
    number: str
    name: str
    calibrated_on: date
    due_on: date
    booked_on: date
    who: str


@dataclass(frozen=True)
class CalibrationRow:
    """That an instrument was calibrated again."""

    line: int
    number: str
    calibrated_on: date
    due_on: date
    booked_on: date
    who: str


@dataclass(frozen=True)
class FigureRow:
    """One figure as it was read."""

    line: int
    name: str
    point: str
    direction: str
    figure: str
    unit: str
    instrument: str | None


@dataclass(frozen=True)
class BenchTestRow:
    """How one test went; ``passed`` None where its figures say it."""

    line: int
    kind: SpecKind
    name: str
    method: CrackMethod | None
    medium: str
    start: str
    end: str
    held_seconds: int | None
    passed: bool | None
    found: str
    instrument: str | None


@dataclass(frozen=True)
class InspectionRow:
    """One inspection of a piece or of a sample of a batch, with its figures and tests, and the decision.

    ``to_place`` is where it was put then, None for where it was. ``reason`` for a decision against the
    figures; ``sure`` that what would be asked about is so.
    """

    line: int
    number: str
    of: str
    inspected_on: date
    booked_on: date
    who: str
    decided: Condition
    scope: Scope | None
    to_place: str | None
    checks: ReceivingChecks
    reason: str
    sure: bool
    note: str
    figures: tuple[FigureRow, ...]
    tests: tuple[BenchTestRow, ...]


@dataclass(frozen=True)
class Inspections:
    """All of these tables."""

    instruments: tuple[InstrumentRow, ...]
    calibrations: tuple[CalibrationRow, ...]
    inspections: tuple[InspectionRow, ...]


@dataclass(frozen=True)
class InspectionNames:
    """What these tables may name."""

    part_of_tag: Mapping[str, PartRow]
    people: Collection[str]
    places: Collection[str]


def read_inspections(folder: Traversable, names: InspectionNames) -> Inspections:
    """The tables; figures are judged by the act that puts them in."""
    instruments = _instruments(folder, names)
    numbers = {instrument.number for instrument in instruments}
    return Inspections(
        instruments, _calibrations(folder, numbers, names), _inspections(folder, numbers, names)
    )


def _instruments(folder: Traversable, names: InspectionNames) -> tuple[InstrumentRow, ...]:
    columns = ("Number", "Name", "Calibrated on", "Due on", "Booked on", "Who")
    rows = list(read_table(folder, "instruments.csv", columns))
    unique([(row, row.needed("Number")) for row in rows], "Number", "instrument")
    return tuple(
        InstrumentRow(
            row.line,
            row.text("Number"),
            row.needed("Name"),
            row.day("Calibrated on"),
            row.day("Due on"),
            row.booked("Calibrated on"),
            row.name_of("Who", names.people, "person"),
        )
        for row in rows
    )


def _calibrations(
    folder: Traversable, instruments: Collection[str], names: InspectionNames
) -> tuple[CalibrationRow, ...]:
    columns = ("Number", "Calibrated on", "Due on", "Booked on", "Who")
    return tuple(
        CalibrationRow(
            row.line,
            row.name_of("Number", instruments, "instrument"),
            row.day("Calibrated on"),
            row.day("Due on"),
            row.booked("Calibrated on"),
            row.name_of("Who", names.people, "person"),
        )
        for row in read_table(folder, "calibrations.csv", columns)
    )


def _inspections(
    folder: Traversable, instruments: Collection[str], names: InspectionNames
) -> tuple[InspectionRow, ...]:
    columns = ("No.", "Of", "Date", "Booked on", "Who", "Decided", "Scope", "To", *_CHECKS, "Reason", "Sure",
               "Note")  # fmt: skip
    rows = list(read_table(folder, "inspections.csv", columns))
    unique([(row, row.needed("No.")) for row in rows], "No.", "inspection")
    numbers = {row.text("No.") for row in rows}
    figures, tests = _figures(folder, numbers, instruments), _tests(folder, numbers, instruments)
    read = []
    for row in rows:
        number = row.text("No.")
        inspection = InspectionRow(
            row.line,
            number,
            row.name_of("Of", names.part_of_tag, "piece or batch"),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.word("Decided", Condition),
            row.word_or_none("Scope", Scope),
            row.name_or_none("To", names.places, "place"),
            ReceivingChecks(*(row.text(column) for column in _CHECKS)),
            row.text("Reason"),
            row.yes("Sure"),
            row.text("Note"),
            figures.get(number, ()),
            tests.get(number, ()),
        )
        if not inspection.figures and not inspection.tests:
            raise row.refuse("No.", "has neither a figure nor a test", "Add its lines, or drop it.")
        if (inspection.scope is not None) != (inspection.decided is Condition.SERVICEABLE):
            raise row.refuse("Scope", f"does not go with {inspection.decided}", "Serviceable stock has one.")
        read.append(inspection)
    return tuple(read)


def _figures(
    folder: Traversable, numbers: Collection[str], instruments: Collection[str]
) -> dict[str, tuple[FigureRow, ...]]:
    """The figures by inspection, in their order."""
    columns = ("Inspection", "Name", "Point", "Direction", "Figure", "Unit", "Instrument")
    return _grouped(
        (
            row.name_of("Inspection", numbers, "inspection"),
            FigureRow(
                row.line,
                row.needed("Name"),
                row.text("Point"),
                row.text("Direction"),
                row.needed("Figure"),
                row.needed("Unit"),
                row.name_or_none("Instrument", instruments, "instrument"),
            ),
        )
        for row in read_table(folder, "measurements.csv", columns)
    )


def _tests(
    folder: Traversable, numbers: Collection[str], instruments: Collection[str]
) -> dict[str, tuple[BenchTestRow, ...]]:
    """The tests by inspection, in their order."""
    columns = ("Inspection", "Kind", "Name", "Method", "Medium", "Start", "End", "Held seconds", "Passed",
               "Found", "Instrument")  # fmt: skip
    return _grouped(
        (
            row.name_of("Inspection", numbers, "inspection"),
            BenchTestRow(
                row.line,
                row.word("Kind", SpecKind),
                row.needed("Name"),
                row.word_or_none("Method", CrackMethod),
                row.text("Medium"),
                row.text("Start"),
                row.text("End"),
                row.whole_or_none("Held seconds"),
                _passed(row),
                row.text("Found"),
                row.name_or_none("Instrument", instruments, "instrument"),
            ),
        )
        for row in read_table(folder, "bench_tests.csv", columns)
    )


def _passed(row: Row) -> bool | None:
    return row.yes("Passed") if row.text("Passed") else None


def _grouped(rows: Iterable[tuple[str, T]]) -> dict[str, tuple[T, ...]]:
    groups: dict[str, list[T]] = defaultdict(list)
    for number, row in rows:
        groups[number].append(row)
    return {number: tuple(group) for number, group in groups.items()}
