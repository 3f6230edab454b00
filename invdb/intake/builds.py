"""Builds taken over as tables: what an engine's build card says is in it when its record is begun here."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.engines import Drawings
from invdb.intake.shop import DocumentRow
from invdb.intake.stock import HOURS_SCALE, STARTS_SCALE
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import PriorLife, Tracking


@dataclass(frozen=True)
class BuildRow:
    """That the build of an engine was taken over from a document, or with none presumed, unidentified.

    What is presumed is every station that is not known to be filled, of some ``positions`` if they are named.
    """

    line: int
    engine: str
    document: str | None
    taken_on: date
    booked_on: date
    who: str
    reading: int | None
    positions: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class FilledRow:
    """What a build card says is at one station, under the tag it was given; hours in hundredths.

    ``inside`` is the tag of the piece that it sits in, named in a line above.
    """

    line: int
    engine: str
    position: str
    station: str
    tag: str
    house_number: str
    serial: str | None
    quantity: int
    prior_hours: PriorLife
    prior_starts: PriorLife
    inside: str | None
    note: str


def read_builds(
    folder: Traversable,
    drawings: Drawings,
    documents: Mapping[str, DocumentRow],
    people: Collection[str],
) -> tuple[BuildRow, ...]:
    """The builds taken over, a document of an engine once at most, none before it was written."""
    columns = ("Engine", "Document", "Date", "Booked on", "Who", "Meter reads", "Positions", "Note")
    rows = list(read_table(folder, "build_records.csv", columns))
    unique([(row, f"{row.needed('Engine')} {row.text('Document')}") for row in rows], "Document", "build")
    read = []
    for row in rows:
        engine = drawings.engine(row)
        here = {name for engine_type, name in drawings.groups if engine_type == engine.engine_type}
        build = BuildRow(
            row.line,
            engine.name,
            row.name_or_none("Document", documents, "document"),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", people, "person"),
            row.hundredths_or_none("Meter reads"),
            row.names("Positions", here, f"position of a {engine.engine_type}", ","),
            row.text("Note"),
        )
        if build.document is not None and build.positions:
            raise row.refuse("Positions", "are given, and the card names its own", "Leave them empty.")
        if build.document is not None:
            dated_on = documents[build.document].dated_on
            if dated_on is not None and dated_on > build.taken_on:
                raise row.refuse("Document", "was not written yet then", "Look at both dates.")
        read.append(build)
    return tuple(read)


def read_filled(
    folder: Traversable,
    builds: Collection[BuildRow],
    drawings: Drawings,
    parts: Mapping[str, PartRow],
    tags: Collection[str],
) -> tuple[FilledRow, ...]:
    """What the build cards say, each tag once and none that is on something else."""
    columns = ("Engine", "Position", "Station", "Tag", "House number", "Serial", "Quantity", "Prior hours",
               "Prior starts", "Inside", "Note")  # fmt: skip
    rows = list(read_table(folder, "build_stations.csv", columns))
    unique([(row, row.needed("Tag")) for row in rows], "Tag", "tag")
    carded = {build.engine for build in builds if build.document is not None}
    read: list[FilledRow] = []
    for row in rows:
        engine = drawings.engines[row.name_of("Engine", carded, "engine with a build card")]
        position = drawings.position(row, engine)
        part = row.one_of("House number", parts, "part")
        kind = NumberKind.PIECE if part.tracking is Tracking.PIECE else NumberKind.BATCH
        if row.number("Tag", kind) in tags:
            raise row.refuse("Tag", "is on something else already", "Take the next one.")
        filled = FilledRow(
            row.line,
            engine.name,
            position,
            drawings.station(row, engine, position),
            row.text("Tag"),
            part.house_number,
            row.maybe("Serial"),
            row.quantity("Quantity", part.measure),
            row.prior_life("Prior hours", HOURS_SCALE),
            row.prior_life("Prior starts", STARTS_SCALE),
            row.name_or_none("Inside", {each.tag for each in read if _same_place(each, row)}, "piece there"),
            row.text("Note"),
        )
        if filled.inside is not None and part.tracking is not Tracking.PIECE:
            raise row.refuse("Inside", "holds no part of a batch", "Leave it empty.")
        if part.tracking is Tracking.PIECE and filled.quantity != 1:
            raise row.refuse("Quantity", "is not one piece", "Give each piece a line.")
        read.append(filled)
    return tuple(read)


def _same_place(filled: FilledRow, row: Row) -> bool:
    return (filled.engine, filled.position) == (row.text("Engine"), row.text("Position"))
