"""The catalogue as tables: families, parts, their other numbers and hazards, kit lists, stand-ins."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.engines import ModRow, PositionRow, StationRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind, read_number
from invdb.terms import Hazard, Measure, Tracking

EFFECTIVITY = ("Positions", "Serial from", "Serial to", "Mod", "With or without mod", "From")

_MEMBER = re.compile(r"(?:([1-9][0-9]{0,2}) x )?(\S+)")


@dataclass(frozen=True)
class FamilyRow:
    """A family of parts and the letters that begin its house numbers."""

    line: int
    letters: str
    name: str


@dataclass(frozen=True)
class PartRow:
    """A part under its house number; ``family`` is its letters, ``life_limit_hours`` in hundredths."""

    line: int
    house_number: str
    name: str
    family: str
    tracking: Tracking
    measure: Measure
    critical: bool
    life_limited: bool
    life_limit_hours: int | None
    shelf_life_months: int | None
    size_class: str
    finish: str
    note: str


@dataclass(frozen=True)
class OtherNumberRow:
    """A maker's, dealer's or drawing number of a part."""

    line: int
    house_number: str
    number: str
    kind: str
    firm: str | None


@dataclass(frozen=True)
class HazardRow:
    """What can hurt who handles a part, and how to keep from it."""

    line: int
    house_number: str
    hazard: Hazard
    caution: str


@dataclass(frozen=True)
class EffectivityCells:
    """Where a row holds; None sets no bound. ``mod`` is a code, ``mod_embodied`` whether with or without."""

    positions: tuple[str, ...] | None
    serial_from: str | None
    serial_to: str | None
    mod: str | None
    mod_embodied: bool | None
    from_on: date | None


@dataclass(frozen=True)
class KitLineRow:
    """What a position of a group needs at one station; ``quantity`` in the part's smallest unit."""

    line: int
    engine_type: str
    group: str
    sequence: int
    station: str
    house_number: str
    quantity: int
    renewed_always: bool
    holds: EffectivityCells
    note: str


@dataclass(frozen=True)
class StandInRow:
    """What may stand in for a part: (house number, how many for one), on whose authority."""

    line: int
    house_number: str
    members: tuple[tuple[str, int], ...]
    both_ways: bool
    superseding: bool
    authority: str
    engine_type: str | None
    holds: EffectivityCells
    document: str | None


def read_families(folder: Traversable) -> tuple[FamilyRow, ...]:
    """The families, each with letters and a name of its own."""
    rows = list(read_table(folder, "families.csv", ("Letters", "Family")))
    unique([(row, row.needed("Letters")) for row in rows], "Letters", "family")
    unique([(row, row.needed("Family")) for row in rows], "Family", "family")
    for row in rows:
        if not re.fullmatch("[A-Z]{2,4}", row.text("Letters")):
            raise row.refuse("Letters", "can't begin a house number", "Use two to four letters A to Z.")
    return tuple(FamilyRow(row.line, row.text("Letters"), row.text("Family")) for row in rows)


def read_parts(folder: Traversable, families: tuple[FamilyRow, ...]) -> tuple[PartRow, ...]:
    """The parts, each house number once, with the letters of its family and its check character right."""
    columns = ("House number", "Name", "Family", "Held by", "Measure", "Critical", "Life limited",
               "Life limit hours", "Shelf life months", "Size", "Finish", "Note")  # fmt: skip
    letters = {family.name: family.letters for family in families}
    rows = list(read_table(folder, "parts.csv", columns))
    unique([(row, row.needed("House number")) for row in rows], "House number", "part")
    return tuple(_part(row, letters) for row in rows)


def _part(row: Row, letters: Mapping[str, str]) -> PartRow:
    part = PartRow(
        row.line,
        row.number("House number", NumberKind.HOUSE),
        row.needed("Name"),
        row.one_of("Family", letters, "family"),
        row.word("Held by", Tracking),
        row.word("Measure", Measure),
        row.yes("Critical"),
        row.yes("Life limited"),
        row.hundredths_or_none("Life limit hours"),
        row.whole_or_none("Shelf life months"),
        row.text("Size"),
        row.text("Finish"),
        row.text("Note"),
    )
    if read_number(part.house_number).prefix != part.family:
        raise row.refuse("House number", f"does not begin with {part.family}", "Look at its family.")
    if part.tracking is Tracking.BATCH and (part.critical or part.life_limited):
        raise row.refuse("Held by", "is not for a critical or life-limited part", "Hold it by piece.")
    if part.tracking is Tracking.PIECE and part.measure is not Measure.COUNT:
        raise row.refuse("Measure", "is not for single pieces", "Count them, or hold it by batch.")
    if part.life_limit_hours is not None and not part.life_limited:
        raise row.refuse("Life limit hours", "is given for a part without one", "Say yes to the limit.")
    return part


