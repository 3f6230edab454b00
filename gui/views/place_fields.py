"""A field that asks for a place."""

from __future__ import annotations

from gui.shown import Field, FieldKind, Hit
from gui.sitting import Sitting
from gui.views.searches import search_for


def place_field(
    sitting: Sitting,
    name: str,
    word: str,
    *,
    section: str = "",
    start: Hit | None = None,
    needed: bool = False,
    hint: str = "",
) -> Field:
    """Any place, found by its name; its value is the place's id."""
    return Field(
        name,
        word,
        FieldKind.FIND,
        needed=needed,
        start=start,
        section=section,
        find=search_for(sitting, ("place",)),
        hint=hint,
    )
