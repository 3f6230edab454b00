"""Plan that an engine is opened, put that off or forward, say that it was done, or take it back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.goods_in_checks import not_after
from gui.views.withdraw_form import withdraw_form
from invdb.acts.overhaul_plan import PlannedOpening, change_overhaul, plan_overhaul, withdraw_overhaul
from invdb.rules.calendar import month_words

ANY_DAY = "Any day of the month in which it is opened"


def plan_overhaul_form(
    sitting: Sitting, engines: Sequence[Choice], engine: int | None, on: date | None
) -> FormPlan:
    """The form for another overhaul, begun with an engine and a day where they are known."""

    def act(job: Job, values: dict[str, Any]) -> str:
        with sitting.store.writing() as session:
            plan_overhaul(
                session,
                values["engine"],
                values["on"],
                sitting.by(),
                values["note"],
                sure=bool(values.get("sure")),
            )
            job.commit_begins()
        return month_words(values["on"])

    return FormPlan(
        title="Plan an overhaul",
        fields=(
            Field("engine", "Engine", FieldKind.CHOICE, needed=True, choices=tuple(engines), start=engine,
                  kept=False),
            Field("on", "To be opened on", FieldKind.DATE, needed=True, start=on, hint=ANY_DAY),
            _note_field(""),
        ),
        act=act,
        told=lambda month: f"It is planned for {month}; no other is proposed for that engine until then.",
        save_word="Plan it",
        another=True,
    )  # fmt: skip


def change_overhaul_form(sitting: Sitting, opening: PlannedOpening) -> FormPlan:
    """The form to put one off or forward, or to reword its note."""
    assert opening.plan is not None, "only what is planned can be changed"
    plan = opening.plan

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = change_overhaul(session, plan, sitting.by(), on=values["on"], note=values["note"])
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Change the overhaul of {opening.engine_name}",
        fields=(
            Field("on", "To be opened on", FieldKind.DATE, needed=True, start=opening.on, hint=ANY_DAY),
            _note_field(opening.note),
        ),
        act=act,
        told=lambda entry: f"The overhaul of {opening.engine_name} is changed (entry {entry}).",
        save_word="Change it",
        said=lambda _values: f"It is {opening.why}.",
    )


def overhaul_done_form(sitting: Sitting, opening: PlannedOpening) -> FormPlan:
    """The form to say that one was done, so that it is not still to come."""
    assert opening.plan is not None, "only what is planned can be done"
    plan, today = opening.plan, sitting.today()

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = change_overhaul(session, plan, sitting.by(), done_on=values["done_on"])
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"The overhaul of {opening.engine_name} was done",
        fields=(
            Field(
                "done_on", "Done on", FieldKind.DATE, needed=True, start=today, check=not_after(today),
                hint="The day on which it was together again",
            ),
        ),
        act=act,
        told=lambda entry: f"The overhaul of {opening.engine_name} is done (entry {entry}).",
        save_word="It was done",
        said=lambda _values: (
            "It is taken off the plan. Counts of life begin anew only by the report, in the Engines view."
        ),
    )  # fmt: skip


def withdraw_overhaul_form(sitting: Sitting, opening: PlannedOpening) -> FormPlan:
    """The form to take one back, so that the proposal counts again."""
    assert opening.plan is not None, "only what is planned can be withdrawn"
    plan = opening.plan
    return withdraw_form(
        sitting,
        f"the overhaul of {opening.engine_name} in {month_words(opening.on)}",
        lambda session, because, by: withdraw_overhaul(session, plan, replace(by, note=because)),
        "What its own hours would propose counts again.",
    )


def _note_field(note: str) -> Field:
    return Field("note", "Note", start=note, kept=False, hint="Why then, or what is to be done besides")
