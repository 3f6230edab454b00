"""What there is of each part and what is coming: free, in work or waiting for it, on order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session

from invdb.acts.beliefs import Beliefs
from invdb.acts.event_doubts import doubts_on
from invdb.acts.firm_times import FirmRecord, SupplierTimes, WorkTimes
from invdb.acts.life import life_of
from invdb.acts.numbers import Thing
from invdb.records.buying import OrderLine, PurchaseOrder
from invdb.records.catalogue import Part
from invdb.records.life import LifeLimit
from invdb.records.people import Owner, OwnerAgreement
from invdb.records.stock import Batch, Hold, Holding, Piece, Place
from invdb.records.work import WorkLine, WorkOrder
from invdb.rules.availability import STORES_KINDS
from invdb.rules.life import LifeVerdict
from invdb.rules.supply import InWork, OnOrder, YieldRecord
from invdb.terms import Condition, PlaceKind, Scope

# What is unserviceable and lies here waits for somebody to send it; so long it may take till that is done.
SEND_DAYS = 30
_LYING = (*STORES_KINDS, PlaceKind.BENCH, PlaceKind.QUARANTINE)


@dataclass(frozen=True)
class Coming:
    """What is out for work, waits for it or is on order: how much, with whom, since when in days.

    ``good`` is the yield of work, None for an order. What waits is to be sent within ``wait_days``.
    """

    count: int
    firm: FirmRecord
    what: str
    elapsed_days: int = 0
    wait_days: int = 0
    good: YieldRecord | None = None

    def work(self, unit: int) -> InWork:
        """As the rule of supply takes it, in so many smallest units."""
        assert self.good is not None
        return InWork(self.count // unit, self.firm.time, self.good, self.elapsed_days, self.wait_days)

    def order(self, unit: int) -> OnOrder:
        """The same of an order."""
        return OnOrder(self.count // unit, self.firm.time, self.elapsed_days)


@dataclass
class PartStock:
    """What there is of a part, in its smallest unit; ``uncounted`` is what lies here and is not free."""

    free: int = 0
    waiting: int = 0
    uncounted: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    coming: list[Coming] = field(default_factory=list)


@dataclass(frozen=True)
class Wanting:
    """What a part is wanted for: the highest use of the engines that need it, and whether always renewed.

    What is always renewed takes nothing that was used.
    """

    use: Scope
    renewed: bool


def stock_of_parts(
    session: Session,
    wanting: Mapping[int, Wanting],
    families: Mapping[int, int],
    held: Beliefs,
    works: WorkTimes,
    suppliers: SupplierTimes,
    day: date,
) -> dict[int, PartStock]:
    """What there is and will be of the parts wanted, by part; ``families`` are theirs."""
    stock: dict[int, PartStock] = defaultdict(PartStock)
    for line in _out_for_work(session):
        if line.part in wanting:
            firm = works.of(line.place_id)
            good = held.of(families[line.part]).good(firm.good, firm.failed)
            elapsed = max((day - line.sent_on).days, 0)
            what = f"out for {line.kind} on order {line.number}"
            stock[line.part].coming.append(Coming(line.left, firm, what, elapsed, 0, good))
    for part, due in _on_order(session, suppliers, day):
        if part in wanting:
            stock[part].coming.append(due)
    lying = [each for each in _lying(session) if each.part in wanting]
    barred = _Bars(session, lying, wanting, day)
    for each in lying:
        own = stock[each.part]
        why = barred.why(each)
        if each.condition is Condition.UNSERVICEABLE:
            own.waiting += each.count
        elif why:
            own.uncounted[why] += each.count
        else:
            own.free += each.count
    for part, own in stock.items():
        if own.waiting:
            good = held.of(families[part]).good(works.all.good, works.all.failed)
            what = "unserviceable here, if sent for work now"
            own.coming.append(Coming(own.waiting, works.all, what, 0, SEND_DAYS, good))
    return stock


@dataclass(frozen=True)
class _Lying:
    """A piece, or some of a batch, that lies in the workshop and is not out on a work order."""

    thing: Thing
    part: int
    condition: Condition
    scope: Scope | None
    owner: int
    used: bool
    shelf_expiry_on: date | None
    kind: PlaceKind
    count: int
    limited: bool

    @classmethod
    def of(cls, row: Row[Any], thing: Thing, count: int, limited: bool) -> _Lying:
        """From a row of pieces or batches with the kind of the place where each lies."""
        return cls(
            thing,
            row.part_id,
            row.condition,
            row.scope,
            row.owner_id,
            row.used,
            row.shelf_expiry_on,
            row.kind,
            count,
            limited,
        )


def _lying(session: Session) -> Iterator[_Lying]:
    columns = ("part_id", "condition", "scope", "owner_id", "used", "shelf_expiry_on")
    has_limits = select(LifeLimit.id).where(LifeLimit.part_id == Part.id).exists()
    limited = or_(Part.life_limited, Part.life_limit_hours.is_not(None), has_limits)
    at_work = select(WorkLine.id).where(WorkLine.returned < WorkLine.quantity)
    pieces = (
        select(Piece.id, *(getattr(Piece, name) for name in columns), Place.kind, limited.label("limited"))
        .add_columns(Piece.reserved_for)
        .join(Place, Place.id == Piece.place_id)
        .join(Part, Part.id == Piece.part_id)
        .where(
            Place.kind.in_(_LYING),
            Piece.condition != Condition.UNSALVAGEABLE,
            ~at_work.where(WorkLine.piece_id == Piece.id).exists(),
        )
    )
    for row in session.execute(pieces):
        if row.reserved_for is None:
            yield _Lying.of(row, Thing(piece=row.id), 1, row.limited)
    batches = (
        select(Batch.id, *(getattr(Batch, name) for name in columns), Place.kind)
        .add_columns((Holding.quantity - Holding.reserved).label("free"))
        .join(Holding, Holding.batch_id == Batch.id)
        .join(Place, Place.id == Holding.place_id)
        .where(
            Place.kind.in_(_LYING),
            Batch.condition != Condition.UNSALVAGEABLE,
            ~at_work.where(WorkLine.batch_id == Batch.id)
            .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
            .where(WorkOrder.place_id == Holding.place_id)
            .exists(),
        )
    )
    for row in session.execute(batches):
        if row.free > 0:
            yield _Lying.of(row, Thing(batch=row.id), row.free, limited=False)


class _Bars:
    """Why things that lie here are not free for the engines that need their part."""

    def __init__(
        self, session: Session, lying: Collection[_Lying], wanting: Mapping[int, Wanting], day: date
    ) -> None:
        self._wanting = wanting
        self._day = day
        self._ours = set(session.scalars(select(Owner.id).where(Owner.is_workshop)))
        self._ours |= set(
            session.scalars(
                select(OwnerAgreement.owner_id).where(
                    OwnerAgreement.from_on <= day,
                    or_(OwnerAgreement.until_on.is_(None), OwnerAgreement.until_on >= day),
                )
            )
        )
        self._holds: set[tuple[str, int]] = set()
        for piece, batch, part in session.execute(
            select(Hold.piece_id, Hold.batch_id, Hold.part_id).where(Hold.cleared_on.is_(None))
        ):
            for record, key in (("piece", piece), ("batch", batch), ("part", part)):
                if key is not None:
                    self._holds.add((record, key))
        good = [each for each in lying if each.condition is Condition.SERVICEABLE]
        self._doubts = doubts_on(session.connection(), [each.thing for each in good])
        limited = {each.thing.piece or 0: each.part for each in good if each.limited}
        self._spent = {
            piece
            for piece, life in life_of(session, limited).items()
            if life.stands.verdict is LifeVerdict.EXPIRED
            or (
                wanting[limited[piece]].use is Scope.FLIGHT
                and life.stands.verdict in {LifeVerdict.UNKNOWN, LifeVerdict.NO_LIMIT}
                and not _depends(life.stands.lines)
            )
        }

    def why(self, each: _Lying) -> str:
        """The first bar in words; '' where it is free."""
        wanting = self._wanting[each.part]
        key = ("piece", each.thing.piece) if each.thing.piece is not None else ("batch", each.thing.batch)
        if each.condition is Condition.UNINSPECTED:
            return "uninspected"
        if each.kind not in STORES_KINDS:
            return "on the bench or in quarantine"
        if key in self._holds or ("part", each.part) in self._holds:
            return "on hold"
        if self._doubts.get(each.thing):
            return "in doubt since an engine event"
        if each.scope is None or not each.scope.covers(wanting.use):
            return f"not accepted for {wanting.use}"
        if each.owner not in self._ours:
            return "another owner's, with no agreement"
        if each.shelf_expiry_on is not None and each.shelf_expiry_on <= self._day:
            return "past its shelf life"
        if wanting.renewed and each.used:
            return "used, and always renewed"
        return "with no life left that is known" if each.thing.piece in self._spent else ""


def _depends(lines: Collection[Any]) -> bool:
    """Whether limits hold, but only in some engine, so that nothing is said against a piece by itself."""
    return bool(lines) and all(line.depends for line in lines)


@dataclass(frozen=True)
class _WorkLeft:
    """What is still out on a line of a work order."""

    part: int
    place_id: int
    number: str
    kind: str
    sent_on: date
    left: int


def _out_for_work(session: Session) -> Iterator[_WorkLeft]:
    for row in session.execute(
        select(
            func.coalesce(Piece.part_id, Batch.part_id).label("part"),
            WorkOrder.place_id,
            WorkOrder.number,
            WorkOrder.kind,
            WorkOrder.sent_on,
            (WorkLine.quantity - WorkLine.returned).label("left"),
        )
        .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
        .outerjoin(Piece, Piece.id == WorkLine.piece_id)
        .outerjoin(Batch, Batch.id == WorkLine.batch_id)
        .where(WorkLine.returned < WorkLine.quantity)
        .order_by(WorkLine.id)
    ):
        yield _WorkLeft(row.part, row.place_id, row.number, str(row.kind), row.sent_on, row.left)


def _on_order(session: Session, suppliers: SupplierTimes, day: date) -> Iterator[tuple[int, Coming]]:
    for row in session.execute(
        select(
            OrderLine.part_id,
            PurchaseOrder.firm_id,
            PurchaseOrder.number,
            PurchaseOrder.ordered_on,
            (OrderLine.quantity - OrderLine.received).label("left"),
        )
        .join(PurchaseOrder, PurchaseOrder.id == OrderLine.purchase_order_id)
        .where(OrderLine.closed_on.is_(None), OrderLine.quantity > OrderLine.received)
        .order_by(OrderLine.id)
    ):
        elapsed = max((day - row.ordered_on).days, 0)
        yield (
            row.part_id,
            Coming(row.left, suppliers.of(row.firm_id), f"on order {row.number}", elapsed),
        )
