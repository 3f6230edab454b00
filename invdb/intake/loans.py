"""What was lent by us and to us, and what of it was given back, as a table."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.shop import PlaceRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import LoanWay, PlaceKind, Tracking


@dataclass(frozen=True)
class LoanRow:
    """A loan under the number that the store gives it.

    ``of`` is the tag of a piece of ours, which went from ``from_place`` to a firm's; or the tag that a
    lender's got when it came, which has a part, an owner and perhaps a serial here and no ``from_place``.
    """

    line: int
    number: str
    way: LoanWay
    booked_on: date
    who: str
    of: str
    house_number: str
    serial: str | None
    owner: str | None
    from_place: str | None
    to_place: str
    back_by: date
    terms: str
    end: LoanEnd | None


@dataclass(frozen=True)
class LoanEnd:
    """That a loan ended: the piece of ours is back in ``to_place``, or the lender's was given back."""

    line: int
    number: str
    of: str
    booked_on: date
    who: str
    at_place: str
    to_place: str | None
    report: str


@dataclass(frozen=True)
class LoanNames:
    """What the table may name; ``part_of_tag`` is on what came by goods in."""

    part_of_tag: Mapping[str, PartRow]
    parts: Mapping[str, PartRow]
    people: Collection[str]
    owners: Collection[str]
    places: Mapping[str, PlaceRow]


def read_loans(folder: Traversable, names: LoanNames) -> tuple[LoanRow, ...]:
    """The loans, each number once."""
    columns = ("Loan", "Way", "Date", "Who", "Of", "House number", "Serial", "Owner", "From", "To",
               "Back by", "Terms", "Back on", "Back to", "Report")  # fmt: skip
    rows = list(read_table(folder, "loans.csv", columns))
    unique([(row, row.needed("Loan")) for row in rows], "Loan", "loan")
    return tuple(_loan(row, names) for row in rows)


def _loan(row: Row, names: LoanNames) -> LoanRow:
    ours = row.word("Way", LoanWay) is LoanWay.OUT
    tag = row.number("Of", NumberKind.PIECE)
    if ours:
        part = row.one_of("Of", names.part_of_tag, "piece")
        firms = {place.name for place in names.places.values() if place.kind is PlaceKind.FIRM}
        to_place = row.name_of("To", firms, "place of a firm")
        row.needed("From")
    else:
        part = row.one_of("House number", names.parts, "part")
        to_place = row.name_of("To", names.places, "place")
        row.needed("Owner")
        if tag in names.part_of_tag:
            raise row.refuse("Of", "is on another piece already", "Take the next one.")
        if part.tracking is not Tracking.PIECE:
            raise row.refuse("House number", "is held by batch, and a piece is lent", "Name another part.")
    for column in ("House number", "Serial", "Owner") if ours else ("From", "Back to", "Report"):
        if row.text(column):
            raise row.refuse(column, f"says nothing of what is {row.text('Way')}", "Leave it empty.")
    loan = LoanRow(
        row.line,
        row.number("Loan", NumberKind.LOAN),
        row.word("Way", LoanWay),
        row.day("Date"),
        row.name_of("Who", names.people, "person"),
        tag,
        part.house_number,
        row.maybe("Serial"),
        row.name_or_none("Owner", names.owners, "owner"),
        row.name_or_none("From", names.places, "place"),
        to_place,
        row.day("Back by"),
        row.text("Terms"),
        None if not row.text("Back on") else _end(row, to_place, names, ours=ours),
    )
    if loan.end is not None and loan.end.booked_on < loan.booked_on:
        raise row.refuse("Back on", "is before it was lent", "Look at both dates.")
    return loan


def _end(row: Row, at_place: str, names: LoanNames, *, ours: bool) -> LoanEnd:
    return LoanEnd(
        row.line,
        row.text("Loan"),
        row.text("Of"),
        row.day("Back on"),
        row.text("Who"),
        at_place,
        row.name_of("Back to", names.places, "place") if ours else None,
        row.text("Report"),
    )
