"""The ledger as a list, newest first, each entry in a sentence; and the last entry that a person posted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Row, Select, func, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.told import read_told
from invdb.records.ledger import Entry
from invdb.records.people import Person
from invdb.rules.telling import tell
from invdb.rules.told import stopped
from invdb.terms import EntryKind

PAGE_MAX = 200


@dataclass(frozen=True)
class LedgerRow:
    """One entry: ``what`` is its sentence; ``reverses`` and ``reversed_by`` are entry numbers."""

    number: int
    happened_on: date
    recorded_at: datetime
    kind: EntryKind
    who: str
    what: str
    note: str
    reverses: int | None
    reversed_by: int | None

    @property
    def may_be_reversed(self) -> bool:
        """Whether a reversal may be tried; what later stands on the entry can still be in its way."""
        return self.why_not == ""

    @property
    def why_not(self) -> str:
        """Why the entry can't be reversed, in a clause; '' where it may be tried."""
        if self.reverses is not None:
            return "a reversal is never reversed"
        if self.kind is EntryKind.STORE_BEGUN:
            return "it began the store"
        if self.reversed_by is not None:
            return f"entry {self.reversed_by} reversed it"
        return ""


@dataclass(frozen=True)
class LedgerFilter:
    """Which entries to list: of a person, of some kinds, that happened from a day or until one."""

    person: int | None = None
    kinds: frozenset[EntryKind] = frozenset()
    from_on: date | None = None
    until_on: date | None = None


@dataclass(frozen=True)
class LedgerPage:
    """Some entries, and how many fit the filter."""

    rows: tuple[LedgerRow, ...]
    total: int


def last_entry_of(session: Session, person: int) -> LedgerRow | None:
    """The entry that a person (their id) posted last; None if they posted none yet."""
    rows = _rows(session, _listing().where(Entry.who == person).limit(1))
    return rows[0] if rows else None


def entries(session: Session, offset: int, limit: int, which: LedgerFilter | None = None) -> LedgerPage:
    """Entries in the order of their numbers, newest first; ``limit`` at most ``PAGE_MAX``."""
    which = which or LedgerFilter()
    query = _filtered(_listing(), which).offset(max(offset, 0)).limit(min(limit, PAGE_MAX))
    total = session.scalar(_filtered(select(func.count()).select_from(Entry), which)) or 0
    return LedgerPage(_rows(session, query), total)


def entry(session: Session, number: int) -> LedgerRow | None:
    """One entry by its number; None if there is none."""
    rows = _rows(session, _listing().where(Entry.number == number))
    return rows[0] if rows else None


def _listing() -> Select[*tuple[Any, ...]]:
    reversal = aliased(Entry)
    return (
        select(
            Entry.number,
            Entry.happened_on,
            Entry.recorded_at,
            Entry.kind,
            Entry.who.label("person"),
            Person.name,
            Entry.note,
            Entry.reverses,
            reversal.number.label("reversed_by"),
        )
        .outerjoin(Person, Person.id == Entry.who)
        .outerjoin(reversal, reversal.reverses == Entry.number)
        .order_by(Entry.number.desc())
    )


def _filtered(query: Select[*tuple[Any, ...]], which: LedgerFilter) -> Select[*tuple[Any, ...]]:
    if which.person is not None:
        query = query.where(Entry.who == which.person)
    if which.kinds:
        query = query.where(Entry.kind.in_(which.kinds))
    if which.from_on is not None:
        query = query.where(Entry.happened_on >= which.from_on)
    if which.until_on is not None:
        query = query.where(Entry.happened_on <= which.until_on)
    return query


def _rows(session: Session, query: Select[*tuple[Any, ...]]) -> tuple[LedgerRow, ...]:
    found: Sequence[Row[*tuple[Any, ...]]] = session.execute(query).all()
    told = read_told(session, [row.number for row in found])
    return tuple(
        LedgerRow(
            row.number,
            row.happened_on,
            row.recorded_at,
            row.kind,
            row.name or told[row.number].name("person", row.person),
            stopped(tell(told[row.number])),
            row.note,
            row.reverses,
            row.reversed_by,
        )
        for row in found
    )
