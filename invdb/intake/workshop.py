"""A whole workshop read from the tables it keeps: every cell typed, every name known, no database in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from invdb.intake import catalogue, daybook, engines, shop, stock
from invdb.intake.engines import (
    Drawings,
    EngineRow,
    EngineTypeRow,
    ModChangeRow,
    ModRow,
    PositionRow,
    StationRow,
)
from invdb.intake.inspections import InspectionNames, Inspections, read_inspections
from invdb.intake.lives import LifeNames, Lives, read_before_day_book, read_lives
from invdb.intake.loans import LoanNames, LoanRow, read_loans
from invdb.intake.plans import PlanNames, Plans, read_plans
from invdb.intake.purchases import PurchaseNames, Purchases, read_purchases
from invdb.intake.specs import Specs, read_specs
from invdb.intake.standing import Standing, standings
from invdb.intake.table import Row, read_table
from invdb.intake.works import WorkNames, Works, read_works
from invdb.rules.numbering import NumberKind, Verdict, read_number
from invdb.terms import EntryKind, Refused


@dataclass(frozen=True)
class PullRow:
    """A kit asked for: for which position of which engine, when, by whom, and when it was cancelled if so."""

    line: int
    engine: str
    position: str
    asked_on: date
    asked_by: str
    cancelled_on: date | None
    note: str


@dataclass(frozen=True)
class Sight:
    """Something of this workshop worth looking at: what it is, where, how it shows, and its number or tag."""

    line: int
    what: str
    where: str
    how: str
    number: str


@dataclass(frozen=True)
class Workshop:
    """Everything the tables say, each table in its own order."""

    settings: dict[str, str]
    firms: tuple[shop.FirmRow, ...]
    people: tuple[shop.PersonRow, ...]
    owners: tuple[shop.OwnerRow, ...]
    agreements: tuple[shop.AgreementRow, ...]
    documents: tuple[shop.DocumentRow, ...]
    places: tuple[shop.PlaceRow, ...]
    engine_types: tuple[EngineTypeRow, ...]
    positions: tuple[PositionRow, ...]
    stations: tuple[StationRow, ...]
    engines: tuple[EngineRow, ...]
    mods: tuple[ModRow, ...]
    mod_changes: tuple[ModChangeRow, ...]
    families: tuple[catalogue.FamilyRow, ...]
    parts: tuple[catalogue.PartRow, ...]
    other_numbers: tuple[catalogue.OtherNumberRow, ...]
    hazards: tuple[catalogue.HazardRow, ...]
    kit_lines: tuple[catalogue.KitLineRow, ...]
    stand_ins: tuple[catalogue.StandInRow, ...]
    goods_in: tuple[stock.GoodsInRow, ...]
    pieces: tuple[stock.PieceRow, ...]
    batches: tuple[stock.BatchRow, ...]
    happenings: tuple[daybook.Happening, ...]
    works: Works
    lives: Lives
    inspections: Inspections
    specs: Specs
    plans: Plans
    purchases: Purchases
    loans: tuple[LoanRow, ...]
    pulls: tuple[PullRow, ...]
    sights: tuple[Sight, ...]

    @property
    def things(self) -> tuple[stock.PieceRow | stock.BatchRow, ...]:
        """Every piece, then every batch, as they came."""
        return (*self.pieces, *self.batches)

    @property
    def drawings(self) -> Drawings:
        """The engines with their positions and stations."""
        by_name = {engine.name: engine for engine in self.engines}
        return engines.drawings_of(by_name, self.positions, self.stations)

    @cached_property
    def standings(self) -> dict[str, Standing]:
        """Every piece and batch by its tag as it stands in the end; what was reversed is not among them."""
        places = {place.name: place for place in self.places}
        return standings(
            self.goods_in,
            self.things,
            self.happenings,
            places,
            self.works,
            self.inspections,
            self.lives,
            self.drawings,
            self.loans,
            self.purchases.given,
        )


def read_workshop(folder: Path | None = None) -> Workshop:
    """Read a workshop's tables from a folder, or those of the invented workshop that comes with the program.

    Refused at the first cell that is wrong, naming file, line, column and value, and at the first line of
    the day book that cannot have happened.
    """
    tables: Traversable = folder if folder is not None else files("sample_catalog")
    firms = shop.read_firms(tables)
    firm_names = _names(firm.name for firm in firms)
    people = {person.name: person for person in shop.read_people(tables)}
    owners = shop.read_owners(tables, firm_names)
    owner_names = _names(owner.name for owner in owners)
    documents = {document.reference: document for document in shop.read_documents(tables, firm_names)}
    places = {place.name: place for place in shop.read_places(tables, firm_names)}

    engine_types = engines.read_engine_types(tables, firm_names)
    type_names = _names(engine_type.name for engine_type in engine_types)
    positions = engines.read_positions(tables, type_names)
    stations = engines.read_stations(tables, type_names)
    engine_rows = {engine.name: engine for engine in engines.read_engines(tables, type_names, owner_names)}
    mods = {mod.code: mod for mod in engines.read_mods(tables, type_names)}

    families = catalogue.read_families(tables)
    parts = {part.house_number: part for part in catalogue.read_parts(tables, families)}

    notes = stock.read_goods_in(tables, people, firm_names, engine_rows, places)
    names = stock.StockNames(
        parts, {note.number: note for note in notes}, owner_names, people, places, documents
    )
    pieces = stock.read_pieces(tables, names)
    batches = stock.read_batches(tables, names)
    part_of_tag = {piece.tag: parts[piece.house_number] for piece in pieces}
    part_of_tag |= {batch.tag: parts[batch.house_number] for batch in batches}
    life_names = LifeNames(
        engines.drawings_of(engine_rows, positions, stations), parts, mods, people, places, documents
    )
    before = read_before_day_book(tables, life_names, part_of_tag)
    part_of_tag |= {filled.tag: parts[filled.house_number] for filled in before.filled}
    part_of_tag |= {
        find.tag: parts[find.house_number] for find in before.finds if find.tag and find.house_number
    }
    loans = read_loans(tables, LoanNames(part_of_tag, parts, people, owner_names, places))
    part_of_tag |= {loan.of: parts[loan.house_number] for loan in loans}
    works = read_works(tables, WorkNames(part_of_tag, parts, people, places, documents))
    part_of_tag |= {tag: part_of_tag[of] for tag, of in works.new_tags.items()}
    undoable = {*names.notes, *(run.number for run in before.running)}
    happenings = daybook.read_happenings(
        tables,
        daybook.DayBookNames(part_of_tag, parts, engine_rows, people, places, documents, undoable),
    )
    part_of_tag |= {line.new_tag: part_of_tag[line.of] for line in happenings if line.new_tag is not None}
    undone = {line.undoes for line in happenings if line.kind is EntryKind.REVERSED and line.undoes}
    lives = read_lives(tables, life_names, before, part_of_tag, undone)
    came = {(piece.goods_in, piece.house_number) for piece in pieces}
    came |= {(batch.goods_in, batch.house_number) for batch in batches}
    purchases = read_purchases(
        tables, PurchaseNames(part_of_tag, parts, people, places, firm_names, names.notes, came)
    )
    letters = _names(family.letters for family in families)
    traded = {order.number for order in purchases.orders} | {loan.number for loan in loans}
    workshop = Workshop(
        settings=shop.read_settings(tables),
        firms=firms,
        people=tuple(people.values()),
        owners=owners,
        agreements=shop.read_agreements(tables, owner_names, engine_rows, documents),
        documents=tuple(documents.values()),
        places=tuple(places.values()),
        engine_types=engine_types,
        positions=positions,
        stations=stations,
        engines=tuple(engine_rows.values()),
        mods=tuple(mods.values()),
        mod_changes=engines.read_mod_changes(tables, engine_rows, mods, people),
        families=families,
        parts=tuple(parts.values()),
        other_numbers=catalogue.read_other_numbers(tables, parts, firm_names),
        hazards=catalogue.read_hazards(tables, parts),
        kit_lines=catalogue.read_kit_lines(tables, parts, stations, positions, mods),
        stand_ins=catalogue.read_stand_ins(tables, parts, positions, mods, documents),
        goods_in=notes,
        pieces=pieces,
        batches=batches,
        happenings=happenings,
        works=works,
        lives=lives,
        inspections=read_inspections(tables, InspectionNames(part_of_tag, people, places)),
        specs=read_specs(tables, parts, life_names.drawings, people),
        plans=read_plans(tables, PlanNames(engine_rows, letters, people)),
        purchases=purchases,
        loans=loans,
        pulls=_read_pulls(tables, engine_rows, positions, people),
        sights=_read_sights(tables, {*part_of_tag, *parts, *names.notes, *traded}),
    )
    _refuse_uncovered(workshop)
    # Works the day book through once, so that a line which cannot have happened is refused here.
    assert workshop.standings
    return workshop


def _names(names: Iterable[str]) -> frozenset[str]:
    return frozenset(names)


def _read_pulls(
    folder: Traversable,
    known_engines: dict[str, EngineRow],
    positions: tuple[PositionRow, ...],
    people: dict[str, shop.PersonRow],
) -> tuple[PullRow, ...]:
    columns = ("Engine", "Position", "Asked on", "Asked by", "Cancelled on", "Note")
    read = []
    for row in read_table(folder, "pulls.csv", columns):
        engine = row.one_of("Engine", known_engines, "engine")
        here = {position.name for position in positions if position.engine_type == engine.engine_type}
        pull = PullRow(
            row.line,
            engine.name,
            row.name_of("Position", here, f"position of a {engine.engine_type}"),
            row.day("Asked on"),
            row.name_of("Asked by", people, "person"),
            row.day_or_none("Cancelled on"),
            row.text("Note"),
        )
        if pull.cancelled_on is not None and pull.cancelled_on < pull.asked_on:
            raise row.refuse("Cancelled on", "is before it was asked for", "Look at both dates.")
        read.append(pull)
    return tuple(read)


def _read_sights(folder: Traversable, known: set[str]) -> tuple[Sight, ...]:
    columns = ("What", "Where", "How it shows", "Number")
    return tuple(
        Sight(row.line, row.needed("What"), row.text("Where"), row.needed("How it shows"), _sight(row, known))
        for row in read_table(folder, "what_to_see.csv", columns)
    )


def _sight(row: Row, known: set[str]) -> str:
    number = row.name_of("Number", known, "tag, part, goods-in note, order or loan")
    reading = read_number(number)
    if reading.kind in {NumberKind.PIECE, NumberKind.BATCH} and reading.verdict is not Verdict.RIGHT:
        raise row.refuse("Number", "has a wrong check character", "Look at the label again.")
    return number


def _refuse_uncovered(workshop: Workshop) -> None:
    """Every group of positions has a kit list, and every station of it a line."""
    listed = {(line.engine_type, line.group, line.station) for line in workshop.kit_lines}
    for station in workshop.stations:
        if (station.engine_type, station.group, station.name) not in listed:
            raise Refused(
                f"stations.csv, line {station.line}: no kit line is for {station.name} of the"
                f" {station.engine_type}.",
                "Add the line to kit_lines.csv, or drop the station.",
            )
    groups = {(line.engine_type, line.group) for line in workshop.kit_lines}
    for position in workshop.positions:
        if (position.engine_type, position.group) not in groups:
            raise Refused(
                f"positions.csv, line {position.line}: the {position.engine_type} has no kit list for its"
                f" {position.group}s.",
                "Add its lines to kit_lines.csv.",
            )
