"""Which stock is asked for: by condition, place, origin, family, engine type, owner, hold, and words."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BigInteger, ColumnElement, and_, bindparam, false, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from invdb.acts.in_doubt import tainted_batches, tainted_pieces
from invdb.records.catalogue import KitLine, Part, StandIn, StandInMember
from invdb.records.clock import today
from invdb.records.documents import DocumentLink
from invdb.records.nesting import NESTING_MAX
from invdb.records.stock import Batch, Hold, Holding, Piece, Place
from invdb.records.words import FindWord
from invdb.records.work import WorkLine, WorkOrder
from invdb.rules.alternates import STEPS_MAX
from invdb.rules.finding import Query, Sought, readings
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import Condition, Origin, PlaceKind

_LEVELS_MAX = (NESTING_MAX + 1) * (NESTING_MAX + 1)


@dataclass(frozen=True)
class StockFilter:
    """What to list; None or '' means without that bound, and ids are those of the records.

    ``place`` takes in whatever lies inside it. ``engine_type`` asks for parts that a kit of that type calls
    for, or that may stand in for one. ``text`` holds words that must each fit a tag, serial, work reference,
    part number, part name or bin, whole or as a beginning. ``firm`` is whom it came from, ``document`` one
    that stands behind it. ``in_doubt`` asks for what an engine event taints and no inspection has cleared.
    ``gone`` also lists what is no longer here. ``at_work`` asks for what is out for work where it lies, or
    for what isn't, and ``overdue`` for what of that should have been back before today.
    """

    condition: Condition | None = None
    place: int | None = None
    origin: Origin | None = None
    family: int | None = None
    engine_type: int | None = None
    text: str = ""
    owner: int | None = None
    on_hold: bool | None = None
    part: int | None = None
    firm: int | None = None
    document: int | None = None
    in_doubt: bool = False
    gone: bool = False
    at_work: bool | None = None
    overdue: bool = False


class StockConditions:
    """The bounds of one filter, as conditions on pieces and on batches where they lie.

    What must be read first, the places inside a place and the parts of an engine type, is read once.
    """

    def __init__(self, session: Session, which: StockFilter) -> None:
        self._which = which
        self._places = None if which.place is None else places_inside(session, which.place)
        self._parts = None if which.engine_type is None else parts_of_type(session, which.engine_type)
        self._queries = readings(which.text)
        self._today = today(session)
        # Of each batch in doubt the places where it is, None for all of them.
        self._tainted = _places_in_doubt(session) if which.in_doubt else {}

    def on(
        self, table: type[Piece] | type[Batch], place: InstrumentedAttribute[int]
    ) -> list[ColumnElement[bool]]:
        """The conditions on pieces or on batches; ``place`` is the column that says where each lies."""
        which = self._which
        found: list[ColumnElement[bool]] = []
        if which.condition is not None:
            found.append(table.condition == which.condition)
        if which.origin is not None:
            found.append(table.origin == which.origin)
        if which.owner is not None:
            found.append(table.owner_id == which.owner)
        if which.part is not None:
            found.append(table.part_id == which.part)
        if which.firm is not None:
            found.append(table.origin_firm_id == which.firm)
        if which.document is not None:
            linked = DocumentLink.piece_id if table is Piece else DocumentLink.batch_id
            behind = select(linked).where(DocumentLink.document_id == which.document, linked.is_not(None))
            found.append(table.id.in_(behind))
        if which.family is not None:
            found.append(table.part_id.in_(select(Part.id).where(Part.family_id == which.family)))
        if self._parts is not None:
            found.append(_among(table.part_id, self._parts))
        if self._places is not None:
            found.append(_among(place, self._places))
        if which.on_hold is not None:
            found.append(is_on_hold(table) if which.on_hold else ~is_on_hold(table))
        if which.in_doubt and table is Piece:
            found.append(table.id.in_(tainted_pieces()))
        elif which.in_doubt:
            found.append(or_(false(), *self._batches_in_doubt(place)))
        if which.at_work or which.overdue:
            found.append(self._out_for_work(table, place))
        elif which.at_work is False:
            found.append(~self._out_for_work(table, place))
        if not which.gone:
            found.append(Holding.quantity > 0 if table is Batch else place != OUTSIDE_PLACE)
        if self._queries:
            found.append(or_(*(_fits(table, place, query) for query in self._queries)))
        return found

    def _out_for_work(
        self, table: type[Piece] | type[Batch], place: InstrumentedAttribute[int]
    ) -> ColumnElement[bool]:
        """That a work order stands on a thing there where it lies."""
        own = WorkLine.piece_id if table is Piece else WorkLine.batch_id
        order = (
            select(WorkLine.id)
            .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
            .where(own == table.id, WorkLine.returned < WorkLine.quantity, WorkOrder.place_id == place)
        )
        if self._which.overdue:
            order = order.where(WorkOrder.due_on < self._today)
        return order.exists()

    def _batches_in_doubt(self, place: InstrumentedAttribute[int]) -> Iterator[ColumnElement[bool]]:
        whole = {batch for batch, places in self._tainted.items() if places is None}
        if whole:
            yield _among(Batch.id, whole)
        for batch, places in self._tainted.items():
            if places is not None:
                yield (Batch.id == batch) & _among(place, places)


def _places_in_doubt(session: Session) -> dict[int, set[int] | None]:
    found: dict[int, set[int] | None] = {}
    inside: dict[int, set[int]] = {}
    for batch, events in tainted_batches(session).items():
        if not all(event.fitted_only for event in events):
            found[batch] = None
            continue
        for engine in {event.engine for event in events}:
            if engine not in inside:
                own = select(Place.id).where(Place.engine_id == engine, Place.kind == PlaceKind.ENGINE)
                inside[engine] = set().union(*(places_inside(session, each) for each in session.scalars(own)))
        found[batch] = set().union(*(inside[event.engine] for event in events))
    return found


def _among(column: InstrumentedAttribute[Any], ids: Collection[int]) -> ColumnElement[bool]:
    """That a column is one of many ids; written into the statement, so that there may be very many."""
    values = bindparam(None, sorted(ids), type_=BigInteger, expanding=True, literal_execute=True)
    return column.in_(values)


def is_on_hold(table: type[Piece] | type[Batch]) -> ColumnElement[bool]:
    """That a hold stands on the thing itself or on its part."""
    own = Hold.piece_id if table is Piece else Hold.batch_id
    standing = Hold.cleared_on.is_(None)
    return or_(
        table.id.in_(select(own).where(standing, own.is_not(None))),
        table.part_id.in_(select(Hold.part_id).where(standing, Hold.part_id.is_not(None))),
    )


def _fits(
    table: type[Piece] | type[Batch], place: InstrumentedAttribute[int], query: Query
) -> ColumnElement[bool]:
    def having(kind: str, word: Sought) -> ColumnElement[bool]:
        column = {"part": table.part_id, "place": place}.get(kind, table.id)
        within = or_(*(and_(FindWord.word >= low, FindWord.word < high) for low, high in word.ranges()))
        return column.in_(select(FindWord.ref).where(FindWord.kind == kind, within))

    kinds = ("piece" if table is Piece else "batch", "part", "place")
    return and_(*(or_(*(having(kind, word) for kind in kinds)) for word in query.words))


def places_inside(session: Session, place: int) -> set[int]:
    """A place, the places that stand in it, and those that pieces lying there are, level by level."""
    inside = {place}
    level = inside
    for _ in range(_LEVELS_MAX):
        below = set(
            session.scalars(select(Place.id).where(_among(Place.parent_id, level), Place.piece_id.is_(None)))
        )
        below.update(
            session.scalars(
                select(Place.id).join(Piece, Piece.id == Place.piece_id).where(_among(Piece.place_id, level))
            )
        )
        level = below - inside
        if not level:
            break
        inside = inside | level
    return inside


def parts_of_type(session: Session, engine_type: int) -> set[int]:
    """The parts that kits of an engine type call for, and all that may stand in for them, step by step."""
    parts = set(session.scalars(select(KitLine.part_id).where(KitLine.engine_type_id == engine_type)))
    fresh = parts
    for _ in range(STEPS_MAX):
        if not fresh:
            break
        rows = session.execute(
            select(StandIn.part_id, StandIn.both_ways, StandInMember.part_id)
            .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
            .where(
                or_(StandIn.engine_type_id.is_(None), StandIn.engine_type_id == engine_type),
                or_(
                    _among(StandIn.part_id, fresh),
                    StandIn.both_ways & _among(StandInMember.part_id, fresh),
                ),
            )
        )
        reached: set[int] = set()
        for part, both_ways, member in rows:
            if part in fresh:
                reached.add(member)
            if both_ways and member in fresh:
                reached.add(part)
        fresh = reached - parts
        parts = parts | fresh
    return parts
