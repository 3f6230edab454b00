"""The catalogue as one list of parts: which fit what is asked for, sorted, a page at a time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import Session

from invdb.acts.offers import STOCK_PLACES
from invdb.records.catalogue import Family, Part
from invdb.records.clock import today
from invdb.records.specs import Spec
from invdb.records.stock import Batch, Hold, Holding, Piece, Place
from invdb.records.words import FindWord
from invdb.rules.finding import Query, Sought, readings
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, PlaceKind, Tracking

PAGE_MAX = 1_000
SHELVES = tuple(kind for kind in STOCK_PLACES if kind is not PlaceKind.SCRAP)


@dataclass(frozen=True)
class PartFilter:
    """Which parts to list; None, '' and False set no bound.

    ``text`` holds words that must each fit a number or the name of the part, or its family, whole or as a
    beginning. ``on_hold`` asks for parts on which a hold stands, ``without_spec`` for those of which no
    specification is in force today.
    """

    family: int | None = None
    life_limited: bool = False
    without_spec: bool = False
    on_hold: bool = False
    text: str = ""


class PartColumn(StrEnum):
    """By what the list may be sorted."""

    NUMBER = "number"
    NAME = "name"
    FAMILY = "family"
    SPEC = "specification"
    ON_SHELF = "on the shelf"


@dataclass(frozen=True)
class PartSort:
    """By which column, and which way; a part without a specification comes last either way."""

    column: PartColumn = PartColumn.NUMBER
    descending: bool = False


@dataclass(frozen=True)
class PartRow:
    """A part in the list: ``revision`` of the specification in force, '' for none; ``on_shelf`` how much of
    it is serviceable and fitted nowhere, in the smallest unit and in words.
    """

    part: int
    number: str
    name: str
    family: str
    tracking: Tracking
    size_class: str
    finish: str
    life_limited: bool
    critical: bool
    on_hold: bool
    revision: str
    on_shelf: int
    shelf_words: str


@dataclass(frozen=True)
class PartListPage:
    """Some rows, how many parts fit the filter, and how many there are."""

    rows: tuple[PartRow, ...]
    fitting: int
    total: int


def part_rows(
    session: Session, which: PartFilter, sort: PartSort | None = None, offset: int = 0, limit: int = 100
) -> PartListPage:
    """The rows from ``offset`` on, at most ``limit`` and at most ``PAGE_MAX``."""
    day = today(session)
    conditions = _conditions(which, day)
    ids = session.scalars(
        _sorted(conditions, sort or PartSort(), day)
        .offset(max(offset, 0))
        .limit(min(max(limit, 0), PAGE_MAX))
    ).all()
    fitting = session.scalar(select(func.count()).select_from(Part).where(*conditions)) or 0
    total = session.scalar(select(func.count()).select_from(Part)) or 0
    return PartListPage(_rows(session, ids, day), fitting, total)


def place_in_list(session: Session, part: int, which: PartFilter, sort: PartSort | None = None) -> int | None:
    """Where in the list a part stands, counted from 0; None where it does not fit."""
    day = today(session)
    ids = list(session.scalars(_sorted(_conditions(which, day), sort or PartSort(), day)))
    return ids.index(part) if part in ids else None


def on_shelf(session: Session, parts: Collection[int]) -> dict[int, int]:
    """How much of each of these parts is serviceable and fitted nowhere, in the smallest unit; 0 for none."""
    found = dict.fromkeys(parts, 0)
    for table, amount in ((Piece, func.count()), (Batch, func.sum(Holding.quantity))):
        rows = _on_shelf(table, amount).where(table.part_id.in_(parts)).group_by(table.part_id)
        for quantity, part in session.execute(rows.add_columns(table.part_id)):
            found[part] += quantity
    return found


def _on_shelf(table: type[Piece] | type[Batch], amount: ColumnElement[Any]) -> Select[Any]:
    """An amount of what is serviceable and lies on a shelf, to be bound to parts."""
    found = select(amount).select_from(table).where(table.condition == Condition.SERVICEABLE)
    if table is Batch:
        found = found.join(Holding, Holding.batch_id == Batch.id)
    lies = Holding.place_id if table is Batch else Piece.place_id
    return found.join(Place, Place.id == lies).where(Place.kind.in_(SHELVES))


def _conditions(which: PartFilter, day: date) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if which.family is not None:
        found.append(Part.family_id == which.family)
    if which.life_limited:
        found.append(Part.life_limited.is_(True))
    if which.without_spec:
        found.append(~_in_force(day).where(Spec.part_id == Part.id).exists())
    if which.on_hold:
        found.append(_held().exists())
    queries = readings(which.text)
    if queries:
        found.append(or_(*(_fits(query) for query in queries)))
    return found


def _fits(query: Query) -> ColumnElement[bool]:
    def having(column: ColumnElement[int], kind: str, word: Sought) -> ColumnElement[bool]:
        within = or_(*(and_(FindWord.word >= low, FindWord.word < high) for low, high in word.ranges()))
        return column.in_(select(FindWord.ref).where(FindWord.kind == kind, within))

    return and_(
        *(
            or_(having(Part.id, "part", word), having(Part.family_id, "family", word))  # type: ignore[arg-type]
            for word in query.words
        )
    )


def _in_force(day: date) -> Select[Any]:
    """The specifications that may be in force on a day; of a part the latest of them is."""
    return select(Spec.revision).where(
        Spec.from_on <= day, or_(Spec.withdrawn_on.is_(None), Spec.withdrawn_on > day)
    )


def _held() -> Select[Any]:
    return select(Hold.id).where(Hold.part_id == Part.id, Hold.cleared_on.is_(None))


def _sorted(conditions: list[ColumnElement[bool]], sort: PartSort, day: date) -> Select[int]:
    order: list[Any] = []
    match sort.column:
        case PartColumn.NAME:
            value: Any = func.lower(Part.name)
        case PartColumn.FAMILY:
            value = func.lower(Family.name)
        case PartColumn.SPEC:
            latest = _in_force(day).where(Spec.part_id == Part.id)
            revision = latest.order_by(Spec.from_on.desc(), Spec.id.desc()).limit(1).scalar_subquery()
            order = [revision.is_(None)]
            value = revision
        case PartColumn.ON_SHELF:
            pieces = _on_shelf(Piece, func.count()).where(Piece.part_id == Part.id).scalar_subquery()
            batches = _on_shelf(Batch, func.coalesce(func.sum(Holding.quantity), 0))
            value = pieces + batches.where(Batch.part_id == Part.id).scalar_subquery()
        case _:
            value = Part.house_number
    query = select(Part.id).join(Family, Family.id == Part.family_id).where(*conditions)
    return query.order_by(*order, value.desc() if sort.descending else value.asc(), Part.house_number)


def _rows(session: Session, ids: Sequence[int], day: date) -> tuple[PartRow, ...]:
    parts = {
        row.Part.id: row
        for row in session.execute(
            select(Part, Family.name.label("family"), _held().exists().label("held"))
            .join(Family, Family.id == Part.family_id)
            .where(Part.id.in_(ids))
        )
    }
    revisions = dict(
        session.execute(
            _in_force(day)
            .with_only_columns(Spec.part_id, Spec.revision)
            .where(Spec.part_id.in_(ids))
            .order_by(Spec.from_on, Spec.id)
        ).all()
    )
    shelf = on_shelf(session, ids)
    return tuple(
        PartRow(
            each,
            parts[each].Part.house_number,
            parts[each].Part.name,
            parts[each].family,
            parts[each].Part.tracking,
            parts[each].Part.size_class,
            parts[each].Part.finish,
            parts[each].Part.life_limited,
            parts[each].Part.critical,
            parts[each].held,
            revisions.get(each, ""),
            shelf[each],
            quantity_words(shelf[each], parts[each].Part.measure),
        )
        for each in ids
    )
