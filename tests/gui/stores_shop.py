"""The small workshop of tests/shop.py with its inspector sitting at the Stores view."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import FieldKind
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.stores_plans import Act, Key
from gui.views.stores_presenter import StoresPresenter
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, things_by_id
from tests.shop import Shop

NOTHING = {
    FieldKind.TEXT: "",
    FieldKind.LINES: "",
    FieldKind.QUANTITY: "",
    FieldKind.TICKS: frozenset(),
    FieldKind.FILES: (),
    FieldKind.ROWS: (),
    FieldKind.TICK: False,
}


def sit(shop: Shop) -> Sitting:
    """Ada Farrow, who has a licence, at work in the small workshop."""
    return Sitting(shop.store, shop.inspector, "Ada Farrow", "engine inspector HL 2041")


def fill_in(plan: FormPlan, **given: Any) -> Any:
    """Fill in a form as a person would and save it; what is not given stays as it was offered.

    Raises what the form refuses, a field's own check first. Returns what the act gave.
    """
    values: dict[str, Any] = {}
    for field in plan.fields:
        start = field.start.ref if field.kind is FieldKind.FIND and field.start else field.start
        values[field.name] = NOTHING.get(field.kind) if start is None else start
    unknown = given.keys() - values.keys()
    assert not unknown, f"the form does not ask for {unknown}"
    values |= given
    shown = {f.name: f for f in plan.fields if f.shown_when is None or f.shown_when(values)}
    hidden = given.keys() - shown.keys()
    assert not hidden, f"the form does not show {hidden}"
    for name, field in shown.items():
        if field.needed:
            assert values[name] not in (None, "", ()), f"{name} is needed"
        if field.check is not None:
            field.check(values[name], values)
    return plan.act(Job(), {name: values[name] for name in shown})


def surely(plan: FormPlan, **given: Any) -> Any:
    """Fill in a form as ``fill_in`` does, and say of what its act asks about that it is so."""
    return fill_in(replace(plan, act=lambda job, values: plan.act(job, values | {"sure": True})), **given)


def state_of(shop: Shop, thing: Thing) -> ThingState:
    """How the store has it now."""
    with shop.store.reading() as session:
        return things_by_id(session, [thing])[thing]


def do(presenter: StoresPresenter, act: Act, *keys: Key, **given: Any) -> Any:
    """Open the form of an act on these and fill it in."""
    return fill_in(presenter.plan(act, keys), **given)


def made(shop: Shop, make: Callable[..., int], **how: Any) -> int:
    """Make a piece or a batch by one of the shop's own makers, in an act of its own."""
    with shop.store.writing() as session:
        return make(session, **how)


def shown_fields(plan: FormPlan, values: Mapping[str, Any]) -> set[str]:
    """The fields that have something to ask with these values."""
    everything: dict[str, Any] = {field.name: field.start for field in plan.fields}
    everything |= values
    return {f.name for f in plan.fields if f.shown_when is None or f.shown_when(everything)}
