"""Choose from which chance on a part is watched and short, how far the board looks, and the usual days."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import read_count
from invdb.acts.short_facts import ShortSettings
from invdb.acts.short_settings import set_short_settings

NO_RECORD = "Where a firm has no record of its own yet"
# The field, its word, what stands behind the figure, and its hint; in the order of the form.
FIGURES = (
    ("watch_percent", "To watch from", "% chance of running short on", "", ""),
    ("short_percent", "Short from", "% chance of running short on", "", ""),
    ("horizon_months", "Look ahead", "months", "", "How far the board, the plans and the advice look"),
    ("lead_days", "It delivers in", "days", NO_RECORD, "What an order is taken to need"),
    ("turn_round_days", "Work comes back in", "days", NO_RECORD, "What work on a piece is taken to need"),
)  # fmt: skip


def short_settings_form(sitting: Sitting, now: ShortSettings) -> FormPlan:
    """The form, begun with what is chosen now."""

    def act(job: Job, values: dict[str, Any]) -> int:
        chosen = ShortSettings(**{name: read_count(values[name], name) for name, *_ in FIGURES})
        with sitting.store.writing() as session:
            entry = set_short_settings(session, chosen, sitting.by())
            job.commit_begins()
        return entry

    return FormPlan(
        title="Choose when a part counts as short",
        fields=tuple(
            Field(
                name,
                word,
                FieldKind.QUANTITY,
                needed=True,
                start=str(getattr(now, name)),
                unit=unit,
                section=section,
                hint=hint,
                check=_count_of(name),
            )
            for name, word, unit, section, hint in FIGURES
        ),
        act=act,
        told=lambda entry: f"The board goes by the new figures from now on (entry {entry}).",
        save_word="Choose it",
        said=lambda _values: "It holds for the whole shop: the board, the shortage list and the advice.",
    )


def _count_of(name: str) -> Any:
    def check(written: str, _values: Values) -> None:
        read_count(written, name)

    return check
