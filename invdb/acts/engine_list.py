"""The engines of the workshop, each with its type's positions as drawn, and what is in doubt on it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.engine_doubts import engine_doubts
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Owner
from invdb.records.stock import Hold
from invdb.terms import Layout, Scope


@dataclass(frozen=True)
class DrawnPosition:
    """One position of an engine type; see ``invdb.records.engines.Position`` for the units."""

    position: int
    group: str
    name: str
    x_thousandths: int
    y_thousandths: int
    turn_degrees: int
    note: str


@dataclass(frozen=True)
class ListedEngine:
    """One engine with what it is, whose, what for, what is in doubt, and where its positions are.

    ``holds`` are those on the engine itself; ``doubts`` are all that keep it from being available, those
    holds and what concerns things inside it among them.
    """

    engine: int
    name: str
    serial: str
    engine_type: str
    type_note: str
    layout: Layout
    inverted: bool
    use: Scope
    owner: str
    note: str
    holds: tuple[str, ...]
    positions: tuple[DrawnPosition, ...]
    doubts: tuple[str, ...] = ()


def engines(session: Session) -> tuple[ListedEngine, ...]:
    """Every engine, by type and serial; each type's positions in its maker's order."""
    positions: dict[int, list[DrawnPosition]] = defaultdict(list)
    for row in session.scalars(select(Position).order_by(Position.group_name, Position.sequence)):
        positions[row.engine_type_id].append(
            DrawnPosition(
                row.id,
                row.group_name,
                row.name,
                row.x_thousandths,
                row.y_thousandths,
                row.turn_degrees,
                row.note,
            )
        )
    holds: dict[int, list[str]] = defaultdict(list)
    raised = select(Hold.engine_id, Hold.reason).where(Hold.engine_id.is_not(None), Hold.cleared_on.is_(None))
    for engine_id, reason in session.execute(raised.order_by(Hold.id)):
        assert engine_id is not None
        holds[engine_id].append(reason)
    rows = session.execute(
        select(Engine, EngineType, Owner.name)
        .join(EngineType, EngineType.id == Engine.engine_type_id)
        .join(Owner, Owner.id == Engine.owner_id)
        .order_by(EngineType.id, Engine.serial, Engine.id)
    ).all()
    doubts = engine_doubts(session, [engine.id for engine, _, _ in rows])
    return tuple(
        ListedEngine(
            engine.id,
            engine.name,
            engine.serial,
            engine_type.name,
            engine_type.note,
            engine_type.layout,
            engine_type.inverted,
            engine.use,
            owner,
            engine.note,
            tuple(holds[engine.id]),
            tuple(positions[engine_type.id]),
            doubts.get(engine.id, ()),
        )
        for engine, engine_type, owner in rows
    )
