"""Move stock to another place, whole or in part."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import are, day_field, named, remark_field, titled
from gui.views.form_plan import FormPlan
from gui.views.place_fields import place_field
from invdb.acts.move import Shift, move
from invdb.acts.stock_list import FITTED_KINDS
from invdb.acts.things import ThingState, Whereabouts
from invdb.rules.quantities import quantity_words, read_quantity


def move_form(sitting: Sitting, rows: Sequence[tuple[ThingState, int | None]]) -> FormPlan:
    """The form to move these, each from its place, None for wherever it is.

    Of a single batch it asks how much, and from where if it lies in several places.
    """
    stock = [state for state, _ in rows]
    one_batch = len(stock) == 1 and stock[0].thing.batch is not None

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = move(
                session,
                tuple(
                    _some_of(state, values) if one_batch else Shift(state.thing, None, place)
                    for state, place in rows
                ),
                values["to_place"],
                sitting.by(values["happened_on"], values["note"]),
            )
            job.commit_begins()
        return entry

    return FormPlan(
        title=titled("Move", stock),
        fields=(
            *(_batch_fields(*rows[0]) if one_batch else ()),
            place_field(sitting, "to_place", "Goes to", needed=True),
            day_field(sitting, "Moved on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"{named(stock)} {are(stock)} moved (entry {entry}).",
        save_word="Move",
    )


def _batch_fields(batch: ThingState, place: int | None) -> tuple[Field, ...]:
    def check(written: str, _values: Values) -> None:
        if written:
            read_quantity(written, batch.measure)

    def free_in(where: Whereabouts) -> str:
        return f"{where.name}: {quantity_words(where.quantity - where.reserved, batch.measure)} free"

    free = [Choice(each.place, free_in(each)) for each in batch.where if each.kind not in FITTED_KINDS]
    whence = Field(
        "from_place",
        "From",
        FieldKind.CHOICE,
        needed=True,
        start=free[0].key if len(free) == 1 else place,
        choices=tuple(free),
    )
    how_much = Field(
        "quantity", "How much", FieldKind.QUANTITY, unit="empty for all that is free", check=check
    )
    return (whence, how_much)


def _some_of(state: ThingState, values: Values) -> Shift:
    written = values["quantity"]
    quantity = read_quantity(written, state.measure) if written else None
    return Shift(state.thing, quantity, values["from_place"])
