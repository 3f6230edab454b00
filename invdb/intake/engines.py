"""Engine types as drawn, engines and their mods, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.table import Row, read_table, unique
from invdb.terms import Layout, Scope

# Drawings run from -1000 to 1000 both ways, in thousandths of their half width.
DRAWN_MAX = 1000


@dataclass(frozen=True)
class EngineTypeRow:
    """A design of an engine; ``maker`` is a firm's name."""

    line: int
    name: str
    maker: str
    layout: Layout
    inverted: bool
    note: str


@dataclass(frozen=True)
class PositionRow:
    """A position as drawn; units as in ``invdb.records.engines.Position``."""

    line: int
    engine_type: str
    group: str
    name: str
    sequence: int
    x_thousandths: int
    y_thousandths: int
    turn_degrees: int
    note: str


@dataclass(frozen=True)
class StationRow:
    """A station within a position as drawn; units as in ``invdb.records.engines.Station``."""

    line: int
    engine_type: str
    group: str
    name: str
    sequence: int
    x_thousandths: int
    y_thousandths: int


@dataclass(frozen=True)
class EngineRow:
    """One engine, its use, whose it is, and who is served first when stock does not go round."""

    line: int
    name: str
    engine_type: str
    serial: str
    use: Scope
    owner: str
    priority: int
    note: str


@dataclass(frozen=True)
class ModRow:
    """A mod of an engine type."""

    line: int
    engine_type: str
    code: str
    name: str
    note: str


@dataclass(frozen=True)
class ModChangeRow:
    """That a mod was embodied on an engine, or removed from it (not ``embodied``)."""

    line: int
    engine: str
    code: str
    embodied: bool
    changed_on: date
    booked_on: date
    who: str
    note: str


@dataclass(frozen=True)
class Drawings:
    """The engines, and which positions and stations the drawings of their types show.

    ``groups`` gives the group of a position by (engine type, position); ``stations`` are (engine type, group,
    station).
    """

    engines: Mapping[str, EngineRow]
    groups: Mapping[tuple[str, str], str]
    stations: Collection[tuple[str, str, str]]

    def engine(self, row: Row, column: str = "Engine") -> EngineRow:
        """The engine that a cell names."""
        return row.one_of(column, self.engines, "engine")

    def position(self, row: Row, engine: EngineRow) -> str:
        """The position of an engine that a cell names."""
        here = {name for engine_type, name in self.groups if engine_type == engine.engine_type}
        return row.name_of("Position", here, f"position of a {engine.engine_type}")

    def station(self, row: Row, engine: EngineRow, position: str) -> str:
        """The station at a position of an engine that a cell names."""
        group = self.groups[engine.engine_type, position]
        here = {
            name
            for engine_type, in_group, name in self.stations
            if (engine_type, in_group) == (engine.engine_type, group)
        }
        return row.name_of("Station", here, f"station of a {engine.engine_type} {group}")


def drawings_of(
    engines: Mapping[str, EngineRow], positions: Collection[PositionRow], stations: Collection[StationRow]
) -> Drawings:
    """The engines with their positions and stations."""
    return Drawings(
        engines,
        {(each.engine_type, each.name): each.group for each in positions},
        {(each.engine_type, each.group, each.name) for each in stations},
    )


def read_engine_types(folder: Traversable, firms: Collection[str]) -> tuple[EngineTypeRow, ...]:
    """The engine types, each once."""
    columns = ("Engine type", "Maker", "Layout", "Inverted", "Note")
    rows = list(read_table(folder, "engine_types.csv", columns))
    unique([(row, row.needed("Engine type")) for row in rows], "Engine type", "engine type")
    return tuple(
        EngineTypeRow(
            row.line,
            row.needed("Engine type"),
            row.name_of("Maker", firms, "firm"),
            row.word("Layout", Layout),
            row.yes("Inverted"),
            row.text("Note"),
        )
        for row in rows
    )


