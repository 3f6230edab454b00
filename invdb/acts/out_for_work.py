"""What pieces and batches that are out for work wait for, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from sqlalchemy import Connection, select

from invdb.acts.numbers import Thing
from invdb.records.chunks import chunks
from invdb.records.work import WorkLine, WorkOrder


def out_for_work(
    connection: Connection, pieces: Collection[int], batches: Collection[int]
) -> dict[Thing, str]:
    """The orders that things are out on: ``order W00003-M, due back 2027-01-15``."""
    said: dict[Thing, list[str]] = defaultdict(list)
    for column, ids in ((WorkLine.piece_id, pieces), (WorkLine.batch_id, batches)):
        for some in chunks(ids):
            rows = connection.execute(
                select(WorkLine.piece_id, WorkLine.batch_id, WorkOrder.number, WorkOrder.due_on)
                .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
                .where(column.in_(some), WorkLine.returned < WorkLine.quantity)
                .order_by(WorkLine.id)
            )
            for piece, batch, number, due_on in rows:
                due = f", due back {due_on.isoformat()}" if due_on is not None else ""
                said[Thing(piece, batch)].append(f"order {number}{due}")
    return {thing: "; ".join(orders) for thing, orders in said.items()}
