"""Recall what is in doubt: find every piece of it, put it on hold if so said, and write the letter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from gui.views.place_fields import place_field
from gui.views.searches import search_for
from invdb.acts.hold_recalled import Recalled, hold_recalled
from invdb.acts.recall import recall_letter
from invdb.rules.recall import RecallLetter, RecallQuestion, count_words
from invdb.terms import FieldRefused

HOLDS = "All of it is put on hold in one act, and what lies free on a shelf goes to the quarantine."
FINDS = "Nothing is changed: it is found, and the letter is written."
REQUEST = "Please take it out of use, keep it apart, and tell us what you hold of it."


@dataclass(frozen=True)
class RecallDone:
    """The letter of a recall, and what was put on hold, None where nothing was."""

    letter: RecallLetter
    held: Recalled | None


def recall_form(sitting: Sitting, part: Hit | None = None) -> FormPlan:
    """The form to recall by part, batch, firm, paper or days of receipt; it may begin with a part."""

    def act(job: Job, values: dict[str, Any]) -> RecallDone:
        question = question_of(values)
        person = sitting.by().person
        held = None
        if values["hold"]:
            with sitting.store.writing() as session:
                by = sitting.by(values["happened_on"])
                held = hold_recalled(session, question, values["reason"], by, values["to_place"])
                job.commit_begins()
        with sitting.store.reading() as session:
            letter = recall_letter(
                session, question, values["reason"], person, values["addressee"], values["request"]
            )
        return RecallDone(letter, held)

    def held_only(values: Values) -> bool:
        return bool(values.get("hold"))

    return FormPlan(
        title="Recall what is in doubt",
        fields=(
            Field("part", "Part", FieldKind.FIND, start=part, find=search_for(sitting, ("part",))),
            Field("batch", "Batch", FieldKind.FIND, find=search_for(sitting, ("batch",))),
            Field("firm", "Came from", FieldKind.FIND, find=search_for(sitting, ("firm",))),
            Field("document", "Paper", FieldKind.FIND, find=search_for(sitting, ("document",))),
            Field("received_from", "Received from", FieldKind.DATE),
            Field("received_to", "Received until", FieldKind.DATE),
            Field("reason", "The doubt", FieldKind.LINES, needed=True, section="Why"),
            Field("hold", "Put all of it on hold, with the engines it is in", FieldKind.TICK, section="Why"),
            replace(
                place_field(
                    sitting,
                    "to_place",
                    "From shelves to",
                    section="Why",
                    hint="Empty for the first quarantine; what is free on a shelf goes there",
                ),
                shown_when=held_only,
            ),
            replace(day_field(sitting, "Raised on"), section="Why", shown_when=held_only),
            Field("addressee", "Letter to", section="Letter", hint="Empty for whom it may concern"),
            Field("request", "It asks", FieldKind.LINES, start=REQUEST, section="Letter"),
        ),
        act=act,
        told=told_of,
        save_word="Recall it",
        said=lambda values: HOLDS if held_only(values) else FINDS,
    )


def question_of(values: Values) -> RecallQuestion:
    """What is asked for; Refused for nothing at all."""
    question = RecallQuestion(
        values["part"],
        values["batch"],
        values["firm"],
        values["document"],
        values["received_from"],
        values["received_to"],
    )
    if not question.bounded:
        raise FieldRefused(
            "part", "Nothing is named that would be recalled.", "Name a part, a batch or a firm."
        )
    return question


def told_of(done: RecallDone) -> str:
    """What a recall found and did, in a sentence."""
    report = done.letter.report
    count = len(report.lines)
    said = f"{count} piece{'s' if count != 1 else ''} or batches are concerned"
    where = "; ".join(count_words(each) for each in report.counts)
    held = f" {len(done.held.held)} put on hold (entry {done.held.entry})." if done.held is not None else ""
    return f"{said}: {where}.{held}" if where else f"Nothing is concerned: {report.asked}."
