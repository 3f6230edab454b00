"""Raise a doubt on an engine or on what is in it, and clear one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, named
from gui.views.form_plan import FormPlan
from gui.views.hold_form import clear_holds_form, hold_words
from invdb.acts.hold import OpenHold, Subject, raise_hold
from invdb.acts.things import ThingState
from invdb.terms import Refused

ENGINE, STOCK, PARTS = "engine", "stock", "parts"


def engine_hold_form(sitting: Sitting, engine: int, name: str, stock: Sequence[ThingState]) -> FormPlan:
    """The form to put the engine on hold, or ``stock``, which is at its chosen stations, or all their parts.

    It begins with what is chosen, and with the engine where nothing is.
    """
    parts = {state.part: f"{state.part_number} {state.part_name}" for state in stock}
    subjects = {
        ENGINE: (Subject(engine=engine),),
        STOCK: tuple(Subject(piece=each.thing.piece, batch=each.thing.batch) for each in stock),
        PARTS: tuple(Subject(part=part) for part in parts),
    }
    choices = [Choice(ENGINE, f"{name} itself")]
    if stock:
        choices.insert(0, Choice(STOCK, f"{named(stock)} alone"))
        choices.append(Choice(PARTS, f"everything of {', '.join(parts.values())}"))

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"])
            holds = raise_hold(session, subjects[values["on_what"]], values["reason"], by)
            job.commit_begins()
        return len(holds)

    return FormPlan(
        title=f"Put on hold: {name}",
        fields=(
            Field(
                "on_what",
                "On hold",
                FieldKind.CHOICE,
                needed=True,
                start=choices[0].key,
                choices=tuple(choices),
            ),
            Field("reason", "The doubt", FieldKind.LINES, needed=True, hint="What may be wrong, and why"),
            day_field(sitting, "Raised on"),
        ),
        act=act,
        told=lambda _count: f"On hold; {name} is not available until the doubt is cleared.",
        save_word="Put on hold",
        said=lambda _values: "A hold on a fitted piece makes its engine not available.",
    )


def clear_engine_form(sitting: Sitting, name: str, holds: Sequence[tuple[str, OpenHold]]) -> FormPlan:
    """The form to clear one of these holds, each with what it is on; Refused where there is none."""
    if not holds:
        raise Refused(
            f"Neither {name} itself nor what is at the chosen stations is on hold.",
            "Choose the station of what is.",
        )
    by_id = {hold.id: f"{on}: {hold_words(hold)}" for on, hold in holds}
    return clear_holds_form(sitting, f"Clear a hold: {name}", by_id)
