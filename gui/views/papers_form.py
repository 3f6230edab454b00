"""Attach papers to pieces and batches that are here already."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, named, titled
from gui.views.form_plan import FormPlan
from gui.views.paper_fields import paper_fields, papers_of
from invdb.acts.papers import add_paper
from invdb.acts.things import ThingState
from invdb.terms import FieldRefused


def papers_form(sitting: Sitting, stock: Sequence[ThingState]) -> FormPlan:
    """The form to attach papers to all of these at once."""

    def act(job: Job, values: dict[str, Any]) -> int:
        return _attach(sitting, stock, job, values)

    return FormPlan(
        title=titled("Attach papers to", stock),
        fields=(*paper_fields(section=""), day_field(sitting, "Attached on")),
        act=act,
        told=lambda count: f"{'A paper is' if count == 1 else f'{count} papers are'} behind {named(stock)}.",
        save_word="Attach",
    )


def _attach(sitting: Sitting, stock: Sequence[ThingState], job: Job, values: Values) -> int:
    papers = papers_of(values, job)
    if not papers:
        raise FieldRefused("papers", "No paper is named.", "Choose a kind and type its number, or add files.")
    with sitting.store.writing() as session:
        by = sitting.by(values["happened_on"])
        for paper in papers:
            add_paper(session, paper, by, tuple(state.thing for state in stock))
        job.commit_begins()
    return len(papers)
