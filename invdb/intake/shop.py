"""The shop around the stock, as tables: settings, people, firms, owners, agreements, documents and places."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.table import read_table, unique
from invdb.terms import FirmRole, PaperKind, PlaceKind


@dataclass(frozen=True)
class PersonRow:
    """Someone who does acts here; ``works_here`` as things stand now."""

    line: int
    name: str
    licence_number: str | None
    licence_kind: str | None
    works_here: bool


@dataclass(frozen=True)
class FirmRow:
    """A maker, a supplier, a works or a customer."""

    line: int
    name: str
    role: FirmRole
    town: str
    note: str


@dataclass(frozen=True)
class OwnerRow:
    """Whose a piece or an engine is; ``ours`` for the workshop itself; ``firm`` is a firm's name."""

    line: int
    name: str
    ours: bool
    firm: str | None


@dataclass(frozen=True)
class AgreementRow:
    """An owner's word that their stock may go into another owner's engine, or into one of them."""

    line: int
    owner: str
    for_owner: str
    engine: str | None
    from_on: date
    until_on: date | None
    document: str | None
    wording: str


@dataclass(frozen=True)
class DocumentRow:
    """A document by its reference, with what it says as plain text."""

    line: int
    reference: str
    kind: PaperKind
    title: str
    dated_on: date | None
    firm: str | None
    wording: str

    @property
    def content(self) -> bytes:
        """The document as a text file in UTF-8: reference, title, date, firm, then what it says."""
        dated = self.dated_on.isoformat() if self.dated_on else ""
        head = [self.reference, self.title, dated, self.firm or ""]
        return ("\n".join([line for line in head if line] + ["", self.wording]) + "\n").encode()


@dataclass(frozen=True)
class PlaceRow:
    """A place that can hold a part; ``stands_in`` is the name of the place it stands in."""

    line: int
    name: str
    kind: PlaceKind
    stands_in: str | None
    walking_order: int
    bonded: bool
    firm: str | None
    note: str


def read_settings(folder: Traversable) -> dict[str, str]:
    """The shop's own choices by name: ``workshop``, its name, and ``zone``, its time zone."""
    rows = list(read_table(folder, "settings.csv", ("Name", "Value")))
    unique([(row, row.needed("Name")) for row in rows], "Name", "setting")
    return {row.needed("Name"): row.needed("Value") for row in rows}


def read_firms(folder: Traversable) -> tuple[FirmRow, ...]:
    """The firms, each once."""
    rows = list(read_table(folder, "firms.csv", ("Firm", "Role", "Town", "Note")))
    unique([(row, row.needed("Firm")) for row in rows], "Firm", "firm")
    return tuple(
        FirmRow(row.line, row.needed("Firm"), row.word("Role", FirmRole), row.text("Town"), row.text("Note"))
        for row in rows
    )


def read_people(folder: Traversable) -> tuple[PersonRow, ...]:
    """The people, each once; a licence has a number and a kind or neither."""
    columns = ("Name", "Licence number", "Licence kind", "Works here")
    rows = list(read_table(folder, "people.csv", columns))
    unique([(row, row.needed("Name")) for row in rows], "Name", "person")
    for row in rows:
        if row.text("Licence number") or row.text("Licence kind"):
            row.needed("Licence number")
            row.needed("Licence kind")
    return tuple(
        PersonRow(
            row.line,
            row.needed("Name"),
            row.maybe("Licence number"),
            row.maybe("Licence kind"),
            row.yes("Works here"),
        )
        for row in rows
    )


def read_owners(folder: Traversable, firms: Collection[str]) -> tuple[OwnerRow, ...]:
    """The owners, each once."""
    rows = list(read_table(folder, "owners.csv", ("Owner", "Ours", "Firm")))
    unique([(row, row.needed("Owner")) for row in rows], "Owner", "owner")
    return tuple(
        OwnerRow(row.line, row.needed("Owner"), row.yes("Ours"), row.name_or_none("Firm", firms, "firm"))
        for row in rows
    )


def read_agreements(
    folder: Traversable, owners: Collection[str], engines: Collection[str], documents: Collection[str]
) -> tuple[AgreementRow, ...]:
    """What owners have agreed to."""
    columns = ("Owner", "For owner", "Engine", "From", "Until", "Document", "Wording")
    return tuple(
        AgreementRow(
            row.line,
            row.name_of("Owner", owners, "owner"),
            row.name_of("For owner", owners, "owner"),
            row.name_or_none("Engine", engines, "engine"),
            row.day("From"),
            row.day_or_none("Until"),
            row.name_or_none("Document", documents, "document"),
            row.needed("Wording"),
        )
        for row in read_table(folder, "agreements.csv", columns)
    )


def read_documents(folder: Traversable, firms: Collection[str]) -> tuple[DocumentRow, ...]:
    """The documents, each reference once."""
    columns = ("Reference", "Kind", "Title", "Dated", "Firm", "Text")
    rows = list(read_table(folder, "documents.csv", columns))
    unique([(row, row.needed("Reference")) for row in rows], "Reference", "document")
    return tuple(
        DocumentRow(
            row.line,
            row.needed("Reference"),
            row.word("Kind", PaperKind),
            row.text("Title"),
            row.day_or_none("Dated"),
            row.name_or_none("Firm", firms, "firm"),
            row.text("Text"),
        )
        for row in rows
    )


def read_places(folder: Traversable, firms: Collection[str]) -> tuple[PlaceRow, ...]:
    """The places, each once and after the place it stands in."""
    columns = ("Place", "Kind", "In", "Walking order", "Bonded", "Firm", "Note")
    places: dict[str, PlaceRow] = {}
    for row in read_table(folder, "places.csv", columns):
        if row.needed("Place") in places:
            raise row.refuse("Place", f"stands in line {places[row.text('Place')].line} already", "Drop one.")
        kind = row.word("Kind", PlaceKind)
        if (kind is PlaceKind.FIRM) != bool(row.text("Firm")):
            raise row.refuse("Firm", f"does not go with a place of kind {kind}", "A firm's place names it.")
        places[row.text("Place")] = PlaceRow(
            row.line,
            row.text("Place"),
            kind,
            row.name_or_none("In", places, "place above this line"),
            row.whole("Walking order"),
            row.yes("Bonded"),
            row.name_or_none("Firm", firms, "firm"),
            row.text("Note"),
        )
    return tuple(places.values())
