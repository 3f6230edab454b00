"""What leaves our hands takes along what is inside it, so nothing inside it may be somebody else's."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, things_by_id
from invdb.records.nesting import now_beneath
from invdb.terms import Refused


def refuse_others_inside(session: Session, state: ThingState) -> None:
    """Refuse to let a piece go with a piece inside it that is of another owner than itself."""
    assert state.thing.piece is not None
    inside = now_beneath(session.connection(), {state.thing.piece}) - {state.thing.piece}
    for rider in things_by_id(session, [Thing(piece=each) for each in sorted(inside)]).values():
        if rider.owner != state.owner:
            raise Refused(
                f"{rider.tag} inside {state.tag} is {rider.owner_name}'s, and {state.tag} is"
                f" {state.owner_name}'s.",
                f"Take {rider.tag} out first.",
            )
