"""The mods of an engine type: enter one, or correct what is said of it."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.catalogue import draft_mod
from invdb.acts.change import refuse_stale
from invdb.acts.kit_line_edit import begin_change
from invdb.records.catalogue import Mod
from invdb.records.engines import EngineType
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.terms import FieldRefused, Refused


def add_mod(session: Session, engine_type: int, code: str, name: str, note: str, by: By) -> int:
    """Enter a mod of an engine type; returns its id. The reason is the note of ``by``.

    Refused without a code or a name, and where the type has one with that code.
    """
    draft = begin_change(session, by)
    type_name = session.scalar(select(EngineType.name).where(EngineType.id == engine_type))
    if type_name is None:
        raise FieldRefused("engine_type", "There is no such engine type.", "Choose one, or add it first.")
    code, name = one_line(code), one_line(name)
    _check_name(name)
    standing = session.scalars(select(Mod.code).where(Mod.engine_type_id == engine_type))
    if code.casefold() in {each.casefold() for each in standing}:
        raise FieldRefused("code", f"The {type_name} has a mod {code} already.", "Give another code.")
    made = draft_mod(session, draft, engine_type, code, name, note)
    post(session, draft)
    return made


def correct_mod(session: Session, mod: int, seen: int, name: str, note: str, by: By) -> int:
    """Correct the name or the note of a mod; returns the entry's number. The reason is the note of ``by``.

    ``seen`` is the entry that had set it when the person looked; Refused when another has set it since.
    """
    draft = begin_change(session, by)
    row = session.get(Mod, mod)
    if row is None:
        raise Refused("There is no such mod.", "Look again.")
    name = one_line(name)
    _check_name(name)
    before = {"name": row.name, "note": row.note}
    changed = {column: value for column, value in (("name", name), ("note", note)) if before[column] != value}
    refuse_stale(session, "mod", mod, seen, changed)
    if not changed:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    draft.set("mod", mod, **changed)
    return post(session, draft).number


def _check_name(name: str) -> None:
    if not name:
        raise FieldRefused("name", "The mod has no name.", "Say in a few words what it changes.")
