"""Say what stock cost that is here already, as an invoice shows that came later."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.delivery import draft_cost
from invdb.acts.numbers import Thing
from invdb.acts.stock_value import uncosted_things
from invdb.acts.trading import traded_part
from invdb.records.posting import post
from invdb.rules.money import Money
from invdb.rules.told import counted
from invdb.terms import EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class NewCost:
    """What one piece, metre or kilogram of a part cost, and what shows it.

    For the things named, or for all of it in our stock whose cost is not known.
    """

    part: int
    price: Money
    source: str
    things: tuple[Thing, ...] = ()


def give_cost(session: Session, cost: NewCost, by: By) -> int:
    """Record what stock cost; returns the entry's number.

    Refused where nothing of the part in our stock is without a cost, or what is named is not among it, and,
    by FieldRefused, without a source or with an amount that can't be.
    """
    draft = begin_draft(session, EntryKind.COSTED, by)
    part = traded_part(session, cost.part)
    waiting = uncosted_things(session, cost.part)
    if not waiting:
        raise Refused(f"The cost of all {part.words} in our stock is known.", "There is nothing to record.")
    strange = [thing for thing in cost.things if thing not in waiting]
    if strange:
        raise Refused(
            f"{counted(len(strange), 'thing', 'things')} of those named has a cost, or is not in our stock.",
            "Read the list again.",
        )
    if not cost.source.strip():
        raise FieldRefused("source", "It isn't said what shows the cost.", "Name the invoice or the letter.")
    draft_cost(session, draft, list(cost.things or waiting), cost.price, cost.source)
    return post(session, draft).number
