"""What an enquiry, a quote and an order are all about: a firm that stands, a part, and a quantity of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import refuse_odd_year
from invdb.records.catalogue import Part
from invdb.records.people import Firm
from invdb.rules.quantities import QUANTITY_MAX, quantity_words
from invdb.terms import FieldRefused, Measure


@dataclass(frozen=True)
class TradedPart:
    """A part as an enquiry or an order names it."""

    part: int
    house_number: str
    name: str
    measure: Measure

    @property
    def words(self) -> str:
        """``VX0001-Y Exhaust valve``."""
        return f"{self.house_number} {self.name}"


def traded_part(session: Session, part: int) -> TradedPart:
    """The part of this id; FieldRefused for none."""
    row = session.execute(
        select(Part.id, Part.house_number, Part.name, Part.measure).where(Part.id == part)
    ).one_or_none()
    if row is None:
        raise FieldRefused("part", "That part is not in the catalogue.", "Find it again, or add it.")
    return TradedPart(row.id, row.house_number, row.name, row.measure)


def firm_name(session: Session, firm: int) -> str:
    """The name of the firm of this id; FieldRefused for none."""
    name = session.scalar(select(Firm.name).where(Firm.id == firm))
    if name is None:
        raise FieldRefused("firm", "There is no such firm.", "Choose one, or add it first.")
    return name


def refuse_absurd_quantity(quantity: int, measure: Measure, field: str = "quantity") -> None:
    """Refuse a quantity of nothing or less, and one of more than a workshop could hold."""
    if quantity <= 0:
        raise FieldRefused(field, f"{quantity_words(quantity, measure)} is nothing.", "Give more than zero.")
    if quantity > QUANTITY_MAX[measure]:
        raise FieldRefused(
            field,
            f"{quantity_words(quantity, measure)} is more than any workshop holds.",
            "Check the number and its unit.",
        )


def refuse_day_before(field: str, day: date | None, first: date, what: str) -> None:
    """Refuse a day, if one is given, that can't be meant or is before another; ``what`` was done on that."""
    refuse_odd_year(field, day)
    if day is not None and day < first:
        raise FieldRefused(
            field, f"{day.isoformat()} is before {first.isoformat()}, when {what}.", "Check both days."
        )


def days_over(due_on: date | None, now: date) -> int:
    """How many days a day to be kept is past; 0 while it is not, and where there is none."""
    return max((now - due_on).days, 0) if due_on is not None else 0


def due_words(due_on: date | None, over: int) -> str:
    """``due 2026-03-01``, ``overdue by 12 days``, '' without a day."""
    if due_on is None:
        return ""
    if over:
        return f"overdue by {over} {'day' if over == 1 else 'days'}"
    return f"due {due_on.isoformat()}"
