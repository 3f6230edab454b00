"""Put in a set of masses that must agree: those of pistons and rods, as an engine type matches them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.held_where_fields import group_choices
from gui.views.reason_fields import by_of, reason_fields
from invdb.acts.balance import NewBalanceSet, add_balance_set
from invdb.acts.type_groups import TypeGroup
from invdb.rules.measuring import UNITS, Kind, both_ways, read_measured
from invdb.rules.specification import SpecLineFacts
from invdb.terms import BalanceKind, FieldRefused, Refused

COUNTED, FIGURES, SOURCE = "What is added up at each position", "How they agree", "What publishes it"
UNIT_CHOICES = tuple(Choice(name, name) for name, unit in UNITS.items() if unit.kind is Kind.MASS)
KINDS = (
    Choice(BalanceKind.SET, "as one set: they agree with one another"),
    Choice(BalanceKind.AGAINST, "against a mass: each agrees with a given one"),
    Choice(BalanceKind.ENDS, "end for end: one end of each rod, weighed by itself"),
)


def balance_set_form(
    sitting: Sitting,
    part: Hit,
    groups: Sequence[TypeGroup],
    stations: Collection[tuple[str, str, str]],
    mass: SpecLineFacts | None = None,
) -> FormPlan:
    """The form for a set of masses in the groups where a part is used.

    ``stations`` are where it is used, each by the names of the engine type, the group and the station;
    ``mass`` is the line of its specification that is offered to be counted.
    """
    if not groups:
        raise Refused(
            f"No kit list asks for {part.headline}, so its mass counts nowhere yet.",
            "Add it to a kit list first.",
        )

    def act(job: Job, values: dict[str, Any]) -> int:
        at = values["where"]
        balance = NewBalanceSet(
            groups[at].engine_type,
            groups[at].group,
            values["name"],
            values["kind"],
            values["unit"],
            values["spread"],
            tuple((row["station"], row["mass"]) for row in values[masses_field(at)]),
            values["source"],
            values["positions"] or None,
            values.get("target"),
        )
        with fields_renamed(masses=masses_field(at)), sitting.store.writing() as session:
            made = add_balance_set(session, balance, by_of(sitting, values), bool(values.get("sure")))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Masses that must agree with those of {part.headline} {part.detail}",
        fields=(
            Field("where", "In", FieldKind.CHOICE, needed=True, start=0 if len(groups) == 1 else None,
                  choices=group_choices(groups)),
            Field("name", "Set", needed=True, hint="What it is called, such as link rods and pistons"),
            Field("kind", "Matched", FieldKind.CHOICE, needed=True, start=BalanceKind.SET, choices=KINDS),
            Field("positions", "Positions", hint="Such as 2, 3, 4; empty for all of the group"),
            *(_masses(at, group, stations, mass) for at, group in enumerate(groups)),
            *_figure_fields(mass.unit if mass is not None else None),
            Field("source", "Publication", needed=True, section=SOURCE, hint="What publishes the set"),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"Kits keep to it from now on (set of masses {made}).",
        save_word="Put it in",
        said=said_of,
    )  # fmt: skip


def masses_field(at: int) -> str:
    """The name of the field that asks what counts in the group at that place."""
    return f"masses {at}"


def _masses(
    at: int, group: TypeGroup, stations: Collection[tuple[str, str, str]], mass: SpecLineFacts | None
) -> Field:
    own = [name for name in group.stations if (group.type_name, group.group, name) in stations]
    start = {"station": own[0], "mass": mass.name if mass is not None else ""} if own else None
    return Field(
        masses_field(at),
        "Masses",
        FieldKind.ROWS,
        needed=True,
        section=COUNTED,
        start=(start,) if start is not None else (),
        columns=(
            Field("station", "At the", FieldKind.CHOICE, needed=True,
                  choices=tuple(Choice(name, name) for name in group.stations)),
            Field("mass", "Its mass", needed=True,
                  hint="As the line of its specification is called, such as small end mass"),
        ),
        shown_when=lambda values: values.get("where") == at,
    )  # fmt: skip


def _figure_fields(unit: str | None) -> tuple[Field, ...]:
    def check(name: str) -> Any:
        def checked(written: str, values: Values) -> None:
            if written and values.get("unit"):
                # A comma is asked about when it is put in.
                measured = read_measured(written, values["unit"], name, sure=True)
                if measured.unit != values["unit"]:
                    raise FieldRefused(
                        name,
                        f"{written!r} is in {measured.unit}, and the set in {values['unit']}.",
                        "Give all of it in one unit.",
                    )

        return checked

    return (
        Field("unit", "In", FieldKind.CHOICE, needed=True, section=FIGURES, choices=UNIT_CHOICES, start=unit,
              hint="The unit of the publication"),
        Field("target", "Mass", FieldKind.QUANTITY, needed=True, section=FIGURES, check=check("target"),
              hint="What each is set against, such as the counterweight's share",
              shown_when=lambda values: values.get("kind") is BalanceKind.AGAINST),
        Field("spread", "Spread, most", FieldKind.QUANTITY, needed=True, section=FIGURES,
              check=check("spread"),
              hint="How far they may be from one another, or from the mass that they are set against"),
    )  # fmt: skip


def said_of(values: Values) -> str:
    """How the masses agree, with the figures both ways; "" where they can't be read yet."""
    unit, spread = values.get("unit"), values.get("spread")
    against = values.get("kind") is BalanceKind.AGAINST
    target = values.get("target") if against else None
    if not unit or not spread or (against and not target):
        return ""
    try:
        within = both_ways(read_measured(spread, unit))
        if target:
            return f"Each within {within} of {both_ways(read_measured(target, unit))}."
    except Refused:
        return ""
    return f"At most {within} from the lightest to the heaviest."
