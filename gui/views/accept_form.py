"""Accept stock for a scope after looking at it, or say that it is not serviceable."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import are, day_field, named, remark_field, titled
from gui.views.form_plan import FormPlan
from gui.views.goods_in_checks import damage
from gui.views.goods_in_offers import RECEIVING_CHECKS
from gui.views.goods_in_presenter import checks_of
from gui.views.place_fields import place_field
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.things import ThingState
from invdb.terms import Condition, Scope


def accept_form(sitting: Sitting, stock: Sequence[ThingState]) -> FormPlan:
    """The form to accept these for a scope; it asks only for the checks that are still open."""
    waiting = open_checks(stock)
    no_papers = [state for state in stock if state.papers == 0]
    fields = [
        Field(
            "scope",
            "Accepted for",
            FieldKind.CHOICE,
            needed=True,
            choices=tuple(Choice(scope, str(scope)) for scope in Scope),
            hint="The highest use it may be put to; it then serves every lower one too",
        )
    ]
    if waiting:
        fields += [
            Field("checks", "Seen so", FieldKind.TICKS, choices=waiting),
            Field("damage", "Damage seen", check=damage, hint="If it is accepted with damage, which"),
        ]
    fields.append(place_field(sitting, "to_place", "Goes to", hint="Left empty, it stays where it is"))
    if no_papers and sitting.licence:
        fields.append(
            Field(
                "override",
                "Override why",
                FieldKind.LINES,
                hint=f"{named(no_papers)} {are(no_papers)} without papers: under your licence"
                f" {sitting.licence} you may accept for flight with a written reason, which the ledger keeps",
                shown_when=lambda values: values["scope"] is Scope.FLIGHT,
            )
        )
    fields += [day_field(sitting, "Looked at on"), remark_field()]

    def act(job: Job, values: dict[str, Any]) -> int:
        return _accept(sitting, stock, job, values)

    return FormPlan(
        title=titled("Accept", stock),
        fields=tuple(fields),
        act=act,
        told=lambda entry: f"{named(stock)} {are(stock)} accepted (entry {entry}).",
        save_word="Accept",
        said=lambda _values: _cautions(stock),
    )


def open_checks(stock: Sequence[ThingState]) -> tuple[Choice, ...]:
    """The receiving checks that are open on any of these; hazards only where the part has any."""
    waiting = {
        name
        for state in stock
        for name, found in state.checks
        if not found and (name != "hazards" or state.hazards)
    }
    return tuple(check for check in RECEIVING_CHECKS if check.key in waiting)


def _cautions(stock: Sequence[ThingState]) -> str:
    hazardous = sorted({state.part_name for state in stock if state.hazards})
    return f"⚠ Hazards are recorded for {', '.join(hazardous)}; its story names them." if hazardous else ""


def _accept(sitting: Sitting, stock: Sequence[ThingState], job: Job, values: Values) -> int:
    checked = {"checks": frozenset(), "damage": "", **values}
    with sitting.store.writing() as session:
        entry = accept(
            session,
            Acceptance(
                tuple(state.thing for state in stock),
                values["scope"],
                checks_of(checked),
                values["to_place"],
                values.get("override", ""),
            ),
            sitting.by(values["happened_on"], values["note"]),
        )
        job.commit_begins()
    return entry


def condition_form(sitting: Sitting, stock: Sequence[ThingState]) -> FormPlan:
    """The form to say that these are uninspected again, unserviceable, or unsalvageable."""
    conditions = (Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE, Condition.UNINSPECTED)
    words = {
        Condition.UNSERVICEABLE: "unserviceable: can be brought back",
        Condition.UNSALVAGEABLE: "unsalvageable: cannot",
        Condition.UNINSPECTED: "uninspected: to be looked at again",
    }

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = set_condition(
                session,
                tuple(state.thing for state in stock),
                values["condition"],
                values["reason"],
                sitting.by(values["happened_on"]),
                values["to_place"],
            )
            job.commit_begins()
        return entry

    return FormPlan(
        title=titled("Set the condition of", stock),
        fields=(
            Field(
                "condition",
                "It is",
                FieldKind.CHOICE,
                needed=True,
                choices=tuple(Choice(each, words[each]) for each in conditions),
            ),
            Field("reason", "What was found", FieldKind.LINES, needed=True),
            place_field(
                sitting,
                "to_place",
                "Goes to",
                hint="What cannot be salvaged goes to the quarantine or the scrap drum",
            ),
            day_field(sitting, "Found on"),
        ),
        act=act,
        told=lambda entry: f"The condition of {named(stock)} is set (entry {entry}).",
    )
