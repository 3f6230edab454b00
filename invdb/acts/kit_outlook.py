"""How complete the kit of each position of an engine could be: by itself, and if all were pulled at once.

Reads only. Each answer is the best there is for that question alone, so two cylinders that compete for the
last good barrel both look complete by themselves, and only one of them does together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_facts import PositionFacts
from invdb.acts.propose import POSITIONS_MAX, propose
from invdb.acts.proposed import Asked, KitProposal
from invdb.records.engines import Engine, Position
from invdb.rules.pulling import KitState
from invdb.terms import Refused

SECONDS_ALONE_MAX = 5.0
SECONDS_TOGETHER_MAX = 20.0


@dataclass(frozen=True)
class KitOutlook:
    """How far one kit could be filled or has been: lines filled of all, and the stations that wait.

    ``pulls`` are the open pulls that hold something for it. Not ``proven`` where the time ran out.
    """

    state: KitState
    filled: int
    lines: int
    waiting: tuple[str, ...]
    pulls: tuple[str, ...]
    proven: bool


@dataclass(frozen=True)
class PositionOutlook:
    """One position's outlook by itself, and its share if all of its group were pulled at once.

    ``together`` is None while that is not worked out, or where the group has more than can be proposed at
    once.
    """

    position: PositionFacts
    alone: KitOutlook
    together: KitOutlook | None


def kit_outlook(
    session: Session,
    engine: int,
    *,
    group: str = "cylinder",
    heard: Callable[[PositionOutlook, int], None] = lambda _outlook, _of: None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[PositionOutlook, ...]:
    """The outlook of every position of a group of an engine, in the maker's order.

    ``heard`` is told of each position's own outlook as soon as it is known, and of how many there are. When
    ``stop`` comes true, what is known by then is returned. Refused when the engine is not in the store.
    """
    positions = _positions(session, engine, group)
    alone: list[PositionOutlook] = []
    for position in positions:
        if stop():
            return tuple(alone)
        asked = (Asked(engine, position.id),)
        proposal = propose(session, asked, seconds=SECONDS_ALONE_MAX, stop=stop)
        if stop():
            return tuple(alone)
        outlook = PositionOutlook(position, outlook_of(proposal.kits[0], proposal.proven), None)
        alone.append(outlook)
        heard(outlook, len(positions))
    if not 1 < len(positions) <= POSITIONS_MAX:
        return tuple(alone)
    every = tuple(Asked(engine, position.id) for position in positions)
    proposal = propose(session, every, seconds=SECONDS_TOGETHER_MAX, stop=stop)
    if stop():
        return tuple(alone)
    return tuple(
        PositionOutlook(each.position, each.alone, outlook_of(kit, proposal.proven))
        for each, kit in zip(alone, proposal.kits, strict=True)
    )


def outlook_of(kit: KitProposal, proven: bool) -> KitOutlook:
    """What a picture says of a proposed kit."""
    return KitOutlook(
        kit.state,
        kit.lines_filled,
        len(kit.lines),
        tuple(line.station for line in kit.lines if line.missing),
        tuple(dict.fromkeys(held.pull_number for line in kit.lines for held in line.held)),
        proven,
    )


def _positions(session: Session, engine: int, group: str) -> list[PositionFacts]:
    engine_type = session.scalar(select(Engine.engine_type_id).where(Engine.id == engine))
    if engine_type is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    rows = session.execute(
        select(Position.id, Position.group_name, Position.name)
        .where(Position.engine_type_id == engine_type, Position.group_name == group)
        .order_by(Position.sequence)
    )
    return [PositionFacts(row.id, row.group_name, row.name) for row in rows]
