"""Add a part to the catalogue, change what is said of it, and give it another number or a hazard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views import goods_in_checks as check
from gui.views.form_plan import FormPlan
from gui.views.goods_in_fields import choices_of
from gui.views.meter_fields import hours_figure, read_hours
from gui.views.reason_fields import by_of, reason_fields, set_last
from gui.views.searches import search_for
from invdb.acts.catalogue import NewOtherNumber, NewPart, add_family, add_part
from invdb.acts.offers import FamilyOffer, PartDetails
from invdb.acts.part_edit import add_hazard, add_number, change_caution, correct_number, edit_part
from invdb.acts.part_page import HazardFacts, NumberFacts, PartPage
from invdb.terms import Hazard, Measure, Tracking

NEW_FAMILY = "new"
NUMBER_KINDS = ("maker's", "dealer's", "drawing")
BEING, KEPT = "What it is", "How it is held"


@dataclass(frozen=True)
class PartAdded:
    """A part that was added, by its id."""

    part: int


def add_part_form(sitting: Sitting, families: Sequence[FamilyOffer]) -> FormPlan:
    """The form for a new part, with a new family for it if it needs one."""

    def act(job: Job, values: dict[str, Any]) -> PartAdded:
        by = by_of(sitting, values)
        with sitting.store.writing() as session:
            family = values["family"]
            if family == NEW_FAMILY:
                family = add_family(session, values["letters"], values["family_name"], by)
            made = add_part(session, _new_part(values, family), by)
            job.commit_begins()
        return PartAdded(made)

    offered = (
        *(Choice(each.id, f"{each.letters}  {each.name}") for each in families),
        Choice(NEW_FAMILY, "a new family …"),
    )
    return FormPlan(
        title="Add a part",
        fields=(
            Field("family", "Family", FieldKind.CHOICE, needed=True, choices=offered, section=BEING,
                  hint="Its letters begin the house number"),
            Field("letters", "Its letters", needed=True, section=BEING, hint="Two to four letters",
                  shown_when=_adds_family),
            Field("family_name", "Its name", needed=True, section=BEING, shown_when=_adds_family),
            *_name_fields(),
            Field("house_number", "House number", kept=False, section=BEING,
                  hint="One that it has already; empty for the next of its family"),
            Field("number", "Other number", kept=False, section=BEING,
                  hint="The maker's, a dealer's or the drawing's; more can be added afterwards"),
            Field("number_kind", "Its kind", FieldKind.CHOICE, needed=True, start=NUMBER_KINDS[0],
                  section=BEING, choices=tuple(Choice(kind, kind) for kind in NUMBER_KINDS),
                  shown_when=lambda values: bool(values.get("number"))),
            Field("tracking", "Held as", FieldKind.CHOICE, needed=True, section=KEPT,
                  choices=(Choice(Tracking.PIECE, "single pieces, each with a tag"),
                           Choice(Tracking.BATCH, "batches, by number, length or weight")),
                  hint="Life-limited and critical parts are always single pieces"),
            Field("measure", "Measured by", FieldKind.CHOICE, needed=True, start=Measure.COUNT, section=KEPT,
                  choices=choices_of(Measure),
                  shown_when=lambda values: values.get("tracking") is Tracking.BATCH),
            *_class_fields(lambda values: values.get("tracking") is Tracking.PIECE),
            Field("hazards", "Hazards", FieldKind.TICKS, choices=choices_of(Hazard), section=KEPT,
                  hint="What can hurt a person who handles it; cautions can be added afterwards"),
            *reason_fields(sitting, needed=False),
        ),
        act=act,
        told=lambda _made: "The part is in the catalogue. Its page is shown beside the list.",
        save_word="Add it",
    )  # fmt: skip


def _adds_family(values: Values) -> bool:
    return values.get("family") == NEW_FAMILY


def _name_fields(name: str = "", note: str = "") -> tuple[Field, ...]:
    return (
        Field("name", "Name", needed=True, start=name, kept=False, section=BEING,
              hint="As it is called in the trade"),
        Field("note", "Note", FieldKind.LINES, start=note, kept=False, section=BEING),
    )  # fmt: skip


def _class_fields(is_piece: Any, own: PartDetails | None = None, page: PartPage | None = None) -> Any:
    hours = own.life_limit_hours if own is not None else None
    months = own.shelf_life_months if own is not None else None
    return (
        Field("critical", "It is critical: its failure endangers the engine", FieldKind.TICK, section=KEPT,
              start=own is not None and own.critical, shown_when=is_piece),
        Field("life_limit_hours", "Life limit", FieldKind.QUANTITY, unit="hours since new", section=KEPT,
              start=hours_figure(hours) if hours is not None else None, check=check.life_limit,
              shown_when=is_piece, hint="Limits by engine type, by starts or by months are set apart"),
        Field("shelf_life_months", "Shelf life", FieldKind.QUANTITY, unit="months", check=check.months,
              start=str(months) if months is not None else None, section=KEPT),
        Field("size_class", "Its own size", section=KEPT, start=page.size_class if page is not None else "",
              hint="Such as 0.25 mm oversize; empty for standard"),
        Field("finish", "Its own finish", section=KEPT, start=page.finish if page is not None else "",
              hint="Such as chromium plated; empty for plain"),
    )  # fmt: skip


def _new_part(values: dict[str, Any], family: int) -> NewPart:
    number = values["number"]
    return NewPart(
        family,
        values["name"],
        values["tracking"],
        values.get("measure") or Measure.COUNT,
        values["house_number"] or None,
        critical=bool(values.get("critical")),
        life_limit_hours=_limit(values),
        shelf_life_months=_months(values),
        size_class=values["size_class"],
        finish=values["finish"],
        other_numbers=(NewOtherNumber(number, values["number_kind"]),) if number else (),
        hazards=tuple((hazard, "") for hazard in Hazard if hazard in values["hazards"]),
        note=values["note"],
    )


def _limit(values: dict[str, Any]) -> int | None:
    written = values.get("life_limit_hours") or ""
    return read_hours(written, "life_limit_hours") if written else None


def _months(values: dict[str, Any]) -> int | None:
    written = values["shelf_life_months"]
    return int(written) if written else None


def change_part_form(sitting: Sitting, page: PartPage, own: PartDetails, last: str) -> FormPlan:
    """The form to change what is said of a part; ``last`` is who set it last, in words."""
    is_piece = own.tracking is Tracking.PIECE
    before = {
        "name": own.name,
        "note": own.note,
        "critical": own.critical,
        "life_limited": own.life_limited,
        "life_limit_hours": own.life_limit_hours,
        "shelf_life_months": own.shelf_life_months,
        "size_class": page.size_class,
        "finish": page.finish,
    }

    def act(job: Job, values: dict[str, Any]) -> int:
        now = {
            "name": values["name"],
            "note": values["note"],
            "critical": bool(values.get("critical")),
            "life_limited": bool(values.get("life_limited")),
            "life_limit_hours": _limit(values),
            "shelf_life_months": _months(values),
            "size_class": values["size_class"],
            "finish": values["finish"],
        }
        if now["life_limit_hours"] is not None:
            now["life_limited"] = True
        changes = {name: value for name, value in now.items() if value != before[name]}
        with sitting.store.writing() as session:
            sure = bool(values.get("sure"))
            entry = edit_part(session, page.part, page.entry, changes, by_of(sitting, values), sure)
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Change {page.house_number} {page.name}",
        fields=(
            *_name_fields(own.name, own.note),
            Field("life_limited", "It is life-limited", FieldKind.TICK, start=own.life_limited, section=KEPT,
                  shown_when=lambda _values: is_piece),
            *_class_fields(lambda _values: is_piece, own, page),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda entry: f"{page.house_number} is changed (entry {entry}).",
        save_word="Change it",
        said=lambda _values: set_last(last),
    )  # fmt: skip


def number_form(sitting: Sitting, page: PartPage) -> FormPlan:
    """The form for another number by which the part is known."""

    def act(job: Job, values: dict[str, Any]) -> int:
        number = NewOtherNumber(values["number"], values["kind"], values["firm"])
        with sitting.store.writing() as session:
            made = add_number(session, page.part, number, by_of(sitting, values))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Another number of {page.house_number} {page.name}",
        fields=(
            *_number_fields(sitting),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda _made: f"{page.house_number} can be found by that number too.",
        save_word="Add it",
        another=True,
    )


def correct_number_form(
    sitting: Sitting, page: PartPage, number: NumberFacts, firm: Hit | None, last: str
) -> FormPlan:
    """The form to correct a number that was written wrongly; ``firm`` is whose it is now."""

    def act(job: Job, values: dict[str, Any]) -> int:
        corrected = NewOtherNumber(values["number"], values["kind"], values["firm"])
        with sitting.store.writing() as session:
            entry = correct_number(session, number.id, number.entry, corrected, by_of(sitting, values))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Correct the number {number.number} of {page.house_number}",
        fields=(*_number_fields(sitting, number, firm), *reason_fields(sitting)),
        act=act,
        told=lambda entry: f"The number is corrected (entry {entry}).",
        save_word="Correct it",
        said=lambda _values: set_last(last),
    )


def _number_fields(
    sitting: Sitting, number: NumberFacts | None = None, firm: Hit | None = None
) -> tuple[Field, ...]:
    kinds = dict.fromkeys([*NUMBER_KINDS, *([number.kind] if number is not None else [])])
    return (
        Field("number", "Number", needed=True, kept=False, start=number.number if number is not None else "",
              hint="As it stands on the part, on its papers or in the dealer's list"),
        Field("kind", "Kind", FieldKind.CHOICE, needed=True,
              start=number.kind if number is not None else NUMBER_KINDS[0],
              choices=tuple(Choice(kind, kind) for kind in kinds)),
        Field("firm", "Whose", FieldKind.FIND, start=firm, find=search_for(sitting, ("firm",)),
              hint="The firm that calls it so"),
    )  # fmt: skip


def hazard_form(sitting: Sitting, page: PartPage) -> FormPlan:
    """The form for a hazard of a part."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = by_of(sitting, values)
            made = add_hazard(session, page.part, values["hazard"], values["caution"], by)
            job.commit_begins()
        return made

    known = {each.hazard for each in page.hazards}
    return FormPlan(
        title=f"A hazard of {page.house_number} {page.name}",
        fields=(
            Field("hazard", "Hazard", FieldKind.CHOICE, needed=True,
                  choices=tuple(Choice(each, str(each)) for each in Hazard if each not in known)),
            Field("caution", "Caution", needed=True, hint="What to do, or never to do, in a few words"),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda _made: "It is shown wherever the part is stripped, scrapped or sent out.",
        save_word="Add it",
        said=lambda _values: "It is shown wherever the part is handled.",
    )  # fmt: skip


def caution_form(sitting: Sitting, page: PartPage, hazard: HazardFacts, last: str) -> FormPlan:
    """The form to change the caution of one of a part's hazards; ``last`` is who set it last."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = by_of(sitting, values)
            entry = change_caution(session, hazard.id, hazard.entry, values["caution"], by)
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"{page.house_number} is {hazard.hazard}: its caution",
        fields=(Field("caution", "Caution", needed=True, start=hazard.caution), *reason_fields(sitting)),
        act=act,
        told=lambda entry: f"The caution is changed (entry {entry}).",
        save_word="Change it",
        said=lambda _values: set_last(last),
    )
