"""An entry with the names that its sentence needs, and how names and counts are written out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from invdb.rules.folding import Fact, Line, RecordKey
from invdb.terms import EntryKind, LineKind, Measure

NAMED_MAX = 3


@dataclass(frozen=True)
class Told:
    """An entry with the names that its sentence needs.

    ``lines`` and ``facts`` may be only the first few of a long entry; ``line_counts`` and ``fact_counts``
    say how many there are by kind and by record. ``names`` holds what a record is called, also of one that
    is gone; a person's carries the licence, a pull's the engine and position, a hold's is its subject's.
    ``measures`` are those of batches. ``begun`` holds the records that this entry was the first to set.
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

    def name(self, record: str, record_id: object) -> str:
        """What a record is called, or its kind and permanent id where nothing says."""
        assert isinstance(record_id, int)
        return self.names.get((record, record_id)) or f"{record.replace('_', ' ')} {record_id}"


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
