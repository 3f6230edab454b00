"""Scrap stock: its hazards first, then why, and how it was made unusable."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, titled
from gui.views.form_plan import FormPlan
from gui.views.work_forms import HOW
from gui.views.work_words import Hazards, hazards_said, place_choices
from invdb.acts.offers import PlaceOffer
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.things import ThingState
from invdb.rules.quantities import read_quantity

NO_GOOD_ONE = "It is made unfit for any use: whoever finds it must not take it for a good one."


def scrap_form(
    sitting: Sitting,
    state: ThingState,
    place: int | None,
    drums: tuple[PlaceOffer, ...],
    hazards: Hazards,
) -> FormPlan:
    """The form to scrap one thing, from its place (None: wherever it is), into one of the scrap ``drums``."""
    batch = state.thing.batch is not None

    def check_quantity(written: str, _values: Values) -> None:
        if written:
            read_quantity(written, state.measure)

    def act(job: Job, values: dict[str, Any]) -> int:
        written = values.get("quantity") or ""
        order = ScrapOrder(
            state.thing,
            values["reason"],
            values["how"],
            values["to_place"],
            read_quantity(written, state.measure) if written else None,
            place,
            values["witness"],
            bool(values.get("sure")),
        )
        with sitting.store.writing() as session:
            entry = scrap(session, order, sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    how_much = Field(
        "quantity", "How much", FieldKind.QUANTITY, unit="empty for all that is free", check=check_quantity
    )
    return FormPlan(
        title=titled("Scrap", (state,)),
        fields=(
            *((how_much,) if batch else ()),
            Field("reason", "Why", FieldKind.LINES, needed=True, hint="What was found"),
            Field("how", "Made unusable", FieldKind.CHOICE, needed=True, choices=HOW,
                  hint="How it was made unfit for any use, so that nobody can fit it again"),
            Field("witness", "Witness", hint="Who saw it done; for a life-limited part somebody should"),
            Field("to_place", "Scrap drum", FieldKind.CHOICE, needed=True, choices=place_choices(drums),
                  start=drums[0].id if len(drums) == 1 else None),
            day_field(sitting, "Scrapped on"),
        ),
        act=act,
        told=lambda entry: f"{state.tag} is scrapped (entry {entry}).",
        save_word="Scrap it",
        said=lambda _values: hazards_said((state,), {state.part: hazards}, NO_GOOD_ONE) or NO_GOOD_ONE,
    )  # fmt: skip
