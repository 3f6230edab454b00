"""Strip things from an engine: a station, a few, a whole position or the whole engine, in one act."""

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
from invdb.acts.offers import PlaceOffer
from invdb.acts.running import LogAt
from invdb.acts.strip import Strip, StripOrder, Stripped, strip
from invdb.acts.things import ThingState
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import Condition, LifeControl, Refused

CONDITIONS = (
    Choice(Condition.UNINSPECTED, "uninspected: to be looked at"),
    Choice(Condition.UNSERVICEABLE, "unserviceable: can be brought back"),
    Choice(Condition.UNSALVAGEABLE, "unsalvageable: cannot"),
)
CONTROLS = tuple(Choice(control, str(control)) for control in LifeControl)
NAMED_MAX = 4
LISTED_MAX = 12


@dataclass(frozen=True)
class ToStrip:
    """A thing that is fitted, at which station, how much of it there, and the place that the station is.

    ``renewed`` is whether its kit line is renewed always; ``limited`` whether its life is limited.
    ``hazards`` say what can hurt whoever takes it off, each with its caution.
    """

    state: ThingState
    station: str
    quantity: int
    place: int | None
    renewed: bool
    limited: bool
    hazards: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """Its tag and where it is."""
        return f"{self.state.tag}, {self.station}"


@dataclass(frozen=True)
class StripPlaces:
    """Where what is stripped goes if nothing else is said: the bench, and what is thrown away the drum."""

    bench: PlaceOffer | None
    scrap: PlaceOffer | None


def strip_form(
    sitting: Sitting, log: LogAt, where: str, things: Sequence[ToStrip], places: StripPlaces
) -> FormPlan:
    """The form to strip these; ``where`` names the position or the engine they come out of."""
    if not things:
        raise Refused(f"Nothing that could be stripped is recorded at {where}.", "Choose a filled station.")
    single = things[0] if len(things) == 1 else None
    renewed = [each for each in things if each.renewed]

    def act(job: Job, values: dict[str, Any]) -> Stripped:
        reading, use = reading_of(values)
        order = StripOrder(
            log.engine,
            tuple(_strip(each, _own(at, values), values) for at, each in enumerate(things)),
            reading,
            use,
            values.get("sure", False),
        )
        with sitting.store.writing() as session:
            made = strip(session, order, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Strip {with_part(things)} from {where}",
        fields=(
            Field("found", "As found", FieldKind.LINES, needed=True, hint="What each looked like"),
            Field(
                "condition",
                "Condition",
                FieldKind.CHOICE,
                needed=True,
                start=Condition.UNINSPECTED,
                choices=CONDITIONS,
                hint="What is stripped becomes serviceable by being accepted, later",
            ),
            *(_single_fields(single) if single is not None else (_otherwise_field(things),)),
            *control_fields(things),
            place_field(sitting, "to_place", "Goes to", needed=True, start=place_hit(places.bench)),
            *_renewed_fields(sitting, renewed, places),
            *meter_fields(log),
            day_field(sitting, "Stripped on"),
            remark_field(),
        ),
        act=act,
        told=lambda made: _told(things, made),
        save_word="Strip",
        said=lambda _values: "\n".join(part for part in (_cautions(things), _listed(things)) if part),
    )


def named(things: Sequence[ToStrip]) -> str:
    """The tags, or how many things there are where they would be too many to read."""
    tags = list(dict.fromkeys(each.state.tag for each in things))
    return ", ".join(tags) if len(tags) <= NAMED_MAX else f"{len(things)} things"


def with_part(things: Sequence[ToStrip]) -> str:
    """What comes out as a title names it: with the part, where it is one."""
    parts = {each.state.part_name for each in things}
    return f"{named(things)} ({parts.pop()})" if len(parts) == 1 else named(things)


