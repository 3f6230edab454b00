"""Who does an act, on which day, and with what remark: what every entry begins with."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.clock import today
from invdb.records.draft import Draft
from invdb.records.people import Person
from invdb.terms import EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class By:
    """The person who does an act (their id), the day it happened if not today, and a remark."""

    person: int
    on: date | None = None
    note: str = ""


def begin_draft(session: Session, kind: EntryKind, by: By) -> Draft:
    """The draft of an act's entry. Refused when the person is not known or no longer works here."""
    working = session.scalar(select(Person.works_here).where(Person.id == by.person))
    if working is None:
        raise Refused(f"Nobody here has the number {by.person}.", "Say who you are, or add the person first.")
    if not working:
        raise Refused("That person no longer works here.", "Say who does this.")
    happened_on = by.on or today(session)
    if happened_on > today(session):
        raise FieldRefused(
            "happened_on",
            f"The date {happened_on.isoformat()} is in the future.",
            "Give the day on which it happened.",
        )
    return Draft(kind, by.person, happened_on, by.note)


def licence_of(session: Session, person: int) -> str | None:
    """The person's licence number, if they hold one."""
    return session.scalar(select(Person.licence_number).where(Person.id == person)) or None
