"""What came out of stations that were presumed filled, as a table."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.builds import BuildRow
from invdb.intake.catalogue import PartRow
from invdb.intake.engines import Drawings
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import Condition, LifeControl, PlaceKind, Tracking


@dataclass(frozen=True)
class FindRow:
    """What one station held that was presumed filled; nothing that was kept where no part is named.

    A find gets a tag and goes to a place; ``quantity`` in the part's smallest unit. Lines with one number
    belong to one act.
    """

    line: int
    number: str
    engine: str
    position: str
    station: str
    found_on: date
    booked_on: date
    who: str
    reading: int | None
    found: str
    house_number: str | None
    tag: str | None
    serial: str
    quantity: int | None
    condition: Condition | None
    to_place: str | None
    orientation: str
    control: LifeControl | None


@dataclass(frozen=True)
class FindNames:
    """What finds may name; ``tags`` are on something else already."""

    drawings: Drawings
    builds: Collection[BuildRow]
    parts: Mapping[str, PartRow]
    people: Collection[str]
    places: Mapping[str, PlaceKind]
    tags: Collection[str]


_OF_A_FIND = ("Tag", "Quantity", "Condition", "To")


def read_finds(folder: Traversable, names: FindNames) -> tuple[FindRow, ...]:
    """The finds, of engines whose stations were presumed filled; each tag once."""
    columns = ("No.", "Engine", "Position", "Station", "Date", "Booked on", "Who", "Meter reads", "Found",
               "House number", "Tag", "Serial", "Quantity", "Condition", "To", "Orientation",
               "Control")  # fmt: skip
    rows = list(read_table(folder, "finds.csv", columns))
    unique([(row, row.text("Tag")) for row in rows if row.text("Tag")], "Tag", "tag")
    presumed = {build.engine for build in names.builds if build.document is None}
    read: list[FindRow] = []
    for row in rows:
        find = _find(row, names, presumed)
        for other in read:
            if other.number == find.number and _act(other) != _act(find):
                raise row.refuse(
                    "No.",
                    f"is line {other.line}'s too, and that is of another day, person or engine",
                    "Give it a number of its own.",
                )
        read.append(find)
    return tuple(read)


def _find(row: Row, names: FindNames, presumed: Collection[str]) -> FindRow:
    engine = names.drawings.engines[row.name_of("Engine", presumed, "engine with presumed stations")]
    position = names.drawings.position(row, engine)
    part = row.one_of("House number", names.parts, "part") if row.text("House number") else None
    for column in _OF_A_FIND:
        if part is None and row.text(column):
            raise row.refuse(column, "is given, and no part was kept", "Name the part, or leave it empty.")
        if part is not None:
            row.needed(column)
    tag = None
    if part is not None:
        single = part.tracking is Tracking.PIECE
        tag = row.number("Tag", NumberKind.PIECE if single else NumberKind.BATCH)
        if tag in names.tags:
            raise row.refuse("Tag", "is on something else already", "Take the next one.")
        if part.life_limited:
            row.needed("Control")
    find = FindRow(
        row.line,
        row.needed("No."),
        engine.name,
        position,
        names.drawings.station(row, engine, position),
        row.day("Date"),
        row.booked("Date"),
        row.name_of("Who", names.people, "person"),
        row.hundredths_or_none("Meter reads"),
        row.needed("Found"),
        part.house_number if part is not None else None,
        tag,
        row.text("Serial"),
        row.quantity("Quantity", part.measure) if part is not None else None,
        row.word_or_none("Condition", Condition),
        row.name_or_none("To", names.places, "place"),
        row.text("Orientation"),
        row.word_or_none("Control", LifeControl),
    )
    scrapped = find.condition is Condition.UNSALVAGEABLE
    if scrapped and names.places[find.to_place or ""] not in {PlaceKind.SCRAP, PlaceKind.QUARANTINE}:
        raise row.refuse("To", "lies among stock", "Quarantine or scrap what can't be salvaged.")
    return find


def _act(find: FindRow) -> tuple[object, ...]:
    """What is the same in all lines of one act."""
    return find.engine, find.found_on, find.booked_on, find.who, find.reading
