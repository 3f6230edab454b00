"""What befell an engine, and everything that was inside of it then: where it is, and what cleared it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.event_doubts import Cleared, covers, engine_cleared, taints_on
from invdb.acts.in_doubt import batches_concerned
from invdb.acts.numbers import Thing
from invdb.acts.stays import path, read_places
from invdb.records.builds import Presumption
from invdb.records.catalogue import Part
from invdb.records.doubts import EngineEvent
from invdb.records.engines import Engine
from invdb.records.life import Service
from invdb.records.stock import Batch, Holding, Piece
from invdb.rules.events import event_words
from invdb.terms import EngineEventKind, Refused


@dataclass(frozen=True)
class TaintedThing:
    """A piece or batch that was inside; ``where`` it is now, and what cleared it (None: nothing has)."""

    thing: Thing
    tag: str
    part_number: str
    part_name: str
    where: str
    cleared: Cleared | None


@dataclass(frozen=True)
class EngineEventLine:
    """One event of an engine, with what cleared the engine itself, and everything that was inside.

    ``presumed`` counts the stations that were presumed filled then and are so still: nobody knows with what.
    What came out of one later is among the ``things``.
    """

    event: int
    entry: int
    kind: EngineEventKind
    engine_name: str
    on: date
    note: str
    cleared: Cleared | None
    things: tuple[TaintedThing, ...]
    presumed: int = 0

    @property
    def words(self) -> str:
        """What happened, to which engine, and when."""
        return event_words(self.kind, self.engine_name, self.on)

    @property
    def not_cleared(self) -> tuple[TaintedThing, ...]:
        """What no inspection has cleared of it."""
        return tuple(thing for thing in self.things if thing.cleared is None)


def events_of_engine(session: Session, engine: int, on: date | None = None) -> tuple[EngineEventLine, ...]:
    """The events of an engine, the oldest first; with ``on``, those until that day, and cleared by then.

    What is presumed is so on that day. Where each thing is, is as it is now.
    """
    name = session.scalar(select(Engine.name).where(Engine.id == engine))
    if name is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    query = select(
        EngineEvent.id, EngineEvent.set_by, EngineEvent.kind, EngineEvent.event_on, EngineEvent.note
    ).where(EngineEvent.engine_id == engine)
    if on is not None:
        query = query.where(EngineEvent.event_on <= on)
    rows = session.execute(query.order_by(EngineEvent.event_on, EngineEvent.id)).all()
    if not rows:
        return ()
    events = [row.id for row in rows]
    presumed = session.execute(
        select(Presumption.presumed_on, Presumption.ended_on, Presumption.piece_id).where(
            Presumption.engine_id == engine
        )
    ).all()
    unseen = [each for each in presumed if each.ended_on is None or (on is not None and each.ended_on > on)]
    things = _inside(session, engine, events, {each.piece_id for each in presumed if each not in unseen})
    cleared = engine_cleared(session.connection(), engine)
    return tuple(
        EngineEventLine(
            row.id,
            row.set_by,
            row.kind,
            name,
            row.event_on,
            row.note,
            next((each for each in cleared.get(row.id, ()) if on is None or each.on <= on), None),
            tuple(
                thing
                if on is None or thing.cleared is None or thing.cleared.on <= on
                else TaintedThing(
                    thing.thing, thing.tag, thing.part_number, thing.part_name, thing.where, None
                )
                for thing in things[row.id]
            ),
            sum(each.presumed_on <= row.event_on for each in unseen),
        )
        for row in rows
    )


def _inside(
    session: Session, engine: int, events: Collection[int], came_out: Collection[int | None]
) -> dict[int, list[TaintedThing]]:
    """What was inside at each event of an engine, by tag; ``came_out`` did so of stations presumed filled."""
    pieces = set(
        session.scalars(
            select(Service.piece_id)
            .join(EngineEvent, EngineEvent.engine_id == Service.engine_id)
            .where(EngineEvent.id.in_(events), covers(Service, EngineEvent.event_on, EngineEvent.set_by))
        )
    )
    pieces |= {piece for piece in came_out if piece is not None}
    batches = batches_concerned(session, select(EngineEvent.id).where(EngineEvent.id.in_(events)))
    things = [*(Thing(piece=piece) for piece in pieces), *(Thing(batch=batch) for batch in batches)]
    taints = taints_on(session, things)
    known = _known(session, taints)
    found: dict[int, list[TaintedThing]] = defaultdict(list)
    for thing in sorted(taints, key=lambda each: known[each][0]):
        for taint in taints[thing]:
            if taint.event.event in events:
                found[taint.event.event].append(TaintedThing(thing, *known[thing], taint.cleared))
    return found


def _known(session: Session, things: Collection[Thing]) -> dict[Thing, tuple[str, str, str, str]]:
    """The tag, the part's number and name, and where each thing is now."""
    pieces = session.execute(
        select(Piece.id, Piece.tag, Part.house_number, Part.name, Piece.place_id)
        .join(Part, Part.id == Piece.part_id)
        .where(Piece.id.in_([thing.piece for thing in things if thing.piece is not None]))
    ).all()
    ids = [thing.batch for thing in things if thing.batch is not None]
    batches = session.execute(
        select(Batch.id, Batch.tag, Part.house_number, Part.name)
        .join(Part, Part.id == Batch.part_id)
        .where(Batch.id.in_(ids))
    ).all()
    lies: dict[int, list[int]] = defaultdict(list)
    for batch, place in session.execute(
        select(Holding.batch_id, Holding.place_id)
        .where(Holding.batch_id.in_(ids), Holding.quantity > 0)
        .order_by(Holding.place_id)
    ):
        lies[batch].append(place)
    places = read_places(
        session, {row.place_id for row in pieces} | {place for each in lies.values() for place in each}
    )
    found = {
        Thing(piece=row.id): (row.tag, row.house_number, row.name, path(row.place_id, places))
        for row in pieces
    }
    for row in batches:
        where = [path(place, places) for place in lies[row.id]]
        said = where[0] if len(where) == 1 else f"{len(where)} places" if where else "nothing is left of it"
        found[Thing(batch=row.id)] = (row.tag, row.house_number, row.name, said)
    return found
