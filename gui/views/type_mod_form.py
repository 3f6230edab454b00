"""Enter a mod of an engine type, or correct what is said of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.reason_fields import by_of, reason_fields, set_last
from invdb.acts.set_by import SetBy
from invdb.acts.type_groups import TypeGroup, TypeMod
from invdb.acts.type_mod import add_mod, correct_mod
from invdb.terms import Refused

NEW = "new"


def type_mod_form(
    sitting: Sitting, groups: Sequence[TypeGroup], setters: Mapping[int, SetBy], first: int | None = None
) -> FormPlan:
    """The form for a new mod, or for one that is there; ``first`` is the engine type that is offered.

    ``setters`` are the entries that set the mods, by number.
    """
    types = {group.engine_type: group for group in groups}
    if not types:
        raise Refused("No engine type is in the store.", "Enter one first.")
    mods = {mod.mod: mod for group in types.values() for mod in group.mods}

    def act(job: Job, values: dict[str, Any]) -> str:
        by, which = by_of(sitting, values), values["mod"]
        with sitting.store.writing() as session:
            if which == NEW:
                add_mod(session, values["engine_type"], values["code"], values["name"], values["note"], by)
                told = (
                    f"Mod {values['code']} is entered. Kit lines and stand-ins can hold with it or without."
                )
            else:
                kept = mods[which]
                entry = correct_mod(session, which, kept.entry, values["name"], values["note"], by)
                told = f"Mod {kept.code} is corrected (entry {entry})."
            job.commit_begins()
        return told

    def is_new(values: Values) -> bool:
        return values.get("mod") == NEW

    def filled_by(name: str, values: Values) -> Mapping[str, Any]:
        kept = mods.get(values.get("mod") or 0)
        if name != "mod":
            return {}
        return {"name": kept.name, "note": kept.note} if kept is not None else {"name": "", "note": ""}

    def said(values: Values) -> str:
        kept = mods.get(values.get("mod") or 0)
        setter = setters.get(kept.entry) if kept is not None else None
        if setter is not None:
            return set_last(setter.words)
        return (
            "What a mod asks for are kit lines that hold with it, and what it makes unfit those without it."
        )

    return FormPlan(
        title="Enter a mod, or correct one",
        fields=(
            Field("mod", "Mod", FieldKind.CHOICE, needed=True, start=NEW,
                  choices=(Choice(NEW, "a new one"), *(_choice(mod, group) for group in types.values()
                                                       for mod in group.mods))),
            Field("engine_type", "Of the type", FieldKind.CHOICE, needed=True, shown_when=is_new,
                  start=first if first is not None else next(iter(types)) if len(types) == 1 else None,
                  choices=tuple(Choice(each, group.type_name) for each, group in types.items())),
            Field("code", "Code", needed=True, shown_when=is_new, hint="As the maker's leaflet gives it"),
            Field("name", "Name", needed=True, hint="What it changes, in a few words"),
            Field("note", "Note", FieldKind.LINES),
            *reason_fields(sitting),
        ),
        act=act,
        told=str,
        save_word="Save it",
        said=said,
        filled_by=filled_by,
    )  # fmt: skip


def _choice(mod: TypeMod, group: TypeGroup) -> Choice:
    return Choice(mod.mod, f"{group.type_name} {mod.code}: {mod.name}")
