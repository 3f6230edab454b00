"""Record what stock cost that is here already."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views import goods_in_checks as check
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from invdb.acts.stock_cost import NewCost, give_cost
from invdb.acts.stock_value import PartValue
from invdb.rules.money import PRICED_BY
from invdb.rules.quantities import quantity_words


def cost_form(sitting: Sitting, value: PartValue) -> FormPlan:
    """The form to give all of a part in our stock that has no known cost one."""

    def act(job: Job, values: dict[str, Any]) -> int:
        cost = check.cost_of(values["cost"], bool(values.get("sure")))
        assert cost is not None, "it is needed"
        with sitting.store.writing() as session:
            new = NewCost(value.part, cost, values["source"])
            entry = give_cost(session, new, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    much = quantity_words(value.uncosted, value.measure)
    return FormPlan(
        title=f"What {value.part_number} {value.part_name} cost",
        fields=(
            Field("cost", f"Cost {PRICED_BY[value.measure]}", FieldKind.QUANTITY, needed=True,
                  unit="12.50 GBP", check=check.cost),
            Field("source", "Shown by", needed=True, hint="The invoice or the letter"),
            remark_field(),
            day_field(sitting, "Recorded on"),
        ),
        act=act,
        told=lambda entry: f"The cost of {much} is on record (entry {entry}).",
        save_word="Record it",
        said=lambda _values: f"It holds for the {much} in our stock of which no cost is known.",
    )  # fmt: skip
