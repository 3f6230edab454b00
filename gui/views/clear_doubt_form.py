"""Clear pieces and batches of an engine event that they were inside for, by the inspection named for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import are, day_field, named
from gui.views.form_plan import FormPlan
from gui.views.searches import search_for
from invdb.acts.engine_event import clear_event
from invdb.acts.event_doubts import OpenEvent
from invdb.acts.hold import Subject
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState
from invdb.terms import Refused


def clear_doubt_form(
    sitting: Sitting, stock: Sequence[ThingState], events: Mapping[Thing, Sequence[OpenEvent]]
) -> FormPlan:
    """The form to clear these of one event; of several things it clears those that the event taints."""
    by_id = {event.event: event for state in stock for event in events.get(state.thing, ())}
    if not by_id:
        raise Refused(
            f"{named(stock)} {are(stock)} in doubt by no engine event.", "There is nothing to clear."
        )

    def tainted(event: int) -> list[ThingState]:
        return [state for state in stock if any(e.event == event for e in events.get(state.thing, ()))]

    def act(job: Job, values: dict[str, Any]) -> int:
        event = values["event"]
        subjects = [Subject(piece=s.thing.piece, batch=s.thing.batch) for s in tainted(event)]
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"])
            entry = clear_event(session, event, subjects, values["inspection"], by, values["document"])
            job.commit_begins()
        return entry

    def said(values: Values) -> str:
        licensed = "" if sitting.licence else " Only a person with a licence number may clear it."
        event = by_id.get(values.get("event") or 0)
        if event is None:
            return licensed.strip()
        note = f" ({event.note})" if event.note else ""
        return f"Cleared of the {event.words}{note}: {named(tainted(event.event))}.{licensed}"

    return FormPlan(
        title=f"Clear {named(stock)} of an engine event",
        fields=(
            Field(
                "event",
                "The event",
                FieldKind.CHOICE,
                needed=True,
                start=next(iter(by_id)) if len(by_id) == 1 else None,
                choices=tuple(Choice(event.event, event.words) for event in by_id.values()),
            ),
            Field(
                "inspection",
                "Inspection",
                FieldKind.LINES,
                needed=True,
                hint="Which inspection named for such an event was made, and what it found",
            ),
            Field(
                "document",
                "Its paper",
                FieldKind.FIND,
                find=search_for(sitting, ("document",)),
                hint="The report of that inspection, if it is here",
            ),
            day_field(sitting, "Cleared on"),
        ),
        act=act,
        told=lambda entry: f"Cleared of the event (entry {entry}).",
        save_word="Clear it",
        said=said,
    )
