"""Everything that an engine event taints and that no inspection has cleared of it, found from the events."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, select, union
from sqlalchemy.orm import Session, aliased

from invdb.acts.event_doubts import OpenEvent, covers, events_on, presumed_then
from invdb.acts.numbers import Thing
from invdb.records.builds import Presumption
from invdb.records.doubts import EngineEvent, EventClearance, EventTaint
from invdb.records.life import Service
from invdb.records.stock import Batch, Holding, Place


def tainted_pieces() -> Select[*tuple[Any, ...]]:
    """The ids of the pieces in doubt, as a query: events are few, and pieces many."""
    inside = _inside().subquery()
    cleared = select(EventClearance.id).where(
        EventClearance.event_id == inside.c.event, EventClearance.piece_id == inside.c.piece_id
    )
    return select(inside.c.piece_id).where(~cleared.exists())


def _inside() -> Any:
    served = select(Service.piece_id, EngineEvent.id.label("event")).join(
        EngineEvent, EngineEvent.engine_id == Service.engine_id
    )
    presumed = select(Presumption.piece_id, EngineEvent.id).join(
        EngineEvent, EngineEvent.engine_id == Presumption.engine_id
    )
    return union(
        served.where(covers(Service, EngineEvent.event_on, EngineEvent.set_by)),
        presumed.where(Presumption.piece_id.is_not(None), presumed_then()),
    )


def tainted_batches(session: Session) -> dict[int, tuple[OpenEvent, ...]]:
    """The events that batches are in doubt by, also where only what of them is fitted was inside then."""
    out = select(EventTaint.batch_id.label("batch")).cte("came_out", recursive=True)
    out = out.union(select(Batch.id).join(out, Batch.parent_batch_id == out.c.batch))
    around = aliased(Place)
    of_events = select(EngineEvent.engine_id)
    held = select(Holding.batch_id).join(Place, Place.id == Holding.place_id).where(Holding.quantity > 0)
    inside = select(_inside().subquery().c.piece_id)
    batches = {
        *session.scalars(select(out.c.batch)),
        *session.scalars(held.where(Place.engine_id.in_(of_events))),
        *session.scalars(held.where(Place.piece_id.in_(inside))),
        *session.scalars(held.join(around, around.id == Place.parent_id).where(around.piece_id.in_(inside))),
    }
    found = events_on(session, {Thing(batch=batch) for batch in batches})
    return {thing.batch: events for thing, events in found.items() if thing.batch is not None}
