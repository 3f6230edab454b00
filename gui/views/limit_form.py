"""Set a limit on the life of a part, or of the engines of a type."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import read_count, read_hours
from gui.views.searches import search_for
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.mods import ModOn
from invdb.terms import LifeMeasure, LifeSince, RunningCounted

PART, ENGINES = "part", "engines"


def limit_form(
    sitting: Sitting, engine_type: Hit | None, mods: Sequence[ModOn], part: Hit | None = None
) -> FormPlan:
    """The form for one limit, begun with a part where one is chosen.

    ``engine_type`` is that of the shown engine, and ``mods`` are those of that type.
    """

    def act(job: Job, values: dict[str, Any]) -> int:
        mod, embodied = values.get("mod") or (None, True)
        limit = NewLifeLimit(
            values["measure"],
            _amount(values),
            values.get("part"),
            values["engine_type"],
            mod,
            embodied,
            values.get("counted") or RunningCounted.ALL,
            values["since"],
            bool(values.get("prorated")),
            values["source"],
            values["document"],
        )
        with sitting.store.writing() as session:
            made = add_life_limit(session, limit, sitting.by(values["happened_on"], values["reason"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Set a limit of life",
        fields=(
            Field(
                "on_what",
                "On",
                FieldKind.CHOICE,
                needed=True,
                start=PART,
                choices=(Choice(PART, "every piece of a part"), Choice(ENGINES, "the engines of a type")),
            ),
            Field(
                "part",
                "Part",
                FieldKind.FIND,
                needed=True,
                start=part,
                find=search_for(sitting, ("part",)),
                shown_when=lambda values: values.get("on_what") == PART,
            ),
            Field(
                "engine_type",
                "For type",
                FieldKind.FIND,
                find=search_for(sitting, ("engine_type",)),
                start=None if part is not None else engine_type,
                hint="The type of engine it holds in; for a part, empty if it holds in every type",
            ),
            *_mod_fields(engine_type, mods),
            *_amount_fields(),
            Field(
                "source",
                "Set by",
                hint="The publication that sets it, with its issue; it or its document is needed",
                section="What sets it",
            ),
            Field(
                "document",
                "Its document",
                FieldKind.FIND,
                find=search_for(sitting, ("document",)),
                section="What sets it",
            ),
            Field("reason", "Reason", hint="Why it is set; it is kept with the entry", section="Why"),
            day_field(sitting, "Entered on"),
        ),
        act=act,
        told=lambda made: f"The limit is set; it is limit {made}.",
        save_word="Set it",
        another=True,
        said=_said,
    )


def _mod_fields(engine_type: Hit | None, mods: Sequence[ModOn]) -> tuple[Field, ...]:
    if engine_type is None or not mods:
        return ()
    states = ((True, "with"), (False, "without"))
    return (
        Field(
            "mod",
            "Where",
            FieldKind.CHOICE,
            choices=tuple(
                Choice((mod.mod, embodied), f"{word} mod {mod.code}: {mod.name}")
                for mod in mods
                for embodied, word in states
            ),
            hint="Only in engines on which that mod is embodied, or is not; empty for all",
            shown_when=lambda values: values.get("engine_type") == engine_type.ref,
        ),
    )


def _amount_fields() -> tuple[Field, ...]:
    def check(_written: str, values: Values) -> None:
        _amount(values)

    def by_hours(values: Values) -> bool:
        return values.get("measure") is LifeMeasure.HOURS

    def may_be_prorated(values: Values) -> bool:
        return (
            values.get("on_what") == PART
            and values.get("engine_type") is not None
            and values.get("measure") is not LifeMeasure.MONTHS
        )

    section = "How long"
    return (
        Field(
            "measure",
            "By",
            FieldKind.CHOICE,
            needed=True,
            start=LifeMeasure.HOURS,
            choices=tuple(Choice(measure, str(measure)) for measure in LifeMeasure),
            section=section,
        ),
        Field("amount", "At most", FieldKind.QUANTITY, needed=True, kept=False, check=check, section=section),
        Field(
            "since",
            "Since",
            FieldKind.CHOICE,
            needed=True,
            start=LifeSince.NEW,
            choices=tuple(Choice(since, str(since)) for since in LifeSince),
            section=section,
        ),
        Field(
            "counted",
            "What counts",
            FieldKind.CHOICE,
            needed=True,
            start=RunningCounted.ALL,
            choices=tuple(Choice(counted, str(counted)) for counted in RunningCounted),
            section=section,
            shown_when=by_hours,
        ),
        Field(
            "prorated",
            "Its document states a proration over the types that a piece served in",
            FieldKind.TICK,
            section=section,
            shown_when=may_be_prorated,
        ),
    )


def _amount(values: Values) -> int:
    """What was typed, in the limit's own measure: hundredths of an hour, starts, or months."""
    written = values["amount"]
    if values.get("measure") is LifeMeasure.HOURS:
        return read_hours(written, "amount")
    return read_count(written, "amount")


def _said(values: Values) -> str:
    if values.get("on_what") == ENGINES:
        return "A limit of the engine itself; the pieces in it have their own."
    return "A part that gets one is life-limited from then on; the first limit to run out governs."
