"""Goods in: what came, from where, in what state; uninspected until it is accepted for a scope."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.catalogue import NewPart, draft_part
from invdb.acts.delivery import awaited_line, draft_cost, draft_delivery, refuse_not_awaited
from invdb.acts.known_serials import refuse_known_serials
from invdb.acts.numbers import Thing, issue_tag
from invdb.acts.papers import NewPaper, draft_link, draft_paper
from invdb.acts.part_size import sizes_known
from invdb.records.catalogue import Part, PartHazard
from invdb.records.draft import Draft
from invdb.records.people import Owner
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.money import Money
from invdb.rules.quantities import QUANTITY_MAX, quantity_words
from invdb.terms import (
    NO_PRIOR_LIFE,
    PRIOR_LIFE_UNKNOWN,
    Condition,
    EntryKind,
    FieldRefused,
    Hazard,
    HoursKnown,
    Measure,
    Origin,
    PlaceKind,
    PriorLife,
    Tracking,
    WorkState,
)

PIECES_MAX = 200
HOURS_MAX = 100_000 * 100
STARTS_MAX = 1_000_000
RECEIVING_PLACES = frozenset(
    {PlaceKind.BIN, PlaceKind.STORES, PlaceKind.QUARANTINE, PlaceKind.BENCH, PlaceKind.FIRM}
)

# What is taken to have run where nobody says whether it has: so began what nobody knows, and nothing unused
# is repaired or overhauled.
USED_ORIGINS = frozenset({Origin.SALVAGED, Origin.UNKNOWN})
WORK_ON_USED = frozenset({WorkState.REPAIRED, WorkState.OVERHAULED, WorkState.RECONDITIONED})


@dataclass(frozen=True)
class NewPiece:
    """One of the pieces that came; without a tag the next one is issued. Hours in hundredths.

    ``made_on`` is the day it was made, where a paper says so: calendar limits since new count from it.
    """

    serial: str | None = None
    prior_hours: PriorLife | None = None
    prior_starts: PriorLife | None = None
    tag: str | None = None
    note: str = ""
    made_on: date | None = None


@dataclass(frozen=True)
class NewBatch:
    """A batch that came; ``quantity`` in the part's smallest unit."""

    quantity: int
    maker_batch: str = ""
    tag: str | None = None


@dataclass(frozen=True)
class MadeHere:
    """What must be known of a thing made in our own shop."""

    drawing: str = ""
    revision: str = ""
    material: str = ""
    material_certificate: str = ""
    made_by: str = ""
    inspected_by: str = ""


@dataclass(frozen=True)
class ReceivingChecks:
    """What was seen on receipt, in words; empty where not yet looked at (FAA AC 20-154)."""

    right_part: str = ""
    papers: str = ""
    damage: str = ""
    hazards: str = ""


@dataclass(frozen=True)
class GoodsIn:
    """What is booked in: a part that stands, or a new one; pieces, or a batch.

    ``used`` None: to be judged by its origin and what was done to it. What is used, and of which no prior
    hours or starts are given, has run for an unknown time; what is unused has run for none. ``size_class``
    and ``finish`` are given where they are not its part's own; a size is one that the part is made in.

    ``order_line`` is the line of an order that it comes against; ``sure`` says that what is asked of that is
    meant. ``cost`` is what one piece, metre or kilogram cost us; without it, the price of the order.
    """

    origin: Origin
    place: int
    part: int | None = None
    new_part: NewPart | None = None
    pieces: tuple[NewPiece, ...] = ()
    batch: NewBatch | None = None
    owner: int | None = None
    work_state: WorkState = WorkState.AS_RECEIVED
    work_reference: str = ""
    used: bool | None = None
    firm: int | None = None
    donor_engine: int | None = None
    donor: str = ""
    shelf_expiry_on: date | None = None
    made_here: MadeHere = MadeHere()
    checks: ReceivingChecks = ReceivingChecks()
    papers: tuple[NewPaper, ...] = ()
    documents: tuple[int, ...] = ()
    note: str = ""
    size_class: str = ""
    finish: str = ""
    order_line: int | None = None
    cost: Money | None = None
    sure: bool = False


