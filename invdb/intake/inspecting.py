"""The acts of the tables about instruments, and about what was measured, tested and decided."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.instrument import NewInstrument, add_instrument, calibrate
from invdb.acts.numbers import Thing
from invdb.acts.typed_readings import TypedReading, TypedTest
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.inspections import (
    BenchTestRow,
    CalibrationRow,
    FigureRow,
    InspectionRow,
    Inspections,
    InstrumentRow,
)
from invdb.intake.set_up import Ids


class Inspecting:
    """Does these acts in one session; ``things`` is what other tables' acts made, by tag."""

    def __init__(
        self, session: Session, inspections: Inspections, ids: Ids, things: Mapping[str, Thing]
    ) -> None:
        self._session = session
        self._inspections = inspections
        self._ids = ids
        self._things = things
        self._instruments: dict[str, int] = {}

    def bookings(self) -> list[Booking]:
        """Every act of these tables; what measures is there before it is used."""
        rows = self._inspections
        return [
            *booked("instruments.csv", Turn.SPECIFIED, singly(rows.instruments), self._add_instrument),
            *booked("calibrations.csv", Turn.CALIBRATED, singly(rows.calibrations), self._calibrate),
            *booked("inspections.csv", Turn.INSPECTED, singly(rows.inspections), self._inspect),
        ]

    def _add_instrument(self, rows: tuple[InstrumentRow, ...]) -> None:
        (row,) = rows
        instrument = NewInstrument(row.number, row.name, row.calibrated_on, row.due_on)
        by = By(self._ids.people[row.who], row.booked_on)
        self._instruments[row.number] = add_instrument(self._session, instrument, by)

    def _calibrate(self, rows: tuple[CalibrationRow, ...]) -> None:
        (row,) = rows
        by = By(self._ids.people[row.who], row.booked_on)
        calibrate(self._session, self._instruments[row.number], row.calibrated_on, row.due_on, by)

    def _inspect(self, rows: tuple[InspectionRow, ...]) -> None:
        (row,) = rows
        order = InspectionOrder(
            self._things[row.of],
            tuple(map(self._reading, row.figures)),
            tuple(map(self._test, row.tests)),
            row.decided,
            row.scope,
            row.checks,
            row.reason,
            self._ids.places.get(row.to_place or ""),
            note=row.note,
            sure=row.sure,
        )
        inspect(self._session, order, By(self._ids.people[row.who], row.inspected_on))

    def _reading(self, row: FigureRow) -> TypedReading:
        instrument = self._instruments.get(row.instrument or "")
        return TypedReading(None, row.name, row.point, row.direction, row.figure, row.unit, instrument)

    def _test(self, row: BenchTestRow) -> TypedTest:
        return TypedTest(
            None,
            row.kind,
            row.name,
            row.method,
            row.medium,
            row.start,
            row.end,
            held_seconds=row.held_seconds,
            passed=row.passed,
            found=row.found,
            instrument=self._instruments.get(row.instrument or ""),
        )
