"""Put in the limits of a fit between two stations, or a later revision of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.goods_in_fields import choices_of
from gui.views.held_where_fields import group_choices
from gui.views.reason_fields import by_of, reason_fields, set_last
from gui.views.searches import search_for
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.part_uses import PartFit
from invdb.acts.type_groups import TypeGroup
from invdb.rules.inspection_sheet import bounds_words
from invdb.rules.measuring import UNITS, Kind, read_measured
from invdb.terms import FieldRefused, FitKind, Refused

OUTER, INNER, FIGURES, SOURCE = "The outer part", "The inner part", "The clearance", "What publishes it"
LENGTHS = tuple(Choice(name, name) for name, unit in UNITS.items() if unit.kind is Kind.LENGTH)


def fit_limit_form(
    sitting: Sitting, part: Hit, groups: Sequence[TypeGroup], like: PartFit | None = None, last: str = ""
) -> FormPlan:
    """The form for the limits of a fit at the groups in which a part is used.

    ``like`` is a fit of which this is a later revision; ``last`` is who set that, in words.
    """
    if not groups:
        raise Refused(
            f"No kit list asks for {part.headline}, so it fits nothing yet.", "Add it to a kit list first."
        )

    def act(job: Job, values: dict[str, Any]) -> int:
        at = values["where"]
        limit = _limit(values, groups[at], at)
        with sitting.store.writing() as session:
            sure = bool(values.get("sure"))
            made = add_fit_limit(session, limit, by_of(sitting, values), sure)
            job.commit_begins()
        return made

    return FormPlan(
        title="A later revision of a fit" if like is not None else f"A fit of {part.headline} {part.detail}",
        fields=(
            *_what_fields(groups, like),
            *_end_fields(sitting, "outer", OUTER, groups, like),
            *_end_fields(sitting, "inner", INNER, groups, like),
            *_figure_fields(like),
            *_source_fields(sitting, like),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"The limits are in force from the day given (fit {made}).",
        save_word="Put it in",
        said=lambda values: " ".join(word for word in (set_last(last), said_of(values)) if word),
    )


def _what_fields(groups: Sequence[TypeGroup], like: PartFit | None) -> tuple[Field, ...]:
    own = [
        at
        for at, group in enumerate(groups)
        if like is not None and (group.type_name, group.group) == (like.engine_type, like.fit.group)
    ]
    where = own[0] if own else 0 if len(groups) == 1 else None
    terms = like.fit.terms if like is not None else None
    return (
        Field("where", "In", FieldKind.CHOICE, needed=True, start=where, choices=group_choices(groups)),
        Field("name", "Fit", needed=True, start=terms.name if terms is not None else "",
              hint="What it is called, such as piston in bore"),
        Field("kind", "How it comes about", FieldKind.CHOICE, needed=True, choices=choices_of(FitKind),
              start=terms.kind if terms is not None else FitKind.AS_FOUND),
        Field("operation", "Operation", needed=True, start=terms.operation if terms is not None else "",
              hint="What is done on assembly, such as ream to size",
              shown_when=lambda values: values.get("kind") is FitKind.MACHINED),
        Field("gap", "It is a gap of one part, measured in the other, such as a ring's", FieldKind.TICK,
              start=like is not None and like.fit.gap),
        Field("makes_matched", "What is fitted so stays together from then on", FieldKind.TICK,
              start=like is not None and like.fit.makes_matched),
    )  # fmt: skip


def _end_fields(
    sitting: Sitting, end: str, section: str, groups: Sequence[TypeGroup], like: PartFit | None
) -> tuple[Field, ...]:
    kept = None if like is None else getattr(like.fit, end)

    def measured(values: Values) -> bool:
        return end == "outer" or not values.get("gap")

    def station(at: int, group: TypeGroup) -> Field:
        return Field(
            f"{end} station {at}",
            "Station",
            FieldKind.CHOICE,
            needed=True,
            section=section,
            start=kept.station if kept is not None and kept.station in group.stations else None,
            choices=tuple(Choice(each, each) for each in group.stations),
            shown_when=lambda values: values.get("where") == at,
        )

    only = None
    if kept is not None and kept.part is not None:
        only = Hit(kept.part_number, "", "part", kept.part)
    return (
        *(station(at, group) for at, group in enumerate(groups)),
        Field(f"{end}_name", "Its dimension", needed=True, section=section, shown_when=measured,
              start=kept.name if kept is not None else "",
              hint="As the line of its specification is called, such as bore"),
        Field(f"{end}_point", "At", section=section, shown_when=measured,
              start=kept.point if kept is not None else "",
              hint="The point where it is measured; empty for all of them"),
        Field(f"{end}_part", "Only of", FieldKind.FIND, section=section, start=only,
              find=search_for(sitting, ("part",)), hint="Empty for every part that is fitted there"),
    )  # fmt: skip


def _figure_fields(like: PartFit | None) -> tuple[Field, ...]:
    terms = like.fit.terms if like is not None else None

    def check(name: str) -> Any:
        def checked(written: str, values: Values) -> None:
            if written and values.get("unit"):
                signed = not values.get("gap")
                # A comma is asked about when it is put in.
                measured = read_measured(written, values["unit"], name, signed=signed, sure=True)
                if measured.unit != values["unit"]:
                    raise FieldRefused(
                        name,
                        f"{written!r} is in {measured.unit}, and the fit in {values['unit']}.",
                        "Give all of it in one unit.",
                    )

        return checked

    def figure(name: str, word: str, start: str | None, hint: str, *, needed: bool = False) -> Field:
        return Field(name, word, FieldKind.QUANTITY, needed=needed, start=start, section=FIGURES, hint=hint,
                     check=check(name))  # fmt: skip

    return (
        Field("unit", "In", FieldKind.CHOICE, needed=True, section=FIGURES, choices=LENGTHS,
              start=terms.unit if terms is not None else None, hint="The unit of the publication"),
        figure("low", "Least", terms.low if terms is not None else None,
               "New; below zero for an interference", needed=True),
        figure("high", "Most", terms.high if terms is not None else None, "New", needed=True),
        figure("worn_high", "Most when worn", terms.worn_high if terms is not None else None,
               "Empty where no worn limit is published"),
        figure("target", "Target", terms.target if terms is not None else None,
               "What is best, within the new limits; empty for their middle"),
    )  # fmt: skip


def _source_fields(sitting: Sitting, like: PartFit | None) -> tuple[Field, ...]:
    fit = like.fit if like is not None else None
    return (
        Field("source", "Publication", section=SOURCE, start=fit.source if fit is not None else "",
              hint="It or its document is needed"),
        Field("revision", "Revision", section=SOURCE, start=""),
        Field("document", "Its document", FieldKind.FIND, section=SOURCE,
              find=search_for(sitting, ("document",))),
        Field("from_on", "In force from", FieldKind.DATE, needed=True, section=SOURCE,
              start=sitting.today()),
    )  # fmt: skip


def _limit(values: dict[str, Any], group: TypeGroup, at: int) -> NewFitLimit:
    return NewFitLimit(
        group.engine_type,
        group.group,
        values["name"],
        values["kind"],
        values[f"outer station {at}"],
        values["outer_name"],
        values[f"inner station {at}"],
        values.get("inner_name", ""),
        values["unit"],
        values["low"],
        values["high"],
        values["source"],
        values["worn_high"] or None,
        values["target"] or None,
        values["outer_point"],
        values["outer_part"],
        values.get("inner_point", ""),
        values["inner_part"],
        values["gap"],
        values.get("operation", ""),
        values["makes_matched"],
        values["revision"],
        values["document"],
        values["from_on"],
    )


def said_of(values: Values) -> str:
    """The limits as typed by now and the other way, "" where they can't be read yet."""
    unit, low, high = values.get("unit"), values.get("low"), values.get("high")
    if not unit or not low or not high:
        return ""
    try:
        least, most = (read_measured(text, unit, signed=True).text for text in (low, high))
    except Refused:
        return ""
    published, other = bounds_words(least, most, unit)
    return f"{published} ({other})." if other else f"{published}."
