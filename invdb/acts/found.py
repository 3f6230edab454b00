"""What is shown of a record that was found: its number or name, what tells it apart, and its sign."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BindParameter, ColumnElement, Connection, bindparam, exists, or_, select
from sqlalchemy.orm import aliased

from invdb.records.buying import Enquiry, EnquiryFirm, Loan, PurchaseOrder
from invdb.records.catalogue import Family, Mod, OtherNumber, Part
from invdb.records.documents import Document
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Firm
from invdb.records.searching import Hit
from invdb.records.stock import Batch, Hold, Holding, Piece, Place, Pull
from invdb.records.work import WorkOrder
from invdb.terms import Condition, Scope

ON_HOLD = "on hold"

# The statements are kept whole, since to put one together takes longer than to answer it.
_REFS: BindParameter[Any] = bindparam("refs", expanding=True)


@dataclass(frozen=True)
class Found:
    """One record that fits.

    ``kind`` is its table and ``ref`` its id there; ``headline`` its number, tag or name, and ``detail`` what
    tells it apart. ``exact`` if it has each word whole; ``slip`` if only with one typing slip undone.
    ``sign`` is ``on hold``, else the condition of a piece or a batch, else empty.
    """

    kind: str
    ref: int
    headline: str
    detail: str
    exact: bool
    slip: bool
    sign: str = ""


@dataclass(frozen=True)
class _Shown:
    """What is shown of a record."""

    headline: str
    detail: str
    sign: str = ""


def described(connection: Connection, hits: Sequence[Hit], slip: bool) -> Iterator[Found]:
    """The hits with what is shown of them, in their order; a few statements for each kind."""
    refs: dict[str, list[int]] = defaultdict(list)
    for hit in hits:
        refs[hit.kind].append(hit.ref)
    shown = {kind: _SHOW[kind](connection, some) for kind, some in refs.items()}
    for hit in hits:
        says = shown[hit.kind][hit.ref]
        yield Found(
            hit.kind, hit.ref, says.headline, says.detail, hit.exact and not slip, slip=slip, sign=says.sign
        )


def _sentence(*items: str | None) -> str:
    return ", ".join(item for item in items if item)


def _accepted(condition: Condition, scope: Scope | None) -> str:
    return f"{condition} for {scope}" if condition is Condition.SERVICEABLE and scope else str(condition)


def _held(*subjects: ColumnElement[bool]) -> ColumnElement[bool]:
    """Whether a doubt is raised on one of these that no entry has cleared."""
    held = (exists().where(subject, Hold.cleared_on.is_(None)) for subject in subjects)
    return or_(*held).label("held")


def _sign(held: bool, condition: Condition | None = None) -> str:
    return ON_HOLD if held else str(condition or "")


_NUMBERS = (
    select(OtherNumber.part_id, OtherNumber.number)
    .where(OtherNumber.part_id.in_(_REFS), OtherNumber.withdrawn_on.is_(None))
    .order_by(OtherNumber.id)
)
_PARTS = select(Part.id, Part.house_number, Part.name, _held(Hold.part_id == Part.id)).where(
    Part.id.in_(_REFS)
)


def _parts(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    numbers: dict[int, list[str]] = defaultdict(list)
    for ref, number in connection.execute(_NUMBERS, {"refs": refs}):
        numbers[ref].append(number)
    return {
        ref: _Shown(house_number, _sentence(name, *numbers[ref]), _sign(held))
        for ref, house_number, name, held in connection.execute(_PARTS, {"refs": refs})
    }


_PIECES = (
    select(
        Piece.id,
        Piece.tag,
        Piece.serial,
        Piece.condition,
        Piece.scope,
        Part.house_number,
        Part.name,
        Place.name.label("place"),
        _held(Hold.piece_id == Piece.id, Hold.part_id == Piece.part_id),
    )
    .join(Part, Part.id == Piece.part_id)
    .join(Place, Place.id == Piece.place_id)
    .where(Piece.id.in_(_REFS))
)


def _pieces(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_PIECES, {"refs": refs})
    return {
        row.id: _Shown(
            row.tag,
            _sentence(
                f"{row.house_number} {row.name}",
                row.serial and f"serial {row.serial}",
                _accepted(row.condition, row.scope),
                row.place,
            ),
            _sign(row.held, row.condition),
        )
        for row in rows
    }


_PLACES_OF_BATCHES = (
    select(Holding.batch_id, Place.name)
    .join(Place, Place.id == Holding.place_id)
    .where(Holding.batch_id.in_(_REFS), Holding.quantity > 0)
    .order_by(Place.walking_order, Place.id)
)
_BATCHES = (
    select(
        Batch.id,
        Batch.tag,
        Batch.maker_batch,
        Batch.condition,
        Batch.scope,
        Part.house_number,
        Part.name,
        _held(Hold.batch_id == Batch.id, Hold.part_id == Batch.part_id),
    )
    .join(Part, Part.id == Batch.part_id)
    .where(Batch.id.in_(_REFS))
)


def _batches(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    places: dict[int, list[str]] = defaultdict(list)
    for ref, place in connection.execute(_PLACES_OF_BATCHES, {"refs": refs}):
        places[ref].append(place)
    rows = connection.execute(_BATCHES, {"refs": refs})
    return {
        row.id: _Shown(
            row.tag,
            _sentence(
                f"{row.house_number} {row.name}",
                row.maker_batch and f"maker's batch {row.maker_batch}",
                _accepted(row.condition, row.scope),
                *(places[row.id] or ["none left"]),
            ),
            _sign(row.held, row.condition),
        )
        for row in rows
    }


_PARENT = aliased(Place)
_PLACES = (
    select(Place.id, Place.name, Place.kind, Place.bonded, _PARENT.name)
    .outerjoin(_PARENT, _PARENT.id == Place.parent_id)
    .where(Place.id.in_(_REFS))
)


def _places(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_PLACES, {"refs": refs})
    return {
        ref: _Shown(name, _sentence(f"bonded {kind}" if bonded else str(kind), within and f"in {within}"))
        for ref, name, kind, bonded, within in rows
    }


_PULLS = (
    select(
        Pull.id,
        Pull.number,
        Engine.name,
        Position.group_name,
        Position.name,
        Pull.asked_on,
        Pull.cancelled,
    )
    .join(Engine, Engine.id == Pull.engine_id)
    .join(Position, Position.id == Pull.position_id)
    .where(Pull.id.in_(_REFS))
)


def _pulls(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_PULLS, {"refs": refs})
    return {
        ref: _Shown(
            number,
            _sentence(
                engine, f"{group} {position}", asked_on.isoformat(), "cancelled" if cancelled else None
            ),
        )
        for ref, number, engine, group, position, asked_on, cancelled in rows
    }


_FIRMS_ASKED = (
    select(EnquiryFirm.enquiry_id, Firm.name)
    .join(Firm, Firm.id == EnquiryFirm.firm_id)
    .where(EnquiryFirm.enquiry_id.in_(_REFS))
    .order_by(EnquiryFirm.id)
)
_ENQUIRIES = select(Enquiry.id, Enquiry.number, Enquiry.asked_on, Enquiry.closed_on).where(
    Enquiry.id.in_(_REFS)
)


def _enquiries(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    firms: dict[int, list[str]] = defaultdict(list)
    for ref, name in connection.execute(_FIRMS_ASKED, {"refs": refs}):
        firms[ref].append(name)
    rows = connection.execute(_ENQUIRIES, {"refs": refs})
    return {
        ref: _Shown(
            number, _sentence(*firms[ref], asked_on.isoformat(), "closed" if closed_on is not None else None)
        )
        for ref, number, asked_on, closed_on in rows
    }


_ORDERS = (
    select(
        PurchaseOrder.id,
        PurchaseOrder.number,
        Firm.name,
        PurchaseOrder.kind,
        PurchaseOrder.ordered_on,
        PurchaseOrder.reference,
    )
    .join(Firm, Firm.id == PurchaseOrder.firm_id)
    .where(PurchaseOrder.id.in_(_REFS))
)


def _orders(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_ORDERS, {"refs": refs})
    return {
        ref: _Shown(number, _sentence(firm, str(kind), ordered_on.isoformat(), reference))
        for ref, number, firm, kind, ordered_on, reference in rows
    }


_LOANS = (
    select(Loan.id, Loan.number, Loan.way, Firm.name, Piece.tag, Loan.back_by, Loan.back_on)
    .join(Firm, Firm.id == Loan.firm_id)
    .join(Piece, Piece.id == Loan.piece_id)
    .where(Loan.id.in_(_REFS))
)


def _loans(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_LOANS, {"refs": refs})
    return {
        ref: _Shown(
            number,
            _sentence(
                f"{tag} {way}",
                firm,
                f"back by {back_by.isoformat()}" if back_on is None else f"ended {back_on.isoformat()}",
            ),
        )
        for ref, number, way, firm, tag, back_by, back_on in rows
    }


_WORK_ORDERS = (
    select(WorkOrder.id, WorkOrder.number, WorkOrder.kind, Place.name, WorkOrder.sent_on)
    .join(Place, Place.id == WorkOrder.place_id)
    .where(WorkOrder.id.in_(_REFS))
)


def _work_orders(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_WORK_ORDERS, {"refs": refs})
    return {
        ref: _Shown(number, _sentence(str(kind), place, sent_on.isoformat()))
        for ref, number, kind, place, sent_on in rows
    }


_ENGINES = (
    select(
        Engine.id,
        Engine.name,
        EngineType.name,
        Engine.serial,
        Engine.use,
        _held(Hold.engine_id == Engine.id),
    )
    .join(EngineType, EngineType.id == Engine.engine_type_id)
    .where(Engine.id.in_(_REFS))
)


def _engines(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_ENGINES, {"refs": refs})
    return {
        ref: _Shown(name, _sentence(type_name, f"serial {serial}", str(use)), _sign(held))
        for ref, name, type_name, serial, use, held in rows
    }


_ENGINE_TYPES = (
    select(EngineType.id, EngineType.name, EngineType.layout, Firm.name)
    .outerjoin(Firm, Firm.id == EngineType.maker_firm_id)
    .where(EngineType.id.in_(_REFS))
)


def _engine_types(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_ENGINE_TYPES, {"refs": refs})
    return {
        ref: _Shown(name, _sentence("engine type", str(layout), maker and f"by {maker}"))
        for ref, name, layout, maker in rows
    }


_DOCUMENTS = select(Document.id, Document.reference, Document.kind, Document.title, Document.dated_on).where(
    Document.id.in_(_REFS)
)


def _documents(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_DOCUMENTS, {"refs": refs})
    return {
        ref: _Shown(
            reference or title,
            _sentence(str(kind), title, dated_on.isoformat() if dated_on is not None else None),
        )
        for ref, reference, kind, title, dated_on in rows
    }


_FIRMS = select(Firm.id, Firm.name, Firm.role, Firm.town).where(Firm.id.in_(_REFS))


def _firms(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_FIRMS, {"refs": refs})
    return {ref: _Shown(name, _sentence(str(role), town)) for ref, name, role, town in rows}


_MODS = (
    select(Mod.id, Mod.code, Mod.name, EngineType.name)
    .join(EngineType, EngineType.id == Mod.engine_type_id)
    .where(Mod.id.in_(_REFS))
)


def _mods(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_MODS, {"refs": refs})
    return {ref: _Shown(code, _sentence(name, f"mod of the {of_type}")) for ref, code, name, of_type in rows}


_FAMILIES = select(Family.id, Family.letters, Family.name).where(Family.id.in_(_REFS))


def _families(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(_FAMILIES, {"refs": refs})
    return {ref: _Shown(letters, _sentence(name, "family of parts")) for ref, letters, name in rows}


_SHOW: dict[str, Callable[[Connection, list[int]], dict[int, _Shown]]] = {
    "part": _parts,
    "piece": _pieces,
    "batch": _batches,
    "place": _places,
    "pull": _pulls,
    "enquiry": _enquiries,
    "purchase_order": _orders,
    "loan": _loans,
    "work_order": _work_orders,
    "engine": _engines,
    "engine_type": _engine_types,
    "document": _documents,
    "firm": _firms,
    "mod": _mods,
    "family": _families,
}
