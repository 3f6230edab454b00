"""What was fitted, stripped and robbed, as tables; lines with one number belong to one act."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable
from typing import TypeVar

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
    """A piece fitted on the bench into the piece ``into``, with which it rides along.

    It fills the ``station`` of a ``group`` of that engine type once the other is fitted.
    """

    line: int
    number: str
    into: str
    fitted_on: date
    booked_on: date
    who: str
    engine_type: str
    group: str
    station: str
    of: str
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
    note: str

    @property
    def scrapped(self) -> bool:
        """Whether it can't be brought back."""
        return self.condition is Condition.UNSALVAGEABLE


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
    reason: str


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
        _refuse_torn(row, fit, read)
        read.append(fit)
    return tuple(read)


def read_insides(folder: Traversable, names: FittingNames) -> tuple[InsideRow, ...]:
    """What was fitted on the bench into pieces; the lines of one number are one day's work on one piece."""
    columns = ("No.", "Into", "Date", "Booked on", "Who", "Engine type", "Station", "Of", "From", "Note")
    read: list[InsideRow] = []
    for row in read_table(folder, "bench_fittings.csv", columns):
        groups = {(engine_type, station): group for engine_type, group, station in names.drawings.stations}
        engine_type = row.name_of("Engine type", {each for each, _ in groups}, "engine type")
        at = (engine_type, row.needed("Station"))
        if at not in groups:
            raise row.refuse("Station", f"is no station of a {engine_type}", "Draw it first.")
        inside = InsideRow(
            row.line,
            row.needed("No."),
            _piece(row, "Into", names),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            engine_type,
            groups[at],
            row.text("Station"),
            _piece(row, "Of", names),
            row.name_of("From", names.places, "place"),
            row.text("Note"),
        )
        if inside.of == inside.into:
            raise row.refuse("Of", "can't be fitted into itself", "Look at both tags.")
        _refuse_torn(row, inside, read)
        read.append(inside)
    return tuple(read)


def read_strippings(folder: Traversable, names: FittingNames) -> tuple[StripRow, ...]:
    """What was stripped out of engines; what comes out of a batch is scrapped untagged.

    ``Control`` says how a life-limited piece is kept from being fitted past its limit (14 CFR 43.10).
    """
    columns = ("No.", "Engine", "Position", "Date", "Booked on", "Who", "Meter reads", "Station", "Of",
               "Quantity", "Found", "Condition", "To", "Orientation", "Control", "Note")  # fmt: skip
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
            row.text("Note"),
        )
        if names.part_of_tag[strip.of].tracking is Tracking.BATCH and not strip.scrapped:
            raise row.refuse("Condition", "is not how the rest of a batch is scrapped", "Scrap it.")
        _refuse_torn(row, strip, read)
        read.append(strip)
    return tuple(read)


def read_robberies(folder: Traversable, names: FittingNames) -> tuple[RobRow, ...]:
    """What was robbed from one engine for another; not for the same."""
    columns = ("No.", "Engine", "Position", "Station", "Of", "For engine", "Date", "Booked on", "Who",
               "Authorised by", "Meter reads", "Found", "To", "Control", "Reason")  # fmt: skip
    read = []
    for row in read_table(folder, "robberies.csv", columns):
        engine, position, reading = _at(row, names)
        for_engine = names.drawings.engine(row, "For engine")
        if for_engine == engine:
            raise row.refuse("For engine", "is the engine it came from", "Name the other one.")
        read.append(
            RobRow(
                row.line,
                row.needed("No."),
                engine.name,
                position,
                names.drawings.station(row, engine, position),
                _piece(row, "Of", names),
                for_engine.name,
                row.day("Date"),
                row.booked("Date"),
                row.name_of("Who", names.people, "person"),
                row.name_of("Authorised by", names.people, "person"),
                reading,
                row.needed("Found"),
                row.name_of("To", names.places, "place"),
                _control(row, names),
                row.needed("Reason"),
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


def _piece(row: Row, column: str, names: FittingNames) -> str:
    tag = row.number(column, NumberKind.PIECE)
    return row.name_of(column, names.part_of_tag.keys() & {tag}, "piece")


def _act(line: FitRow | InsideRow | StripRow) -> tuple[object, ...]:
    """What is the same in all lines of one act."""
    match line:
        case FitRow():
            return line.engine, line.position, line.fitted_on, line.booked_on, line.who, line.reading
        case InsideRow():
            return line.into, line.fitted_on, line.booked_on, line.who
        case StripRow():
            return line.engine, line.stripped_on, line.booked_on, line.who, line.reading


L = TypeVar("L", FitRow, InsideRow, StripRow)


def _refuse_torn(row: Row, line: L, before: list[L]) -> None:
    for other in before:
        if other.number == line.number and _act(other) != _act(line):
            raise row.refuse(
                "No.",
                f"is line {other.line}'s too, and that is of another day, person, engine or position",
                "Give it a number of its own.",
            )
