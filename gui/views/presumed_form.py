"""Stations of an engine with no build record: presume them filled, and say what came out of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import meter_fields, reading_of
from gui.views.place_fields import place_field
from gui.views.searches import search_for
from gui.views.strip_form import CONDITIONS, CONTROLS, StripPlaces, place_hit
from invdb.acts.presume import Identified, Unidentified, presume, strip_presumed
from invdb.acts.running import LogAt
from invdb.rules.build import BuiltPosition, Presumed
from invdb.terms import Condition

# In the place of a position's id.
WHOLE = 0


@dataclass(frozen=True)
class PresumedAt:
    """What is presumed at a station, by the station's name."""

    station: str
    presumed: Presumed


def presume_form(sitting: Sitting, engine: int, name: str, position: BuiltPosition | None) -> FormPlan:
    """The form to presume what nobody has seen: at a position's stations, or at those of the whole engine."""
    own = (Choice(position.position, f"{position.group} {position.name} alone"),) if position else ()

    def act(job: Job, values: dict[str, Any]) -> int:
        positions = (values["where"],) if values["where"] != WHOLE else ()
        with sitting.store.writing() as session:
            count = presume(session, engine, sitting.by(values["happened_on"], values["note"]), positions)
            job.commit_begins()
        return count

    return FormPlan(
        title=f"Presume what is in {name}",
        fields=(
            Field(
                "where",
                "Presumed",
                FieldKind.CHOICE,
                needed=True,
                start=position.position if position is not None else WHOLE,
                choices=(*own, Choice(WHOLE, f"every station of {name}")),
            ),
            day_field(sitting, "Presumed on"),
            remark_field(),
        ),
        act=act,
        told=lambda count: f"{count} station{'s are' if count != 1 else ' is'} presumed, unidentified.",
        save_word="Presume it",
        said=lambda _values: (
            "What its kit list leads one to expect is presumed at every station that nothing is known of,"
            " and shown as unidentified until it is stripped."
        ),
    )


def identify_form(
    sitting: Sitting, log: LogAt, where: str, presumed: Sequence[PresumedAt], places: StripPlaces
) -> FormPlan:
    """The form to strip stations that were presumed filled: what came out of each, or that it was empty."""
    by_id = {each.presumed.presumption: each for each in presumed}

    def act(job: Job, values: dict[str, Any]) -> Identified:
        reading, use = reading_of(values)
        with sitting.store.writing() as session:
            made = strip_presumed(
                session,
                log.engine,
                tuple(_find(row, values) for row in values["finds"]),
                reading,
                sitting.by(values["happened_on"], values["note"]),
                use=use,
                sure=values.get("sure", False),
            )
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Strip what was presumed at {where}",
        fields=(
            Field("found", "As found", FieldKind.LINES, hint="What each looked like whose row does not say"),
            Field(
                "finds",
                "What came out",
                FieldKind.ROWS,
                needed=True,
                start=tuple(_row(each) for each in presumed),
                columns=(
                    Field(
                        "presumption",
                        "Out of",
                        FieldKind.CHOICE,
                        needed=True,
                        choices=tuple(Choice(key, each.station) for key, each in by_id.items()),
                    ),
                    Field(
                        "part",
                        "Part",
                        FieldKind.FIND,
                        find=search_for(sitting, ("part",)),
                        hint="It may turn out to be another than was presumed; empty if nothing was there",
                    ),
                    Field("serial", "Serial"),
                    Field("found", "As found", hint="Empty for what is said of all"),
                ),
                hint="A row for each station; each piece gets a tag",
            ),
            Field(
                "condition",
                "Condition",
                FieldKind.CHOICE,
                needed=True,
                start=Condition.UNINSPECTED,
                choices=CONDITIONS,
            ),
            Field(
                "control",
                "Limit kept by",
                FieldKind.CHOICE,
                choices=CONTROLS,
                hint="Needed where a part is life-limited (14 CFR 43.10)",
            ),
            place_field(sitting, "to_place", "Goes to", needed=True, start=place_hit(places.bench)),
            *meter_fields(log),
            day_field(sitting, "Stripped on"),
            remark_field(),
        ),
        act=act,
        told=_told,
        save_word="Strip",
    )


def _row(each: PresumedAt) -> dict[str, Any]:
    presumed = each.presumed
    part = Hit(presumed.part_number, presumed.part_name, "part", presumed.part)
    return {"presumption": presumed.presumption, "part": part}


def _find(row: Values, values: Values) -> Unidentified:
    return Unidentified(
        row["presumption"],
        row["found"].strip() or values["found"],
        row["part"],
        values["to_place"] if row["part"] is not None else None,
        row["serial"],
        values["condition"],
        control=values["control"],
    )


def _told(made: Identified) -> str:
    tags = ", ".join(tag for _thing, tag in made.things)
    return (
        f"Stripped and tagged as {tags} (entry {made.entry})."
        if tags
        else (f"Found empty (entry {made.entry}).")
    )
