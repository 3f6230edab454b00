"""How the state of the store follows from the ledger's entries.

State on date D as believed at instant B folds, in the order (happened_on, number), the entries with
happened_on <= D and recorded_at <= B, leaving out those that were reversed by B.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import groupby

from invdb.terms import LineKind, PlaceKind

# What is at a place of these kinds is part of an engine, or of another piece.
FITTED_KINDS = frozenset({PlaceKind.ENGINE, PlaceKind.STATION, PlaceKind.PIECE})
# Where everything is before it comes and after it goes; it holds no batch quantity.
OUTSIDE_PLACE = 1

Plain = str | int | bool | None
RecordKey = tuple[str, int]


@dataclass(frozen=True)
class Line:
    """One ledger line with the date and number of its entry; ``quantity`` in the smallest unit."""

    number: int
    ordinal: int
    happened_on: date
    kind: LineKind
    piece: int | None
    batch: int | None
    from_place: int
    to_place: int
    quantity: int
    pull_line: int | None = None


@dataclass(frozen=True)
class Fact:
    """What one entry set of one record."""

    record: str
    record_id: int
    values: Mapping[str, Plain]


@dataclass(frozen=True)
class LedgerEntry:
    """An entry as the fold needs it."""

    number: int
    happened_on: date
    recorded_at: datetime
    reverses: int | None
    lines: Sequence[Line]
    facts: Sequence[Fact]


class Contradiction(Exception):
    """A line that starts from where the thing was not, or a quantity that does not exist.

    ``number`` is the entry that does not fit: in a late or reversing act, the first one in the way.
    """

    def __init__(self, number: int, happened_on: date, what: str) -> None:
        super().__init__(f"entry {number} of {happened_on}: {what}")
        self.number = number
        self.happened_on = happened_on
        self.what = what


@dataclass(frozen=True)
class Sojourn:
    """That a piece was at a place from one entry until another; open while it is there."""

    place: int
    from_on: date
    from_entry: int
    to_on: date | None = None
    to_entry: int | None = None


@dataclass(frozen=True)
class PieceState:
    """Where a piece is, where it was, and the pull line that has it set aside."""

    place: int
    sojourns: tuple[Sojourn, ...]
    reserved_for: int | None


@dataclass(frozen=True)
class Held:
    """How much of a batch lies at a place and how much of that is set aside, in the smallest unit."""

    quantity: int
    reserved: int


@dataclass(frozen=True)
class Pulled:
    """What a pull line has set aside, has been given, and has given back or fitted; in the smallest unit.

    ``returned`` is all that left the pull again, and ``fitted`` what of that went into an engine or a piece.
    """

    reserved: int = 0
    issued: int = 0
    returned: int = 0
    fitted: int = 0


def in_order(lines: Iterable[Line]) -> list[Line]:
    """The lines in the order in which things happened."""
    return sorted(lines, key=lambda line: (line.happened_on, line.number, line.ordinal))


def fold_piece(lines: Iterable[Line]) -> PieceState:
    """Follow one piece through its lines; Contradiction at the first that does not fit the ones before."""
    place = OUTSIDE_PLACE
    sojourns: list[Sojourn] = []
    reserved_for: int | None = None
    for line in in_order(lines):
        if line.kind is LineKind.RESERVE:
            if line.quantity > 0:
                if reserved_for is not None:
                    raise Contradiction(
                        line.number, line.happened_on, "it was already reserved for another pull"
                    )
                reserved_for = line.pull_line
            else:
                if reserved_for != line.pull_line:
                    raise Contradiction(line.number, line.happened_on, "it was not reserved for that pull")
                reserved_for = None
            if line.from_place != place:
                raise Contradiction(line.number, line.happened_on, "it was not there to be set aside")
            continue
        if line.from_place != place:
            raise Contradiction(line.number, line.happened_on, "it was not where it is taken from")
        if sojourns:
            last = sojourns[-1]
            sojourns[-1] = Sojourn(last.place, last.from_on, last.from_entry, line.happened_on, line.number)
        place = line.to_place
        sojourns.append(Sojourn(place, line.happened_on, line.number))
    return PieceState(place, tuple(sojourns), reserved_for)


def fold_batch(lines: Iterable[Line]) -> dict[int, Held]:
    """Quantities of one batch by place. Contradiction when one falls below zero, or below what is set
    aside, at the end of any date: within a date the order of entries is the order of recording, which a
    late entry need not follow. It names the entry from which on, to the end of that date, it did not fit.
    """
    quantity: dict[int, int] = defaultdict(int)
    reserved: dict[int, int] = defaultdict(int)
    for happened_on, day in groupby(in_order(lines), key=lambda line: line.happened_on):
        wrong_since: dict[int, int] = {}
        for line in day:
            if line.kind is LineKind.RESERVE:
                reserved[line.from_place] += line.quantity
            else:
                quantity[line.from_place] -= line.quantity
                quantity[line.to_place] += line.quantity
            quantity[OUTSIDE_PLACE] = 0
            for place in (line.from_place, line.to_place):
                if 0 <= reserved[place] <= quantity[place]:
                    wrong_since.pop(place, None)
                else:
                    wrong_since.setdefault(place, line.number)
        if wrong_since:
            number, place = min((number, place) for place, number in wrong_since.items())
            if quantity[place] < 0:
                raise Contradiction(number, happened_on, "it takes more than there was")
            if reserved[place] < 0:
                raise Contradiction(number, happened_on, "it lets go of more than was set aside")
            raise Contradiction(number, happened_on, "it leaves less than was set aside")
    return {
        place: Held(quantity[place], reserved[place])
        for place in quantity
        if quantity[place] or reserved[place]
    }


def fold_pull_line(lines: Iterable[Line], pull_places: Set[int], fitted_places: Set[int]) -> Pulled:
    """What one pull line has set aside, was given into its pull's place, and gave back out of it.

    ``fitted_places`` are those that are part of an engine or of a piece.
    """
    reserved = issued = returned = fitted = 0
    for line in lines:
        if line.kind is LineKind.RESERVE:
            reserved += line.quantity
        elif line.from_place in pull_places:
            returned += line.quantity
            fitted += line.quantity if line.to_place in fitted_places else 0
        else:
            issued += line.quantity
    return Pulled(reserved, issued, returned, fitted)


def fold_record(facts: Iterable[tuple[date, int, Mapping[str, Plain]]]) -> tuple[dict[str, Plain], int]:
    """The values of one record from (happened_on, number, values), later ones over earlier ones, and the
    highest number among them (0 where there are none)."""
    values: dict[str, Plain] = {}
    set_by = 0
    for _, number, fact in sorted(facts, key=lambda each: each[:2]):
        values.update(fact)
        set_by = max(set_by, number)
    return values, set_by


@dataclass
class State:
    """Everything that the ledger says, on one date as believed at one instant."""

    records: dict[RecordKey, dict[str, Plain]] = field(default_factory=dict)
    set_by: dict[RecordKey, int] = field(default_factory=dict)
    pieces: dict[int, PieceState] = field(default_factory=dict)
    holdings: dict[tuple[int, int], Held] = field(default_factory=dict)
    pulled: dict[int, Pulled] = field(default_factory=dict)
    contradictions: list[Contradiction] = field(default_factory=list)


def believed(
    entries: Iterable[LedgerEntry], on: date | None = None, believed_at: datetime | None = None
) -> list[LedgerEntry]:
    """The entries that count on a date as believed at an instant; None means without that bound."""
    known = [entry for entry in entries if believed_at is None or entry.recorded_at <= believed_at]
    reversed_numbers = {entry.reverses for entry in known if entry.reverses is not None}
    return [
        entry
        for entry in known
        if entry.number not in reversed_numbers and (on is None or entry.happened_on <= on)
    ]


def fold(
    entries: Iterable[LedgerEntry], on: date | None = None, believed_at: datetime | None = None
) -> State:
    """The state on a date as believed at an instant; contradictions are listed, not raised."""
    state = State()
    facts: dict[RecordKey, list[tuple[date, int, Mapping[str, Plain]]]] = defaultdict(list)
    of_piece: dict[int, list[Line]] = defaultdict(list)
    of_batch: dict[int, list[Line]] = defaultdict(list)
    of_pull_line: dict[int, list[Line]] = defaultdict(list)
    for entry in believed(entries, on, believed_at):
        for fact in entry.facts:
            facts[fact.record, fact.record_id].append((entry.happened_on, entry.number, fact.values))
        for line in entry.lines:
            if line.piece is not None:
                of_piece[line.piece].append(line)
            if line.batch is not None:
                of_batch[line.batch].append(line)
            if line.pull_line is not None:
                of_pull_line[line.pull_line].append(line)
    for key, each in facts.items():
        state.records[key], state.set_by[key] = fold_record(each)
    pull_places = {
        record_id
        for (record, record_id), values in state.records.items()
        if record == "place" and values.get("pull_id") is not None
    }
    fitted_places = {
        record_id
        for (record, record_id), values in state.records.items()
        if record == "place" and values.get("kind") in FITTED_KINDS
    }
    for piece, lines in of_piece.items():
        try:
            state.pieces[piece] = fold_piece(lines)
        except Contradiction as contradiction:
            state.contradictions.append(contradiction)
    for batch, lines in of_batch.items():
        try:
            state.holdings.update({(batch, place): held for place, held in fold_batch(lines).items()})
        except Contradiction as contradiction:
            state.contradictions.append(contradiction)
    for pull_line, lines in of_pull_line.items():
        state.pulled[pull_line] = fold_pull_line(lines, pull_places, fitted_places)
    return state
