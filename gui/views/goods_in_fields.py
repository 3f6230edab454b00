"""The fields of the goods-in form, in the order of a paper tag."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views import goods_in_checks as check
from gui.views.goods_in_offers import (
    NEW_FAMILY,
    RECEIVING_CHECKS,
    Offered,
    awaited_search,
    firm_search,
    is_batch,
    is_new_part,
    is_piece,
    keeps_on_shelf,
    may_have_run,
    part_search,
    pieces_count,
)
from gui.views.paper_fields import paper_fields
from gui.views.place_fields import place_field
from invdb.terms import Hazard, Measure, Origin, Tracking, WorkState


def choices_of(words: Iterable[StrEnum]) -> tuple[Choice, ...]:
    """Every word of the trade as a choice."""
    return tuple(Choice(word, str(word)) for word in words)


def goods_in_fields(sitting: Sitting, offered: Offered) -> tuple[Field, ...]:
    """All fields; each says by itself when it has anything to ask."""
    return (
        *_what(sitting, offered),
        *_how_many(offered),
        *_origin(sitting, offered),
        *_where(sitting, offered),
        *_looked_at(),
        *paper_fields(),
        Field("note", "Remark", FieldKind.LINES, kept=False, section="Papers"),
    )


def _what(sitting: Sitting, offered: Offered) -> tuple[Field, ...]:
    new_family = Choice(NEW_FAMILY, "a new family …")

    def adds_family(values: object) -> bool:
        return is_new_part(values) and values["family"] == NEW_FAMILY  # type: ignore[arg-type, index]

    return (
        Field(
            "part",
            "Part",
            FieldKind.FIND,
            needed=True,
            start=offered.part,
            find=part_search(sitting),
            hint="By any of its numbers or its name; one that is not here yet can be added",
        ),
        Field(
            "family",
            "Family",
            FieldKind.CHOICE,
            needed=True,
            choices=(*offered.families, new_family),
            shown_when=is_new_part,
            hint="Its letters begin the house number",
        ),
        Field("letters", "Its letters", needed=True, shown_when=adds_family, hint="Two to four letters"),
        Field("family_name", "Its name", needed=True, shown_when=adds_family),
        Field(
            "name", "Part's name", needed=True, shown_when=is_new_part, hint="As it is called in the trade"
        ),
        Field("number", "Other number", shown_when=is_new_part, hint="Maker's, dealer's or drawing"),
        Field(
            "tracking",
            "Held as",
            FieldKind.CHOICE,
            needed=True,
            choices=(
                Choice(Tracking.PIECE, "single pieces, each with a tag"),
                Choice(Tracking.BATCH, "batches, by number, length or weight"),
            ),
            shown_when=is_new_part,
            hint="Life-limited and critical parts are always single pieces",
        ),
        Field(
            "measure",
            "Measured by",
            FieldKind.CHOICE,
            start=Measure.COUNT,
            choices=choices_of(Measure),
            shown_when=lambda values: is_new_part(values) and values["tracking"] is Tracking.BATCH,
        ),
        Field(
            "life_limit_hours",
            "Life limit",
            FieldKind.QUANTITY,
            unit="hours since new",
            check=check.life_limit,
            shown_when=lambda values: is_new_part(values) and values["tracking"] is Tracking.PIECE,
        ),
        Field(
            "shelf_life_months",
            "Shelf life",
            FieldKind.QUANTITY,
            unit="months",
            check=check.months,
            shown_when=is_new_part,
        ),
        Field(
            "hazard_kinds",
            "Hazards",
            FieldKind.TICKS,
            choices=choices_of(Hazard),
            shown_when=is_new_part,
        ),
    )


def _how_many(offered: Offered) -> tuple[Field, ...]:
    section = "How many"

    def one(values: object) -> bool:
        return is_piece(values) and pieces_count(values) <= 1  # type: ignore[arg-type]

    def several(values: object) -> bool:
        return is_piece(values) and pieces_count(values) > 1  # type: ignore[arg-type]

    return (
        Field(
            "pieces",
            "Pieces",
            FieldKind.QUANTITY,
            needed=True,
            start=offered.quantity if offered.quantity.isdigit() else "1",
            kept=False,
            section=section,
            check=check.pieces,
            shown_when=is_piece,
            hint="Several like pieces are booked in together, each with a tag of its own",
        ),
        Field(
            "serial",
            "Serial",
            kept=False,
            section=section,
            shown_when=one,
            hint="The maker's; empty if it has none",
        ),
        Field(
            "serials",
            "Serials",
            FieldKind.LINES,
            kept=False,
            section=section,
            check=check.serials,
            shown_when=several,
            hint="One a line, in the order of the pieces; fewer if some have none",
        ),
        Field(
            "quantity",
            "Quantity",
            FieldKind.QUANTITY,
            needed=True,
            start=offered.quantity if offered.against is not None else None,
            kept=False,
            section=section,
            unit="12, or 1.5 m, or 350 g",
            check=check.quantity,
            shown_when=is_batch,
        ),
        Field("maker_batch", "Maker's batch", kept=False, section=section, shown_when=is_batch),
    )


def _origin(sitting: Sitting, offered: Offered) -> tuple[Field, ...]:
    section = "Where it came from"

    def made_here(values: object) -> bool:
        return values["origin"] is Origin.MADE_HERE  # type: ignore[index]

    def salvaged(values: object) -> bool:
        return values["origin"] is Origin.SALVAGED  # type: ignore[index]

    def made(name: str, word: str, hint: str = "") -> Field:
        return Field(name, word, needed=True, section=section, shown_when=made_here, hint=hint)

    return (
        Field(
            "origin",
            "Origin",
            FieldKind.CHOICE,
            needed=True,
            start=Origin.NEW if offered.against is not None else None,
            section=section,
            choices=choices_of(Origin),
            hint="How it began; what was done to it since comes below",
        ),
        Field(
            "firm",
            "Firm",
            FieldKind.FIND,
            start=offered.firm,
            section=section,
            find=firm_search(sitting),
            shown_when=lambda values: values["origin"] not in {None, Origin.MADE_HERE},
            hint="Whom it came from; the last one is offered",
        ),
        Field(
            "order_line",
            "On order",
            FieldKind.FIND,
            start=offered.against,
            section=section,
            find=awaited_search(sitting),
            shown_when=lambda values: (
                values["origin"] not in {None, Origin.SALVAGED} and not is_new_part(values)
            ),
            hint="The order it comes against, by its number or firm; part of it may come",
        ),
        Field(
            "cost",
            "Cost of one",
            FieldKind.QUANTITY,
            section=section,
            unit="12.50 GBP",
            kept=False,
            check=check.cost,
            shown_when=lambda values: values.get("order_line") is None,
            hint="Of a piece, a metre or a kilogram, with its currency; on order, its price is taken",
        ),
        Field(
            "donor_engine",
            "Donor engine",
            FieldKind.CHOICE,
            section=section,
            choices=offered.engines,
            shown_when=salvaged,
            hint="One of ours",
        ),
        Field(
            "donor",
            "Other engine",
            section=section,
            check=check.donor,
            shown_when=lambda values: salvaged(values) and values["donor_engine"] is None,
            hint="Its type and serial, as far as known",
        ),
        made("drawing", "Drawing"),
        made("revision", "Revision"),
        made("material", "Material"),
        made("material_certificate", "Certificate or heat", "Number of the material's certificate or heat"),
        made("made_by", "Made by"),
        made("inspected_by", "Inspected by"),
        Field(
            "work_state",
            "Done since",
            FieldKind.CHOICE,
            needed=True,
            start=WorkState.AS_RECEIVED,
            section=section,
            choices=choices_of(WorkState),
            hint="What has been done to it since it began",
        ),
        Field(
            "work_reference",
            "Its report",
            needed=True,
            section=section,
            shown_when=lambda values: values["work_state"] not in {None, WorkState.AS_RECEIVED},
        ),
        Field(
            "used",
            "Has it run?",
            FieldKind.CHOICE,
            section=section,
            choices=(Choice(True, "used"), Choice(False, "unused")),
            shown_when=lambda values: may_have_run(values) and not salvaged(values),
            hint="Used and unused stock never merge; left empty, a thing of unknown origin counts as used",
        ),
        Field(
            "prior_hours",
            "Hours before",
            FieldKind.QUANTITY,
            section=section,
            unit="120, 100 to 140, at least 300",
            kept=False,
            check=check.hours,
            shown_when=lambda values: is_piece(values) and may_have_run(values),
            hint="Run before we had it; left empty, they are unknown once it was used",
        ),
        Field(
            "prior_starts",
            "Starts before",
            FieldKind.QUANTITY,
            section=section,
            unit="40, 30 to 50, at least 20",
            kept=False,
            check=check.starts,
            shown_when=lambda values: is_piece(values) and may_have_run(values),
            hint="Made before we had it; left empty, they are unknown once it was used",
        ),
        Field(
            "made_on",
            "Made on",
            FieldKind.DATE,
            section=section,
            kept=False,
            shown_when=is_piece,
            hint="Where a paper says so: a limit by calendar since new counts from it",
        ),
    )


def _where(sitting: Sitting, offered: Offered) -> tuple[Field, ...]:
    section = "Whose, and where"
    return (
        Field(
            "owner",
            "Owner",
            FieldKind.CHOICE,
            needed=True,
            start=offered.workshop,
            section=section,
            choices=offered.owners,
        ),
        place_field(
            sitting,
            "place",
            "Bin",
            section=section,
            start=offered.place,
            needed=True,
            hint="The last one is offered; a bonded bin takes only what is accepted",
        ),
        Field(
            "happened_on",
            "Came on",
            FieldKind.DATE,
            needed=True,
            start=offered.today,
            section=section,
            check=check.not_after(offered.today),
        ),
        Field(
            "shelf_expiry_on",
            "Shelf life ends",
            FieldKind.DATE,
            needed=True,
            section=section,
            shown_when=keeps_on_shelf,
            hint="As it stands on the packet",
        ),
    )


def _looked_at() -> tuple[Field, ...]:
    section = "Looked at on receipt"
    return (
        Field(
            "checks",
            "Seen so",
            FieldKind.TICKS,
            kept=False,
            section=section,
            choices=RECEIVING_CHECKS,
            hint="What is not ticked stays open, and must be looked at before it is accepted",
        ),
        Field("damage", "Damage seen", kept=False, section=section, check=check.damage),
    )
