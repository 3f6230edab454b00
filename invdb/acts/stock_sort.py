"""By what the stock list is sorted: every column as something that pieces and batches are compared by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from sqlalchemy import BigInteger, ColumnElement, Select, case, cast, func, literal, null, select
from sqlalchemy.orm import InstrumentedAttribute

from invdb.acts.engine_use import last_line
from invdb.acts.stock_filter import is_on_hold
from invdb.records.catalogue import Part
from invdb.records.life import Running, Service
from invdb.records.people import Owner
from invdb.records.stock import Batch, Holding, Piece, Place, Pull, PullLine
from invdb.terms import Condition, Measure, Origin, Scope

# What says that there is nothing to compare; always compared the same way round.
EMPTY = "empty"
Arm = Select[*tuple[Any, ...]]
# A column, or what is worked out of columns.
Value = ColumnElement[Any] | InstrumentedAttribute[Any]


class StockColumn(StrEnum):
    """By what the list may be sorted."""

    TAG = "tag"
    PART_NUMBER = "part number"
    PART_NAME = "part name"
    SERIAL = "serial"
    QUANTITY = "quantity"
    CONDITION = "condition"
    SCOPE = "scope"
    BIN = "bin"
    OWNER = "owner"
    ORIGIN = "origin"
    HOURS = "hours"
    SHELF_EXPIRY = "shelf expiry"
    RECEIVED = "received"
    RESERVED_FOR = "reserved for"
    ON_HOLD = "on hold"


@dataclass(frozen=True)
class StockSort:
    """By which column, and which way; what has no value there comes last either way."""

    column: StockColumn = StockColumn.TAG
    descending: bool = False


def joined(arm: Arm, table: type[Piece] | type[Batch], column: StockColumn) -> Arm:
    """The arm with the tables that the sorting looks at."""
    match column:
        case StockColumn.PART_NUMBER | StockColumn.PART_NAME | StockColumn.QUANTITY:
            return arm.join(Part, Part.id == table.part_id)
        case StockColumn.BIN:
            place = Piece.place_id if table is Piece else Holding.place_id
            return arm.outerjoin(Place, Place.id == place)
        case StockColumn.OWNER:
            return arm.join(Owner, Owner.id == table.owner_id)
        case StockColumn.RESERVED_FOR if table is Piece:
            return arm.outerjoin(PullLine, PullLine.id == Piece.reserved_for).outerjoin(
                Pull, Pull.id == PullLine.pull_id
            )
    return arm


def sort_values(table: type[Piece] | type[Batch], column: StockColumn) -> dict[str, Value]:
    """What is compared, the weightiest first; nothing for the tag, which always comes last."""
    is_piece = table is Piece
    match column:
        case StockColumn.TAG:
            return {}
        case StockColumn.PART_NUMBER:
            return {"by": Part.house_number}
        case StockColumn.PART_NAME:
            return {"by": func.lower(Part.name), "then": Part.house_number}
        case StockColumn.SERIAL:
            return _empty_last(func.nullif(Piece.serial if is_piece else Batch.maker_batch, ""))
        case StockColumn.QUANTITY:
            quantity = literal(1, BigInteger) if is_piece else func.coalesce(Holding.quantity, 0)
            return {"by": _rank(Part.measure, Measure), "then": quantity}
        case StockColumn.CONDITION:
            return {"by": _rank(table.condition, Condition)}
        case StockColumn.SCOPE:
            return _empty_last(_rank(table.scope, Scope))
        case StockColumn.BIN:
            return _empty_last(Place.walking_order) | {"then": Place.name}
        case StockColumn.OWNER:
            return {"by": func.lower(Owner.name)}
        case StockColumn.ORIGIN:
            return {"by": _rank(table.origin, Origin)}
        case StockColumn.HOURS:
            return _empty_last(_hours_run() if is_piece else cast(null(), BigInteger))
        case StockColumn.SHELF_EXPIRY:
            return _empty_last(table.shelf_expiry_on)
        case StockColumn.RECEIVED:
            return {"by": table.received_on}
        case StockColumn.RESERVED_FOR:
            return _empty_last(Pull.number if is_piece else _first_pull())
        case StockColumn.ON_HOLD:
            return {"by": case((is_on_hold(table), 0), else_=1)}


def _hours_run() -> ColumnElement[Any]:
    """The least that a piece ran in all, in hundredths of an hour; nothing where none of it is known."""
    total = (
        select(Running.flight_low + Running.ground_low)
        .where(Running.id == last_line(Service.engine_id))
        .correlate(Service)
        .scalar_subquery()
    )
    served = Service.flight_low + Service.ground_low
    ran = case((Service.to_entry.is_(None), served + func.coalesce(total, 0)), else_=served)
    here = (
        select(cast(func.sum(ran), BigInteger))
        .where(Service.piece_id == Piece.id)
        .correlate(Piece)
        .scalar_subquery()
    )
    known = func.coalesce(Piece.prior_hours_low, 0) + func.coalesce(here, 0)
    return case((Piece.prior_hours_low.is_not(None), known), else_=func.nullif(known, 0))


def _empty_last(value: Value) -> dict[str, Value]:
    """A value after what says whether there is none: databases differ in where they put what is empty."""
    return {EMPTY: case((value.is_(None), 1), else_=0), "by": value}


def _rank(column: Value, words: Iterable[StrEnum]) -> ColumnElement[Any]:
    """Words in the order in which ``invdb.terms`` lists them."""
    return case({word: rank for rank, word in enumerate(words)}, value=column)


def _first_pull() -> ColumnElement[Any]:
    return (
        select(func.min(Pull.number))
        .join(PullLine, PullLine.pull_id == Pull.id)
        .where(PullLine.batch_id == Batch.id, PullLine.place_id == Holding.place_id, PullLine.reserved > 0)
        .scalar_subquery()
    )
