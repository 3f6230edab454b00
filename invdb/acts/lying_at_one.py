"""The one place from which a thing is taken: where it lies, or the one named where there are several."""

from __future__ import annotations

from invdb.acts.things import ThingState, Whereabouts
from invdb.terms import FieldRefused, Refused


def lying_at_one(state: ThingState, from_place: int | None) -> Whereabouts:
    """Where a thing is taken from; Refused when it is not there, or when it isn't said from which place."""
    if not state.where:
        raise Refused(f"There is nothing left of {state.tag}.", "Look at its trace.")
    if from_place is None:
        if len(state.where) > 1:
            names = ", ".join(where.name for where in state.where)
            raise FieldRefused(
                "from_place", f"{state.tag} lies in several places: {names}.", "Say from which."
            )
        return state.where[0]
    found = next((where for where in state.where if where.place == from_place), None)
    if found is None:
        raise FieldRefused("from_place", f"None of {state.tag} lies there.", "Look where it is now.")
    return found