@dataclass(frozen=True)
class Received:
    """What was booked in: the entry's number, each thing with its tag, and the hazards to mind."""

    entry: int
    part: int
    things: tuple[tuple[Thing, str], ...]
    hazards: tuple[tuple[Hazard, str], ...]


def receive(session: Session, goods: GoodsIn, by: By) -> Received:
    """Book in pieces or a batch of one part, uninspected.

    Refused, naming the field, when something needed is missing or absurd, when a piece of the same part with
    the same serial is here already, or when it can't come against the order named.
    """
    draft = begin_draft(session, EntryKind.GOODS_IN, by)
    received = draft_goods(session, draft, goods)
    posted = post(session, draft)
    return Received(posted.number, received.part, received.things, received.hazards)


def draft_goods(session: Session, draft: Draft, goods: GoodsIn) -> Received:
    """Put goods in into a draft; see ``receive``. The entry's number is 0 until it is posted."""
    part_id = goods.part
    if part_id is None:
        if goods.new_part is None:
            raise FieldRefused("part", "No part is named.", "Find it by any of its numbers, or add it.")
        part_id = draft_part(session, draft, goods.new_part)
        tracking, measure, shelf_life = (
            goods.new_part.tracking,
            goods.new_part.measure,
            goods.new_part.shelf_life_months,
        )
        house_number = ""
    else:
        part = session.execute(
            select(Part.tracking, Part.measure, Part.shelf_life_months, Part.house_number).where(
                Part.id == part_id
            )
        ).one_or_none()
        if part is None:
            raise FieldRefused("part", "That part is not in the catalogue.", "Find it again, or add it.")
        tracking, measure, shelf_life, house_number = part
    _check_shape(goods, tracking, measure, house_number)
    _check_origin(goods)
    if shelf_life is not None and goods.shelf_expiry_on is None:
        raise FieldRefused(
            "shelf_expiry_on",
            "This part has a shelf life, and no expiry is given.",
            "Read it off the packet.",
        )
    place = _receiving_place(session, goods.place)
    if place.bonded:
        raise FieldRefused(
            "place",
            f"{place.name} is bonded and admits only accepted stock.",
            "Put it into Goods in or Quarantine until it is accepted.",
        )
    owner = goods.owner
    if owner is None:
        owner = session.scalars(select(Owner.id).where(Owner.is_workshop)).first()
    _refuse_unknown_size(session, draft, part_id, goods.size_class)
    quantities = [goods.batch.quantity] if goods.batch is not None else [1] * len(goods.pieces)
    line = None
    if goods.order_line is not None:
        line = awaited_line(session, goods.order_line)
        refuse_not_awaited(session, draft, line, goods.firm, goods.part, sum(quantities), sure=goods.sure)
        goods = replace(goods, firm=line.firm, cost=goods.cost or line.price)
    shared = _shared_columns(goods, part_id, owner, draft.happened_on)
    things: list[tuple[Thing, str]] = []
    if goods.batch is not None:
        things.append(_draft_batch(session, draft, goods.batch, goods, shared))
    refuse_known_serials(session, part_id, [piece.serial or "" for piece in goods.pieces])
    for piece in goods.pieces:
        things.append(_draft_piece(session, draft, piece, goods, shared))
    if line is not None:
        draft_delivery(session, draft, line, [(things[i][0], each) for i, each in enumerate(quantities)])
    if goods.cost is not None:
        source = f"order {line.number}" if line is not None else "as booked in"
        draft_cost(session, draft, [thing for thing, _ in things], goods.cost, source)
    documents = [*goods.documents, *(draft_paper(session, draft, paper) for paper in goods.papers)]
    for document in documents:
        for thing, _ in things:
            draft_link(session, draft, document, thing)
    hazards = [
        (row.hazard, row.caution)
        for row in session.execute(
            select(PartHazard.hazard, PartHazard.caution).where(
                PartHazard.part_id == part_id, PartHazard.withdrawn_on.is_(None)
            )
        )
    ]
    if goods.new_part is not None and goods.part is None:
        hazards += goods.new_part.hazards
    return Received(0, part_id, tuple(things), tuple(hazards))


