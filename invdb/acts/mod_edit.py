"""Add the mods of an engine type and say otherwise what they are, each change with its reason."""

from __future__ import annotations

from sqlalchemy import func, select
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


def add_mod(session: Session, engine_type: int, code: str, name: str, by: By, note: str = "") -> int:
    """Add a mod of an engine type; returns its id. The reason is the remark of ``by``.

    Refused for a type that is not there, and for a code that the type has already.
    """
    draft = begin_change(session, by)
    type_name = session.scalar(select(EngineType.name).where(EngineType.id == engine_type))
    if type_name is None:
        raise FieldRefused("engine_type", "There is no such engine type.", "Choose one, or add it first.")
    _refuse_nameless(name)
    known = session.scalar(
        select(Mod.code).where(
            Mod.engine_type_id == engine_type, func.lower(Mod.code) == one_line(code).lower()
        )
    )
    if known is not None:
        raise FieldRefused("code", f"The {type_name} has a mod {known} already.", "Give it another code.")
    mod = draft_mod(session, draft, engine_type, code, name, note)
    post(session, draft)
    return mod


def change_mod(session: Session, mod: int, seen: int, name: str, note: str, by: By) -> int:
    """Say otherwise what a mod is; returns the entry's number. Its code stays, for kit lines go by it.

    Refused without a reason (the remark of ``by``), and when another changed it since ``seen``.
    """
    draft = begin_change(session, by)
    _refuse_nameless(name)
    row = session.get(Mod, mod, populate_existing=True)
    if row is None:
        raise Refused("There is no such mod.", "Look again.")
    wanted = {"name": one_line(name), "note": note.strip()}
    changed = {column: value for column, value in wanted.items() if getattr(row, column) != value}
    refuse_stale(session, "mod", mod, seen, changed)
    if not changed:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    draft.set("mod", mod, **changed)
    return post(session, draft).number


def _refuse_nameless(name: str) -> None:
    if not name.strip():
        raise FieldRefused("name", "The mod has no name.", "Type what it changes.")
