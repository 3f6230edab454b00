"""What was sent for work and came back, became another part, was matched or was scrapped, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.shop import PlaceRow
from invdb.intake.table import Row, read_table, unique
from invdb.rules.numbering import NumberKind
from invdb.terms import (
    Condition,
    LifeMeasure,
    MatchedAs,
    PlaceKind,
    Tracking,
    Unusable,
    WorkWanted,
)


@dataclass(frozen=True)
class SentRow:
    """One thing sent on an order: how much of it (in the smallest unit) and from where."""

    line: int
    of: str
    quantity: int
    from_place: str


@dataclass(frozen=True)
class OrderRow:
    """An order under the number that the store gives it: what was sent where, what for, and by when."""

    line: int
    number: str
    sent_on: date
    booked_on: date
    who: str
    place: str
    kind: WorkWanted
    wanted: str
    due_on: date | None
    note: str
    things: tuple[SentRow, ...]


@dataclass(frozen=True)
class BecameRow:
    """What part, size and finish a piece became, and by what authority; '' for what is the part's own."""

    house_number: str
    size_class: str
    finish: str
    authority: str
    what_was_done: str


@dataclass(frozen=True)
class ScrapRow:
    """A piece that was scrapped, why, and how it was made unusable."""

    line: int
    of: str
    scrapped_on: date
    booked_on: date
    who: str
    from_place: str
    to_place: str
    reason: str
    how: Unusable
    witness: str

    @property
    def number(self) -> str:
        """What the line is called where it is refused."""
        return self.of


@dataclass(frozen=True)
class BackRow:
    """What came of one thing of an order; ``new_tag`` is on what came back, or was scrapped, of a batch.

    ``how`` where it came back fit for nothing; ``resets`` are the counts of its life that begin anew.
    """

    line: int
    order: str
    of: str
    back_on: date
    booked_on: date
    who: str
    quantity: int
    from_place: str
    to_place: str
    condition: Condition
    report: str
    document: str | None
    resets: frozenset[LifeMeasure]
    became: BecameRow | None
    how: Unusable | None
    witness: str
    new_tag: str | None
    note: str

    @property
    def number(self) -> str:
        """What the line is called where it is refused."""
        return self.order


@dataclass(frozen=True)
class IdentityRow:
    """That a piece became another part, or another size or finish, by an act of its own."""

    line: int
    of: str
    changed_on: date
    booked_on: date
    who: str
    became: BecameRow
    document: str | None

    @property
    def number(self) -> str:
        """What the line is called where it is refused."""
        return self.of


@dataclass(frozen=True)
class MatchedRow:
    """Pieces that go together from a day on, and why."""

    line: int
    kind: MatchedAs
    name: str
    pieces: tuple[str, ...]
    why: str
    matched_on: date
    booked_on: date
    who: str


@dataclass(frozen=True)
class Works:
    """All of these tables."""

    orders: tuple[OrderRow, ...] = ()
    backs: tuple[BackRow, ...] = ()
    identities: tuple[IdentityRow, ...] = ()
    matched: tuple[MatchedRow, ...] = ()
    scrappings: tuple[ScrapRow, ...] = ()

    @property
    def new_tags(self) -> Mapping[str, str]:
        """The tags that shares of batches came back under, each with the tag of the batch it was of."""
        return {back.new_tag: back.of for back in self.backs if back.new_tag is not None}


@dataclass(frozen=True)
class WorkNames:
    """What these tables may name; ``part_of_tag`` is on what came before the day book was begun."""

    part_of_tag: Mapping[str, PartRow]
    parts: Mapping[str, PartRow]
    people: Collection[str]
    places: Mapping[str, PlaceRow]
    documents: Collection[str]


def read_works(folder: Traversable, names: WorkNames) -> Works:
    """The tables; every order has its lines, and what comes back is of one."""
    orders = _orders(folder, names)
    return Works(
        orders,
        _backs(folder, {order.number: order for order in orders}, names),
        _identities(folder, names),
        _matched(folder, names),
        _scrappings(folder, names),
    )


def _orders(folder: Traversable, names: WorkNames) -> tuple[OrderRow, ...]:
    columns = ("Order", "Date", "Booked on", "Who", "Place", "For", "Wanted", "Due", "Note")
    rows = list(read_table(folder, "work_orders.csv", columns))
    unique([(row, row.needed("Order")) for row in rows], "Order", "order")
    sent = _sent(folder, {row.text("Order") for row in rows}, names)
    benches = {
        place.name for place in names.places.values() if place.kind in {PlaceKind.FIRM, PlaceKind.BENCH}
    }
    read = []
    for row in rows:
        order = OrderRow(
            row.line,
            row.number("Order", NumberKind.WORK),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.name_of("Place", benches, "firm or bench"),
            row.word("For", WorkWanted),
            row.needed("Wanted"),
            row.day_or_none("Due"),
            row.text("Note"),
            sent.get(row.text("Order"), ()),
        )
        if not order.things:
            raise row.refuse("Order", "sends nothing", "Add its lines to work_lines.csv.")
        if order.due_on is not None and order.due_on < order.sent_on:
            raise row.refuse("Due", "is before it was sent", "Look at both dates.")
        read.append(order)
    return tuple(read)


