"""Say what is believed of the parts of a family before our own record speaks, and take it back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import hours_figure, read_hours
from gui.views.withdraw_form import withdraw_form
from invdb.acts.beliefs import Belief, set_belief, withdraw_belief
from invdb.terms import FieldRefused

INSPECTION, RUNNING, WORK = "At inspection", "In running", "Out for work"


def belief_form(sitting: Sitting, belief: Belief) -> FormPlan:
    """The form for what is believed of the family of ``belief``, begun with its figures."""

    def act(job: Job, values: dict[str, Any]) -> int:
        believed = Belief(
            reject_mean=read_percent(values["reject_mean"], "reject_mean"),
            reject_weight=read_figure(values["reject_weight"], "reject_weight"),
            concentration=read_figure(values["concentration"], "concentration"),
            failures=read_figure(values["failures"], "failures"),
            failure_hours=read_hours(values["failure_hours"], "failure_hours"),
            yield_mean=read_percent(values["yield_mean"], "yield_mean"),
            yield_weight=read_figure(values["yield_weight"], "yield_weight"),
            source=values["source"],
            family=belief.family,
        )
        with sitting.store.writing() as session:
            entry = set_belief(session, believed, sitting.by())
            job.commit_begins()
        return entry

    source = "" if belief.built_in else belief.source
    return FormPlan(
        title=f"What is believed of {belief.family_name}",
        fields=(
            _field("reject_mean", "Rejected", percent_figure(belief.reject_mean), "% of those looked at",
                   read_percent, INSPECTION, "How many of a hundred are rejected when an engine is opened"),
            _field("reject_weight", "Believed as if", figure(belief.reject_weight), "had been looked at",
                   read_figure, INSPECTION, "The more, the longer our own inspections take to outweigh it"),
            _field("concentration", "Alike in an engine", figure(belief.concentration), "(low: very alike)",
                   read_figure, INSPECTION,
                   "Low: all or none of one engine are rejected together; high: each by itself"),
            _field("failures", "Failures", figure(belief.failures), "seen",
                   read_figure, RUNNING, "How many failures the belief counts as seen"),
            _field("failure_hours", "Within", hours_figure(belief.failure_hours), "h of a piece's running",
                   read_hours, RUNNING, "In how many hours of one piece's running they were seen"),
            _field("yield_mean", "Come back good", percent_figure(belief.yield_mean), "% of those sent",
                   read_percent, WORK, "How many of a hundred sent for work come back good"),
            _field("yield_weight", "Believed as if", figure(belief.yield_weight), "had come back",
                   read_figure, WORK, "The more, the longer our own record takes to outweigh it"),
            Field("source", "Who says so", needed=True, start=source, section="Where it comes from",
                  hint="A person, a book, another workshop's record"),
        ),
        act=act,
        told=lambda entry: f"That is believed of {belief.family_name} from now on (entry {entry}).",
        save_word="Believe it",
        said=lambda _values: "Our own record of inspections, failures and work outweighs it as it grows.",
    )  # fmt: skip


def withdraw_belief_form(sitting: Sitting, belief: Belief, instead: str) -> FormPlan:
    """The form to take back what the shop believes; ``instead`` says what counts again."""
    assert belief.id is not None, "only what the shop has set can be withdrawn"
    own = belief.id
    return withdraw_form(
        sitting,
        f"what is believed of {belief.family_name}",
        lambda session, because, by: withdraw_belief(session, own, replace(by, note=because)),
        f"{instead} counts again.",
    )


def figure(value: Decimal) -> str:
    """A figure as it is written: without zeros that say nothing."""
    return f"{value.normalize():f}"


def percent_figure(share: Decimal) -> str:
    """A share in per cent: 0.15 is ``15``."""
    return figure(share * 100)


def read_figure(text: str, field: str) -> Decimal:
    """A figure above zero as typed; Refused, for that field, for what is none."""
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise FieldRefused(field, f"“{text.strip()}” is no figure.", "Type it like 5 or 0.5.")
    return value


def read_percent(text: str, field: str) -> Decimal:
    """A share, typed in per cent; Refused, for that field, unless it lies between nought and a hundred."""
    value = read_figure(text.strip().removesuffix("%"), field)
    if not Decimal("0.1") <= value <= Decimal("99.9"):
        raise FieldRefused(field, f"{text.strip()} % is out of reason.", "Give from 0.1 to 99.9 %.")
    return value / 100


def _field(
    name: str, word: str, start: str, unit: str, read: Callable[[str, str], Any], section: str, hint: str
) -> Field:
    def check(written: str, _values: Values) -> None:
        read(written, name)

    return Field(
        name, word, FieldKind.QUANTITY, needed=True, start=start, unit=unit, section=section, hint=hint,
        check=check,
    )  # fmt: skip
