"""Add an oversize or undersize in which a part is made."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.reason_fields import by_of, reason_fields
from invdb.acts.part_page import PartPage
from invdb.acts.part_size import NewPartSize, add_part_size


def part_size_form(sitting: Sitting, page: PartPage) -> FormPlan:
    """The form for one size of a part; its limits are then lines of its specification."""

    def act(job: Job, values: dict[str, Any]) -> int:
        size = NewPartSize(page.part, values["size_class"], values["note"])
        with sitting.store.writing() as session:
            made = add_part_size(session, size, by_of(sitting, values))
            job.commit_begins()
        return made

    known = ", ".join(size.size_class or "standard" for size in page.sizes)
    return FormPlan(
        title=f"A size of {page.house_number} {page.name}",
        fields=(
            Field("size_class", "Size", needed=True, kept=False,
                  hint="As its label names it, such as 0.25 mm oversize"),
            Field("note", "Note", kept=False),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda _made: f"{page.house_number} is made in that size too.",
        save_word="Add it",
        another=True,
        said=lambda _values: f"It is made in: {known}. Limits of a size are lines of the specification.",
    )  # fmt: skip
