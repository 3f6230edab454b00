"""Figures and tests of an inspection as they are typed behind a command, and the lines of a specification."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from invdb.acts.instrument import instrument_numbered
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.typed_readings import TypedReading, TypedTest
from invdb.intake.table import Row, read_table
from invdb.terms import CrackMethod, Refused, SpecKind

READING_SHAPE = "bore@top/across=98.02 mm with M-03"
TEST_SHAPE = (
    "'cracks=not passed by dye penetrant: at a stud' or"
    " 'jacket=1.6 bar to 1.5 bar of water in 20 min, passed'"
)
COLUMNS = (
    *("Kind", "Name", "Size", "Unit", "New low", "New high", "Worn low", "Worn high", "Target"),
    *("Points", "Directions", "Ovality", "Taper", "Spread", "Medium", "Hold", "Drop", "Wording"),
)
_WITH = re.compile(r"\s+with(?P<instrument>(?:\s+\S+)*)\s*$")
_OUTCOMES = {"passed": True, "not passed": False}
_RUN = re.compile(
    r"(?P<start>.+?)\s+to\s+(?P<end>.+?)(?:\s+of\s+(?P<medium>.+?))?"
    r"\s+in\s+(?P<held>[^,]+?)\s*(?:,\s*(?P<outcome>(?:not )?passed))?"
)
_TIME = re.compile(r"(?:(?P<h>\d{1,3})\s*h)?\s*(?:(?P<min>\d{1,4})\s*min)?\s*(?:(?P<s>\d{1,6})\s*s)?")


def typed_reading(session: Any, text: str) -> TypedReading:
    """``bore@top/across=105.01 mm with M-03``; Refused for another shape."""
    place, equals, figure = text.rpartition("=")
    if not equals:
        raise Refused(f"{text!r} is no figure of a line.", f"Write it as {READING_SHAPE}.")
    name, _, where = place.partition("@")
    point, _, direction = where.partition("/")
    figure, instrument = _with(session, figure)
    return TypedReading(None, name.strip(), point.strip(), direction.strip(), figure, instrument=instrument)


def _with(session: Any, text: str) -> tuple[str, int | None]:
    found = _WITH.search(text)
    if found is None:
        return text.strip(), None
    if not found["instrument"]:
        raise Refused(f"{text.strip()!r} names no instrument behind its “with”.", "Type its number.")
    return text[: found.start()].strip(), instrument_numbered(session, found["instrument"])


def typed_test(session: Any, text: str) -> TypedTest:
    """``cracks=passed by dye penetrant``, ``water jacket=1.62 bar to 1.60 bar in 20 min, passed with P-02``.

    A medium that is not what the line asks stands behind the pressures: ``1.62 bar to 1.60 bar of air in …``.
    Without a word for its outcome a pressure test goes by its figures. What was found stands behind a colon.
    Refused for another shape.
    """
    name, equals, rest = text.partition("=")
    if not equals:
        raise Refused(f"{text!r} is no test of a line.", f"Write it as {TEST_SHAPE}.")
    run, _, found = rest.partition(":")
    run, instrument = _with(session, run)
    run, _, by = run.partition(" by ")
    method = _method(by) if by.strip() else None
    pressure = _RUN.fullmatch(run.strip())
    if pressure is not None:
        return TypedTest(
            None,
            SpecKind.PRESSURE_TEST,
            name.strip(),
            medium=pressure["medium"] or "",
            start=pressure["start"],
            end=pressure["end"],
            held_seconds=_seconds(pressure["held"]),
            passed=_OUTCOMES.get(pressure["outcome"] or ""),
            found=found.strip(),
            instrument=instrument,
        )
    outcome = " ".join(run.casefold().split())
    if outcome not in _OUTCOMES:
        raise Refused(
            f"{run.strip()!r} says neither passed nor not passed, and no pressures.",
            f"Write it as {TEST_SHAPE}.",
        )
    kind = SpecKind.CRACK_TEST if method is not None else SpecKind.LOOK
    return TypedTest(
        None,
        kind,
        name.strip(),
        method,
        passed=_OUTCOMES[outcome],
        found=found.strip(),
        instrument=instrument,
    )


def _method(text: str) -> CrackMethod:
    try:
        return CrackMethod(" ".join(text.casefold().split()))
    except ValueError as error:
        raise Refused(
            f"{text.strip()!r} is no way to look for cracks.", f"Use one of: {'; '.join(CrackMethod)}."
        ) from error


def _seconds(text: str) -> int:
    found = _TIME.fullmatch(text.strip().casefold())
    if found is None or not any(found.groups()):
        raise Refused(f"{text.strip()!r} is no time.", "Write it as 20 min, 90 s or 1 h 30 min.")
    hours, minutes, seconds = (int(found[unit] or 0) for unit in ("h", "min", "s"))
    return hours * 3600 + minutes * 60 + seconds


def read_spec_lines(file: Path) -> tuple[NewSpecLine, ...]:
    """The lines of a specification from a CSV file under ``COLUMNS``; ``Hold`` is a time such as 20 min.

    Refused with the file, line, column and value of what can't be read.
    """
    # A pipe would be waited for, and a device read for ever.
    if not file.is_file():
        raise Refused(f"There is no CSV file {file}.", "Check its name.")
    return tuple(_spec_line(row) for row in read_table(file.parent, file.name, COLUMNS))


def _spec_line(row: Row) -> NewSpecLine:
    hold = row.maybe("Hold")
    try:
        hold_seconds = None if hold is None else _seconds(hold)
    except Refused as refused:
        raise row.refuse("Hold", "is no time", refused.remedy) from refused
    return NewSpecLine(
        row.word("Kind", SpecKind),
        row.needed("Name"),
        row.text("Size"),
        row.text("Unit"),
        row.maybe("New low"),
        row.maybe("New high"),
        row.maybe("Worn low"),
        row.maybe("Worn high"),
        row.maybe("Target"),
        row.text("Points"),
        row.text("Directions"),
        row.maybe("Ovality"),
        row.maybe("Taper"),
        row.maybe("Spread"),
        row.text("Medium"),
        hold_seconds,
        row.maybe("Drop"),
        row.text("Wording"),
    )
