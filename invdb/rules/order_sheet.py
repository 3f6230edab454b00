"""What a purchase order says to the firm it goes to, and what its lines come to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.money import Money, price_of
from invdb.rules.pick_list import HazardNote
from invdb.terms import Measure, OrderKind


@dataclass(frozen=True)
class OrderedPart:
    """A part as an order or an enquiry names it to a firm.

    ``their_number`` is that firm's own for it; ``other_numbers`` are the kind and number of those that any
    firm may read: drawings and makers' numbers, no other dealer's. ``wanted`` is what the firm must know of
    it besides. ``quantity`` is in the part's smallest unit.
    """

    house_number: str
    name: str
    quantity: int
    measure: Measure = Measure.COUNT
    their_number: str = ""
    other_numbers: tuple[tuple[str, str], ...] = ()
    wanted: str = ""


@dataclass(frozen=True)
class GivenPiece:
    """The piece of ours that a firm gets for one of its own, and what can hurt whoever handles it."""

    tag: str
    part_name: str
    serial: str = ""
    hazards: tuple[HazardNote, ...] = ()


@dataclass(frozen=True)
class OrderSheetLine:
    """One line of an order; ``price`` is for one piece, metre or kilogram, None where none was agreed.

    ``closed_on`` is the day from which no more of it is wanted.
    """

    part: OrderedPart
    price: Money | None = None
    given: GivenPiece | None = None
    closed_on: date | None = None

    @property
    def amount(self) -> Money | None:
        """What the line comes to, None without a price."""
        if self.price is None:
            return None
        return price_of(self.price, self.part.quantity, self.part.measure)


@dataclass(frozen=True)
class OrderSheet:
    """One order as it goes to its firm. ``reference`` is the firm's own, ``note`` the conditions besides."""

    workshop: str
    printed_at: datetime
    number: str
    kind: OrderKind
    ordered_on: date
    ordered_by: str
    firm: str
    currency: str
    lines: tuple[OrderSheetLine, ...]
    town: str = ""
    due_on: date | None = None
    reference: str = ""
    note: str = ""

    @property
    def total(self) -> Money | None:
        """Of all lines that have a price, in the order's one currency; None where none has."""
        amounts = [line.amount.minor for line in self.lines if line.amount is not None]
        return Money(sum(amounts), self.currency) if amounts else None

    @property
    def unpriced(self) -> int:
        """How many lines still wanted have no price, and are not in the total."""
        return sum(line.price is None and line.closed_on is None for line in self.lines)
