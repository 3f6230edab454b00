"""What came in, as tables: goods-in notes, pieces and batches, and what the receiving inspection found."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.shop import DocumentRow, PersonRow, PlaceRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import Condition, Origin, PlaceKind, PriorLife, Scope, Tracking, WorkState

HOURS_SCALE = 100
STARTS_SCALE = 1

STOCK_COLUMNS = (
    "Owner", "Used", "Work done", "Work report", "Shelf expiry", "Drawing", "Revision", "Material",
    "Material certificate", "Made by", "Made and inspected by", "Papers", "Looked at on", "Looked at by",
    "Condition", "Scope", "Override", "Put in", "Right part", "Papers match", "Damage", "Hazards", "Note",
)  # fmt: skip
MADE_HERE_COLUMNS = (
    "Drawing", "Revision", "Material", "Material certificate", "Made by", "Made and inspected by",
)  # fmt: skip


@dataclass(frozen=True)
class GoodsInRow:
    """One delivery, strip or run of making: when it came, when it was booked, by whom, from where."""

    line: int
    number: str
    happened_on: date
    booked_on: date
    booked_by: str
    firm: str | None
    origin: Origin
    donor_engine: str | None
    donor: str
    place: str
    note: str


@dataclass(frozen=True)
class StockCells:
    """What a piece and a batch have alike.

    Everything from ``looked_on`` on is what the receiving inspection found; with no ``looked_on`` the thing
    is uninspected and lies where the goods-in note put it, else it was put in ``place``.
    """

    owner: str
    used: bool
    work_state: WorkState
    work_reference: str
    shelf_expiry_on: date | None
    drawing: str
    drawing_revision: str
    material: str
    material_certificate: str
    made_by: str
    made_inspected_by: str
    papers: tuple[str, ...]
    looked_on: date | None
    looked_by: str | None
    condition: Condition
    scope: Scope | None
    override: str
    place: str | None
    check_right_part: str
    check_papers: str
    check_damage: str
    check_hazards: str
    note: str


@dataclass(frozen=True)
class PieceRow:
    """One piece as it came; prior hours in hundredths; ``made_on`` where a paper says so."""

    line: int
    tag: str
    house_number: str
    serial: str | None
    goods_in: str
    prior_hours: PriorLife
    prior_starts: PriorLife
    made_on: date | None
    stock: StockCells


@dataclass(frozen=True)
class BatchRow:
    """One batch as it came; ``quantity`` in the part's smallest unit, ``size_class`` '' for its own size."""

    line: int
    tag: str
    house_number: str
    maker_batch: str
    goods_in: str
    quantity: int
    size_class: str
    stock: StockCells


@dataclass(frozen=True)
class StockNames:
    """What rows of pieces and batches may name."""

    parts: Mapping[str, PartRow]
    notes: Mapping[str, GoodsInRow]
    owners: Collection[str]
    people: Mapping[str, PersonRow]
    places: Mapping[str, PlaceRow]
    documents: Mapping[str, DocumentRow]


def read_goods_in(
    folder: Traversable,
    people: Collection[str],
    firms: Collection[str],
    engines: Collection[str],
    places: Mapping[str, PlaceRow],
) -> tuple[GoodsInRow, ...]:
    """The goods-in notes, each number once, booked no earlier than they came."""
    columns = ("Goods-in note", "Date", "Booked on", "Booked by", "Firm", "Origin", "Donor engine", "Donor",
               "Put in", "Note")  # fmt: skip
    rows = list(read_table(folder, "goods_in.csv", columns))
    unique([(row, row.needed("Goods-in note")) for row in rows], "Goods-in note", "goods-in note")
    read = []
    for row in rows:
        note = GoodsInRow(
            row.line,
            row.needed("Goods-in note"),
            row.day("Date"),
            row.day("Booked on"),
            row.name_of("Booked by", people, "person"),
            row.name_or_none("Firm", firms, "firm"),
            row.word("Origin", Origin),
            row.name_or_none("Donor engine", engines, "engine"),
            row.text("Donor"),
            row.name_of("Put in", places, "place"),
            row.text("Note"),
        )
        if note.booked_on < note.happened_on:
            raise row.refuse("Booked on", "is before the goods came", "Look at both dates.")
        if note.origin is Origin.SALVAGED and not (note.donor or note.donor_engine):
            raise row.refuse("Donor", "does not say which engine it was salvaged from", "Name the donor.")
        if places[note.place].bonded:
            raise row.refuse("Put in", "is bonded, and nothing of this is accepted yet", "Use another place.")
        read.append(note)
    return tuple(read)


def read_pieces(folder: Traversable, names: StockNames) -> tuple[PieceRow, ...]:
    """The pieces, each tag once and no serial twice among the pieces of one part."""
    columns = ("Tag", "House number", "Serial", "Goods-in note", "Prior hours", "Prior starts", "Made on",
               *STOCK_COLUMNS)  # fmt: skip
    rows = list(read_table(folder, "pieces.csv", columns))
    unique([(row, row.needed("Tag")) for row in rows], "Tag", "tag")
    with_serial = [row for row in rows if row.text("Serial")]
    serials = [(row, f"{row.text('House number')} {row.text('Serial')}") for row in with_serial]
    unique(serials, "Serial", "serial of a part")
    return tuple(
        PieceRow(
            row.line,
            row.number("Tag", NumberKind.PIECE),
            _part(row, names, Tracking.PIECE).house_number,
            row.maybe("Serial"),
            row.name_of("Goods-in note", names.notes, "goods-in note"),
            row.prior_life("Prior hours", HOURS_SCALE),
            row.prior_life("Prior starts", STARTS_SCALE),
            row.day_or_none("Made on"),
            _stock(row, names),
        )
        for row in rows
    )


