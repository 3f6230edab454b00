"""What was fitted, stripped and robbed, as tables; lines with one number belong to one act."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.engines import Drawings, EngineRow
from invdb.intake.logs import LogRow
from invdb.intake.table import Row, read_table
from invdb.rules.numbering import NumberKind
from invdb.terms import Condition, LifeControl, Tracking


@dataclass(frozen=True)
class FittingNames:
    """What lines about fitting may name; ``part_of_tag`` gives the part of every piece and batch."""

    drawings: Drawings
    logs: Mapping[str, LogRow]
    part_of_tag: Mapping[str, PartRow]
    people: Collection[str]
    places: Collection[str]


@dataclass(frozen=True)
class FitRow:
    """One thing fitted at a station: how much of it (in the smallest unit) and from where.

    ``reading`` is what the engine's meter read, in hundredths of an hour; None where it has none.
    """

    line: int
    number: str
    engine: str
    position: str
    fitted_on: date
    booked_on: date
    who: str
    reading: int | None
    station: str
    of: str
    quantity: int
    from_place: str
    override: str
    note: str


@dataclass(frozen=True)
class InsideRow:
    """One thing fitted on the bench into the piece ``into``, with which it rides along."""

    line: int
    number: str
    into: str
    fitted_on: date
    booked_on: date
    who: str
    station: str
    of: str
    quantity: int
    from_place: str
    note: str


@dataclass(frozen=True)
class StripRow:
    """One thing that came out of a station: what it was found like and where it went."""

    line: int
    number: str
    engine: str
    position: str
    stripped_on: date
    booked_on: date
    who: str
    reading: int | None
    station: str
    of: str
    quantity: int
    found: str
    condition: Condition
    to_place: str
    orientation: str
    control: LifeControl | None
    new_tag: str | None
    note: str


@dataclass(frozen=True)
class RobRow:
    """A piece taken out of one engine for another, on whose word."""

    line: int
    number: str
    engine: str
    position: str
    station: str
    of: str
    for_engine: str
    robbed_on: date
    booked_on: date
    who: str
    authorised_by: str
    reading: int | None
    found: str
    to_place: str
    control: LifeControl | None
    note: str


def read_fittings(folder: Traversable, names: FittingNames) -> tuple[FitRow, ...]:
    """What was fitted in engines; the lines of one number are one engine's on one day."""
    columns = ("No.", "Engine", "Position", "Date", "Booked on", "Who", "Meter reads", "Station", "Of",
               "Quantity", "From", "Override", "Note")  # fmt: skip
    read: list[FitRow] = []
    for row in read_table(folder, "fittings.csv", columns):
        engine, position, reading = _at(row, names)
        fit = FitRow(
            row.line,
            row.needed("No."),
            engine.name,
            position,
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            reading,
            names.drawings.station(row, engine, position),
            row.name_of("Of", names.part_of_tag, "piece or batch"),
            _quantity(row, names),
            row.name_of("From", names.places, "place"),
            row.text("Override"),
            row.text("Note"),
        )
        for other in read:
            if other.number == fit.number and _act(other) != _act(fit):
                raise _refuse_torn(row, other.line)
        read.append(fit)
    return tuple(read)


def read_insides(folder: Traversable, names: FittingNames) -> tuple[InsideRow, ...]:
    """What was fitted on the bench into pieces."""
    columns = ("No.", "Into", "Date", "Booked on", "Who", "Station", "Of", "Quantity", "From", "Note")
    stations = {name for _, _, name in names.drawings.stations}
    read = []
    for row in read_table(folder, "bench_fittings.csv", columns):
        into = row.number("Into", NumberKind.PIECE)
        if into not in names.part_of_tag:
            raise row.refuse("Into", "is no piece known here", "Correct it, or add the piece.")
        inside = InsideRow(
            row.line,
            row.needed("No."),
            into,
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.name_of("Station", stations, "station"),
            row.name_of("Of", names.part_of_tag, "piece or batch"),
            _quantity(row, names),
            row.name_of("From", names.places, "place"),
            row.text("Note"),
        )
        if inside.of == inside.into:
            raise row.refuse("Of", "can't be fitted into itself", "Look at both tags.")
        read.append(inside)
    return tuple(read)


