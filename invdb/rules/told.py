"""An entry with the names that its sentence needs, and how names and counts are written out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from invdb.rules.folding import Fact, Line, RecordKey
from invdb.rules.quantities import quantity_words
from invdb.rules.running import Ran
from invdb.terms import EntryKind, LineKind, Measure

NAMED_MAX = 3


@dataclass(frozen=True)
class Seat:
    """A station at which things sit: of an engine's position, or inside the piece ``holder`` (its tag)."""

    station: str
    engine: str = ""
    position: str = ""
    holder: str = ""

    @property
    def within(self) -> str:
        """``Linnet 117, cylinder 3``, or the tag of the piece around it."""
        return self.holder or ", ".join(part for part in (self.engine, self.position) if part)


@dataclass(frozen=True)
class Told:
    """An entry with the names that its sentence needs.

    ``lines`` and ``facts`` may be only the first few of a long entry; ``line_counts`` and ``fact_counts``
    say how many there are by kind and by record. ``names`` holds what a record is called, also of one that
    is gone; a person's carries the licence, a pull's the engine and position, a hold's is its subject's.
    ``measures`` are those of batches and parts. ``begun`` holds the records that this entry was the first to
    set. ``seats`` are the stations among the places, and ``ran`` what an engine ran by a line of its log,
    each by its id; of a line whose entry was reversed nothing is known.
    """

    number: int
    kind: EntryKind
    who: int
    lines: tuple[Line, ...]
    facts: tuple[Fact, ...]
    line_counts: Mapping[LineKind, int]
    fact_counts: Mapping[str, int]
    names: Mapping[RecordKey, str]
    measures: Mapping[RecordKey, Measure]
    begun: frozenset[RecordKey] = frozenset()
    reverses: int | None = None
    reversed_kind: EntryKind | None = None
    seats: Mapping[int, Seat] = field(default_factory=dict)
    ran: Mapping[int, Ran] = field(default_factory=dict)

    def name(self, record: str, record_id: object) -> str:
        """What a record is called, or its kind and permanent id where nothing says."""
        assert isinstance(record_id, int)
        return self.names.get((record, record_id)) or f"{record.replace('_', ' ')} {record_id}"

    def facts_of(self, record: str) -> list[Fact]:
        """What the entry set of one kind of record, as far as it is loaded."""
        return [fact for fact in self.facts if fact.record == record]

    def lines_of(self, kind: LineKind, about: RecordKey | None) -> list[Line]:
        """The lines of one kind; of one thing if it is told about that."""
        return [line for line in self.lines if line.kind is kind and about in {None, thing_of(line)}]

    def amount(self, line: Line) -> str:
        """``5 off`` of a batch, and nothing for a piece."""
        thing = thing_of(line)
        if line.piece is not None or thing not in self.measures:
            return ""
        return quantity_words(abs(line.quantity), self.measures[thing])

    def handled_one(self, line: Line) -> str:
        """``T00012-4``, ``5 off B00031-A``: what one line moves or sets aside."""
        return " ".join(part for part in (self.amount(line), self.name(*thing_of(line))) if part)

    def handled(self, lines: Iterable[Line], count: int) -> str:
        """``T00012-4, 5 off B00031-A and 3 more``: what the lines move or set aside."""
        return listed([self.handled_one(line) for line in lines], count)


def thing_of(line: Line) -> RecordKey:
    """The piece or the batch of a line."""
    if line.piece is not None:
        return "piece", line.piece
    assert line.batch is not None
    return "batch", line.batch


def listed(names: Sequence[str], count: int | None = None) -> str:
    """``A``, ``A and B``, ``A, B and C``, ``A, B, C and 4 more`` of ``count`` in all."""
    count = len(names) if count is None else max(count, len(names))
    said = list(names[:NAMED_MAX])
    if count > len(said):
        return f"{', '.join(said)} and {count - len(said)} more"
    return " and ".join(part for part in (", ".join(said[:-1]), *said[-1:]) if part)


def stopped(sentence: str) -> str:
    """The sentence with its full stop, unless it ends in a stop already."""
    return sentence if sentence.endswith((".", "?", "!")) else f"{sentence}."


def counted(count: int, one: str, more: str) -> str:
    """``1 piece``, ``2 pieces``."""
    return f"{count} {one if count == 1 else more}"
