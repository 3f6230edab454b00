"""Which mods are embodied on an engine, on any day and as believed at any instant, read from the store."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, When, facts_of, undone_records
from invdb.records.catalogue import Mod
from invdb.records.engines import EngineMod, EngineType
from invdb.records.registry import to_row
from invdb.rules.folding import Plain
from invdb.rules.mods import ModChange, mod_state

# Made once: putting a statement together costs more than executing it.
_MODS = select(Mod.id, Mod.code, EngineType.name).join(EngineType, EngineType.id == Mod.engine_type_id)
_OF_ENGINE = select(EngineMod.id, EngineMod.mod_id, EngineMod.embodied, EngineMod.since_on).where(
    EngineMod.engine_id == bindparam("engine")
)


def mod_names(session: Session, when: When = NOW) -> dict[int, str]:
    """What mods are called by their ids: the code, and its engine type too where two types share the code.

    Those whose entry was reversed since are among them.
    """
    rows = session.connection().execute(_MODS).all()
    codes = Counter(code for _, code, _ in rows)
    gone = {mod: str(values.get("code")) for mod, values in undone_records(session, "mod", when).items()}
    return gone | {
        mod: code if codes[code] == 1 else f"{code} of {engine_type}" for mod, code, engine_type in rows
    }


def mods_embodied(
    session: Session, engine: int, on: date, believed_at: datetime | None = None
) -> frozenset[int]:
    """The mods (by id) that are embodied on an engine on a day, as believed at an instant (None: now)."""
    if believed_at is None:
        rows = session.connection().execute(_OF_ENGINE, {"engine": engine}).all()
        if all(row.since_on is None or row.since_on <= on for row in rows):
            # The row is the last thing said of it, and the day is not before that.
            return frozenset(row.mod_id for row in rows if row.embodied)
    states = {
        mod: mod_state(changes, on)
        for mod, changes in mod_changes(session, engine, When(None, believed_at)).items()
    }
    return frozenset(mod for mod, state in states.items() if state is not None and state.embodied)


def mod_changes(session: Session, engine: int, when: When = NOW) -> dict[int, list[ModChange]]:
    """Every change of the mods of an engine that counts, by mod, in the order in which they happened."""
    records = {row.id for row in session.connection().execute(_OF_ENGINE, {"engine": engine})} | {
        record_id
        for record_id, values in undone_records(session, "engine_mod", when).items()
        if values.get("engine_id") == engine
    }
    found: dict[int, list[ModChange]] = {}
    for facts in facts_of(session, "engine_mod", records, when).values():
        values: dict[str, Plain] = {}
        for happened_on, number, said in facts:
            values |= said
            row = to_row("engine_mod", values)
            change = ModChange(happened_on, number, row["embodied"], row["since_on"])
            found.setdefault(row["mod_id"], []).append(change)
    return found
