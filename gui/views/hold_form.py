"""Raise a doubt on stock or on its part, and clear it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import are, day_field, named, titled
from gui.views.form_plan import FormPlan
from invdb.acts.hold import OpenHold, Subject, clear_hold, raise_hold
from invdb.acts.things import ThingState

STOCK, PART = "stock", "part"


def hold_form(sitting: Sitting, stock: Sequence[ThingState]) -> FormPlan:
    """The form to put these on hold, or every piece and batch of their parts."""
    parts = {state.part: f"{state.part_number} {state.part_name}" for state in stock}

    def act(job: Job, values: dict[str, Any]) -> int:
        if values["on_what"] == PART:
            subjects = tuple(Subject(part=part) for part in parts)
        else:
            subjects = tuple(Subject(piece=s.thing.piece, batch=s.thing.batch) for s in stock)
        with sitting.store.writing() as session:
            holds = raise_hold(session, subjects, values["reason"], sitting.by(values["happened_on"]))
            job.commit_begins()
        return len(holds)

    return FormPlan(
        title=titled("Hold", stock),
        fields=(
            Field(
                "on_what",
                "On hold",
                FieldKind.CHOICE,
                needed=True,
                start=STOCK,
                choices=(
                    Choice(STOCK, f"{named(stock)} alone"),
                    Choice(PART, f"everything of {', '.join(parts.values())}"),
                ),
            ),
            Field("reason", "The doubt", FieldKind.LINES, needed=True, hint="What may be wrong, and why"),
            day_field(sitting, "Raised on"),
        ),
        act=act,
        told=lambda _count: f"{named(stock)} {are(stock)} on hold until the doubt is cleared.",
        save_word="Put on hold",
    )


def clear_form(sitting: Sitting, stock: Sequence[ThingState], holds: Sequence[OpenHold]) -> FormPlan:
    """The form to clear one of these holds on stock."""
    return clear_holds_form(sitting, titled("Clear a hold on", stock), {h.id: hold_words(h) for h in holds})


def clear_holds_form(sitting: Sitting, title: str, holds: Mapping[int, str]) -> FormPlan:
    """The form to clear one of some holds, each by its id and in words."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = clear_hold(session, values["hold"], values["because"], sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=title,
        fields=(
            Field(
                "hold",
                "The doubt",
                FieldKind.CHOICE,
                needed=True,
                start=next(iter(holds)) if len(holds) == 1 else None,
                choices=tuple(Choice(hold, words) for hold, words in holds.items()),
            ),
            Field("because", "What settled it", FieldKind.LINES, needed=True),
            day_field(sitting, "Cleared on"),
        ),
        act=act,
        told=lambda entry: f"The hold is cleared (entry {entry}).",
        save_word="Clear it",
    )


def hold_words(hold: OpenHold) -> str:
    """The doubt, since when, and whether it is on the whole part."""
    whole = ", on the whole part" if hold.on_part else ""
    return f"{hold.reason} (since {hold.raised_on.isoformat()}{whole})"
