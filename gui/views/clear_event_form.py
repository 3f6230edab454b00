"""Clear an engine, or things that were inside it, of an engine event by the inspection named for it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from invdb.acts.engine_event import clear_event
from invdb.acts.event_lines import EngineEventLine
from invdb.acts.hold import Subject
from invdb.acts.numbers import Thing
from invdb.terms import FieldRefused, Refused

ALL, ENGINE, CHOSEN = "all", "engine", "chosen"
NAMED_MAX = 3


def clear_event_form(
    sitting: Sitting,
    engine: int,
    name: str,
    events: Sequence[EngineEventLine],
    chosen: Collection[Thing],
) -> FormPlan:
    """The form to clear the engine, all that was inside, or the ``chosen`` things, of one of its events."""
    open_ = [each for each in events if each.cleared is None or each.not_cleared]
    if not open_:
        raise Refused(
            f"{name} and all that was inside it are clear of every event.", "Nothing is to be done."
        )
    by_id = {each.event: each for each in open_}

    def act(job: Job, values: dict[str, Any]) -> int:
        subjects = subjects_of(by_id[values["event"]], engine, values["what"], chosen)
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"])
            entry = clear_event(session, values["event"], subjects, values["inspection"], by)
            job.commit_begins()
        return entry

    def counted(values: Values) -> str:
        event = by_id.get(values.get("event") or 0)
        if event is None:
            return ""
        left = len(event.not_cleared)
        itself = " and the engine itself" if event.cleared is None else ""
        presumed = (
            f" What was presumed at {event.presumed} station{'s' if event.presumed != 1 else ''} is in doubt"
            " too, once it is identified; this does not clear it."
            if event.presumed
            else ""
        )
        return f"Not cleared yet: {left} thing{'s' if left != 1 else ''}{itself}.{presumed}"

    what = [Choice(ALL, "the engine and all that was inside it"), Choice(ENGINE, "the engine itself alone")]
    if chosen:
        what.insert(0, Choice(CHOSEN, f"at the chosen stations: {_named(open_, chosen)}"))
    return FormPlan(
        title=f"Clear {name} of an event",
        fields=(
            Field(
                "event",
                "The event",
                FieldKind.CHOICE,
                needed=True,
                start=open_[0].event if len(open_) == 1 else None,
                choices=tuple(Choice(each.event, each.words) for each in open_),
            ),
            Field(
                "what",
                "Cleared is",
                FieldKind.CHOICE,
                needed=True,
                start=CHOSEN if chosen else None,
                choices=tuple(what),
            ),
            Field(
                "inspection",
                "Inspection",
                FieldKind.LINES,
                needed=True,
                hint="Which inspection named for such an event was made, and what it found",
            ),
            day_field(sitting, "Cleared on"),
        ),
        act=act,
        told=lambda entry: f"Cleared of the event (entry {entry}).",
        save_word="Clear it",
        said=counted,
    )


def _named(events: Sequence[EngineEventLine], chosen: Collection[Thing]) -> str:
    """The tags of the chosen things that any of these events has in doubt."""
    tags = sorted({each.tag for event in events for each in event.not_cleared if each.thing in chosen})
    if not tags:
        return "nothing in doubt"
    more = f" and {len(tags) - NAMED_MAX} more" if len(tags) > NAMED_MAX else ""
    return f"{', '.join(tags[:NAMED_MAX])}{more}"


def subjects_of(
    event: EngineEventLine, engine: int, what: str, chosen: Collection[Thing]
) -> tuple[Subject, ...]:
    """What is to be cleared of an event, as the act takes it; Refused if none of it is tainted."""
    left = [each.thing for each in event.not_cleared]
    if what == CHOSEN:
        left = [thing for thing in left if thing in chosen]
    elif what == ENGINE:
        left = []
    subjects = [Subject(piece=thing.piece, batch=thing.batch) for thing in left]
    if what != CHOSEN and event.cleared is None:
        subjects.append(Subject(engine=engine))
    if not subjects:
        raise FieldRefused("what", "None of that is in doubt by this event.", "Choose something else.")
    return tuple(subjects)