def read_strippings(folder: Traversable, names: FittingNames) -> tuple[StripRow, ...]:
    """What was stripped out of engines; ``Control`` says how a life-limited piece is kept from being fitted
    past its limit (14 CFR 43.10)."""
    columns = ("No.", "Engine", "Position", "Date", "Booked on", "Who", "Meter reads", "Station", "Of",
               "Quantity", "Found", "Condition", "To", "Orientation", "Control", "New tag",
               "Note")  # fmt: skip
    read: list[StripRow] = []
    for row in read_table(folder, "strippings.csv", columns):
        engine, position, reading = _at(row, names)
        strip = StripRow(
            row.line,
            row.needed("No."),
            engine.name,
            position,
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            reading,
            names.drawings.station(row, engine, position),
            row.name_of("Of", names.part_of_tag, "piece or batch"),
            _quantity(row, names),
            row.needed("Found"),
            row.word("Condition", Condition),
            row.name_of("To", names.places, "place"),
            row.text("Orientation"),
            _control(row, names),
            row.number("New tag", NumberKind.BATCH) if row.text("New tag") else None,
            row.text("Note"),
        )
        for other in read:
            if other.number == strip.number and _act(other) != _act(strip):
                raise _refuse_torn(row, other.line)
        read.append(strip)
    return tuple(read)


def read_robberies(folder: Traversable, names: FittingNames) -> tuple[RobRow, ...]:
    """What was robbed from one engine for another; not for the same."""
    columns = ("No.", "Engine", "Position", "Station", "Of", "For engine", "Date", "Booked on", "Who",
               "Authorised by", "Meter reads", "Found", "To", "Control", "Note")  # fmt: skip
    read = []
    for row in read_table(folder, "robberies.csv", columns):
        engine, position, reading = _at(row, names)
        for_engine = names.drawings.engine(row, "For engine")
        if for_engine == engine:
            raise row.refuse("For engine", "is the engine it came from", "Name the other one.")
        row.number("Of", NumberKind.PIECE)
        read.append(
            RobRow(
                row.line,
                row.needed("No."),
                engine.name,
                position,
                names.drawings.station(row, engine, position),
                row.name_of("Of", names.part_of_tag, "piece"),
                for_engine.name,
                row.day("Date"),
                row.booked("Date"),
                row.name_of("Who", names.people, "person"),
                row.name_of("Authorised by", names.people, "person"),
                reading,
                row.needed("Found"),
                row.name_of("To", names.places, "place"),
                _control(row, names),
                row.text("Note"),
            )
        )
    return tuple(read)


def _at(row: Row, names: FittingNames) -> tuple[EngineRow, str, int | None]:
    """The engine with a log, the position, and what its meter read; a reading just where it has a meter."""
    engine = names.drawings.engine(row)
    log = row.one_of("Engine", names.logs, "engine with a log")
    if log.reading is not None:
        row.needed("Meter reads")
    elif row.text("Meter reads"):
        raise row.refuse("Meter reads", f"is given, and {engine.name} has no meter", "Leave it empty.")
    return engine, names.drawings.position(row, engine), row.hundredths_or_none("Meter reads")


def _quantity(row: Row, names: FittingNames) -> int:
    part = row.one_of("Of", names.part_of_tag, "piece or batch")
    quantity = row.quantity("Quantity", part.measure)
    if part.tracking is Tracking.PIECE and quantity != 1:
        raise row.refuse("Quantity", "is not one piece", "Give each piece a line.")
    return quantity


def _control(row: Row, names: FittingNames) -> LifeControl | None:
    part = row.one_of("Of", names.part_of_tag, "piece or batch")
    control = row.word_or_none("Control", LifeControl)
    if part.life_limited and control is None:
        raise row.refuse(
            "Control", "is empty for a life-limited piece", "Say how it is kept from going past its limit."
        )
    return control


def _act(line: FitRow | StripRow) -> tuple[object, ...]:
    """What is the same in all lines of one act."""
    on = line.fitted_on if isinstance(line, FitRow) else line.stripped_on
    return line.engine, on, line.booked_on, line.who, line.reading


def _refuse_torn(row: Row, line: int) -> Exception:
    return row.refuse("No.", f"is line {line}'s too, of another engine, day, reading or person",
                      "Give it a number of its own.")  # fmt: skip
