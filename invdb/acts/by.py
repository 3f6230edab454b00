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

# Before this there were no aero engines, so a year below it is a slip of the pen.
YEAR_FIRST = 1900
# Nothing that is ordered or allowed today is meant to begin or end after this.
YEAR_LAST = 2199


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
    if happened_on.year < YEAR_FIRST:
        raise FieldRefused(
            "happened_on",
            f"The date {happened_on.isoformat()} is before there were aero engines.",
            "Check the year.",
        )
    return Draft(kind, by.person, happened_on, by.note)


def refuse_odd_year(field: str, on: date | None) -> None:
    """Refuse a day that nobody can mean, long past or far to come, for its field."""
    if on is not None and not YEAR_FIRST <= on.year <= YEAR_LAST:
        raise FieldRefused(field, f"The date {on.isoformat()} can't be meant.", "Check the year.")


def refuse_before_it_came(tag: str, came_on: date, on: date, field: str = "happened_on") -> None:
    """Refuse an act on a piece or batch, by its tag, on a day before it came."""
    if on < came_on:
        raise FieldRefused(
            field, f"{tag} came on {came_on.isoformat()}.", "Give a date on or after that day."
        )


def licence_of(session: Session, person: int) -> str | None:
    """The person's licence number, if they hold one."""
    return session.scalar(select(Person.licence_number).where(Person.id == person)) or None
