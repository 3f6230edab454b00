"""What sits at the stations of an engine's positions, all of a group at once."""

from __future__ import annotations

from collections import defaultdict

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_facts import EngineFacts, PositionFacts
from invdb.acts.numbers import Thing
from invdb.acts.seats import read_seated
from invdb.records.engines import Position, Station


def built_things(
    session: Session, engine: EngineFacts, group: str
) -> dict[PositionFacts, list[tuple[str, Thing]]]:
    """The things now at each station, by its name, of every position of a group, in the maker's order."""
    rows = session.execute(
        select(Position.id, Position.group_name, Position.name)
        .where(Position.engine_type_id == engine.engine_type, Position.group_name == group)
        .order_by(Position.sequence)
    )
    positions = [PositionFacts(row.id, row.group_name, row.name) for row in rows]
    names: dict[int, str] = dict(
        session.execute(
            select(Station.id, Station.name).where(
                Station.engine_type_id == engine.engine_type, Station.group_name == group
            )
        ).all()
    )
    at: dict[int, list[tuple[str, Thing]]] = defaultdict(list)
    for (position, station), things in read_seated(session, engine.id).things.items():
        if station in names:
            at[position] += [(names[station], each.thing) for each in things if each.thing is not None]
    return {position: at[position.id] for position in positions}
