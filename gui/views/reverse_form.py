"""Reverse an entry that should not have been."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from invdb.acts.reverse import reverse


def reverse_form(sitting: Sitting, number: int, what: str) -> FormPlan:
    """The form to reverse the entry with that number; ``what`` tells what it did."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = reverse(session, number, values["reason"], sitting.by())
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Reverse entry {number}",
        fields=(
            Field(
                "reason",
                "Why",
                FieldKind.LINES,
                needed=True,
                hint="Both entries stay to be seen; a reversal is itself never reversed",
            ),
        ),
        act=act,
        told=lambda entry: f"Entry {number} is reversed (entry {entry}).",
        save_word="Reverse it",
        said=lambda _values: what,
    )
