"""When pieces became something else than they were: reworked on an order, or made another part."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.chunks import chunks
from invdb.records.work import Reidentification, WorkLine, WorkOrder
from invdb.rules.points import Point
from invdb.terms import WorkWanted

# What is sent for these comes back another thing than it went: nothing that it was matched with is so any
# more, and it has no home.
REWORKING = frozenset(
    {
        WorkWanted.REPAIR,
        WorkWanted.OVERHAUL,
        WorkWanted.MACHINING,
        WorkWanted.PLATING,
        WorkWanted.LAPPING,
        WorkWanted.MODIFICATION,
    }
)


def reworked(session: Session, pieces: Collection[int]) -> dict[int, list[Point]]:
    """The points in the ledger at which pieces were reworked or made another part, by piece."""
    found: dict[int, list[Point]] = defaultdict(list)
    for some in chunks(set(pieces)):
        back = session.execute(
            select(WorkLine.piece_id, WorkLine.returned_on, WorkLine.set_by)
            .join(WorkOrder, WorkOrder.id == WorkLine.work_order_id)
            .where(
                WorkLine.piece_id.in_(some),
                WorkLine.returned_on.is_not(None),
                WorkOrder.kind.in_(REWORKING),
            )
        )
        for piece, on, entry in back:
            if piece is not None and on is not None:
                found[piece].append((on, entry))
        became = session.execute(
            select(
                Reidentification.piece_id, Reidentification.reidentified_on, Reidentification.set_by
            ).where(Reidentification.piece_id.in_(some))
        )
        for row in became:
            found[row.piece_id].append((row.reidentified_on, row.set_by))
    return dict(found)
