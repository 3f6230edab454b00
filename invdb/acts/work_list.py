"""What is out for work: the orders that stand, what is overdue, and what each thing waits for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.loan_list import refuse_lent_out
from invdb.acts.numbers import Thing
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.people import Person
from invdb.records.stock import Batch, Piece, Place
from invdb.records.work import WorkLine, WorkOrder
from invdb.terms import Condition, Measure, Refused, WorkWanted


@dataclass(frozen=True)
class WorkLineFacts:
    """One thing of an order; quantities in the smallest unit."""

    work_line: int
    thing: Thing
    tag: str
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    returned: int
    scrapped: int
    returned_on: date | None
    condition: Condition | None
    report: str

    @property
    def out(self) -> int:
        """How much is out still."""
        return self.quantity - self.returned


@dataclass(frozen=True)
class WorkOrderFacts:
    """An order with its lines; ``days_over`` how long it has been overdue, 0 while it is not."""

    order: int
    number: str
    place: int
    place_name: str
    kind: WorkWanted
    wanted: str
    sent_on: date
    sent_by: str
    due_on: date | None
    lines: tuple[WorkLineFacts, ...]
    days_over: int

    @property
    def open(self) -> bool:
        """Whether something is out on it still."""
        return any(line.out for line in self.lines)

    @property
    def due_words(self) -> str:
        """``due 2026-03-01``, ``overdue by 12 days``, '' without a day."""
        if self.due_on is None or not self.open:
            return ""
        if self.days_over:
            return f"overdue by {self.days_over} {'day' if self.days_over == 1 else 'days'}"
        return f"due {self.due_on.isoformat()}"


def work_orders(
    session: Session, *, only_open: bool = True, place: int | None = None, thing: Thing | None = None
) -> tuple[WorkOrderFacts, ...]:
    """The orders, those due first at the top and those without a day last: open ones unless all are asked
    for; of one place, or with one thing on them.
    """
    query = (
        select(
            WorkOrder.id,
            WorkOrder.number,
            WorkOrder.place_id,
            Place.name.label("place_name"),
            WorkOrder.kind,
            WorkOrder.wanted,
            WorkOrder.sent_on,
            Person.name.label("sent_by"),
            WorkOrder.due_on,
        )
        .join(Place, Place.id == WorkOrder.place_id)
        .join(Person, Person.id == WorkOrder.sent_by)
    )
    if place is not None:
        query = query.where(WorkOrder.place_id == place)
    if thing is not None:
        own = WorkLine.piece_id if thing.piece is not None else WorkLine.batch_id
        with_it = select(WorkLine.work_order_id).where(own == (thing.piece or thing.batch))
        query = query.where(WorkOrder.id.in_(with_it))
    if only_open:
        out = select(WorkLine.work_order_id).where(WorkLine.returned < WorkLine.quantity)
        query = query.where(WorkOrder.id.in_(out))
    rows = session.execute(query.order_by(WorkOrder.id)).all()
    lines = _lines(session, [row.id for row in rows])
    now = today(session)
    orders = []
    for row in rows:
        own_lines = tuple(lines[row.id])
        late = row.due_on is not None and any(line.out for line in own_lines) and row.due_on < now
        orders.append(
            WorkOrderFacts(
                row.id,
                row.number,
                row.place_id,
                row.place_name,
                row.kind,
                row.wanted,
                row.sent_on,
                row.sent_by,
                row.due_on,
                own_lines,
                (now - row.due_on).days if late else 0,
            )
        )
    return tuple(sorted(orders, key=lambda each: (each.due_on is None, each.due_on or now, each.order)))


def _lines(session: Session, orders: Collection[int]) -> dict[int, list[WorkLineFacts]]:
    found: dict[int, list[WorkLineFacts]] = defaultdict(list)
    for some in chunks(orders):
        for table, own in ((Piece, WorkLine.piece_id), (Batch, WorkLine.batch_id)):
            rows = session.execute(
                select(
                    WorkLine.id,
                    WorkLine.work_order_id,
                    WorkLine.piece_id,
                    WorkLine.batch_id,
                    table.tag,
                    Part.house_number,
                    Part.name,
                    Part.measure,
                    WorkLine.quantity,
                    WorkLine.returned,
                    WorkLine.scrapped,
                    WorkLine.returned_on,
                    WorkLine.condition,
                    WorkLine.report,
                )
                .join(table, table.id == own)
                .join(Part, Part.id == table.part_id)
                .where(WorkLine.work_order_id.in_(some))
                .order_by(WorkLine.id)
            )
            for row in rows:
                found[row.work_order_id].append(
                    WorkLineFacts(
                        row.id,
                        Thing(row.piece_id, row.batch_id),
                        row.tag,
                        row.house_number,
                        row.name,
                        row.measure,
                        row.quantity,
                        row.returned,
                        row.scrapped,
                        row.returned_on,
                        row.condition,
                        row.report,
                    )
                )
    return found


def work_due(session: Session, things: Collection[Thing]) -> dict[Thing, str]:
    """For what is out for work, its order's number and when it is due: ``order W00003-M, due 2027-01-15``."""
    words: dict[Thing, str] = {}
    now = today(session)
    for own, ids in (
        (WorkLine.piece_id, [thing.piece for thing in things if thing.piece is not None]),
        (WorkLine.batch_id, [thing.batch for thing in things if thing.batch is not None]),
    ):
        for some in chunks(set(ids)):
            rows = session.execute(
                select(WorkLine.piece_id, WorkLine.batch_id, WorkOrder.number, WorkOrder.due_on)
                .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
                .where(own.in_(some), WorkLine.returned < WorkLine.quantity)
                .order_by(WorkLine.id)
            )
            for row in rows:
                said = f"order {row.number}"
                if row.due_on is not None:
                    said += f", {'overdue since' if row.due_on < now else 'due'} {row.due_on.isoformat()}"
                words[Thing(row.piece_id, row.batch_id)] = said
    return words


def order_out_at(session: Session, thing: Thing, place: int) -> str | None:
    """The number of the order on which a piece is out, or on which some of a batch is out at this place."""
    own = WorkLine.piece_id if thing.piece is not None else WorkLine.batch_id
    query = (
        select(WorkOrder.number)
        .join(WorkLine, WorkLine.work_order_id == WorkOrder.id)
        .where(own == (thing.piece or thing.batch), WorkLine.returned < WorkLine.quantity)
        .order_by(WorkOrder.id)
    )
    if thing.piece is None:
        query = query.where(WorkOrder.place_id == place)
    return session.scalar(query.limit(1))


def refuse_out_for_work(session: Session, thing: Thing, tag: str, place: int, way_out: str) -> None:
    """Refuse what only an order's return may be done to, since its order would stay open for ever; and what
    a firm has on loan from us, likewise.
    """
    if thing.piece is not None:
        refuse_lent_out(session, thing.piece, tag, way_out)
    number = order_out_at(session, thing, place)
    if number is not None:
        raise Refused(f"{tag} is out for work on order {number}.", way_out)


def work_order_by_number(session: Session, number: str) -> int | None:
    """The order of this number, by its id; None where there is none."""
    return session.scalar(select(WorkOrder.id).where(WorkOrder.number == number.strip().upper()))
