"""Say that something of a part holds no more, with the reason of the entry."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gui.job import Job
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.reason_fields import by_of, reason_fields
from invdb.acts.by import By


def withdraw_for_reason_form(
    sitting: Sitting, what: str, withdraw: Callable[[Any, By, bool], int], said: str
) -> FormPlan:
    """The form to withdraw ``what``, as a sentence names it; ``said`` is what follows from that.

    ``withdraw`` gets the session, who does it, and whether what it asks about was said to be so.
    """

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = withdraw(session, by_of(sitting, values), bool(values.get("sure")))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Withdraw {what}",
        fields=reason_fields(sitting),
        act=act,
        told=lambda entry: f"Withdrawn: {what} (entry {entry}).",
        save_word="Withdraw it",
        said=lambda _values: said.strip(),
    )
