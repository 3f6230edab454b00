"""Rob an engine of pieces that another needs: stripped, owed back, and on whose word."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import meter_fields, reading_of
from gui.views.place_fields import place_field
from gui.views.strip_form import StripPlaces, ToStrip, control_fields, named, place_hit, with_part
from invdb.acts.engine_list import ListedEngine
from invdb.acts.offers import PersonOffer
from invdb.acts.rob import Robbery, rob
from invdb.acts.running import LogAt
from invdb.acts.strip import Stripped
from invdb.terms import Refused


def rob_form(
    sitting: Sitting,
    log: LogAt,
    things: Sequence[ToStrip],
    engines: Sequence[ListedEngine],
    people: Sequence[PersonOffer],
    places: StripPlaces,
) -> FormPlan:
    """The form to rob the engine of these for one of the other ``engines``."""
    others = [engine for engine in engines if engine.engine != log.engine]
    if not things:
        raise Refused("Nothing is chosen that could be robbed.", "Choose a filled station first.")
    if not others:
        raise Refused("There is no other engine that it could be for.", "Strip it instead.")
    limited = any(each.limited for each in things)

    def act(job: Job, values: dict[str, Any]) -> Stripped:
        reading, use = reading_of(values)
        robbery = Robbery(
            log.engine,
            tuple(each.state.thing for each in things),
            values["to_place"],
            values["authorised_by"],
            values["for_engine"],
            values["reason"],
            reading,
            values["found"],
            values.get("control") if limited else None,
            use,
            values.get("sure", False),
        )
        with sitting.store.writing() as session:
            made = rob(session, robbery, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Rob {log.name} of {with_part(things)}",
        fields=(
            Field(
                "for_engine",
                "For",
                FieldKind.CHOICE,
                needed=True,
                choices=tuple(Choice(each.engine, f"{each.name} · {each.use}") for each in others),
            ),
            Field(
                "authorised_by",
                "Authorised by",
                FieldKind.CHOICE,
                needed=True,
                start=sitting.person,
                choices=tuple(Choice(each.id, each.name) for each in people),
            ),
            Field("reason", "Why", FieldKind.LINES, needed=True),
            Field("found", "As found", start="robbed, not looked at"),
            *control_fields(things),
            place_field(sitting, "to_place", "Goes to", needed=True, start=place_hit(places.bench)),
            *meter_fields(log),
            day_field(sitting, "Robbed on"),
        ),
        act=act,
        told=lambda made: (
            f"{log.name} is robbed of {named(things)} and is owed it back (entry {made.entry})."
        ),
        save_word="Rob it",
        said=lambda _values: f"It comes out uninspected, and {log.name} is incomplete until it is repaid.",
    )
