"""Whether things may be sent for work: free, within reach, not out already, and their hazards read."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.move import check_within_reach
from invdb.acts.numbers import Thing
from invdb.acts.scrap import hazard_words, hazards_of
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.acts.work_list import refuse_out_for_work
from invdb.records.nesting import now_beneath
from invdb.rules.quantities import quantity_words
from invdb.terms import Asked, Condition, FieldRefused, PlaceKind, Refused


def ask_of_hazards(session: Session, states: list[ThingState], seen: bool) -> None:
    """Ask till the hazards of what is sent were read, and of what is inside it, which goes with it."""
    if seen:
        return
    pieces = {state.thing.piece for state in states if state.thing.piece is not None}
    inside = now_beneath(session.connection(), pieces) - pieces if pieces else set()
    riders = things_by_id(session, [Thing(piece=each) for each in sorted(inside)])
    for state in (*states, *riders.values()):
        hazards = hazards_of(session, state.part)
        if hazards:
            raise Asked(
                "hazards_seen",
                f"{state.tag} is {hazard_words(hazards)}: whoever gets it must be told.",
                "Say that you have read that, and that it goes with it.",
            )


def refuse_not_to_be_sent(session: Session, state: ThingState, where: Whereabouts, quantity: int) -> None:
    """Refuse what is fitted, reserved, scrapped or out for work, and more of a batch than is free there."""
    check_within_reach(state, where)
    if where.kind is PlaceKind.SCRAP:
        raise Refused(f"{state.tag} is scrapped.", "Check the tag.")
    if state.condition is Condition.UNSALVAGEABLE:
        raise Refused(f"{state.tag} can't be salvaged.", "Scrap it, or correct its condition first.")
    if state.thing.piece is not None and state.reserved_for:
        raise Refused(f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel that pull first.")
    refuse_out_for_work(session, state.thing, state.tag, where.place, "Book it back first.")
    free = where.quantity - where.reserved
    if state.thing.piece is not None and quantity != 1:
        raise FieldRefused("quantity", f"{state.tag} is one piece.", "Send it once.")
    if not 0 < quantity <= free:
        raise FieldRefused(
            "quantity",
            f"{quantity_words(max(free, 0), state.measure)} of {state.tag} in {where.name} are free.",
            "Send that much or less.",
        )
