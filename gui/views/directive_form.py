"""Enter what an authority orders, or put a new issue in the place of one that stands."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from gui.views.goods_in_checks import months
from gui.views.meter_fields import hours_figure, read_hours
from gui.views.searches import search_for
from invdb.acts.directive import NewDirective, add_directive, reissue_directive
from invdb.acts.directive_issue import StandingIssue

ENGINES, PART, BATCH = "engines", "part", "batch"
SUBJECTS = (
    Choice(ENGINES, "engines of a type"),
    Choice(PART, "every piece of a part"),
    Choice(BATCH, "a batch"),
)
FOR_WHAT, DUE, SAYS = "What it is for", "When it is due", "The order"


def directive_form(
    sitting: Sitting, engine_type: Hit | None = None, old: StandingIssue | None = None
) -> FormPlan:
    """The form for a directive, begun with the type of the shown engine; or for a new issue of ``old``."""

    def act(job: Job, values: dict[str, Any]) -> int:
        new = _directive(values)
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"])
            if old is None:
                made = add_directive(session, new, by)
            else:
                made = reissue_directive(session, old.directive, new, by)
            job.commit_begins()
        return made

    words = f"a new issue of directive {old.words}" if old is not None else "a directive"
    replaced = (
        f"It takes the place of {old.words}; what was done to that does not count for this one."
        if old is not None
        else ""
    )
    return FormPlan(
        title=f"Enter {words}",
        fields=(
            *_order_fields(sitting, old),
            *_subject_fields(sitting, engine_type, old),
            *_due_fields(sitting, old),
            day_field(sitting, "Entered on"),
        ),
        act=act,
        told=lambda _made: "The directive is entered; what is due by it stands on the due list.",
        save_word="Enter it",
        said=lambda _values: replaced,
    )


def _order_fields(sitting: Sitting, old: StandingIssue | None) -> tuple[Field, ...]:
    issued = old.issued if old is not None else None
    document = None
    if old is not None and old.issued.document is not None:
        document = Hit(old.document_words, "", "paper", old.issued.document)
    return (
        Field(
            "reference",
            "Reference",
            needed=True,
            start=issued.reference if issued else None,
            section=SAYS,
        ),
        Field("issue", "Issue", section=SAYS, hint="Empty if it has none"),
        Field("title", "About", needed=True, start=issued.title if issued else None, section=SAYS),
        Field("authority", "Authority", start=issued.authority if issued else None, section=SAYS),
        Field(
            "method",
            "Orders",
            FieldKind.LINES,
            needed=True,
            start=issued.method if issued else None,
            section=SAYS,
            hint="What is to be done, and by which method",
        ),
        Field(
            "document",
            "Its document",
            FieldKind.FIND,
            start=document,
            find=search_for(sitting, ("document",)),
            section=SAYS,
        ),
    )


def _subject_fields(
    sitting: Sitting, engine_type: Hit | None, old: StandingIssue | None
) -> tuple[Field, ...]:
    issued = old.issued if old is not None else None
    part = batch = None
    kind = ENGINES
    if old is not None:
        of = old.issued
        engine_type = _hit(old.engine_type_name, "engine type", of.engine_type)
        part, batch = _hit(old.part_number, "part", of.part), _hit(old.batch_tag, "batch", of.batch)
        kind = BATCH if of.batch is not None else PART if of.part is not None else ENGINES

    def of_type(values: Values) -> bool:
        return values.get("engine_type") is not None

    return (
        Field(
            "on_what", "For", FieldKind.CHOICE, needed=True, start=kind, choices=SUBJECTS, section=FOR_WHAT
        ),
        Field(
            "part",
            "Part",
            FieldKind.FIND,
            needed=True,
            start=part,
            find=search_for(sitting, ("part",)),
            section=FOR_WHAT,
            shown_when=lambda values: values.get("on_what") == PART,
        ),
        Field(
            "batch",
            "Batch",
            FieldKind.FIND,
            needed=True,
            start=batch,
            find=search_for(sitting, ("batch",)),
            section=FOR_WHAT,
            shown_when=lambda values: values.get("on_what") == BATCH,
        ),
        Field(
            "engine_type",
            "Engine type",
            FieldKind.FIND,
            start=engine_type,
            find=search_for(sitting, ("engine_type",)),
            section=FOR_WHAT,
            hint="For a part or a batch: only in engines of that type; empty for any",
        ),
        Field(
            "serial_from",
            "From serial",
            start=issued.serial_from if issued else None,
            section=FOR_WHAT,
            hint="Of engines of that type; empty for the first",
            shown_when=of_type,
        ),
        Field(
            "serial_to",
            "To serial",
            start=issued.serial_to if issued else None,
            section=FOR_WHAT,
            hint="The last it is for; empty for every later one",
            shown_when=of_type,
        ),
    )


def _due_fields(sitting: Sitting, old: StandingIssue | None) -> tuple[Field, ...]:
    issued = old.issued if old is not None else None
    return (
        Field(
            "effective_on", "In effect from", FieldKind.DATE, needed=True, start=sitting.today(), section=DUE
        ),
        _hours_field(
            "within_hours", "First within", issued.within_hours if issued else None, "h run from then"
        ),
        _months_field("within_months", "Or within", issued.within_months if issued else None, "months"),
        Field(
            "due_on",
            "Or by",
            FieldKind.DATE,
            section=DUE,
            hint="The first of these to come; with none of them it is due at once",
        ),
        _hours_field("every_hours", "Then every", issued.every_hours if issued else None, "h; empty: once"),
        _months_field("every_months", "Or every", issued.every_months if issued else None, "months"),
    )


def _hours_field(name: str, word: str, now: int | None, unit: str) -> Field:
    def check(written: str, _values: Values) -> None:
        if written:
            read_hours(written, name)

    return Field(
        name,
        word,
        FieldKind.QUANTITY,
        start=hours_figure(now) if now is not None else None,
        unit=unit,
        check=check,
        section=DUE,
    )


def _months_field(name: str, word: str, now: int | None, unit: str) -> Field:
    start = str(now) if now is not None else None
    return Field(name, word, FieldKind.QUANTITY, start=start, unit=unit, check=months, section=DUE)


def _directive(values: Values) -> NewDirective:
    """The directive that the form says."""

    def hours(name: str) -> int | None:
        return read_hours(values[name], name) if values[name] else None

    def count(name: str) -> int | None:
        return int(values[name]) if values[name] else None

    return NewDirective(
        values["reference"],
        values["title"],
        values["method"],
        values["effective_on"],
        values["issue"],
        values["authority"],
        values["engine_type"],
        values.get("serial_from") or None,
        values.get("serial_to") or None,
        values.get("part"),
        values.get("batch"),
        hours("within_hours"),
        count("within_months"),
        values["due_on"],
        hours("every_hours"),
        count("every_months"),
        values["document"],
    )


def _hit(words: str, kind: str, ref: int | None) -> Hit | None:
    return Hit(words, "", kind, ref) if ref is not None else None
