"""Everything that an engine event taints and that no inspection has cleared of it, found from the events."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.event_doubts import OpenEvent, events_on, pieces_inside, pieces_not_cleared
from invdb.acts.numbers import Thing
from invdb.records.doubts import EngineEvent, EventTaint
from invdb.records.stock import Batch, Holding, Place


def tainted_pieces() -> Select[*tuple[Any, ...]]:
    """The ids of the pieces in doubt, as a query: events are few, and pieces many."""
    return select(pieces_not_cleared().subquery().c.piece_id)


def tainted_batches(session: Session) -> dict[int, tuple[OpenEvent, ...]]:
    """The events that batches are in doubt by, also where only what of them is fitted was inside then."""
    batches = batches_concerned(session, select(EngineEvent.id))
    found = events_on(session, {Thing(batch=batch) for batch in batches})
    return {thing.batch: events for thing, events in found.items() if thing.batch is not None}


def batches_concerned(session: Session, events: Select[int]) -> set[int]:
    """The batches that some events, given by a query of their ids, may taint, and no others.

    Those that came out since, with what was split off from them, and those of which some is inside still.
    """
    out = (
        select(EventTaint.batch_id.label("batch"))
        .where(EventTaint.event_id.in_(events))
        .cte("came_out", recursive=True)
    )
    out = out.union(select(Batch.id).join(out, Batch.parent_batch_id == out.c.batch))
    around = aliased(Place)
    engines = select(EngineEvent.engine_id).where(EngineEvent.id.in_(events))
    pieces = pieces_inside().subquery()
    inside = select(pieces.c.piece_id).where(pieces.c.event.in_(events))
    held = select(Holding.batch_id).join(Place, Place.id == Holding.place_id).where(Holding.quantity > 0)
    return {
        *session.scalars(select(out.c.batch)),
        *session.scalars(held.where(Place.engine_id.in_(engines))),
        *session.scalars(held.where(Place.piece_id.in_(inside))),
        *session.scalars(held.join(around, around.id == Place.parent_id).where(around.piece_id.in_(inside))),
    }
