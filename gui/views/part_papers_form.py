"""Let documents and photographs stand behind a part."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.paper_fields import paper_fields, papers_of
from gui.views.reason_fields import by_of, reason_fields
from gui.views.searches import search_for
from invdb.acts.part_page import PartPage
from invdb.acts.part_papers import add_part_papers


def part_papers_form(sitting: Sitting, page: PartPage) -> FormPlan:
    """The form for documents of a part: one that is here, one by its number, and any number of files."""

    def act(job: Job, values: dict[str, Any]) -> int:
        papers = papers_of(values, job)
        with sitting.store.writing() as session:
            by = by_of(sitting, values)
            entry = add_part_papers(session, page.part, papers, by, values["document"])
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Documents of {page.house_number} {page.name}",
        fields=(
            Field("document", "One that is here", FieldKind.FIND, kept=False,
                  find=search_for(sitting, ("document",)), hint="By its number or title"),
            *paper_fields("Others"),
            *reason_fields(sitting, needed=False),
        ),
        act=act,
        told=lambda entry: f"They stand behind {page.house_number} (entry {entry}).",
        save_word="Attach",
    )  # fmt: skip