def _check_shape(goods: GoodsIn, tracking: Tracking, measure: Measure, house_number: str) -> None:
    name = house_number or "This part"
    if tracking is Tracking.PIECE:
        if goods.batch is not None or not goods.pieces:
            raise FieldRefused(
                "quantity", f"{name} is held as single pieces.", "Say how many, each with its serial."
            )
        if len(goods.pieces) > PIECES_MAX:
            raise FieldRefused(
                "quantity",
                f"{len(goods.pieces)} pieces are more than one entry takes.",
                f"Book in at most {PIECES_MAX} at a time.",
            )
        return
    if goods.pieces or goods.batch is None:
        raise FieldRefused("quantity", f"{name} is held by batch.", "Give one quantity and no serials.")
    check_quantity(goods.batch.quantity, measure)


def check_quantity(quantity: int, measure: Measure) -> None:
    """Refuse a quantity of nothing, of less than nothing, or of more than a workshop could hold."""
    if quantity <= 0:
        raise FieldRefused(
            "quantity", f"{quantity_words(quantity, measure)} is nothing to book in.", "Give more than zero."
        )
    if quantity > QUANTITY_MAX[measure]:
        raise FieldRefused(
            "quantity",
            f"{quantity_words(quantity, measure)} is more than any workshop holds.",
            "Check the number and its unit.",
        )


def _check_origin(goods: GoodsIn) -> None:
    if goods.origin is Origin.MADE_HERE:
        needed = {
            "drawing": "its drawing",
            "revision": "the drawing's revision",
            "material": "its material",
            "material_certificate": "the material's certificate or heat number",
            "made_by": "who made it",
            "inspected_by": "who inspected it",
        }
        for column, words in needed.items():
            if not getattr(goods.made_here, column).strip():
                raise FieldRefused(
                    column, f"What was made here must say {words}.", "Type it from the job card."
                )
    if goods.origin is Origin.SALVAGED and goods.donor_engine is None and not goods.donor.strip():
        raise FieldRefused(
            "donor", "A salvaged piece must say which engine it came from.", "Name the donor engine."
        )
    if goods.work_state is not WorkState.AS_RECEIVED and not goods.work_reference.strip():
        raise FieldRefused(
            "work_reference", f"What was {goods.work_state} needs its report.", "Type the report's reference."
        )


def _refuse_unknown_size(session: Session, draft: Draft, part: int, size: str) -> None:
    if not size.strip():
        return
    known = [each for each in sizes_known(session, part, draft) if each]
    if size.strip().casefold() not in {each.casefold() for each in known}:
        raise FieldRefused(
            "size_class",
            f"The part is not made in the size {size.strip()!r}.",
            f"Choose one of: {', '.join(known)}." if known else "Put its sizes into the catalogue first.",
        )


def _receiving_place(session: Session, place_id: int) -> Row[str, PlaceKind, bool]:
    place = session.execute(
        select(Place.name, Place.kind, Place.bonded).where(Place.id == place_id)
    ).one_or_none()
    if place is None:
        raise FieldRefused("place", "There is no such place.", "Choose a bin.")
    if place.kind not in RECEIVING_PLACES:
        raise FieldRefused(
            "place", f"Goods can't be booked into {place.name}.", "Choose a bin or the quarantine."
        )
    return place


