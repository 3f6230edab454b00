"""Words that every sheet uses for the same thing."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Literal

from invdb.rules.pick_list import HazardNote
from invdb.terms import Condition, Scope

PageName = Literal["A4", "Letter"]

FITS_NOT_CHECKED = "fits not checked"


def instant_words(instant: datetime) -> str:
    """'2024-06-01 14:05 UTC+02:00'; without the zone if the instant has none."""
    zone = instant.strftime("%z")
    words = instant.strftime("%Y-%m-%d %H:%M")
    return f"{words} UTC{zone[:3]}:{zone[3:5]}" if zone else words


def standing_words(condition: Condition, scope: Scope | None) -> str:
    """'serviceable, accepted for flight', or what a thing not accepted for anything is."""
    return f"{condition}, accepted for {scope}" if scope else f"{condition}, not accepted"


def hazard_words(hazards: Iterable[HazardNote]) -> list[str]:
    """'HAZARD: sodium-filled. Never cut open.' for each."""
    return [f"HAZARD: {hazard.word}. {hazard.caution}".strip() for hazard in hazards]
