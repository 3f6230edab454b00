"""What was said of a piece after the day of an act, and would stand over what the act says."""

from __future__ import annotations

import json

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from invdb.records.draft import Draft
from invdb.records.ledger import Entry, EntryFact
from invdb.terms import FieldRefused

_REVERSAL = aliased(Entry)
_DECIDED = frozenset({"condition", "part_id"})


def refuse_decided_since(session: Session, draft: Draft, piece: int, tag: str) -> None:
    """Refuse to decide what a piece is, or in what condition, on a day before that was decided again."""
    rows = session.execute(
        select(Entry.number, Entry.kind, Entry.happened_on, EntryFact.values)
        .join(EntryFact, EntryFact.entry_number == Entry.number)
        .where(
            EntryFact.record == "piece",
            EntryFact.record_id == piece,
            Entry.happened_on > draft.happened_on,
            ~select(_REVERSAL.number).where(_REVERSAL.reverses == Entry.number).exists(),
        )
        .order_by(Entry.happened_on.desc(), Entry.number.desc())
    )
    for row in rows:
        if _DECIDED & json.loads(row.values).keys():
            raise FieldRefused(
                "happened_on",
                f"Entry {row.number} ({row.kind}) of {row.happened_on.isoformat()} says what {tag} is since.",
                "Give a date on or after that day, or reverse that entry.",
            )