def _shared_columns(goods: GoodsIn, part_id: int, owner: int | None, received_on: date) -> dict[str, object]:
    used = goods.used
    if used is None:
        used = goods.origin in USED_ORIGINS or goods.work_state in WORK_ON_USED
    return {
        "part_id": part_id,
        "condition": Condition.UNINSPECTED,
        "origin": goods.origin,
        "work_state": goods.work_state,
        "work_reference": goods.work_reference,
        "used": used,
        "owner_id": owner,
        "received_on": received_on,
        "origin_firm_id": goods.firm,
        "donor_engine_id": goods.donor_engine,
        "donor": goods.donor,
        "shelf_expiry_on": goods.shelf_expiry_on,
        "size_class": goods.size_class.strip(),
        "finish": goods.finish.strip(),
        "drawing": goods.made_here.drawing,
        "drawing_revision": goods.made_here.revision,
        "material": goods.made_here.material,
        "material_certificate": goods.made_here.material_certificate,
        "made_by": goods.made_here.made_by,
        "made_inspected_by": goods.made_here.inspected_by,
        "check_right_part": goods.checks.right_part,
        "check_papers": goods.checks.papers,
        "check_damage": goods.checks.damage,
        "check_hazards": goods.checks.hazards,
    }


def _draft_batch(
    session: Session, draft: Draft, batch: NewBatch, goods: GoodsIn, shared: dict[str, object]
) -> tuple[Thing, str]:
    tag = issue_tag(session, draft, "batch", batch.tag)
    batch_id = draft.new(session, "batch", tag=tag, maker_batch=batch.maker_batch, note=goods.note, **shared)
    draft.move(OUTSIDE_PLACE, goods.place, batch=batch_id, quantity=batch.quantity)
    return Thing(batch=batch_id), tag


def _draft_piece(
    session: Session, draft: Draft, piece: NewPiece, goods: GoodsIn, shared: dict[str, object]
) -> tuple[Thing, str]:
    unknown = PRIOR_LIFE_UNKNOWN if shared["used"] else NO_PRIOR_LIFE
    hours = piece.prior_hours or unknown
    starts = piece.prior_starts or unknown
    _check_prior(hours, HOURS_MAX, "prior_hours", "hours")
    _check_prior(starts, STARTS_MAX, "prior_starts", "starts")
    if piece.made_on is not None and piece.made_on > draft.happened_on:
        raise FieldRefused(
            "made_on",
            f"It came on {draft.happened_on.isoformat()}, before it was made on {piece.made_on.isoformat()}.",
            "Check both dates.",
        )
    tag = issue_tag(session, draft, "piece", piece.tag)
    piece_id = draft.new(
        session,
        "piece",
        tag=tag,
        serial=piece.serial.strip() if piece.serial and piece.serial.strip() else None,
        made_on=piece.made_on,
        prior_hours_known=hours.known,
        prior_hours_low=hours.low,
        prior_hours_high=hours.high,
        prior_starts_known=starts.known,
        prior_starts_low=starts.low,
        prior_starts_high=starts.high,
        note=piece.note or goods.note,
        **shared,
    )
    draft.move(OUTSIDE_PLACE, goods.place, piece=piece_id)
    return Thing(piece=piece_id), tag


def _check_prior(life: PriorLife, bound: int, column: str, what: str) -> None:
    low, high = life.low or 0, life.high if life.high is not None else life.low or 0
    if low < 0:
        raise FieldRefused(column, f"The prior {what} are below zero.", "Give zero or more.")
    if high < low:
        raise FieldRefused(
            column, f"The prior {what} end below where they begin.", "Give the lower figure first."
        )
    if life.known is HoursKnown.EXACT and high != low:
        raise FieldRefused(
            column, f"Exact prior {what} can't be two figures.", "Say between, or give one figure."
        )
    if high > bound:
        raise FieldRefused(column, f"The prior {what} are more than any engine runs.", "Check the figure.")
