"""What the ledger's records said on a past date, as believed at an instant: a fold of the facts asked for.

What is asked is found by what stands now and by what was undone since, so that no more of the ledger is read
than concerns it.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import ColumnElement, bindparam, select
from sqlalchemy.orm import Session, aliased

from invdb.records.chunks import chunks
from invdb.records.ledger import Entry, EntryFact
from invdb.rules.folding import Plain, fold_record

_REVERSAL = aliased(Entry)
_END_OF_TIME = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class When:
    """A date, and the instant at which it is believed; None sets no bound."""

    on: date | None = None
    believed_at: datetime | None = None

    @property
    def now(self) -> bool:
        """Whether it is all that is known, on every date."""
        return self.on is None and self.believed_at is None

    def bounds(self) -> dict[str, Any]:
        """The parameters of ``entry_counts``."""
        return {"on": self.on or date.max, "believed_at": self.believed_at or _END_OF_TIME}


NOW = When()


def entry_counts() -> ColumnElement[bool]:
    """Whether an entry counts on the date ``on`` as believed at ``believed_at``; see `When.bounds`."""
    believed_at = bindparam("believed_at", type_=Entry.recorded_at.type)
    undone = select(_REVERSAL.number).where(
        _REVERSAL.reverses == Entry.number, _REVERSAL.recorded_at <= believed_at
    )
    return (Entry.happened_on <= bindparam("on")) & (Entry.recorded_at <= believed_at) & ~undone.exists()


# Made once: putting a statement together costs more than executing it.
_FACTS = (
    select(EntryFact.record_id, Entry.happened_on, Entry.number, EntryFact.values)
    .join(Entry, Entry.number == EntryFact.entry_number)
    .where(
        EntryFact.record == bindparam("record"),
        EntryFact.record_id.in_(bindparam("ids", expanding=True)),
        entry_counts(),
    )
    .order_by(Entry.happened_on, Entry.number, EntryFact.ordinal)
)
# Above zero, not merely known: so the few reversals are found by their index.
_UNDONE = select(_REVERSAL.reverses).where(
    _REVERSAL.reverses > 0,
    _REVERSAL.recorded_at > bindparam("believed_at", type_=Entry.recorded_at.type),
)
_UNDONE_FACTS = select(EntryFact.record_id, EntryFact.values).where(
    EntryFact.entry_number.in_(_UNDONE), EntryFact.record == bindparam("record")
)

Said = tuple[date, int, dict[str, Plain]]


def facts_of(session: Session, record: str, ids: Collection[int], when: When) -> dict[int, list[Said]]:
    """The facts that count of some records, each as (happened_on, number, values), in that order."""
    found: dict[int, list[Said]] = defaultdict(list)
    connection = session.connection()
    for some in chunks(ids):
        rows = connection.execute(_FACTS, {"record": record, "ids": some, **when.bounds()})
        for record_id, happened_on, number, values in rows:
            found[record_id].append((happened_on, number, json.loads(values)))
    return dict(found)


def records_believed(
    session: Session, record: str, ids: Collection[int], when: When
) -> dict[int, dict[str, Plain]]:
    """What some records said then, by id; those that had not begun are left out."""
    return {
        record_id: fold_record(facts)[0] for record_id, facts in facts_of(session, record, ids, when).items()
    }


def undone_entries(session: Session, when: When) -> list[int]:
    """The entries that were believed then and have been reversed since."""
    if when.believed_at is None:
        return []
    return [
        number
        for number in session.connection().scalars(_UNDONE, {"believed_at": when.believed_at})
        if number is not None
    ]


def undone_records(session: Session, record: str, when: When) -> dict[int, dict[str, Plain]]:
    """What entries that were reversed since said of such records, by id: some of these no longer stand."""
    found: dict[int, dict[str, Plain]] = defaultdict(dict)
    if when.believed_at is None:
        return found
    rows = session.connection().execute(_UNDONE_FACTS, {"record": record, "believed_at": when.believed_at})
    for record_id, values in rows:
        found[record_id].update(json.loads(values))
    return dict(found)
