"""Goods in: what the form asks, and how what it says becomes one act."""

from __future__ import annotations

from gui.job import Job
from gui.shown import Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.goods_in_checks import cost_of, limit_of
from gui.views.goods_in_fields import goods_in_fields
from gui.views.goods_in_offers import (
    NEW_FAMILY,
    FirmToAdd,
    Offered,
    PartToAdd,
    is_piece,
    lines_of,
    measure_of,
    pieces_count,
)
from gui.views.paper_fields import papers_of
from invdb.acts.catalogue import NewOtherNumber, NewPart, add_family
from invdb.acts.goods_in import (
    GoodsIn,
    MadeHere,
    NewBatch,
    NewPiece,
    Received,
    ReceivingChecks,
    receive,
)
from invdb.acts.offers import PartDetails
from invdb.acts.shop import add_firm
from invdb.rules.life import read_prior
from invdb.rules.quantities import read_quantity
from invdb.terms import FirmRole, Measure

CHECK_FOUND = {"right_part": "yes", "papers": "match", "damage": "none seen", "hazards": "seen to"}
MADE_HERE_FIELDS = ("drawing", "revision", "material", "material_certificate", "made_by", "inspected_by")
TAGS_TOLD_MAX = 6


def goods_in_form(sitting: Sitting, offered: Offered) -> FormPlan:
    """The form to book goods in."""
    return FormPlan(
        title="Goods in",
        fields=goods_in_fields(sitting, offered),
        act=lambda job, values: book_in(sitting, job, values),
        told=told_of,
        save_word="Book in",
        another=True,
        said=hazards_of,
        filled_by=filled_by,
    )


def filled_by(name: str, values: Values) -> dict[str, str]:
    """What one field fills in elsewhere: a new part's number or name, as it was typed to find it."""
    part = values.get("part")
    if name != "part" or not isinstance(part, PartToAdd):
        return {}
    return {"number" if any(letter.isdigit() for letter in part.typed) else "name": part.typed}


def told_of(received: Received) -> str:
    """What is told when it is booked in: the tags issued, and the hazards to mind."""
    tags = [tag for _, tag in received.things]
    shown = ", ".join(tags[:TAGS_TOLD_MAX])
    if len(tags) > TAGS_TOLD_MAX:
        shown += f" and {len(tags) - TAGS_TOLD_MAX} more, to {tags[-1]}"
    sentence = f"Booked in as {shown} (entry {received.entry}); uninspected until accepted."
    cautions = [f"Mind: {word}. {caution}".strip() for word, caution in received.hazards]
    return " ".join([sentence, *cautions])


def hazards_of(values: Values) -> str:
    """What can hurt a person who handles the part that is filled in, or ""."""
    part = values.get("part")
    if isinstance(part, PartDetails):
        hazards = [f"{word}: {caution}" if caution else str(word) for word, caution in part.hazards]
    elif isinstance(part, PartToAdd):
        hazards = sorted(values.get("hazard_kinds") or ())
    else:
        hazards = []
    return f"⚠ Mind: {'; '.join(hazards)}" if hazards else ""


def book_in(sitting: Sitting, job: Job, values: Values) -> Received:
    """Book in what the form says, together with the part, the family and the firm that it adds."""
    papers = papers_of(values, job)
    pieces = is_piece(values)
    with sitting.store.writing() as session:
        by = sitting.by(values["happened_on"])
        part, new_part = values["part"], None
        if isinstance(part, PartToAdd):
            family = values["family"]
            if family == NEW_FAMILY:
                with fields_renamed(name="family_name"):
                    family = add_family(session, values["letters"], values["family_name"], by)
            new_part = _new_part(values, family)
        firm = values.get("firm")
        if isinstance(firm, FirmToAdd):
            with fields_renamed(name="firm"):
                firm = add_firm(session, firm.name, FirmRole.SUPPLIER, by)
        goods = GoodsIn(
            origin=values["origin"],
            place=values["place"],
            part=part.id if isinstance(part, PartDetails) else None,
            new_part=new_part,
            pieces=_pieces(values) if pieces else (),
            batch=None if pieces else _batch(values),
            owner=values["owner"],
            work_state=values["work_state"],
            work_reference=values.get("work_reference", ""),
            used=values.get("used"),
            firm=firm,
            donor_engine=values.get("donor_engine"),
            donor=values.get("donor", ""),
            shelf_expiry_on=values.get("shelf_expiry_on"),
            made_here=MadeHere(**{name: values.get(name, "") for name in MADE_HERE_FIELDS}),
            checks=checks_of(values),
            papers=papers,
            note=values["note"],
            order_line=values.get("order_line"),
            cost=cost_of(values.get("cost") or "", bool(values.get("sure"))),
            sure=bool(values.get("sure")),
        )
        several = pieces_count(values) > 1
        renamed = {"quantity": "pieces", "serial": "serials" if several else "serial"} if pieces else {}
        with fields_renamed(**renamed):
            received = receive(session, goods, by)
        job.commit_begins()
    return received


def checks_of(values: Values) -> ReceivingChecks:
    """What was seen on receipt, in the words that are kept; what was not ticked is left open."""
    found = {name: words if name in values["checks"] else "" for name, words in CHECK_FOUND.items()}
    if values["damage"]:
        found["damage"] = values["damage"]
    return ReceivingChecks(**found)


def _new_part(values: Values, family: int) -> NewPart:
    number, months = values["number"], values["shelf_life_months"]
    limit = values.get("life_limit_hours")
    return NewPart(
        family=family,
        name=values["name"],
        tracking=values["tracking"],
        measure=values.get("measure") or Measure.COUNT,
        shelf_life_months=int(months) if months else None,
        life_limit_hours=limit_of(limit) if limit else None,
        other_numbers=(NewOtherNumber(number),) if number else (),
        hazards=tuple((kind, "") for kind in sorted(values["hazard_kinds"])),
    )


def _pieces(values: Values) -> tuple[NewPiece, ...]:
    count = pieces_count(values)
    serials = lines_of(values["serials"]) if count > 1 else [values["serial"]]
    serials += [""] * (count - len(serials))
    hours, starts = values.get("prior_hours"), values.get("prior_starts")
    return tuple(
        NewPiece(
            serial,
            read_prior(hours, "prior_hours") if hours else None,
            read_prior(starts, "prior_starts", 1) if starts else None,
            made_on=values.get("made_on"),
        )
        for serial in serials
    )


def _batch(values: Values) -> NewBatch:
    return NewBatch(read_quantity(values["quantity"], measure_of(values)), values["maker_batch"])
