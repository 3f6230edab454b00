"""Put in a revision of a part's specification, begun from the one in force."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.reason_fields import by_of, reason_fields, set_last
from gui.views.searches import search_for
from gui.views.spec_lines import asked_of, line_wrong, lines_of, questions_of, values_of
from invdb.acts.part_page import PartPage
from invdb.acts.spec import NewSpec, add_spec
from invdb.rules.specification import SpecFacts
from invdb.terms import Asked, Refused

HEAD, LINES = "The revision", "Its lines"


def spec_form(sitting: Sitting, page: PartPage, begun_from: SpecFacts | None, last: str) -> FormPlan:
    """The form for a revision; ``begun_from`` is the one whose lines are offered, ``last`` who set that."""

    def act(job: Job, values: dict[str, Any]) -> int:
        lines, sure = lines_of(values["lines"]), bool(values.get("sure"))
        questions = () if sure else questions_of(values["lines"])
        if questions:
            raise Asked("lines", " ".join(questions), "Check the figures, or say that it is so.")
        spec = NewSpec(
            page.part,
            values["revision"],
            values["from_on"],
            values["source"],
            lines,
            values["document"],
            values["note"],
        )
        with sitting.store.writing() as session:
            made = add_spec(session, spec, by_of(sitting, values), sure)
            job.commit_begins()
        return made

    def said(_values: Values) -> str:
        if begun_from is None:
            return "A measurement is judged by the revision that was in force on its day."
        return f"Begun from revision {begun_from.revision}. {set_last(last)}".strip()

    start = tuple(values_of(line) for line in begun_from.lines) if begun_from is not None else ()
    return FormPlan(
        title=f"A specification of {page.house_number} {page.name}",
        fields=(
            Field("revision", "Revision", needed=True, section=HEAD,
                  hint="Its letter, number or date, as published"),
            Field("from_on", "In force from", FieldKind.DATE, needed=True, start=sitting.today(),
                  section=HEAD, hint="Until a later revision is in force"),
            Field("source", "Publication", section=HEAD,
                  start=begun_from.source if begun_from is not None else "",
                  hint="What publishes it; it or its document is needed"),
            Field("document", "Its document", FieldKind.FIND, section=HEAD,
                  find=search_for(sitting, ("document",))),
            Field("note", "Note", section=HEAD),
            Field("lines", "Lines", FieldKind.SPEC_LINES, needed=True, start=start, check=_check_lines,
                  asks=asked_of(tuple(size.size_class for size in page.sizes)), section=LINES),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda _made: f"The revision of {page.house_number} is in force from the day given.",
        save_word="Put it in",
        said=said,
    )  # fmt: skip


def _check_lines(rows: tuple[Values, ...], _values: Values) -> None:
    for number, row in enumerate(rows, 1):
        wrong = line_wrong(row)
        if wrong:
            raise Refused(f"Line {number}: {wrong}")