def _sent(folder: Traversable, orders: Collection[str], names: WorkNames) -> dict[str, tuple[SentRow, ...]]:
    """What was sent, by order."""
    sent: dict[str, tuple[SentRow, ...]] = {}
    for row in read_table(folder, "work_lines.csv", ("Order", "Of", "Quantity", "From")):
        order = row.name_of("Order", orders, "order")
        part = row.one_of("Of", names.part_of_tag, "piece or batch")
        line = SentRow(
            row.line,
            row.text("Of"),
            row.quantity("Quantity", part.measure),
            row.name_of("From", names.places, "place"),
        )
        if line.of in {each.of for each in sent.get(order, ())}:
            raise row.refuse("Of", f"is on order {order} already", "Send it once.")
        sent[order] = (*sent.get(order, ()), line)
    return sent


def _backs(folder: Traversable, orders: Mapping[str, OrderRow], names: WorkNames) -> tuple[BackRow, ...]:
    columns = ("Order", "Of", "Date", "Booked on", "Who", "Quantity", "To", "Condition", "Report", "Document",
               "Resets", *_BECAME, "How", "Witness", "New tag", "Note")  # fmt: skip
    read: list[BackRow] = []
    for row in read_table(folder, "work_returns.csv", columns):
        order = row.one_of("Order", orders, "order")
        tag = row.name_of("Of", {thing.of for thing in order.things}, f"thing on order {order.number}")
        part = names.part_of_tag[tag]
        how = row.word_or_none("How", Unusable)
        resets = row.names("Resets", frozenset(LifeMeasure), "measure of life", ";")
        back = BackRow(
            row.line,
            order.number,
            tag,
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.quantity("Quantity", part.measure),
            order.place,
            row.name_of("To", names.places, "place"),
            row.word("Condition", Condition),
            row.needed("Report"),
            row.name_or_none("Document", names.documents, "document"),
            frozenset(LifeMeasure(measure) for measure in resets),
            _became(row, names) if row.text("House number") else None,
            how,
            row.text("Witness"),
            _new_tag(row, part, {each.new_tag for each in read}, names),
            row.text("Note"),
        )
        if back.back_on < order.sent_on:
            raise row.refuse("Date", f"is before order {order.number} was sent", "Look at both dates.")
        if (how is not None) != (back.condition is Condition.UNSALVAGEABLE):
            raise row.refuse("How", f"does not go with {back.condition}", "Say how what is scrapped was.")
        read.append(back)
    return tuple(read)


def _new_tag(row: Row, part: PartRow, taken: Collection[str | None], names: WorkNames) -> str | None:
    if part.tracking is Tracking.PIECE:
        if row.text("New tag"):
            raise row.refuse("New tag", "is given, and a piece keeps its own", "Leave it empty.")
        return None
    tag = row.number("New tag", NumberKind.BATCH)
    if tag in names.part_of_tag or tag in taken:
        raise row.refuse("New tag", "is on another batch already", "Take the next one.")
    return tag


_BECAME = ("House number", "Size", "Finish", "Authority", "What was done")


def _became(row: Row, names: WorkNames) -> BecameRow:
    part = row.one_of("House number", names.parts, "part")
    if part.tracking is not Tracking.PIECE:
        raise row.refuse("House number", "is held by batch, and this is one piece", "Name another part.")
    return BecameRow(
        part.house_number,
        row.text("Size"),
        row.text("Finish"),
        row.needed("Authority"),
        row.needed("What was done"),
    )


def _identities(folder: Traversable, names: WorkNames) -> tuple[IdentityRow, ...]:
    columns = ("Of", "Date", "Booked on", "Who", *_BECAME, "Document")
    return tuple(
        IdentityRow(
            row.line,
            _piece(row, row.needed("Of"), "Of", names),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            _became(row, names),
            row.name_or_none("Document", names.documents, "document"),
        )
        for row in read_table(folder, "reidentifications.csv", columns)
    )


def _matched(folder: Traversable, names: WorkNames) -> tuple[MatchedRow, ...]:
    columns = ("Kind", "Name", "Pieces", "Why", "Date", "Booked on", "Who")
    read = []
    for row in read_table(folder, "matched_sets.csv", columns):
        pieces = row.names("Pieces", names.part_of_tag, "piece", ";")
        for piece in pieces:
            _piece(row, piece, "Pieces", names)
        if len(pieces) < 2:
            raise row.refuse("Pieces", "are no set", "Name two at least, with ; between.")
        read.append(
            MatchedRow(
                row.line,
                row.word("Kind", MatchedAs),
                row.text("Name"),
                pieces,
                row.needed("Why"),
                row.day("Date"),
                row.booked("Date"),
                row.name_of("Who", names.people, "person"),
            )
        )
    return tuple(read)


def _scrappings(folder: Traversable, names: WorkNames) -> tuple[ScrapRow, ...]:
    columns = ("Of", "Date", "Booked on", "Who", "From", "To", "Why", "How", "Witness")
    drums = {place.name for place in names.places.values() if place.kind is PlaceKind.SCRAP}
    return tuple(
        ScrapRow(
            row.line,
            _piece(row, row.needed("Of"), "Of", names),
            row.day("Date"),
            row.booked("Date"),
            row.name_of("Who", names.people, "person"),
            row.name_of("From", names.places, "place"),
            row.name_of("To", drums, "scrap drum"),
            row.needed("Why"),
            row.word("How", Unusable),
            row.text("Witness"),
        )
        for row in read_table(folder, "scrappings.csv", columns)
    )


def _piece(row: Row, tag: str, column: str, names: WorkNames) -> str:
    part = names.part_of_tag.get(tag)
    if part is None or part.tracking is not Tracking.PIECE:
        raise row.refuse(column, f"names {tag!r}, no piece known here", "Correct it, or book it in.")
    return tag
