"""Fit pieces into another on the bench, such as guides into a barrel; from then on they ride along."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from gui.views.searches import search_for
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.station_list import DrawnStation


def fit_inside_form(sitting: Sitting, engine_type: str, stations: Iterable[DrawnStation]) -> FormPlan:
    """The form for one holder; ``stations`` are those of the engine type that it is for."""
    drawn = tuple(stations)
    single = len({each.group for each in drawn}) == 1

    def act(job: Job, values: dict[str, Any]) -> int:
        fits = tuple(InsideFit(values["holder"], row["piece"], row["station"]) for row in values["fits"])
        with sitting.store.writing() as session:
            entry = fit_inside(session, fits, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Fit pieces into another on the bench, for the {engine_type}",
        fields=(
            Field(
                "holder",
                "Into",
                FieldKind.FIND,
                needed=True,
                find=search_for(sitting, ("piece",)),
                hint="The piece that holds them, such as a barrel; strip it first if it is fitted",
            ),
            Field(
                "fits",
                "What goes in",
                FieldKind.ROWS,
                needed=True,
                columns=(
                    Field(
                        "piece",
                        "Piece",
                        FieldKind.FIND,
                        needed=True,
                        find=search_for(sitting, ("piece",)),
                    ),
                    Field(
                        "station",
                        "It fills",
                        FieldKind.CHOICE,
                        needed=True,
                        choices=tuple(
                            Choice(each.station, each.name if single else f"{each.group} {each.name}")
                            for each in drawn
                        ),
                        hint="The station that it fills once the holder is fitted",
                    ),
                ),
                hint="A row for each piece; all of it goes in by one entry, or nothing",
            ),
            day_field(sitting, "Fitted on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"Fitted inside (entry {entry}).",
        save_word="Fit inside",
        said=lambda _values: (
            "They ride along wherever it goes. Whether each may go into an engine is judged as it is fitted."
        ),
    )
