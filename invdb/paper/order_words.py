"""What orders and enquiries say alike: how a part is named to a firm, and what any piece must come with."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from invdb.rules.money import Money, money_words
from invdb.rules.order_sheet import GivenPiece, OrderedPart
from invdb.terms import OrderKind

TRACEABLE = (
    "Each piece and batch comes with its release certificate, or with its maker's certificate and traceable "
    "to its origin."
)
NO_STAND_IN = "No other part, and none of another make or condition, in its place unless we agree in writing."
KIND_CONDITIONS = {
    OrderKind.BUY: "Say of each piece whether it is new, new old stock or used, and of a used one its hours "
    "if known.",
    OrderKind.MAKE: "Made to the drawing or sample named, with the material's certificate and your report of "
    "inspection.",
    OrderKind.EXCHANGE: "Our old piece, named at its line, is given for yours; it is not released for any "
    "use.",
}
KIND_TITLES = {
    OrderKind.BUY: "Purchase order",
    OrderKind.MAKE: "Order to make",
    OrderKind.EXCHANGE: "Exchange order",
}
WHEN_NOT_SAID = "no day agreed"


def part_lines(part: OrderedPart) -> list[str]:
    """Below a part's name: our number, theirs, those that any firm may read, and what is wanted of it."""
    lines = [f"Our number {part.house_number}"]
    if part.their_number:
        lines.append(f"Your number {part.their_number}")
    lines += [f"{kind.capitalize()} number {number}" for kind, number in part.other_numbers]
    return lines + ([part.wanted] if part.wanted else [])


def given_words(given: GivenPiece) -> str:
    """'Against our old piece T000301-M, Exhaust valve, serial E 41'."""
    serial = f", serial {given.serial}" if given.serial else ""
    return f"Against our old piece {given.tag}, {given.part_name}{serial}"


def closed_words(closed_on: date) -> str:
    """'CLOSED 2024-06-01: no more of it is wanted'."""
    return f"CLOSED {closed_on.isoformat()}: no more of it is wanted"


def figure_of(money: Money) -> Decimal:
    """The exact figure of an amount, in what ``currency_words`` says."""
    return Decimal(money_words(money).split(" ", 1)[0])


def currency_words(currency: str) -> str:
    """'EUR'; of a currency that is no longer in the list of ISO 4217, 'minor units of' it."""
    return money_words(Money(0, currency)).split(" ", 1)[1]


def has_decimals(currency: str) -> bool:
    """Whether amounts of a currency are written with a decimal point."""
    return "." in money_words(Money(0, currency))
