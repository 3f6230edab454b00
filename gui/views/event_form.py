"""Record what befell an engine, which puts in doubt all that was inside it then."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from invdb.acts.engine_event import NewEvent, record_event
from invdb.terms import EngineEventKind

KINDS = tuple(Choice(kind, str(kind)) for kind in EngineEventKind)


def event_form(sitting: Sitting, engine: int, name: str) -> FormPlan:
    """The form to record an event of an engine; it asks back where something came out that very day."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            event = NewEvent(engine, values["kind"], values["note"])
            made = record_event(
                session, event, sitting.by(values["happened_on"]), sure=values.get("sure", False)
            )
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Record what befell {name}",
        fields=(
            Field("kind", "It was", FieldKind.CHOICE, needed=True, choices=KINDS),
            Field("note", "What happened", FieldKind.LINES),
            day_field(sitting, "Happened on"),
        ),
        act=act,
        told=lambda _event: f"Recorded: all that was inside {name} then is in doubt until it is cleared.",
        save_word="Record it",
        said=lambda _values: (
            "Every piece that was inside then is in doubt, wherever it goes, until an inspection named for"
            " it clears it."
        ),
    )
