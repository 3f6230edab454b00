"""The day and the reason that every change of the catalogue is entered with."""

from __future__ import annotations

from typing import Any

from gui.shown import Field
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from invdb.acts.by import By

WHY = "Why"


def reason_fields(sitting: Sitting, *, needed: bool = True) -> tuple[Field, ...]:
    """Why it is so, and the day of the entry."""
    return (
        Field(
            "reason",
            "Reason",
            needed=needed,
            hint="Why it is entered or changed; it is kept with the entry and told with it",
            section=WHY,
        ),
        day_field(sitting, "Entered on"),
    )


def by_of(sitting: Sitting, values: dict[str, Any]) -> By:
    """Who enters it, on which day and why."""
    return sitting.by(values["happened_on"], values["reason"])


def set_last(last: str) -> str:
    """Who set last what is about to be changed; "" where it is not known."""
    return f"Set last by {last}." if last else ""
