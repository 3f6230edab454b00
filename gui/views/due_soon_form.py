"""Choose how near its limit a thing is due soon, for the whole shop."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import hours_figure, read_count, read_hours
from invdb.acts.due_soon import set_due_soon
from invdb.rules.due import DueSoon


def due_soon_form(sitting: Sitting, now: DueSoon) -> FormPlan:
    """The form for the threshold, begun with what it is now."""

    def act(job: Job, values: dict[str, Any]) -> int:
        soon = DueSoon(
            read_hours(values["hours"], "hours"),
            read_count(values["starts"], "starts"),
            read_count(values["months"], "months"),
        )
        with sitting.store.writing() as session:
            entry = set_due_soon(session, soon, sitting.by())
            job.commit_begins()
        return entry

    def check_hours(written: str, _values: Values) -> None:
        read_hours(written, "hours")

    return FormPlan(
        title="Choose from when on a thing is due soon",
        fields=(
            Field(
                "hours",
                "With as much left as",
                FieldKind.QUANTITY,
                needed=True,
                start=hours_figure(now.hours),
                unit="h, or less",
                check=check_hours,
            ),
            _count_field("starts", "or", now.starts, "starts, or fewer"),
            _count_field("months", "or", now.months, "months, or fewer"),
        ),
        act=act,
        told=lambda entry: f"What is due soon is told by the new figures from now on (entry {entry}).",
        save_word="Choose it",
        said=lambda _values: (
            "It holds for the whole shop: gauges, the due list, and the sheets. No limit changes by it."
        ),
    )


def _count_field(name: str, word: str, now: int, unit: str) -> Field:
    def check(written: str, _values: Values) -> None:
        read_count(written, name)

    return Field(name, word, FieldKind.QUANTITY, needed=True, start=str(now), unit=unit, check=check)
