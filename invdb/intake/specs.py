"""What parts must measure and how they fit together, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.engines import Drawings
from invdb.intake.table import Row, read_table
from invdb.terms import BalanceKind, FitKind, MatchOn, Refused, SpecKind


@dataclass(frozen=True)
class SpecLineRow:
    """One line of a specification; figures as published, None where there is none."""

    line: int
    kind: SpecKind
    name: str
    size_class: str
    unit: str
    new_low: str | None
    new_high: str | None
    worn_low: str | None
    worn_high: str | None
    target: str | None
    points: str
    directions: str
    oval_max: str | None
    taper_max: str | None
    spread_max: str | None
    medium: str
    hold_seconds: int | None
    drop_max: str | None
    wording: str


@dataclass(frozen=True)
class SpecRow:
    """One revision of a part's specification with its lines; it is booked on the day it comes into force."""

    line: int
    house_number: str
    revision: str
    booked_on: date
    source: str
    who: str
    note: str
    lines: tuple[SpecLineRow, ...]


@dataclass(frozen=True)
class SizeRow:
    """An oversize or an undersize that a part is made in."""

    line: int
    house_number: str
    size_class: str
    note: str
    booked_on: date
    who: str


@dataclass(frozen=True)
class FitLimitRow:
    """The limits of a fit between what sits at two stations; see ``NewFitLimit``."""

    line: int
    engine_type: str
    group: str
    name: str
    kind: FitKind
    outer_station: str
    outer_name: str
    outer_point: str
    outer_part: str | None
    inner_station: str
    inner_name: str
    inner_point: str
    inner_part: str | None
    gap: bool
    unit: str
    low: str
    high: str
    worn_high: str | None
    target: str | None
    operation: str
    makes_matched: bool
    source: str
    booked_on: date
    who: str


@dataclass(frozen=True)
class MatchRow:
    """That two stations take one size, or that two finishes may not meet there."""

    line: int
    engine_type: str
    group: str
    station: str
    other_station: str
    what: MatchOn
    finish: str
    other_finish: str
    source: str
    booked_on: date
    who: str


@dataclass(frozen=True)
class BalanceRow:
    """Positions whose masses agree; ``masses`` are (station, name of the mass)."""

    line: int
    engine_type: str
    group: str
    name: str
    kind: BalanceKind
    positions: str | None
    unit: str
    spread: str
    target: str | None
    masses: tuple[tuple[str, str], ...]
    source: str
    booked_on: date
    who: str


@dataclass(frozen=True)
class Specs:
    """All of these tables."""

    sizes: tuple[SizeRow, ...]
    specs: tuple[SpecRow, ...]
    fits: tuple[FitLimitRow, ...]
    matches: tuple[MatchRow, ...]
    balances: tuple[BalanceRow, ...]


def read_specs(
    folder: Traversable,
    parts: Mapping[str, PartRow],
    drawings: Drawings,
    people: Collection[str],
) -> Specs:
    """The tables; figures are judged by the acts that put them in."""
    return Specs(
        _sizes(folder, parts, people),
        _specs(folder, parts, people),
        _fits(folder, parts, drawings, people),
        _matches(folder, drawings, people),
        _balances(folder, drawings, people),
    )


def _figure(row: Row, column: str) -> str | None:
    return row.text(column) or None


def _sizes(folder: Traversable, parts: Mapping[str, PartRow], people: Collection[str]) -> tuple[SizeRow, ...]:
    columns = ("House number", "Size", "Note", "Booked on", "Who")
    return tuple(
        SizeRow(
            row.line,
            row.one_of("House number", parts, "part").house_number,
            row.needed("Size"),
            row.text("Note"),
            row.day("Booked on"),
            row.name_of("Who", people, "person"),
        )
        for row in read_table(folder, "part_sizes.csv", columns)
    )


def _specs(folder: Traversable, parts: Mapping[str, PartRow], people: Collection[str]) -> tuple[SpecRow, ...]:
    lines = _spec_lines(folder)
    columns = ("House number", "Revision", "From", "Source", "Who", "Note")
    read = []
    for row in read_table(folder, "specs.csv", columns):
        part = row.one_of("House number", parts, "part").house_number
        own = lines.pop((part, row.needed("Revision")), ())
        if not own:
            raise row.refuse("Revision", "has no lines", "Add them to spec_lines.csv.")
        read.append(
            SpecRow(
                row.line,
                part,
                row.needed("Revision"),
                row.day("From"),
                row.needed("Source"),
                row.name_of("Who", people, "person"),
                row.text("Note"),
                own,
            )
        )
    for (part, revision), rows in lines.items():
        raise Refused(
            f"spec_lines.csv, line {rows[0].line}: specs.csv has no revision {revision} of {part}.",
            "Add it there, or drop the lines.",
        )
    return tuple(read)


