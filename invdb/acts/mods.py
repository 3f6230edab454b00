"""Embody a mod on an engine, or remove it; and how the mods of an engine stood on any day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import Row, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.believed import When
from invdb.acts.by import By, begin_draft
from invdb.acts.kit_facts import EngineFacts, read_engine
from invdb.acts.mods_embodied import mod_changes
from invdb.records.catalogue import Mod
from invdb.records.engines import EngineMod, EngineType
from invdb.records.posting import post
from invdb.rules.mods import change_after, mod_state
from invdb.terms import EntryKind, FieldRefused, Refused

# Made once: putting a statement together costs more than executing it.
_MOD = (
    select(Mod.id, Mod.code, Mod.name, Mod.engine_type_id, EngineType.name.label("type_name"))
    .join(EngineType, EngineType.id == Mod.engine_type_id)
    .where(Mod.id == bindparam("mod"))
)
_MODS_OF_TYPE = (
    select(Mod.id, Mod.code, Mod.name, Mod.note)
    .where(Mod.engine_type_id == bindparam("engine_type"))
    .order_by(Mod.code, Mod.id)
)
_ON_ENGINE = select(EngineMod.id).where(
    EngineMod.engine_id == bindparam("engine"), EngineMod.mod_id == bindparam("mod")
)


@dataclass(frozen=True)
class ModOn:
    """How one mod of its type stood on an engine: embodied or not, since which day and by which entry.

    ``since_on`` is None where nobody knows; ``entry`` is None where nothing was ever said of it.
    """

    mod: int
    code: str
    name: str
    note: str
    embodied: bool
    since_on: date | None
    entry: int | None


def mods_on(
    session: Session, engine: int, on: date, believed_at: datetime | None = None
) -> tuple[ModOn, ...]:
    """How every mod of the engine's type stood on a day, as believed at an instant (None: now), by code."""
    facts = read_engine(session, engine, on)
    changes = mod_changes(session, engine, When(None, believed_at))
    found: list[ModOn] = []
    for row in session.connection().execute(_MODS_OF_TYPE, {"engine_type": facts.engine_type}):
        state = mod_state(changes.get(row.id, ()), on)
        found.append(
            ModOn(
                row.id,
                row.code,
                row.name,
                row.note,
                state is not None and state.embodied,
                state.since_on if state is not None else None,
                state.number if state is not None else None,
            )
        )
    return tuple(found)


def embody(session: Session, engine: int, mod: int, by: By) -> int:
    """Record that a mod is embodied on an engine from that day on; returns the entry's number.

    What is wanted at each station and what may be fitted follow from it; see ``mod_outlook`` for what it
    would need. Refused for a mod of another type, one that is embodied already, and a day before another
    change of it, naming that entry.
    """
    return _change(session, engine, mod, True, by)


def remove(session: Session, engine: int, mod: int, by: By) -> int:
    """Record that a mod is no longer embodied on an engine from that day on; see ``embody``."""
    return _change(session, engine, mod, False, by)


def _change(session: Session, engine: int, mod: int, embodied: bool, by: By) -> int:
    draft = begin_draft(session, EntryKind.MOD_STATE, by)
    on = draft.happened_on
    facts = read_engine(session, engine, on)
    code = mod_to_change(session, facts, mod, embodied).code
    later = change_after(mod_changes(session, engine).get(mod, ()), on)
    if later is not None:
        done = "embodied" if later.embodied else "removed"
        raise FieldRefused(
            "happened_on",
            f"Entry {later.number} stands in the way: it has mod {code} {done} on"
            f" {(later.since_on or later.happened_on).isoformat()}.",
            f"Give a day on or after that, or reverse entry {later.number} first.",
        )
    record = session.connection().scalar(_ON_ENGINE, {"engine": engine, "mod": mod})
    if record is None:
        draft.new(session, "engine_mod", engine_id=engine, mod_id=mod, embodied=embodied, since_on=on)
    else:
        draft.set("engine_mod", record, embodied=embodied, since_on=on)
    return post(session, draft).number


def mod_to_change(
    session: Session, engine: EngineFacts, mod: int, embodied: bool
) -> Row[int, str, str, int, str]:
    """The mod's own values, if it may be embodied on the engine, or removed, on the day of its state.

    Refused when it is not in the store, is of another type, or stands so already.
    """
    row = session.connection().execute(_MOD, {"mod": mod}).one_or_none()
    if row is None:
        raise Refused("That mod is not in the store.", "Choose another.")
    if row.engine_type_id != engine.engine_type:
        raise FieldRefused(
            "mod",
            f"{row.code} is a mod of the {row.type_name}, and {engine.name} is a {engine.engine_type_name}.",
            "Choose a mod of its own type.",
        )
    state = mod_state(mod_changes(session, engine.id).get(mod, ()), engine.state.on)
    if embodied and state is not None and state.embodied:
        since = f"since {state.since_on.isoformat()}" if state.since_on else "since an unknown day"
        raise FieldRefused(
            "mod",
            f"Mod {row.code} is embodied on {engine.name} already, {since} (entry {state.number}).",
            "There is nothing to embody.",
        )
    if not embodied and (state is None or not state.embodied):
        removed = (
            f" since entry {state.number} of {state.happened_on.isoformat()}" if state is not None else ""
        )
        raise FieldRefused(
            "mod",
            f"Mod {row.code} is not embodied on {engine.name}{removed}.",
            "There is nothing to remove.",
        )
    return row
