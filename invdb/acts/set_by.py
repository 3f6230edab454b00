"""Who set something last, when, and why: what stands beside it before it is changed."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.chunks import chunks
from invdb.records.ledger import Entry
from invdb.records.people import Person


@dataclass(frozen=True)
class SetBy:
    """An entry that set something: its number, the day, whose it is, and the reason that was given."""

    entry: int
    happened_on: date
    who: str
    note: str

    @property
    def words(self) -> str:
        """``Ada Farrow on 2026-03-02, entry 14: Leaflet 31``."""
        said = f"{self.who} on {self.happened_on.isoformat()}, entry {self.entry}"
        return f"{said}: {self.note}" if self.note else said


def set_by(session: Session, entries: Collection[int]) -> dict[int, SetBy]:
    """What each of these entries says of itself, by its number; those that don't exist are left out."""
    found = {}
    for some in chunks(set(entries)):
        rows = session.execute(
            select(Entry.number, Entry.happened_on, Person.name, Entry.note)
            .join(Person, Person.id == Entry.who)
            .where(Entry.number.in_(some))
        )
        found.update({row.number: SetBy(*row) for row in rows})
    return found