def read_other_numbers(
    folder: Traversable, parts: Collection[str], firms: Collection[str]
) -> tuple[OtherNumberRow, ...]:
    """What else parts are called; the same number may belong to several."""
    columns = ("House number", "Number", "Kind", "Firm")
    return tuple(
        OtherNumberRow(
            row.line,
            row.name_of("House number", parts, "part"),
            row.needed("Number"),
            row.needed("Kind"),
            row.name_or_none("Firm", firms, "firm"),
        )
        for row in read_table(folder, "other_numbers.csv", columns)
    )


def read_hazards(folder: Traversable, parts: Collection[str]) -> tuple[HazardRow, ...]:
    """The hazards of parts with their cautions."""
    return tuple(
        HazardRow(
            row.line,
            row.name_of("House number", parts, "part"),
            row.word("Hazard", Hazard),
            row.needed("Caution"),
        )
        for row in read_table(folder, "hazards.csv", ("House number", "Hazard", "Caution"))
    )


def read_kit_lines(
    folder: Traversable,
    parts: Mapping[str, PartRow],
    stations: Collection[StationRow],
    positions: Collection[PositionRow],
    mods: Mapping[str, ModRow],
) -> tuple[KitLineRow, ...]:
    """The kit lists, every line at a station of its engine type and for positions and mods of it."""
    columns = ("Engine type", "Group", "Line", "Station", "House number", "Quantity", "Renewed always",
               *EFFECTIVITY, "Note")  # fmt: skip
    drawn = {(station.engine_type, station.group, station.name) for station in stations}
    read = []
    rows = list(read_table(folder, "kit_lines.csv", columns))
    unique([(row, f"{row.text('Engine type')} {row.text('Group')} {row.needed('Line')}") for row in rows],
           "Line", "kit line")  # fmt: skip
    for row in rows:
        engine_type, group = row.needed("Engine type"), row.needed("Group")
        if (engine_type, group, row.needed("Station")) not in drawn:
            raise row.refuse("Station", f"is no station of a {engine_type} {group}", "Draw it first.")
        part = row.one_of("House number", parts, "part")
        read.append(
            KitLineRow(
                row.line,
                engine_type,
                group,
                row.whole("Line"),
                row.text("Station"),
                part.house_number,
                row.quantity("Quantity", part.measure),
                row.yes("Renewed always"),
                _holds(row, engine_type, positions, mods),
                row.text("Note"),
            )
        )
    return tuple(read)


def read_stand_ins(
    folder: Traversable,
    parts: Collection[str],
    positions: Collection[PositionRow],
    mods: Mapping[str, ModRow],
    documents: Collection[str],
) -> tuple[StandInRow, ...]:
    """What may stand in for what; a set is written ``RK0133-7 + 2 x RK0134-5``."""
    columns = ("House number", "Stood in for by", "Both ways", "Superseding", "Authority", "Engine type",
               *EFFECTIVITY, "Document")  # fmt: skip
    engine_types = {position.engine_type for position in positions}
    return tuple(
        StandInRow(
            row.line,
            row.name_of("House number", parts, "part"),
            _members(row, parts),
            row.yes("Both ways"),
            row.yes("Superseding"),
            row.needed("Authority"),
            row.name_or_none("Engine type", engine_types, "engine type"),
            _holds(row, row.text("Engine type"), positions, mods),
            row.name_or_none("Document", documents, "document"),
        )
        for row in read_table(folder, "stand_ins.csv", columns)
    )


def _members(row: Row, parts: Collection[str]) -> tuple[tuple[str, int], ...]:
    members = []
    for written in row.needed("Stood in for by").split(" + "):
        match = _MEMBER.fullmatch(written.strip())
        if match is None or match[2] not in parts:
            raise row.refuse(
                "Stood in for by", f"names {written.strip()!r}, no part here", "Write 2 x RK0134-5."
            )
        members.append((match[2], int(match[1] or 1)))
    return tuple(members)


def _holds(
    row: Row, engine_type: str, positions: Collection[PositionRow], mods: Mapping[str, ModRow]
) -> EffectivityCells:
    named = {position.name for position in positions if position.engine_type == engine_type}
    chosen = row.names("Positions", named, f"position of a {engine_type or 'named engine type'}", ",")
    mod = row.one_of("Mod", mods, "mod") if row.text("Mod") else None
    if mod is not None and mod.engine_type != engine_type:
        raise row.refuse("Mod", f"is a mod of the {mod.engine_type}", "Look at the engine type.")
    if row.text("With or without mod") not in ({"with", "without"} if mod else {""}):
        raise row.refuse("With or without mod", "does not go with the mod", "Write with or without.")
    return EffectivityCells(
        chosen or None,
        row.maybe("Serial from"),
        row.maybe("Serial to"),
        mod.code if mod else None,
        row.text("With or without mod") == "with" if mod else None,
        row.day_or_none("From"),
    )
