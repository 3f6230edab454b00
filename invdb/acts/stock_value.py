"""What our stock cost, by currency, and the stock that no engine type we keep has a use for any more."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.held_where import ended_by
from invdb.acts.numbers import Thing
from invdb.records.buying import Cost
from invdb.records.catalogue import KitLine, Part, StandIn, StandInMember
from invdb.records.clock import today
from invdb.records.engines import Engine
from invdb.records.people import Owner
from invdb.records.stock import Batch, Holding, Piece, Place
from invdb.rules.money import Money, price_of, totals
from invdb.terms import Condition, Measure, PlaceKind

# What lies there is stock, also while a firm works on it or it is issued and not yet fitted.
_STOCK_PLACES = frozenset(
    {
        PlaceKind.STORES,
        PlaceKind.BIN,
        PlaceKind.QUARANTINE,
        PlaceKind.BENCH,
        PlaceKind.FIRM,
        PlaceKind.PULL,
    }
)


@dataclass(frozen=True)
class PartValue:
    """The stock of one part: quantities in its smallest unit.

    ``values`` is what it cost, a sum for each currency; ``uncosted`` is how much of it has no known cost and
    is in none of them.
    """

    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    uncosted: int
    values: tuple[Money, ...]


@dataclass(frozen=True)
class StockValue:
    """The stock of every part by house number, and what it cost in all by currency, never added across.

    ``uncosted`` counts the pieces and batches without a known cost.
    """

    parts: tuple[PartValue, ...]
    values: tuple[Money, ...]
    uncosted: int


@dataclass(frozen=True)
class _Held:
    thing: Thing
    part: int
    quantity: int
    price: Money | None


def stock_value(session: Session) -> StockValue:
    """What our own stock cost: what is ours and neither fitted to an engine, scrapped nor unsalvageable.

    A batch that was split off another cost what that one did.
    """
    held = list(_held(session))
    by_part: dict[int, list[_Held]] = defaultdict(list)
    for each in held:
        by_part[each.part].append(each)
    rows = session.execute(
        select(Part.id, Part.house_number, Part.name, Part.measure).order_by(Part.house_number)
    )
    parts = tuple(
        _part_value(row.id, row.house_number, row.name, row.measure, by_part[row.id])
        for row in rows
        if row.id in by_part
    )
    return StockValue(
        parts,
        totals(value for part in parts for value in part.values),
        sum(each.price is None for each in held),
    )


def uncosted_things(session: Session, part: int) -> tuple[Thing, ...]:
    """The pieces and batches of a part in our own stock of which no cost is known."""
    return tuple(each.thing for each in _held(session) if each.part == part and each.price is None)


def slow_stock(session: Session) -> tuple[PartValue, ...]:
    """The stock of parts with no use on any engine type that we have an engine of, by house number.

    A part has a use while a kit line of such a type that has not ended asks for it, or it may stand in, over
    one step or several that have not ended, for a part that has one.
    """
    useful = _useful(session)
    return tuple(each for each in stock_value(session).parts if each.part not in useful)


def _part_value(part: int, number: str, name: str, measure: Measure, held: list[_Held]) -> PartValue:
    return PartValue(
        part,
        number,
        name,
        measure,
        sum(each.quantity for each in held),
        sum(each.quantity for each in held if each.price is None),
        totals(price_of(each.price, each.quantity, measure) for each in held if each.price is not None),
    )


def _held(session: Session) -> Iterator[_Held]:
    """Every piece and every batch in our stock, with the price of one where it is known."""
    costs = session.execute(select(Cost.piece_id, Cost.batch_id, Cost.price, Cost.currency)).all()
    of_piece = {row.piece_id: Money(row.price, row.currency) for row in costs}
    of_batch = {row.batch_id: Money(row.price, row.currency) for row in costs}
    in_stock = _stock_places(session)
    pieces = session.execute(
        select(Piece.id, Piece.part_id, Piece.place_id)
        .join(Owner, Owner.id == Piece.owner_id)
        .where(Owner.is_workshop, Piece.condition != Condition.UNSALVAGEABLE)
        .order_by(Piece.id)
    )
    for row in pieces:
        if row.place_id in in_stock:
            yield _Held(Thing(piece=row.id), row.part_id, 1, of_piece.get(row.id))
    parents = dict(session.execute(select(Batch.id, Batch.parent_batch_id)).all())
    quantities: dict[tuple[int, int], int] = defaultdict(int)
    holdings = session.execute(
        select(Batch.id, Batch.part_id, Holding.place_id, Holding.quantity)
        .join(Holding, Holding.batch_id == Batch.id)
        .join(Owner, Owner.id == Batch.owner_id)
        .where(Owner.is_workshop, Batch.condition != Condition.UNSALVAGEABLE, Holding.quantity > 0)
        .order_by(Batch.id)
    )
    for held in holdings:
        if held.place_id in in_stock:
            quantities[held.id, held.part_id] += held.quantity
    for (batch, part), quantity in quantities.items():
        at: int | None = batch
        while at is not None and at not in of_batch:
            at = parents[at]
        price = of_batch[at] if at is not None else None
        yield _Held(Thing(batch=batch), part, quantity, price)


def _stock_places(session: Session) -> set[int]:
    """The places whose contents are stock, those inside pieces that are stock among them."""
    rows = {
        row.id: row
        for row in session.execute(
            select(Place.id, Place.kind, Place.parent_id, Place.piece_id, Piece.place_id).outerjoin(
                Piece, Piece.id == Place.piece_id
            )
        )
    }
    found: set[int] = set()
    for place in rows:
        at: int | None = place
        while at is not None and rows[at].kind not in _STOCK_PLACES:
            inside = rows[at].kind in {PlaceKind.PIECE, PlaceKind.STATION}
            at = (rows[at].place_id or rows[at].parent_id) if inside else None
        if at is not None:
            found.add(place)
    return found


def _useful(session: Session) -> set[int]:
    """The parts that some engine type we have an engine of has a use for."""
    now = today(session)
    types = set(session.scalars(select(Engine.engine_type_id).distinct()))
    lines = session.scalars(
        select(KitLine).where(KitLine.engine_type_id.in_(types)).execution_options(populate_existing=True)
    )
    useful = {line.part_id for line in lines if not ended_by(line, now)}
    stands_in_for: dict[int, set[int]] = defaultdict(set)
    rows = session.execute(
        select(StandIn, StandInMember.part_id)
        .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
        .where(or_(StandIn.engine_type_id.is_(None), StandIn.engine_type_id.in_(types)))
        .execution_options(populate_existing=True)
    )
    for stand_in, member in rows:
        if not ended_by(stand_in, now):
            stands_in_for[stand_in.part_id].add(member)
            if stand_in.both_ways:
                stands_in_for[member].add(stand_in.part_id)
    waiting = list(useful)
    while waiting:
        fresh = stands_in_for[waiting.pop()] - useful
        useful |= fresh
        waiting += fresh
    return useful
