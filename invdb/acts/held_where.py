"""For which engines a kit line or a stand-in holds, from its row, and as the rule takes it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from invdb.acts.catalogue import Holds
from invdb.records.catalogue import Effective
from invdb.rules.effectivity import Effectivity, names_of


def holds_of(row: Effective) -> Holds:
    """Where a row holds, as it is entered."""
    return Holds(
        row.positions,
        row.serial_from,
        row.serial_to,
        row.mod_id,
        row.mod_embodied,
        row.from_on,
        row.until_on,
    )


def held_where(holds: Holds, mods: Mapping[int, str], engine_type: str | None = None) -> Effectivity:
    """The same for the rule; ``mods`` are the names of mods by id, ``engine_type`` the name of its type."""
    mod = frozenset({mods[holds.mod]}) if holds.mod is not None else frozenset()
    return Effectivity(
        engine_type=engine_type,
        positions=names_of(holds.positions),
        serial_from=holds.serial_from or None,
        serial_to=holds.serial_to or None,
        mods_required=mod if holds.mod_embodied else frozenset(),
        mods_barred=frozenset() if holds.mod_embodied else mod,
        date_from=holds.from_on,
        date_until=holds.until_on,
    )


def ended_by(row: Effective, on: date) -> bool:
    """Whether it holds no more on a day."""
    return row.until_on is not None and row.until_on <= on


def begins_after(row: Effective, on: date) -> bool:
    """Whether it does not hold yet on a day."""
    return row.from_on is not None and row.from_on > on
