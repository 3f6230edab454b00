"""Record that a directive that stands on the due list was complied with."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from invdb.acts.directive import comply
from invdb.acts.hold import Subject
from invdb.rules.due import DueLine


def comply_form(sitting: Sitting, line: DueLine) -> FormPlan:
    """The form for one line of the due list that is of a directive."""
    directive = line.record
    assert directive is not None, "the line of a directive names it"
    subject = Subject(piece=line.piece) if line.piece is not None else Subject(engine=line.engine)

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = comply(session, directive, (subject,), values["method"], by)
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Comply with {line.what}",
        fields=(
            Field("method", "How", FieldKind.LINES, needed=True, hint="What was done, by which method"),
            day_field(sitting, "Done on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"Complied with on {line.subject} (entry {entry}).",
        save_word="Record it",
        said=lambda _values: f"On {line.subject}, {line.engine_name}: {line.left}",
    )
