"""In which ways a thing may be made unfit for use, by what it is and by what can hurt a person.

A removed life-limited part is kept from being fitted again by mutilation among other ways (14 CFR 43.10); a
mark can be filed off, so of a life-limited or critical part it is not enough.
"""

from __future__ import annotations

from collections.abc import Collection

from invdb.terms import Hazard, Unusable

_OPENED = frozenset({Unusable.SAWN, Unusable.CRUSHED, Unusable.DRILLED, Unusable.GROUND, Unusable.MELTED})
_HEATED = frozenset({Unusable.MELTED, Unusable.GROUND})
# What a hazard forbids, and why, in one clause.
_FORBIDDEN: dict[Hazard, tuple[frozenset[Unusable], str]] = {
    Hazard.SODIUM: (_OPENED, "sodium burns in air and bursts in water; only a firm set up for it opens it"),
    Hazard.ASBESTOS: (_OPENED, "its dust must not be breathed; it goes sealed to a licensed firm"),
    Hazard.MAGNESIUM: (_HEATED, "magnesium burns and can't be put out with water"),
    Hazard.BERYLLIUM: (_OPENED, "beryllium dust and fume poison for life"),
    Hazard.CADMIUM: (_HEATED, "cadmium fume is deadly"),
    Hazard.LEAD: (frozenset({Unusable.MELTED}), "lead fume poisons"),
    Hazard.RADIUM: (_OPENED, "radium paint must not be broken open; it goes to a licensed firm"),
}  # fmt: skip


def refused_ways(how: Unusable, hazards: Collection[Hazard], must_not_survive: bool) -> str | None:
    """Why a thing may not be made unusable in this way, in one clause; None where it may."""
    for hazard in hazards:
        forbidden, why = _FORBIDDEN[hazard]
        if how in forbidden:
            return f"it is {hazard}, and {why}"
    if must_not_survive and how is Unusable.KEPT_FOR_DISPLAY:
        return "a life-limited or critical part that is only marked may come back as a good one"
    return None