def read_batches(folder: Traversable, names: StockNames) -> tuple[BatchRow, ...]:
    """The batches, each tag once."""
    columns = ("Tag", "House number", "Maker batch", "Goods-in note", "Quantity", "Size", *STOCK_COLUMNS)
    rows = list(read_table(folder, "batches.csv", columns))
    unique([(row, row.needed("Tag")) for row in rows], "Tag", "tag")
    read = []
    for row in rows:
        part = _part(row, names, Tracking.BATCH)
        read.append(
            BatchRow(
                row.line,
                row.number("Tag", NumberKind.BATCH),
                part.house_number,
                row.text("Maker batch"),
                row.name_of("Goods-in note", names.notes, "goods-in note"),
                row.quantity("Quantity", part.measure),
                row.text("Size"),
                _stock(row, names),
            )
        )
    return tuple(read)


def _part(row: Row, names: StockNames, tracking: Tracking) -> PartRow:
    part = row.one_of("House number", names.parts, "part")
    if part.tracking is not tracking:
        raise row.refuse("House number", f"is held by {part.tracking}", "Move the line to the other file.")
    return part


def _stock(row: Row, names: StockNames) -> StockCells:
    cells = StockCells(
        row.name_of("Owner", names.owners, "owner"),
        row.yes("Used"),
        row.word_or_none("Work done", WorkState) or WorkState.AS_RECEIVED,
        row.name_or_none("Work report", names.documents, "document") or "",
        row.day_or_none("Shelf expiry"),
        row.text("Drawing"),
        row.text("Revision"),
        row.text("Material"),
        row.text("Material certificate"),
        row.text("Made by"),
        row.text("Made and inspected by"),
        row.names("Papers", names.documents, "document", ";"),
        row.day_or_none("Looked at on"),
        row.name_or_none("Looked at by", names.people, "person"),
        row.word("Condition", Condition),
        row.word_or_none("Scope", Scope),
        row.text("Override"),
        row.name_or_none("Put in", names.places, "place"),
        row.text("Right part"),
        row.text("Papers match"),
        row.text("Damage"),
        row.text("Hazards"),
        row.text("Note"),
    )
    note = row.one_of("Goods-in note", names.notes, "goods-in note")
    _check_origin(row, cells, note, names)
    _check_inspection(row, cells, note)
    _check_acceptance(row, cells, names)
    return cells


def _check_origin(row: Row, cells: StockCells, note: GoodsInRow, names: StockNames) -> None:
    part = row.one_of("House number", names.parts, "part")
    if part.shelf_life_months is not None and cells.shelf_expiry_on is None:
        raise row.refuse("Shelf expiry", "is empty for a part with a shelf life", "Read it off the packet.")
    if note.origin is Origin.MADE_HERE:
        for column in MADE_HERE_COLUMNS:
            row.needed(column)
    if (cells.work_state is WorkState.AS_RECEIVED) == bool(cells.work_reference):
        raise row.refuse("Work report", f"does not go with {cells.work_state}", "Give work and report.")
    for reference in cells.papers:
        dated_on = names.documents[reference].dated_on
        if dated_on is not None and dated_on > note.booked_on:
            raise row.refuse("Papers", f"names {reference}, not written yet then", "Link it in the day book.")
    if cells.work_reference and cells.work_reference not in cells.papers:
        raise row.refuse("Work report", "is not among its papers", "Name it there too.")


def _check_inspection(row: Row, cells: StockCells, note: GoodsInRow) -> None:
    looked = cells.looked_on is not None
    judged = cells.condition is not Condition.UNINSPECTED
    found = {cells.looked_by is not None, cells.place is not None, judged}
    if found != {looked}:
        raise row.refuse(
            "Looked at on", "does not go with who looked, what was found and where it was put",
            "Give all four, or leave it uninspected.",
        )  # fmt: skip
    if cells.looked_on is not None and cells.looked_on < note.booked_on:
        raise row.refuse("Looked at on", "is before it was booked in", "Look at both dates.")
    if looked:
        for column in ("Right part", "Papers match", "Damage", "Hazards"):
            row.needed(column)
    if (cells.scope is not None) != (cells.condition is Condition.SERVICEABLE):
        raise row.refuse("Scope", f"does not go with {cells.condition}", "Serviceable stock has one.")


def _check_acceptance(row: Row, cells: StockCells, names: StockNames) -> None:
    if cells.condition is Condition.UNINSPECTED or cells.place is None:
        return
    place = names.places[cells.place]
    if place.bonded and (cells.condition is not Condition.SERVICEABLE or not cells.papers):
        raise row.refuse("Put in", "is bonded and takes accepted stock with papers", "Use another place.")
    among_stock = place.kind not in {PlaceKind.SCRAP, PlaceKind.QUARANTINE}
    if cells.condition is Condition.UNSALVAGEABLE and among_stock:
        raise row.refuse("Put in", "lies among stock", "Quarantine or scrap what can't be salvaged.")
    if cells.scope is not Scope.FLIGHT:
        return
    if names.people[row.needed("Looked at by")].licence_number is None:
        raise row.refuse("Looked at by", "holds no licence to accept for flight", "Ask one who does.")
    if not cells.papers and not cells.override:
        raise row.refuse("Papers", "is empty, and nothing says why", "Name papers, or a reason.")