def _single_fields(thing: ToStrip) -> tuple[Field, ...]:
    orientation = Field(
        "orientation", "How it sat", hint="Which way round, if that matters: mark to the front"
    )
    if thing.state.thing.piece is not None:
        return (orientation,)

    def check(written: str, _values: Values) -> None:
        if written:
            read_quantity(written, thing.state.measure)

    there = quantity_words(thing.quantity, thing.state.measure)
    much = Field(
        "quantity", "How much", FieldKind.QUANTITY, unit=f"of {there} there; empty for all of it", check=check
    )
    return (much, orientation)


def _otherwise_field(things: Sequence[ToStrip]) -> Field:
    return Field(
        "otherwise",
        "But for these",
        FieldKind.ROWS,
        columns=(
            Field(
                "thing",
                "But for",
                FieldKind.CHOICE,
                needed=True,
                choices=tuple(Choice(at, each.words) for at, each in enumerate(things)),
            ),
            Field("condition", "Condition", FieldKind.CHOICE, choices=CONDITIONS),
            Field("found", "As found"),
        ),
        hint="A row for each that was found otherwise; what is left empty is as above",
    )


def control_fields(things: Sequence[ToStrip]) -> tuple[Field, ...]:
    """How those of them that are life-limited are kept from being fitted past it; nothing where none is."""
    limited = [each for each in things if each.limited]
    if not limited:
        return ()
    are = "is" if len(limited) == 1 else "are"
    return (
        Field(
            "control",
            "Limit kept by",
            FieldKind.CHOICE,
            needed=True,
            choices=CONTROLS,
            hint=f"How {named(limited)}, which {are} life-limited, {are} kept from being fitted past the"
            " limit (14 CFR 43.10)",
        ),
    )


def _renewed_fields(sitting: Sitting, renewed: Sequence[ToStrip], places: StripPlaces) -> tuple[Field, ...]:
    if not renewed:
        return ()
    return (
        Field(
            "scrapped",
            f"Throw away untagged what is always renewed: {named(renewed)}",
            FieldKind.TICK,
            start=True,
        ),
        place_field(
            sitting,
            "scrap_place",
            "Thrown into",
            needed=True,
            start=place_hit(places.scrap),
        ),
    )


def _strip(each: ToStrip, own: Values, values: Values) -> Strip:
    """One thing by what is said of all, but for what is said of it alone."""
    thrown = each.renewed and bool(values.get("scrapped"))
    written = values.get("quantity")
    return Strip(
        each.state.thing,
        own.get("found") or values["found"],
        values["scrap_place"] if thrown else values["to_place"],
        own.get("condition") or values["condition"],
        values.get("orientation", ""),
        values.get("control") if each.limited else None,
        read_quantity(written, each.state.measure) if written else None,
        each.place,
        thrown,
    )


def _own(at: int, values: Values) -> Values:
    """The row that says how the thing at that place was found otherwise, or nothing."""
    return next((row for row in values.get("otherwise") or () if row["thing"] == at), {})


def place_hit(place: PlaceOffer | None) -> Hit | None:
    """A place as a field begins with it."""
    return Hit(place.name, place.inside, "place", place.id) if place is not None else None


def _cautions(things: Sequence[ToStrip]) -> str:
    told = sorted({f"{each.state.part_name}: {words}" for each in things for words in each.hazards})
    return f"⚠ Mind: {'; '.join(told)}" if told else ""


def _listed(things: Sequence[ToStrip]) -> str:
    """What comes out, thing by thing, where the title only counts them."""
    tags = {each.state.tag for each in things}
    if len(tags) <= NAMED_MAX:
        return ""
    more = f"; and {len(things) - LISTED_MAX} more" if len(things) > LISTED_MAX else ""
    return f"{'; '.join(each.words for each in things[:LISTED_MAX])}{more}."


def _told(things: Sequence[ToStrip], made: Stripped) -> str:
    tags = f"; split off as {', '.join(made.new_tags)}" if made.new_tags else ""
    are = "is" if len(things) == 1 else "are"
    return f"{named(things)} {are} stripped (entry {made.entry}){tags}."
