"""The day book, as a table: what happened to stock after goods in, in the order it was written down."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.acts.goods_in import ReceivingChecks
from invdb.intake.catalogue import PartRow
from invdb.intake.table import Row, read_table
from invdb.rules.numbering import NumberKind, read_number
from invdb.terms import Condition, EntryKind, Measure, Scope

DAY_BOOK_KINDS = frozenset(
    {
        EntryKind.MOVED,
        EntryKind.SPLIT,
        EntryKind.ACCEPTED,
        EntryKind.CONDITION_SET,
        EntryKind.HOLD_RAISED,
        EntryKind.HOLD_CLEARED,
        EntryKind.PAPERS,
        EntryKind.CATALOGUE,
        EntryKind.PEOPLE,
        EntryKind.REVERSED,
    }
)
# What was seen of a thing that is accepted here and never came through goods in.
_CHECKS = ("Right part", "Papers match", "Damage", "Hazards")
# What each kind of line must say beside its date, who and why; what it does not name it must leave empty.
_SAYS = {
    EntryKind.MOVED: ({"Of", "From", "To"}, {"Quantity"}),
    EntryKind.SPLIT: ({"Of", "Quantity", "From", "To", "New tag", "Condition"}, {"Scope"}),
    EntryKind.ACCEPTED: ({"Of", "From", "To", "Condition", "Scope"}, set(_CHECKS)),
    EntryKind.CONDITION_SET: ({"Of", "Condition"}, {"From", "To"}),
    EntryKind.HOLD_RAISED: ({"Of"}, set()),
    EntryKind.HOLD_CLEARED: ({"Of", "Undoes"}, set()),
    EntryKind.PAPERS: ({"Of", "Papers"}, set()),
    EntryKind.CATALOGUE: ({"Of", "Life limit hours"}, set()),
    EntryKind.PEOPLE: ({"Of"}, set()),
    EntryKind.REVERSED: ({"Undoes"}, set()),
}
_FREE = (
    "Of", "Quantity", "From", "To", "New tag", "Condition", "Scope", "Papers", "Life limit hours", "Undoes",
    *_CHECKS,
)  # fmt: skip


@dataclass(frozen=True)
class Happening:
    """One line of the day book; lines with one number belong to one act.

    ``of`` is a tag, a house number, an engine or a person, as ``kind`` asks; ``quantity`` is in the smallest
    unit, None for all of it; ``undoes`` is the number of a line above, of a log's line or of a goods-in note.
    """

    line: int
    number: str
    happened_on: date
    booked_on: date
    who: str
    kind: EntryKind
    of: str
    quantity: int | None
    from_place: str | None
    to_place: str | None
    new_tag: str | None
    condition: Condition | None
    scope: Scope | None
    papers: tuple[str, ...]
    life_limit_hours: int | None
    undoes: str | None
    checks: ReceivingChecks
    why: str


@dataclass(frozen=True)
class DayBookNames:
    """What lines of the day book may name; ``part_of_tag`` gives the part of every piece and batch.

    ``undoable`` are the numbers of goods-in notes and of lines of logs.
    """

    part_of_tag: Mapping[str, PartRow]
    parts: Collection[str]
    engines: Collection[str]
    people: Collection[str]
    places: Collection[str]
    documents: Collection[str]
    undoable: Collection[str]


def read_happenings(folder: Traversable, names: DayBookNames) -> tuple[Happening, ...]:
    """The day book in its own order; every line names only what stands and what was written before it."""
    columns = ("No.", "Date", "Booked on", "Who", "What", *_FREE, "Why")
    part_of_tag = dict(names.part_of_tag)
    read: list[Happening] = []
    for row in read_table(folder, "happenings.csv", columns):
        happening = _happening(row, names, part_of_tag, {line.number: line for line in read})
        if read and happening.booked_on < read[-1].booked_on:
            raise row.refuse("Booked on", "is before the line above", "Keep the day book in order.")
        read.append(happening)
    return tuple(read)


def _happening(
    row: Row, names: DayBookNames, part_of_tag: dict[str, PartRow], before: Mapping[str, Happening]
) -> Happening:
    kind = row.word("What", EntryKind)
    if kind not in DAY_BOOK_KINDS:
        kinds = ", ".join(sorted(DAY_BOOK_KINDS))
        raise row.refuse("What", "is not for the day book", f"Use one of: {kinds}.")
    needed, allowed = _SAYS[kind]
    for column in _FREE:
        if column in needed:
            row.needed(column)
        elif row.text(column) and column not in allowed:
            raise row.refuse(column, f"says nothing in a line of kind {kind}", "Leave it empty.")
    measure = _check_subject(row, kind, names, part_of_tag)
    new_tag = None
    if kind is EntryKind.SPLIT:
        new_tag = row.number("New tag", NumberKind.BATCH)
        if new_tag in part_of_tag:
            raise row.refuse("New tag", "is on another batch already", "Take the next one.")
        part_of_tag[new_tag] = part_of_tag[row.text("Of")]
    if kind is EntryKind.HOLD_CLEARED:
        raised = row.one_of("Undoes", before, "line of the day book above")
        if (raised.kind, raised.of) != (EntryKind.HOLD_RAISED, row.text("Of")):
            raise row.refuse("Undoes", f"raised no hold on {row.text('Of')}", "Name the line that did.")
    if kind is EntryKind.REVERSED:
        row.name_of("Undoes", {*before, *names.undoable}, "line above, line of a log or goods-in note")
    happening = Happening(
        row.line,
        row.needed("No."),
        row.day("Date"),
        row.day("Booked on"),
        row.name_of("Who", names.people, "person"),
        kind,
        row.text("Of"),
        row.quantity("Quantity", measure) if row.text("Quantity") else None,
        row.name_or_none("From", names.places, "place"),
        row.name_or_none("To", names.places, "place"),
        new_tag,
        row.word_or_none("Condition", Condition),
        row.word_or_none("Scope", Scope),
        row.names("Papers", names.documents, "document", ";"),
        row.hundredths_or_none("Life limit hours"),
        row.maybe("Undoes"),
        ReceivingChecks(*(row.text(column) for column in _CHECKS)),
        row.needed("Why"),
    )
    if happening.booked_on < happening.happened_on:
        raise row.refuse("Booked on", "is before it happened", "Look at both dates.")
    return happening


def _check_subject(
    row: Row, kind: EntryKind, names: DayBookNames, part_of_tag: Mapping[str, PartRow]
) -> Measure:
    """Refuse a subject that the kind does not take; returns the measure of its quantity."""
    known: Collection[str]
    match kind:
        case EntryKind.REVERSED:
            return Measure.COUNT
        case EntryKind.CATALOGUE:
            known, what = names.parts, "part"
        case EntryKind.PEOPLE:
            known, what = names.people, "person"
        case EntryKind.HOLD_RAISED | EntryKind.HOLD_CLEARED:
            known, what = {*part_of_tag, *names.parts, *names.engines}, "tag, part or engine"
        case _:
            known, what = part_of_tag, "tag"
    subject = row.name_of("Of", known, what)
    if kind is EntryKind.SPLIT and read_number(subject).kind is not NumberKind.BATCH:
        raise row.refuse("Of", "is no batch, and a piece can't be split", "Name a batch.")
    return part_of_tag[subject].measure if subject in part_of_tag else Measure.COUNT
