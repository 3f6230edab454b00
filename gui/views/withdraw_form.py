"""Say that something on record holds no more, and why; it stays to be seen that it did."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from invdb.acts.by import By

# Withdraws it, for that reason and in that person's name; gives the entry's number.
Withdrawing = Callable[[Any, str, By], int]


def withdraw_form(sitting: Sitting, what: str, withdraw: Withdrawing, said: str = "") -> FormPlan:
    """The form to withdraw ``what``, as a sentence names it; ``said`` is what follows from that."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = withdraw(session, values["because"], sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Withdraw {what}",
        fields=(
            Field("because", "Why", FieldKind.LINES, needed=True, hint="Kept with the entry"),
            day_field(sitting, "Withdrawn on"),
        ),
        act=act,
        told=lambda entry: f"Withdrawn: {what} (entry {entry}).",
        save_word="Withdraw it",
        said=lambda _values: said,
    )
