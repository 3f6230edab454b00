"""For which engines a kit line or a stand-in holds, as the rule takes it, from its row."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from invdb.records.catalogue import Effective
from invdb.rules.effectivity import Effectivity, names_of


def held_where(row: Effective, mods: Mapping[int, str], engine_type: str | None = None) -> Effectivity:
    """Where a row holds; ``mods`` are the names of mods by id, ``engine_type`` the name of its type."""
    mod = frozenset({mods[row.mod_id]}) if row.mod_id is not None else frozenset()
    return Effectivity(
        engine_type=engine_type,
        positions=names_of(row.positions),
        serial_from=row.serial_from or None,
        serial_to=row.serial_to or None,
        mods_required=mod if row.mod_embodied else frozenset(),
        mods_barred=frozenset() if row.mod_embodied else mod,
        date_from=row.from_on,
        date_until=row.until_on,
    )


def ended_by(row: Effective, on: date) -> bool:
    """Whether it holds no more on a day."""
    return row.until_on is not None and row.until_on <= on


def begins_after(row: Effective, on: date) -> bool:
    """Whether it does not hold yet on a day."""
    return row.from_on is not None and row.from_on > on
