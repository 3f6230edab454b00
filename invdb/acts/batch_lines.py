"""The lines of the ledger that moved batches, in order, by all that is known now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BindParameter, Connection, bindparam, select

from invdb.acts.believed import NOW, entry_counts
from invdb.records.chunks import chunks
from invdb.records.ledger import Entry, EntryLine
from invdb.rules.events import Gain
from invdb.rules.points import Point
from invdb.terms import EntryKind, LineKind

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_MOVES = (
    select(
        EntryLine.batch_id,
        EntryLine.from_place_id,
        EntryLine.to_place_id,
        EntryLine.quantity,
        Entry.happened_on,
        Entry.number,
        Entry.kind,
        EntryLine.ordinal,
    )
    .join(Entry, Entry.number == EntryLine.entry_number)
    .where(EntryLine.batch_id.in_(_IDS), EntryLine.kind == LineKind.MOVE, entry_counts())
)


@dataclass(frozen=True)
class BatchLine:
    """So much of a batch, in the smallest unit, that went from one place to another by an entry of a kind."""

    batch: int
    from_place: int
    to_place: int
    quantity: int
    at: Point
    kind: EntryKind


def batch_lines(connection: Connection, batches: Collection[int]) -> list[BatchLine]:
    """The lines that moved some of these batches, of entries that stand, in the ledger's order."""
    rows = [
        row for some in chunks(batches) for row in connection.execute(_MOVES, {"ids": some, **NOW.bounds()})
    ]
    rows.sort(key=lambda row: (row.happened_on, row.number, row.ordinal))
    return [
        BatchLine(
            row.batch_id,
            row.from_place_id,
            row.to_place_id,
            row.quantity,
            (row.happened_on, row.number),
            row.kind,
        )
        for row in rows
    ]


def gains_at(connection: Connection, batches: Collection[int]) -> dict[tuple[int, int], list[Gain]]:
    """What places gained and lost of batches, by batch and place, in the ledger's order."""
    found: dict[tuple[int, int], list[Gain]] = defaultdict(list)
    for line in batch_lines(connection, batches):
        found[line.batch, line.from_place].append(Gain(line.at, -line.quantity))
        found[line.batch, line.to_place].append(Gain(line.at, line.quantity))
    return found
