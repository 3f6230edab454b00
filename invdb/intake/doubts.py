"""What befell engines and which inspections cleared it, and what authorities order and allow, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.engines import Drawings
from invdb.intake.logs import LogRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import ConcessionOver, EngineEventKind


@dataclass(frozen=True)
class DoubtNames:
    """What lines about doubts, orders and concessions may name."""

    drawings: Drawings
    logs: Mapping[str, LogRow]
    parts: Collection[str]
    tags: Collection[str]
    people: Collection[str]
    documents: Collection[str]


@dataclass(frozen=True)
class EventRow:
    """What befell an engine."""

    line: int
    number: str
    engine: str
    kind: EngineEventKind
    event_on: date
    booked_on: date
    who: str
    note: str


@dataclass(frozen=True)
class ClearanceRow:
    """That an inspection cleared a piece, a batch or the engine (``of``) of the event so numbered."""

    line: int
    event: str
    of: str
    cleared_on: date
    booked_on: date
    who: str
    inspection: str
    document: str | None


@dataclass(frozen=True)
class DirectiveRow:
    """What an authority orders, of which engines or pieces, and when; hours in hundredths."""

    line: int
    reference: str
    issue: str
    title: str
    authority: str
    engine_type: str | None
    serial_from: str | None
    serial_to: str | None
    house_number: str | None
    batch: str | None
    effective_on: date
    within_hours: int | None
    within_months: int | None
    due_on: date | None
    every_hours: int | None
    every_months: int | None
    method: str
    document: str | None
    booked_on: date
    who: str


@dataclass(frozen=True)
class ComplianceRow:
    """That a directive was complied with on an engine or a piece (``of``)."""

    line: int
    directive: str
    of: str
    complied_on: date
    booked_on: date
    who: str
    method: str
    document: str | None


@dataclass(frozen=True)
class ConcessionRow:
    """What an authority allows of one piece in one engine beyond a limit, till when; hours in hundredths."""

    line: int
    reference: str
    authority: str
    over: ConcessionOver
    allows: str
    document: str
    of: str
    engine: str
    position: str | None
    from_on: date
    until_on: date | None
    hours_allowed: int | None
    life_limit_hours: int | None
    booked_on: date
    who: str


def read_events(folder: Traversable, names: DoubtNames) -> tuple[EventRow, ...]:
    """What befell engines that have a log, each event with a number of its own."""
    rows = list(read_table(folder, "engine_events.csv", ("No.", "Engine", "What", "Date", "Booked on", "Who",
                                                         "Note")))  # fmt: skip
    unique([(row, row.needed("No.")) for row in rows], "No.", "event")
    return tuple(
        EventRow(
            row.line,
            row.text("No."),
            row.name_of("Engine", names.logs, "engine with a log"),
            row.word("What", EngineEventKind),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.text("Note"),
        )
        for row in rows
    )


def read_clearances(
    folder: Traversable, events: Collection[EventRow], names: DoubtNames
) -> tuple[ClearanceRow, ...]:
    """What inspections cleared, nothing twice of one event, and nothing before it."""
    columns = ("Event", "Of", "Date", "Booked on", "Who", "Inspection", "Document")
    rows = list(read_table(folder, "event_clearances.csv", columns))
    unique([(row, f"{row.text('Event')} {row.needed('Of')}") for row in rows], "Of", "thing cleared")
    by_number = {event.number: event for event in events}
    read = []
    for row in rows:
        event = row.one_of("Event", by_number, "event")
        clearance = ClearanceRow(
            row.line,
            event.number,
            row.name_of("Of", {*names.tags, event.engine}, "tag, nor the engine of that event,"),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.needed("Inspection"),
            row.name_or_none("Document", names.documents, "document"),
        )
        if clearance.cleared_on < event.event_on:
            raise row.refuse("Date", "is before it happened", "Look at both dates.")
        read.append(clearance)
    return tuple(read)


def read_directives(folder: Traversable, names: DoubtNames) -> tuple[DirectiveRow, ...]:
    """The directives, each reference once, for engines of a type or for a part; each is due some time."""
    columns = ("Reference", "Issue", "Title", "Authority", "Engine type", "Serial from", "Serial to",
               "House number", "Batch", "Effective", "Within hours", "Within months", "Due on",
               "Every hours", "Every months", "Method", "Document", "Booked on", "Who")  # fmt: skip
    rows = list(read_table(folder, "directives.csv", columns))
    unique([(row, row.needed("Reference")) for row in rows], "Reference", "directive")
    return tuple(_directive(row, names) for row in rows)


def _directive(row: Row, names: DoubtNames) -> DirectiveRow:
    types = {engine.engine_type for engine in names.drawings.engines.values()}
    directive = DirectiveRow(
        row.line,
        row.text("Reference"),
        row.text("Issue"),
        row.needed("Title"),
        row.needed("Authority"),
        row.name_or_none("Engine type", types, "engine type"),
        row.maybe("Serial from"),
        row.maybe("Serial to"),
        row.name_or_none("House number", names.parts, "part"),
        row.number("Batch", NumberKind.BATCH) if row.text("Batch") else None,
        row.day("Effective"),
        row.hundredths_or_none("Within hours"),
        row.whole_or_none("Within months"),
        row.day_or_none("Due on"),
        row.hundredths_or_none("Every hours"),
        row.whole_or_none("Every months"),
        row.needed("Method"),
        row.name_or_none("Document", names.documents, "document"),
        row.booked("Effective"),
        row.name_of("Who", names.people, "person"),
    )
    if directive.engine_type is None and directive.house_number is None and directive.batch is None:
        raise row.refuse("Engine type", "and all beside it leave open what it is for", "Name type or part.")
    if directive.engine_type is None and (directive.serial_from or directive.serial_to):
        raise row.refuse("Serial from", "does not go without an engine type", "Name the type.")
    return directive


def read_compliances(
    folder: Traversable, directives: Collection[DirectiveRow], names: DoubtNames
) -> tuple[ComplianceRow, ...]:
    """Which directives were complied with, on what, none before it took effect."""
    columns = ("Directive", "Of", "Date", "Booked on", "Who", "Method", "Document")
    by_reference = {directive.reference: directive for directive in directives}
    subjects = {*names.tags, *names.drawings.engines}
    read = []
    for row in read_table(folder, "compliances.csv", columns):
        directive = row.one_of("Directive", by_reference, "directive")
        compliance = ComplianceRow(
            row.line,
            directive.reference,
            row.name_of("Of", subjects, "piece or engine"),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.needed("Method"),
            row.name_or_none("Document", names.documents, "document"),
        )
        if compliance.complied_on < directive.effective_on:
            raise row.refuse("Date", "is before the directive took effect", "Look at both dates.")
        read.append(compliance)
    return tuple(read)


def read_concessions(folder: Traversable, names: DoubtNames) -> tuple[ConcessionRow, ...]:
    """The concessions, each reference once, each with its document and an end."""
    columns = ("Reference", "Authority", "Over", "Allows", "Document", "Of", "Engine", "Position", "From",
               "Until", "Hours allowed", "Life limit hours", "Booked on", "Who")  # fmt: skip
    rows = list(read_table(folder, "concessions.csv", columns))
    unique([(row, row.needed("Reference")) for row in rows], "Reference", "concession")
    read = []
    for row in rows:
        engine = names.drawings.engine(row)
        concession = ConcessionRow(
            row.line,
            row.text("Reference"),
            row.needed("Authority"),
            row.word("Over", ConcessionOver),
            row.needed("Allows"),
            row.name_of("Document", names.documents, "document"),
            row.name_of("Of", names.tags, "piece"),
            engine.name,
            names.drawings.position(row, engine) if row.text("Position") else None,
            row.day("From"),
            row.day_or_none("Until"),
            row.hundredths_or_none("Hours allowed"),
            row.hundredths_or_none("Life limit hours"),
            row.booked("From"),
            row.name_of("Who", names.people, "person"),
        )
        if concession.until_on is None and concession.hours_allowed is None:
            raise row.refuse("Until", "is empty, and so are the hours", "A concession has an end.")
        if concession.until_on is not None and concession.until_on < concession.from_on:
            raise row.refuse("Until", "is before it begins", "Look at both dates.")
        read.append(concession)
    return tuple(read)