def read_positions(folder: Traversable, engine_types: Collection[str]) -> tuple[PositionRow, ...]:
    """The positions of every engine type, each once."""
    columns = ("Engine type", "Group", "Position", "Order", "X", "Y", "Turn", "Note")
    rows = list(read_table(folder, "positions.csv", columns))
    names = [(row, f"{row.text('Engine type')} {row.needed('Position')}") for row in rows]
    unique(names, "Position", "position")
    return tuple(
        PositionRow(
            row.line,
            row.name_of("Engine type", engine_types, "engine type"),
            row.needed("Group"),
            row.needed("Position"),
            row.whole("Order"),
            _drawn(row, "X"),
            _drawn(row, "Y"),
            row.whole("Turn"),
            row.text("Note"),
        )
        for row in rows
    )


def read_stations(folder: Traversable, engine_types: Collection[str]) -> tuple[StationRow, ...]:
    """The stations of every engine type, each once."""
    columns = ("Engine type", "Group", "Station", "Order", "X", "Y")
    rows = list(read_table(folder, "stations.csv", columns))
    unique(
        [(row, f"{row.text('Engine type')} {row.text('Group')} {row.needed('Station')}") for row in rows],
        "Station",
        "station",
    )
    return tuple(
        StationRow(
            row.line,
            row.name_of("Engine type", engine_types, "engine type"),
            row.needed("Group"),
            row.needed("Station"),
            row.whole("Order"),
            _drawn(row, "X"),
            _drawn(row, "Y"),
        )
        for row in rows
    )


def read_engines(
    folder: Traversable, engine_types: Collection[str], owners: Collection[str]
) -> tuple[EngineRow, ...]:
    """The engines, each name once."""
    columns = ("Engine", "Engine type", "Serial", "Use", "Owner", "Priority", "Note")
    rows = list(read_table(folder, "engines.csv", columns))
    unique([(row, row.needed("Engine")) for row in rows], "Engine", "engine")
    return tuple(
        EngineRow(
            row.line,
            row.needed("Engine"),
            row.name_of("Engine type", engine_types, "engine type"),
            row.needed("Serial"),
            row.word("Use", Scope),
            row.name_of("Owner", owners, "owner"),
            row.whole("Priority"),
            row.text("Note"),
        )
        for row in rows
    )


def read_mods(folder: Traversable, engine_types: Collection[str]) -> tuple[ModRow, ...]:
    """The mods, each code once."""
    rows = list(read_table(folder, "mods.csv", ("Engine type", "Code", "Name", "Note")))
    unique([(row, row.needed("Code")) for row in rows], "Code", "mod")
    return tuple(
        ModRow(
            row.line,
            row.name_of("Engine type", engine_types, "engine type"),
            row.needed("Code"),
            row.needed("Name"),
            row.text("Note"),
        )
        for row in rows
    )


def read_mod_changes(
    folder: Traversable,
    engines: Mapping[str, EngineRow],
    mods: Mapping[str, ModRow],
    people: Collection[str],
) -> tuple[ModChangeRow, ...]:
    """Which mods were embodied on engines of their type and which removed, in that order."""
    read = []
    embodied: dict[tuple[str, str], bool] = {}
    for row in read_table(folder, "engine_mods.csv", ("Engine", "Mod", "Change", "Date", "Booked on", "Who",
                                                      "Note")):  # fmt: skip
        engine = row.one_of("Engine", engines, "engine")
        mod = row.one_of("Mod", mods, "mod")
        if mod.engine_type != engine.engine_type:
            raise row.refuse("Mod", f"is a mod of the {mod.engine_type}", f"{engine.name} is another type.")
        if row.text("Change") not in {"embodied", "removed"}:
            raise row.refuse("Change", "is neither embodied nor removed", "Write one of the two.")
        change = ModChangeRow(
            row.line,
            engine.name,
            mod.code,
            row.text("Change") == "embodied",
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", people, "person"),
            row.text("Note"),
        )
        if embodied.get((engine.name, mod.code), False) == change.embodied:
            raise row.refuse("Change", f"is how {mod.code} stood already", "Look at the lines above.")
        embodied[engine.name, mod.code] = change.embodied
        read.append(change)
    return tuple(read)


def _drawn(row: Row, column: str) -> int:
    value = row.whole(column)
    if abs(value) > DRAWN_MAX:
        raise row.refuse(column, "lies outside the drawing", f"Stay within {DRAWN_MAX} either way.")
    return value
