"""An entry while it is being written: its facts and lines, before ``post`` gives it a number."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from invdb.records.ledger import EntryFact
from invdb.records.registry import clean_text, to_plain
from invdb.rules.folding import Fact, Plain
from invdb.terms import EntryKind, LineKind, Refused

QUANTITY_MAX = 10**15
_LAST_ID = select(func.max(EntryFact.record_id)).where(EntryFact.record == bindparam("record"))


@dataclass(frozen=True)
class DraftLine:
    """A line without its number yet; see ``invdb.records.ledger.EntryLine``."""

    kind: LineKind
    piece_id: int | None
    batch_id: int | None
    from_place_id: int
    to_place_id: int
    quantity: int
    pull_line_id: int | None = None
    engine_id: int | None = None
    reading: int | None = None


@dataclass
class Draft:
    """What an act is about to post. ``who`` is a person's id; ``happened_on`` a date in the shop's zone."""

    kind: EntryKind
    who: int
    happened_on: date
    note: str = ""
    job_id: int | None = None
    reverses: int | None = None
    facts: list[Fact] = field(default_factory=list)
    lines: list[DraftLine] = field(default_factory=list)
    contents: dict[str, bytes] = field(default_factory=dict)
    new_records: set[tuple[str, int]] = field(default_factory=set)
    # The highest sequence given so far of (record, column, prefix), and how many facts that counts.
    last_sequences: dict[tuple[str, str, str], tuple[int, int]] = field(default_factory=dict)
    _last_ids: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.note = clean_text("note", self.note)

    def remark(self, words: str) -> None:
        """Add what an act has to say to the entry's note, after what its author said."""
        self.note = clean_text("note", "; ".join(each for each in (self.note, words.strip()) if each))

    def new(self, session: Session, record: str, /, **values: object) -> int:
        """Set a new record and return its permanent id, one never given before."""
        last = self._last_ids.get(record)
        if last is None:
            last = session.connection().scalar(_LAST_ID, {"record": record}) or 0
        record_id = self._last_ids[record] = last + 1
        self.new_records.add((record, record_id))
        self.facts.append(Fact(record, record_id, to_plain(record, values)))
        return record_id

    def set(self, record: str, record_id: int, /, **values: object) -> None:
        """Set some values of a record that stands already."""
        self.facts.append(Fact(record, record_id, to_plain(record, values)))

    def move(
        self,
        from_place: int,
        to_place: int,
        *,
        piece: int | None = None,
        batch: int | None = None,
        quantity: int = 1,
        pull_line: int | None = None,
        engine: int | None = None,
        reading: int | None = None,
    ) -> None:
        """Take a quantity of one thing from a place to another.

        A move into, out of or beneath an engine names the engine, and what its meter read if it has one.
        """
        self._add(LineKind.MOVE, piece, batch, from_place, to_place, quantity, pull_line, engine, reading)

    def reserve(
        self,
        place: int,
        pull_line: int,
        *,
        piece: int | None = None,
        batch: int | None = None,
        quantity: int = 1,
    ) -> None:
        """Set a quantity aside for a pull line where it lies, or let go of it when below zero."""
        self._add(LineKind.RESERVE, piece, batch, place, place, quantity, pull_line)

    def _add(
        self,
        kind: LineKind,
        piece: int | None,
        batch: int | None,
        from_place: int,
        to_place: int,
        quantity: int,
        pull_line: int | None,
        engine: int | None = None,
        reading: int | None = None,
    ) -> None:
        if abs(quantity) > QUANTITY_MAX:
            raise Refused(f"A quantity of {quantity} is far too large.", "Check the number and its unit.")
        self.lines.append(
            DraftLine(kind, piece, batch, from_place, to_place, quantity, pull_line, engine, reading)
        )


def plain_line(line: DraftLine) -> dict[str, Plain]:
    """A line as the entry's body spells it; one that concerns no engine says nothing of engines."""
    plain: dict[str, Plain] = {
        "batch": line.batch_id,
        "from": line.from_place_id,
        "kind": str(line.kind),
        "piece": line.piece_id,
        "pull_line": line.pull_line_id,
        "quantity": line.quantity,
        "to": line.to_place_id,
    }
    if line.engine_id is not None:
        plain |= {"engine": line.engine_id, "reading": line.reading}
    return plain
