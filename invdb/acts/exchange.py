"""Give the firm our old piece for the one that it sends: it leaves for good, and its life record with it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.leaving import refuse_others_inside
from invdb.acts.lying_at_one import lying_at_one
from invdb.acts.numbers import Thing
from invdb.acts.send_check import ask_of_hazards, refuse_not_to_be_sent
from invdb.acts.things import things_by_id
from invdb.acts.trading import refuse_day_before
from invdb.records.buying import OrderLine, PurchaseOrder
from invdb.records.people import Owner
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import EntryKind, OrderKind, Refused


@dataclass(frozen=True)
class GivenInExchange:
    """The line of an exchange whose piece goes to the firm. ``hazards_seen``: its hazards were read."""

    order_line: int
    hazards_seen: bool = False


def give_in_exchange(session: Session, given: GivenInExchange, by: By) -> int:
    """Give the piece that an exchange promises; returns the entry's number.

    Refused for one that is fitted, reserved, out for work, lent, scrapped or not ours, or holds what is not
    ours, and for a line that gives none, has given it, or was closed. Asked while its hazards have not been
    read, since they go with it.
    """
    draft = begin_draft(session, EntryKind.EXCHANGED, by)
    line = session.execute(
        select(
            OrderLine.given_piece_id,
            OrderLine.given_on,
            OrderLine.closed_on,
            PurchaseOrder.number,
            PurchaseOrder.kind,
            PurchaseOrder.ordered_on,
        )
        .join(PurchaseOrder, PurchaseOrder.id == OrderLine.purchase_order_id)
        .where(OrderLine.id == given.order_line)
    ).one_or_none()
    if line is None:
        raise Refused("There is no such line of an order.", "Look at the order again.")
    if line.kind is not OrderKind.EXCHANGE or line.given_piece_id is None:
        raise Refused(f"Order {line.number} is no exchange.", "Choose the order that was meant.")
    state = things_by_id(session, [Thing(piece=line.given_piece_id)])[Thing(piece=line.given_piece_id)]
    if line.given_on is not None:
        raise Refused(
            f"{state.tag} was given on {line.given_on.isoformat()} already.", "There is nothing to give."
        )
    if line.closed_on is not None:
        raise Refused(
            f"That line of order {line.number} was closed on {line.closed_on.isoformat()}.",
            "Reverse the entry that closed it, if the exchange goes on.",
        )
    refuse_day_before("happened_on", draft.happened_on, line.ordered_on, f"order {line.number} was placed")
    refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
    if not session.scalars(select(Owner.is_workshop).where(Owner.id == state.owner)).one():
        raise Refused(f"{state.tag} is not ours to give; it is {state.owner_name}'s.", "Order another one.")
    where = lying_at_one(state, None)
    refuse_not_to_be_sent(session, state, where, 1)
    refuse_others_inside(session, state)
    ask_of_hazards(session, [state], given.hazards_seen)
    draft.move(where.place, OUTSIDE_PLACE, piece=line.given_piece_id)
    draft.set("order_line", given.order_line, given_on=draft.happened_on)
    return post(session, draft).number
