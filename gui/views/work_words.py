"""Words and choices that the forms of work and of scrapping share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from gui.shown import Choice
from invdb.acts.offers import PlaceOffer
from invdb.acts.things import ThingState
from invdb.terms import Hazard

# What can hurt a person who handles a part, each with its caution ("" for none).
Hazards = tuple[tuple[Hazard, str], ...]


def place_choices(places: Sequence[PlaceOffer]) -> tuple[Choice, ...]:
    """Places to choose from by their first letters, each with what it lies in."""
    return tuple(
        Choice(each.id, f"{bare_place(each.name)} ({each.inside})" if each.inside else bare_place(each.name))
        for each in places
    )


def bare_place(name: str) -> str:
    """``Tarn Grinding Works`` of ``At Tarn Grinding Works``, where "at" or "to" is said before it already."""
    return name.removeprefix("At ")


def hazards_said(stock: Sequence[ThingState], hazards: Mapping[int, Hazards], besides: str) -> str:
    """The hazards of these with their cautions, and what is to be said besides; "" where there are none."""
    said: dict[str, None] = {}
    for state in stock:
        for hazard, caution in hazards.get(state.part, ()):
            said[f"⚠ {state.part_name} is {hazard}{f': {caution}' if caution else '.'}"] = None
    return "\n".join([*said, besides]) if said else ""
