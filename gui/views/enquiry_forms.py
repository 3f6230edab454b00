"""Ask firms for parts, record that one declined, and close an enquiry."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.searches import search_for
from gui.views.trade_fields import quantity_of
from invdb.acts.enquiry import (
    EnquiryMade,
    NewEnquiry,
    NewEnquiryLine,
    add_enquiry,
    close_enquiry,
    decline_enquiry,
)
from invdb.acts.enquiry_list import EnquiryFacts


def enquiry_form(sitting: Sitting, asked: Sequence[tuple[Hit, str]] = ()) -> FormPlan:
    """The form to ask firms for parts; ``asked`` are those to begin with, each with how many."""

    def act(job: Job, values: dict[str, Any]) -> EnquiryMade:
        renamed = fields_renamed(quantity="lines", part="lines", firm="firms")
        with renamed, sitting.store.writing() as session:
            lines = tuple(
                NewEnquiryLine(row["part"], quantity_of(session, row["part"], row["quantity"]), row["wanted"])
                for row in values["lines"]
            )
            firms = tuple(dict.fromkeys(row["firm"] for row in values["firms"]))
            enquiry = NewEnquiry(firms, lines, values["answer_by"], values["wording"])
            made = add_enquiry(session, enquiry, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Ask firms for parts",
        fields=(
            Field("lines", "Parts", FieldKind.ROWS, needed=True,
                  start=tuple({"part": hit, "quantity": much, "wanted": ""} for hit, much in asked),
                  columns=(
                      Field("part", "Part", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",))),
                      Field("quantity", "How many", FieldKind.QUANTITY, needed=True,
                            hint="12, or 1.5 m, or 350 g"),
                      Field("wanted", "To be known of it",
                            hint="Drawing, size, finish or papers that it must have"),
                  )),
            Field("firms", "Ask", FieldKind.ROWS, needed=True, columns=(
                Field("firm", "Firm", FieldKind.FIND, needed=True, find=search_for(sitting, ("firm",))),)),
            Field("answer_by", "Answer by", FieldKind.DATE, hint="Overdue from the day after"),
            Field("wording", "Besides", FieldKind.LINES, hint="Stands on the sheet that each firm gets"),
            day_field(sitting, "Asked on"),
        ),
        act=act,
        told=lambda made: f"Enquiry {made.number} stands; save its sheets to send them.",
        save_word="Ask",
    )  # fmt: skip


def decline_form(sitting: Sitting, enquiry: EnquiryFacts) -> FormPlan:
    """The form to record that a firm said no."""
    waiting = [firm for firm in enquiry.firms if firm.waits]

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = decline_enquiry(session, enquiry.enquiry, values["firm"], by)
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Enquiry {enquiry.number}: a firm declined",
        fields=(
            Field("firm", "Firm", FieldKind.CHOICE, needed=True,
                  start=waiting[0].firm if len(waiting) == 1 else None,
                  choices=tuple(Choice(firm.firm, firm.firm_name) for firm in waiting)),
            remark_field(),
            day_field(sitting, "Declined on"),
        ),
        act=act,
        told=lambda entry: f"It is on record that they declined (entry {entry}).",
        save_word="Record it",
    )  # fmt: skip


def close_enquiry_form(sitting: Sitting, enquiry: EnquiryFacts) -> FormPlan:
    """The form to close an enquiry, answered or not."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = close_enquiry(session, enquiry.enquiry, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Close enquiry {enquiry.number}",
        fields=(remark_field(), day_field(sitting, "Closed on")),
        act=act,
        told=lambda entry: f"Enquiry {enquiry.number} is closed (entry {entry}).",
        save_word="Close it",
        said=lambda _values: "No answer to it is awaited any more; its quotes stand as long as they hold.",
    )
