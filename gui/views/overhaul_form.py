"""Begin the count since overhaul of a piece or an engine anew, for what a report says."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.goods_in_checks import not_after
from gui.views.searches import search_for
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.things import ThingState
from invdb.rules.life import read_prior
from invdb.terms import NO_PRIOR_LIFE, PriorLife

HOURS, STARTS, CALENDAR = "hours", "starts", "calendar"
COUNTS = (
    Choice(HOURS, "hours"),
    Choice(STARTS, "starts"),
    Choice(CALENDAR, "months"),
)
PARTS = {HOURS: 100, STARTS: 1}


def overhaul_form(sitting: Sitting, piece: ThingState) -> FormPlan:
    """The form for one piece; only what the report says begins anew."""
    assert piece.thing.piece is not None, "only a piece has a life of its own"
    subject = LifeResetOrder("", piece=piece.thing.piece)
    return _form(sitting, subject, piece.tag, f"Count {piece.tag} anew since overhaul  ({piece.part_name})")


def engine_overhaul_form(sitting: Sitting, engine: int, name: str) -> FormPlan:
    """The form for an engine itself; the pieces in it keep their own counts."""
    return _form(sitting, LifeResetOrder("", engine=engine), name, f"Count {name} anew since overhaul")


def _form(sitting: Sitting, subject: LifeResetOrder, name: str, title: str) -> FormPlan:
    """The form for what ``subject`` names, called ``name``."""
    pieces = "" if subject.engine is None else " The pieces in it keep their own counts."

    def act(job: Job, values: dict[str, Any]) -> int:
        resets = values["resets"]
        order = replace(
            subject,
            report=values["report"],
            resets_hours=HOURS in resets,
            resets_starts=STARTS in resets,
            resets_calendar=CALENDAR in resets,
            overhauled_on=values["overhauled_on"],
            hours=_since(values, HOURS),
            starts=_since(values, STARTS),
            document=values["document"],
        )
        with fields_renamed(resets_hours="resets"), sitting.store.writing() as session:
            made = reset_life(session, order, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title=title,
        fields=(
            Field("report", "The report", needed=True, hint="Its reference, and what it says was done"),
            Field(
                "document",
                "Its paper",
                FieldKind.FIND,
                find=search_for(sitting, ("document",)),
                hint="The report itself, if it is here",
            ),
            Field(
                "resets",
                "Begins anew",
                FieldKind.TICKS,
                start=frozenset(choice.key for choice in COUNTS),
                choices=COUNTS,
                hint="Only what the report says; the life since new goes on",
            ),
            day_field(sitting, "Counts from"),
            Field(
                "overhauled_on",
                "Overhauled on",
                FieldKind.DATE,
                check=not_after(sitting.today()),
                hint="Empty if that same day; months count from here",
            ),
            _since_field(HOURS, "Hours since then", "h"),
            _since_field(STARTS, "Starts since then", ""),
        ),
        act=act,
        told=lambda _made: f"The count of {name} since overhaul begins anew.",
        save_word="Record it",
        said=lambda _values: (
            f"What it ran since new stays as it is; limits since overhaul count from here.{pieces}"
        ),
    )


def _since_field(name: str, word: str, unit: str) -> Field:
    def check(written: Any, _values: Values) -> None:
        read_prior(str(written or "0"), name, PARTS[name])

    return Field(
        name,
        word,
        FieldKind.QUANTITY,
        start="0",
        unit=unit,
        check=check,
        hint="What it ran from its overhaul until it came; 120, between 100 and 140, at least 300, unknown",
        shown_when=lambda values: name in (values.get("resets") or ()),
    )


def _since(values: Values, name: str) -> PriorLife:
    written = values.get(name)
    return NO_PRIOR_LIFE if written is None else read_prior(str(written or "0"), name, PARTS[name])
