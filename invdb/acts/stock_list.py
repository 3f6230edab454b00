"""The stock as one list: every piece, and every batch at each place where some of it lies."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import (
    BigInteger,
    CompoundSelect,
    cast,
    func,
    null,
    select,
    union_all,
)
from sqlalchemy.orm import Session

from invdb.acts.event_doubts import events_on
from invdb.acts.numbers import Thing
from invdb.acts.offers import (
    STOCK_PLACES,
    FamilyOffer,
    OwnerOffer,
    PlaceOffer,
    families,
    owners,
    places_to_put,
)
from invdb.acts.seated_at import seats_at
from invdb.acts.stock_filter import StockConditions, StockFilter
from invdb.acts.stock_sort import EMPTY, Arm, StockColumn, StockSort, Value, joined, sort_values
from invdb.acts.things import ThingState, things_by_id
from invdb.records.clock import today
from invdb.records.engines import EngineType
from invdb.records.stock import Batch, Holding, Piece, Pull, PullLine
from invdb.rules.life import LifeVerdict, prior_hours_words
from invdb.rules.life_limits import judge
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, Measure, Origin, PlaceKind, Scope

PAGE_MAX = 1_000
FITTED_KINDS = frozenset({PlaceKind.ENGINE, PlaceKind.STATION, PlaceKind.PIECE})


@dataclass(frozen=True)
class StockRow:
    """A piece, or as much of a batch as lies at one place.

    ``quantity`` and ``reserved`` are in the smallest unit. ``place`` is None for a batch of which nothing is
    left; a batch's ``serial`` is the maker's batch mark. ``bin`` says of what is fitted where in its engine
    or piece, and ``engine`` in which. ``hours`` are those run in all. ``expired`` if its shelf life or its
    life limit has run out. ``doubts`` are of engine events that it has not been cleared of.
    """

    thing: Thing
    place: int | None
    tag: str
    part: int
    part_number: str
    part_name: str
    serial: str
    quantity: int
    quantity_words: str
    measure: Measure
    condition: Condition
    scope: Scope | None
    bin: str
    place_kind: PlaceKind | None
    owner: str
    origin: Origin
    hours: str
    shelf_expiry_on: date | None
    received_on: date
    expired: bool
    reserved: int
    reserved_for: tuple[str, ...]
    holds: tuple[str, ...]
    papers: int
    engine: int | None = None
    doubts: tuple[str, ...] = ()

    @property
    def fitted(self) -> bool:
        """Whether it sits in an engine or in a piece, from where it is stripped and not moved."""
        return self.place_kind in FITTED_KINDS

    @property
    def on_hold(self) -> bool:
        """Whether a hold stands on it or on its part."""
        return bool(self.holds)


@dataclass(frozen=True)
class StockPage:
    """Some rows, and how many fit the filter in all."""

    rows: tuple[StockRow, ...]
    total: int


@dataclass(frozen=True)
class EngineTypeChoice:
    """An engine type to filter by."""

    id: int
    name: str


@dataclass(frozen=True)
class StockChoices:
    """What the list can be filtered by."""

    conditions: tuple[Condition, ...]
    places: tuple[PlaceOffer, ...]
    origins: tuple[Origin, ...]
    families: tuple[FamilyOffer, ...]
    engine_types: tuple[EngineTypeChoice, ...]
    owners: tuple[OwnerOffer, ...]


def stock_rows(
    session: Session,
    which: StockFilter,
    sort: StockSort | None = None,
    offset: int = 0,
    limit: int = 100,
) -> StockPage:
    """The rows from ``offset`` on, at most ``limit`` and at most ``PAGE_MAX``, and how many fit in all.

    First the keys of the page are sorted out, then what is shown of them is read, so that the number of
    queries is the same however long the list. Tags are sorted as text, which is the order of their issue as
    long as they have the same number of digits.
    """
    conditions = StockConditions(session, which)
    keys = session.execute(
        _sorted(conditions, which, sort or StockSort())
        .offset(max(offset, 0))
        .limit(min(max(limit, 0), PAGE_MAX))
    ).all()
    return StockPage(
        _rows(session, [(Thing(row.piece_id, row.batch_id), row.place_id) for row in keys]),
        _count(session, conditions, which),
    )


def stock_count(session: Session, which: StockFilter) -> int:
    """How many rows fit the filter."""
    return _count(session, StockConditions(session, which), which)


def stock_choices(session: Session) -> StockChoices:
    """What the list can be filtered by."""
    types = session.execute(select(EngineType.id, EngineType.name).order_by(EngineType.name))
    return StockChoices(
        tuple(Condition),
        places_to_put(session, (*STOCK_PLACES, PlaceKind.ENGINE)),
        tuple(Origin),
        families(session),
        tuple(EngineTypeChoice(*row) for row in types),
        owners(session),
    )


def _pieces(columns: Sequence[Value], conditions: StockConditions) -> Arm:
    return select(*columns).select_from(Piece).where(*conditions.on(Piece, Piece.place_id))


def _batches(columns: Sequence[Value], conditions: StockConditions, gone: bool) -> Arm:
    return (
        select(*columns)
        .select_from(Batch)
        .join(Holding, Holding.batch_id == Batch.id, isouter=gone)
        .where(*conditions.on(Batch, Holding.place_id))
    )


def _count(session: Session, conditions: StockConditions, which: StockFilter) -> int:
    pieces = _pieces([func.count()], conditions).scalar_subquery()
    batches = _batches([func.count()], conditions, which.gone).scalar_subquery()
    return session.scalar(select(pieces + batches)) or 0


def _sorted(
    conditions: StockConditions, which: StockFilter, sort: StockSort
) -> CompoundSelect[*tuple[Any, ...]]:
    """The keys of pieces and batches, with what they are sorted by in columns of the same names."""
    nothing = cast(null(), BigInteger)
    pieces: list[Value] = [
        Piece.id.label("piece_id"),
        nothing.label("batch_id"),
        Piece.place_id.label("place_id"),
        Piece.tag.label("tag"),
    ]
    batches: list[Value] = [
        nothing.label("piece_id"),
        Batch.id.label("batch_id"),
        Holding.place_id.label("place_id"),
        Batch.tag.label("tag"),
    ]
    pieces += [value.label(name) for name, value in sort_values(Piece, sort.column).items()]
    batches += [value.label(name) for name, value in sort_values(Batch, sort.column).items()]
    both = union_all(
        joined(_pieces(pieces, conditions), Piece, sort.column),
        joined(_batches(batches, conditions, which.gone), Batch, sort.column),
    )
    columns = both.selected_columns
    order = [
        columns[name].desc() if sort.descending and name != EMPTY else columns[name].asc()
        for name in sort_values(Piece, sort.column)
    ]
    tag = columns["tag"]
    last_down = sort.descending and sort.column is StockColumn.TAG
    return both.order_by(*order, tag.desc() if last_down else tag.asc(), columns["place_id"].asc())


def _rows(session: Session, keys: Sequence[tuple[Thing, int | None]]) -> tuple[StockRow, ...]:
    states = things_by_id(session, {thing for thing, _ in keys})
    pulls = _pulls_of_batches(session, {thing.batch for thing, _ in keys if thing.batch is not None})
    on = today(session)
    fitted = {place for thing, place in keys if place is not None and _sits_at(states[thing], place)}
    seats = seats_at(session, fitted) if fitted else {}
    # Of a batch some may be in doubt only where it is fitted.
    of_batches = {thing for thing, place in keys if thing.batch is not None and place in seats}
    events = events_on(session, of_batches) if of_batches else {}
    rows = []
    for thing, place in keys:
        seat = seats.get(place or 0)
        row = _row(states[thing], place, pulls.get((thing.batch or 0, place or 0), ()), on)
        if seat is not None:
            inside = (each.doubt for each in events.get(thing, ()) if each.engine == seat.engine)
            doubts = tuple(dict.fromkeys((*row.doubts, *inside)))
            row = replace(row, bin=seat.words, engine=seat.engine, doubts=doubts)
        rows.append(row)
    return tuple(rows)


def _sits_at(state: ThingState, place: int) -> bool:
    """Whether a thing is fitted at that place."""
    return any(where.place == place and where.kind in FITTED_KINDS for where in state.where)


def _pulls_of_batches(session: Session, batches: Collection[int]) -> dict[tuple[int, int], tuple[str, ...]]:
    """The pulls that have some of a batch set aside at a place, by batch and place."""
    rows = session.execute(
        select(PullLine.batch_id, PullLine.place_id, Pull.number)
        .join(Pull, Pull.id == PullLine.pull_id)
        .where(PullLine.batch_id.in_(batches), PullLine.reserved > 0)
        .order_by(Pull.number)
    )
    found: dict[tuple[int, int], dict[str, None]] = defaultdict(dict)
    for batch, place, number in rows:
        found[batch or 0, place or 0][number] = None
    return {key: tuple(numbers) for key, numbers in found.items()}


def _row(state: ThingState, place: int | None, batch_pulls: tuple[str, ...], on: date) -> StockRow:
    where = next((each for each in state.where if each.place == place), None)
    quantity = where.quantity if where is not None else 0
    shelf_over = state.shelf_expiry_on is not None and state.shelf_expiry_on <= on
    life = state.run_hours
    return StockRow(
        thing=state.thing,
        place=place,
        tag=state.tag,
        part=state.part,
        part_number=state.part_number,
        part_name=state.part_name,
        serial=state.serial,
        quantity=quantity,
        quantity_words=quantity_words(quantity, state.measure),
        measure=state.measure,
        condition=state.condition,
        scope=state.scope,
        bin=where.name if where is not None else "",
        place_kind=where.kind if where is not None else None,
        owner=state.owner_name,
        origin=state.origin,
        hours=prior_hours_words(life) if life is not None else "",
        shelf_expiry_on=state.shelf_expiry_on,
        received_on=state.received_on,
        expired=shelf_over
        or (
            state.lived is not None
            and judge(state.lived, state.limits, on, None).verdict is LifeVerdict.EXPIRED
        ),
        reserved=where.reserved if where is not None else 0,
        reserved_for=state.reserved_for if state.thing.piece is not None else batch_pulls,
        holds=state.holds,
        papers=state.papers,
        doubts=state.doubts,
    )
