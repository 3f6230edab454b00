"""Record that a directive was complied with on an engine or on pieces in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from gui.views.searches import search_for
from invdb.acts.directive import comply
from invdb.acts.hold import Subject
from invdb.rules.due import DueLine


@dataclass(frozen=True)
class ToComply:
    """A directive, what it is to be complied with on, in words too; ``left`` says what is left, or ""."""

    directive: int
    what: str
    subjects: tuple[Subject, ...]
    on: str
    left: str = ""


def due_to_comply(line: DueLine) -> ToComply:
    """The line of the due list that is of a directive."""
    assert line.record is not None, "the line of a directive names it"
    subject = Subject(piece=line.piece) if line.piece is not None else Subject(engine=line.engine)
    return ToComply(line.record, line.what, (subject,), f"{line.subject}, {line.engine_name}", line.left)


def comply_form(sitting: Sitting, due: ToComply) -> FormPlan:
    """The form for one directive, on one or several subjects in one entry."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = comply(session, due.directive, due.subjects, values["method"], by, values["document"])
            job.commit_begins()
        return entry

    licensed = "" if sitting.licence else " Only a person with a licence number signs for a directive."
    return FormPlan(
        title=f"Comply with {due.what}",
        fields=(
            Field("method", "How", FieldKind.LINES, needed=True, hint="What was done, by which method"),
            Field(
                "document",
                "Its paper",
                FieldKind.FIND,
                find=search_for(sitting, ("document",)),
                hint="The report of what was done, if it is here",
            ),
            day_field(sitting, "Done on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"Complied with on {due.on} (entry {entry}).",
        save_word="Record it",
        said=lambda _values: f"On {due.on}{f': {due.left}' if due.left else ''}.{licensed}",
    )