def _spec_lines(folder: Traversable) -> dict[tuple[str, str], tuple[SpecLineRow, ...]]:
    """The lines by part and revision, in their order."""
    columns = ("House number", "Revision", "Kind", "Name", "Size", "Unit", "New low", "New high", "Worn low",
               "Worn high", "Target", "Points", "Directions", "Ovality", "Taper", "Spread", "Medium",
               "Hold seconds", "Drop", "Wording")  # fmt: skip
    found: dict[tuple[str, str], tuple[SpecLineRow, ...]] = {}
    for row in read_table(folder, "spec_lines.csv", columns):
        key = (row.needed("House number"), row.needed("Revision"))
        line = SpecLineRow(
            row.line,
            row.word("Kind", SpecKind),
            row.needed("Name"),
            row.text("Size"),
            row.text("Unit"),
            _figure(row, "New low"),
            _figure(row, "New high"),
            _figure(row, "Worn low"),
            _figure(row, "Worn high"),
            _figure(row, "Target"),
            row.text("Points"),
            row.text("Directions"),
            _figure(row, "Ovality"),
            _figure(row, "Taper"),
            _figure(row, "Spread"),
            row.text("Medium"),
            row.whole_or_none("Hold seconds"),
            _figure(row, "Drop"),
            row.text("Wording"),
        )
        found[key] = (*found.get(key, ()), line)
    return found


def _seat(row: Row, drawings: Drawings, column: str) -> str:
    """A station of the row's engine type and group."""
    engine_type, group = row.needed("Engine type"), row.needed("Group")
    here = {station for *of, station in drawings.stations if of == [engine_type, group]}
    return row.name_of(column, here, f"station of a {engine_type} {group}")


def _fits(
    folder: Traversable, parts: Collection[str], drawings: Drawings, people: Collection[str]
) -> tuple[FitLimitRow, ...]:
    columns = ("Engine type", "Group", "Name", "Kind", "Outer station", "Outer dimension", "Outer point",
               "Outer part", "Inner station", "Inner dimension", "Inner point", "Inner part", "Gap",
               "Unit", "Low", "High", "Worn", "Target", "Operation", "Matched", "Source",
               "Booked on", "Who")  # fmt: skip
    return tuple(
        FitLimitRow(
            row.line,
            row.needed("Engine type"),
            row.needed("Group"),
            row.needed("Name"),
            row.word("Kind", FitKind),
            _seat(row, drawings, "Outer station"),
            row.needed("Outer dimension"),
            row.text("Outer point"),
            row.name_or_none("Outer part", parts, "part"),
            _seat(row, drawings, "Inner station"),
            row.text("Inner dimension"),
            row.text("Inner point"),
            row.name_or_none("Inner part", parts, "part"),
            row.yes("Gap"),
            row.needed("Unit"),
            row.needed("Low"),
            row.needed("High"),
            _figure(row, "Worn"),
            _figure(row, "Target"),
            row.text("Operation"),
            row.yes("Matched"),
            row.needed("Source"),
            row.day("Booked on"),
            row.name_of("Who", people, "person"),
        )
        for row in read_table(folder, "fits.csv", columns)
    )


def _matches(folder: Traversable, drawings: Drawings, people: Collection[str]) -> tuple[MatchRow, ...]:
    columns = ("Engine type", "Group", "Station", "Other station", "What", "Finish", "Other finish", "Source",
               "Booked on", "Who")  # fmt: skip
    return tuple(
        MatchRow(
            row.line,
            row.needed("Engine type"),
            row.needed("Group"),
            _seat(row, drawings, "Station"),
            _seat(row, drawings, "Other station"),
            row.word("What", MatchOn),
            row.text("Finish"),
            row.text("Other finish"),
            row.needed("Source"),
            row.day("Booked on"),
            row.name_of("Who", people, "person"),
        )
        for row in read_table(folder, "match_rules.csv", columns)
    )


def _balances(folder: Traversable, drawings: Drawings, people: Collection[str]) -> tuple[BalanceRow, ...]:
    columns = ("Engine type", "Group", "Name", "Kind", "Positions", "Unit", "Spread", "Target", "Masses",
               "Source", "Booked on", "Who")  # fmt: skip
    read = []
    for row in read_table(folder, "balance_sets.csv", columns):
        masses = []
        for each in row.needed("Masses").split(";"):
            station, _, name = each.partition(":")
            if not name.strip():
                raise row.refuse("Masses", "does not name each station's mass", "Write: station: mass; …")
            masses.append((station.strip(), name.strip()))
        read.append(
            BalanceRow(
                row.line,
                row.needed("Engine type"),
                row.needed("Group"),
                row.needed("Name"),
                row.word("Kind", BalanceKind),
                row.text("Positions") or None,
                row.needed("Unit"),
                row.needed("Spread"),
                _figure(row, "Target"),
                tuple(masses),
                row.needed("Source"),
                row.day("Booked on"),
                row.name_of("Who", people, "person"),
            )
        )
    return tuple(read)
