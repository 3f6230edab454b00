"""Embody a mod on an engine, or remove it, having read first what that would need and make unfit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from invdb.acts.mods import ModOn, embody, remove
from invdb.rules.mod_outlook import ModOutlook, outlook_words
from invdb.terms import Refused

CHOOSE_FIRST = "Choose a mod to read what changing it would need."


@dataclass(frozen=True)
class ModChange:
    """A mod as it stands on the engine, and what turning it would change and need."""

    mod: ModOn
    outlook: ModOutlook


def mod_form(sitting: Sitting, engine: int, name: str, changes: Sequence[ModChange]) -> FormPlan:
    """The form to turn one of the mods of the engine's type, with the preview of what it leads to."""
    if not changes:
        raise Refused(f"No mod of the type of {name} is in the store.", "Add it to the catalogue first.")
    by_mod = {each.mod.mod: each for each in changes}

    def act(job: Job, values: dict[str, Any]) -> int:
        turn = remove if by_mod[values["mod"]].mod.embodied else embody
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = turn(session, engine, values["mod"], by)
            job.commit_begins()
        return entry

    def preview(field: str, values: Values) -> Mapping[str, Any]:
        chosen = by_mod.get(values["mod"])
        if field != "mod" or chosen is None:
            return {}
        return {"outlook": "\n".join(outlook_words(chosen.outlook))}

    def summed_up(values: Values) -> str:
        chosen = by_mod.get(values.get("mod") or 0)
        return in_short(chosen.outlook) if chosen is not None else ""

    return FormPlan(
        title=f"Embody or remove a mod on {name}",
        fields=(
            Field(
                "mod",
                "Mod",
                FieldKind.CHOICE,
                needed=True,
                choices=tuple(Choice(each.mod.mod, change_words(each.mod)) for each in changes),
            ),
            Field(
                "outlook",
                "What it needs",
                FieldKind.TOLD,
                start=CHOOSE_FIRST,
                hint="As things stand today: parts to get, and what becomes unfit where it is",
            ),
            day_field(sitting, "Done on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"The mods of {name} are as said (entry {entry}).",
        save_word="Record it",
        said=summed_up,
        filled_by=preview,
    )


def change_words(mod: ModOn) -> str:
    """What would be done to a mod, as a box offers it."""
    return f"{'remove' if mod.embodied else 'embody'} {mod.code}: {mod.name}"


def in_short(outlook: ModOutlook) -> str:
    """How much a change would need, in a sentence."""
    short = [part for part in outlook.parts if part.short]
    said = []
    if short:
        said.append(f"◔ {', '.join(part.part_number for part in short)} {_are(short)} short")
    if outlook.unfit:
        count = len(outlook.unfit)
        said.append(f"✕ {count} thing{'s' if count != 1 else ''} that {_are(outlook.unfit)} in it become"
                    f"{'s' if count == 1 else ''} unfit")  # fmt: skip
    return "; ".join(said) + "." if said else "✓ Nothing is short for it, and nothing becomes unfit."


def _are(things: Sequence[object]) -> str:
    return "is" if len(things) == 1 else "are"
