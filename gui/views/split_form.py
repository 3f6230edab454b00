"""Break a batch down into shares, each of its own condition."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field, titled
from gui.views.form_plan import FormPlan
from gui.views.place_fields import place_field
from invdb.acts.split import Share, SplitOff, split
from invdb.acts.stock_list import FITTED_KINDS
from invdb.acts.things import ThingState
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import Condition, Refused, Scope

# A serviceable share says at once what it is accepted for.
SHARE_STATES = (
    *(Choice((Condition.SERVICEABLE, scope), f"{Condition.SERVICEABLE}, {scope}") for scope in Scope),
    *(
        Choice((condition, None), str(condition))
        for condition in (Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE, Condition.UNINSPECTED)
    ),
)


def split_form(sitting: Sitting, batch: ThingState) -> FormPlan:
    """The form to split shares off a batch where it lies; what is left keeps its tag."""
    assert batch.thing.batch is not None, "only a batch can be split"
    batch_id = batch.thing.batch

    def act(job: Job, values: dict[str, Any]) -> SplitOff:
        with sitting.store.writing() as session:
            made = split(
                session,
                batch_id,
                values["from_place"],
                tuple(_share(batch, row) for row in values["shares"]),
                sitting.by(values["happened_on"], values["note"]),
            )
            job.commit_begins()
        return made

    return FormPlan(
        title=titled("Split", (batch,)),
        fields=(
            _from_field(batch),
            Field(
                "shares",
                "Split off",
                FieldKind.ROWS,
                needed=True,
                columns=_columns(sitting, batch),
                hint="One row for each share; what is left over keeps the batch's tag and condition",
            ),
            day_field(sitting, "Split on"),
            remark_field(),
        ),
        act=act,
        told=_told,
        save_word="Split",
        said=lambda values: left_over(batch, values),
    )


def left_over(batch: ThingState, values: Values) -> str:
    """How much of the batch lies there, and how much is left over once these shares are split off."""
    where = next((each for each in batch.where if each.place == values.get("from_place")), None)
    if where is None:
        return ""
    rows = values.get("shares") or ()
    split_off = sum(_quantity_or_none(batch, row) or 0 for row in rows)
    free = where.quantity - where.reserved
    words = f"{quantity_words(free, batch.measure)} lie free in {where.name}"
    if split_off > free:
        return f"{words}; the shares come to {quantity_words(split_off, batch.measure)}, which is too much."
    if not split_off:
        return f"{words}."
    return f"{words}; {quantity_words(free - split_off, batch.measure)} would be left as {batch.tag}."


def _from_field(batch: ThingState) -> Field:
    places = tuple(Choice(each.place, each.name) for each in batch.where if each.kind not in FITTED_KINDS)
    return Field(
        "from_place",
        "Lies in",
        FieldKind.CHOICE,
        needed=True,
        start=places[0].key if len(places) == 1 else None,
        choices=places,
    )


def _columns(sitting: Sitting, batch: ThingState) -> tuple[Field, ...]:
    def check(written: str, _values: Values) -> None:
        read_quantity(written, batch.measure)

    return (
        Field("quantity", "Quantity", FieldKind.QUANTITY, needed=True, check=check),
        Field("state", "Condition", FieldKind.CHOICE, needed=True, choices=SHARE_STATES),
        place_field(sitting, "to_place", "Goes to", hint="Left empty, the share stays where it is"),
    )


def _quantity_or_none(batch: ThingState, row: Values) -> int | None:
    try:
        return read_quantity(row.get("quantity") or "", batch.measure)
    except Refused:
        return None


def _share(batch: ThingState, row: Values) -> Share:
    condition, scope = row["state"]
    return Share(read_quantity(row["quantity"], batch.measure), condition, scope, row["to_place"])


def _told(made: SplitOff) -> str:
    return f"Split off as {', '.join(tag for _, tag in made.batches)} (entry {made.entry})."
