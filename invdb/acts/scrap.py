"""Scrap a piece or some of a batch: made unfit for any use, said how, and thrown in the scrap drum."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.lying_at_one import lying_at_one
from invdb.acts.matched import draft_reworked
from invdb.acts.move import check_place_admits, check_within_reach
from invdb.acts.numbers import Thing
from invdb.acts.set_since import refuse_decided_since
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.acts.work_list import refuse_out_for_work
from invdb.records.catalogue import Part, PartHazard
from invdb.records.draft import Draft
from invdb.records.nesting import now_beneath
from invdb.records.posting import post
from invdb.records.stock import Piece, Place
from invdb.records.work import Scrapping
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.rules.scrapping import refused_ways
from invdb.terms import Asked, Condition, EntryKind, FieldRefused, Hazard, PlaceKind, Refused, Unusable


@dataclass(frozen=True)
class ScrapOrder:
    """What is scrapped, why, and how it was made unusable; of a batch how much (None: all of it there).

    ``hazards_seen`` says that the person has read what can hurt them.
    """

    thing: Thing
    reason: str
    how: Unusable
    to_place: int
    quantity: int | None = None
    from_place: int | None = None
    witness: str = ""
    hazards_seen: bool = False


def scrap(session: Session, order: ScrapOrder, by: By) -> int:
    """Scrap a thing; returns the entry's number.

    Refused for what is fitted, reserved, out on a pull or out for work, for what holds other pieces, for a
    way that its hazards forbid, and for a life-limited or critical part that is only marked: such a one must
    never look fit for use. Asked while its hazards have not been read.
    """
    draft = begin_draft(session, EntryKind.SCRAPPED, by)
    state = things_by_id(session, [order.thing])[order.thing]
    where = lying_at_one(state, order.from_place)
    check_within_reach(state, where)
    refuse_out_for_work(session, order.thing, state.tag, where.place, "Book it back from there, as scrapped.")
    refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
    if order.thing.batch is not None:
        order = replace(order, quantity=_quantity(state, where, order.quantity))
    draft_scrapping(session, draft, state, order)
    if order.thing.piece is not None:
        if state.reserved_for:
            raise Refused(f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel it first.")
        if where.place != order.to_place:
            draft.move(where.place, order.to_place, piece=order.thing.piece)
        return post(session, draft).number
    draft_scrapped_share(session, draft, where.place, order)
    return post(session, draft).number


def _quantity(state: ThingState, where: Whereabouts, asked: int | None) -> int:
    free = where.quantity - where.reserved
    quantity = free if asked is None else asked
    if not 0 < quantity <= free:
        raise FieldRefused(
            "quantity",
            f"{quantity_words(max(free, 0), state.measure)} of {state.tag} in {where.name} are free.",
            "Give that much or less.",
        )
    return quantity


def draft_scrapping(session: Session, draft: Draft, state: ThingState, order: ScrapOrder) -> None:
    """Put into a draft that a thing was made unusable, what that makes of it, and that its mates are free.

    Of a piece its condition is set; the share of a batch, and every move, are the caller's.
    """
    if order.thing.piece is not None:
        refuse_scrapped(session, order.thing.piece, state.tag)
        _refuse_holding(session, order.thing.piece, state.tag)
        refuse_decided_since(session, draft, order.thing.piece, state.tag)
    if not order.reason.strip():
        raise FieldRefused("reason", "It isn't said why it is scrapped.", "Type what was found.")
    kind = session.scalar(select(Place.kind).where(Place.id == order.to_place))
    if kind is not PlaceKind.SCRAP:
        raise FieldRefused("to_place", "Scrapped stock goes to a scrap drum.", "Choose one.")
    check_place_admits(session, order.to_place, Condition.UNSALVAGEABLE, state.papers)
    hazards = hazards_of(session, state.part)
    why = refused_ways(order.how, {hazard for hazard, _ in hazards}, _must_not_survive(session, state.part))
    if why is not None:
        raise FieldRefused("how", f"{state.tag} can't be {order.how}: {why}.", "Choose another way.")
    if hazards and not order.hazards_seen:
        raise Asked(
            "hazards_seen", f"{state.tag} is {hazard_words(hazards)}.", "Say that you have read that."
        )
    draft.new(
        session,
        "scrapping",
        piece_id=order.thing.piece,
        batch_id=order.thing.batch,
        quantity=1 if order.quantity is None else order.quantity,
        scrapped_on=draft.happened_on,
        scrapped_by=draft.who,
        reason=order.reason,
        how=order.how,
        witness=order.witness,
    )
    if order.thing.piece is not None:
        draft.set(
            "piece",
            order.thing.piece,
            condition=Condition.UNSALVAGEABLE,
            scope=None,
            accepted_by=None,
            accepted_on=None,
        )
        draft_reworked(session, draft, [order.thing.piece], f"{state.tag} was scrapped")


def draft_scrapped_share(session: Session, draft: Draft, from_place: int, order: ScrapOrder) -> int:
    """Put into a draft that some of a batch becomes a batch of its own, which can't be salvaged; its id."""
    assert order.thing.batch is not None and order.quantity is not None
    changed = {
        "condition": Condition.UNSALVAGEABLE,
        "scope": None,
        "accepted_by": None,
        "accepted_on": None,
        "note": order.reason,
    }
    child, _ = draft_child(session, draft, read_parent(session, order.thing.batch), changed)
    draft.move(from_place, OUTSIDE_PLACE, batch=order.thing.batch, quantity=order.quantity)
    draft.move(OUTSIDE_PLACE, order.to_place, batch=child, quantity=order.quantity)
    return child


def hazards_of(session: Session, part: int) -> tuple[tuple[Hazard, str], ...]:
    """What can hurt a person who handles a part, with the caution for each."""
    rows = session.execute(
        select(PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id == part, PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    )
    return tuple((hazard, caution) for hazard, caution in rows)


def hazard_words(hazards: Iterable[tuple[Hazard, str]]) -> str:
    """Hazards with their cautions, one after the other."""
    return "; ".join(f"{hazard}{f', {caution}' if caution else ''}" for hazard, caution in hazards)


def refuse_scrapped(session: Session, piece: int, tag: str) -> None:
    """Refuse a piece that was made unfit for any use: nothing brings it back but undoing that entry."""
    row = session.execute(
        select(Scrapping.scrapped_on, Scrapping.how).where(Scrapping.piece_id == piece)
    ).first()
    if row is not None:
        raise Refused(f"{tag} was scrapped on {row.scrapped_on.isoformat()}, {row.how}.", "Check the tag.")


def _refuse_holding(session: Session, piece: int, tag: str) -> None:
    """What is inside would be thrown away with it, and nobody would have said so."""
    inside = now_beneath(session.connection(), {piece}) - {piece}
    if inside:
        tags = session.scalars(select(Piece.tag).where(Piece.id.in_(inside)).order_by(Piece.tag))
        raise Refused(f"{tag} holds {', '.join(tags)}.", "Strip what is inside it first.")


def _must_not_survive(session: Session, part: int) -> bool:
    """Whether a part is life-limited or critical, so that a mark alone is not enough."""
    return bool(session.scalar(select(Part.life_limited | Part.critical).where(Part.id == part)))
