"""The groups of an engine type's positions, such as its cylinders, and the stations in them, by name."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.engines import EngineType, Position, Station
from invdb.records.registry import one_line
from invdb.terms import FieldRefused


class GroupStations:
    """The stations and positions of a group of an engine type; FieldRefused where there is no such group."""

    def __init__(self, session: Session, engine_type: int, group: str) -> None:
        self.type_name = session.scalar(select(EngineType.name).where(EngineType.id == engine_type))
        if self.type_name is None:
            raise FieldRefused("engine_type", "There is no such engine type.", "Choose one, or add it first.")
        rows = session.execute(
            select(Position.group_name, Position.name)
            .where(Position.engine_type_id == engine_type)
            .order_by(Position.sequence, Position.id)
        ).all()
        self.group = _named(
            {row.group_name for row in rows}, group, "group", f"group of the {self.type_name}"
        )
        self.positions = tuple(row.name for row in rows if row.group_name == self.group)
        self.stations = tuple(
            session.scalars(
                select(Station.name)
                .where(Station.engine_type_id == engine_type, Station.group_name == self.group)
                .order_by(Station.sequence, Station.id)
            )
        )

    def station(self, text: str, field: str) -> str:
        """The name of a station as the drawing has it; FieldRefused for one that is not there."""
        return _named(self.stations, text, field, f"station in the {self.group} of the {self.type_name}")

    def positions_named(self, text: str | None, field: str = "positions") -> str | None:
        """Names of positions with commas between, as the drawing has them; None for all of the group."""
        if text is None or not text.strip():
            return None
        names = [
            _named(self.positions, name, field, f"position in the {self.group} of the {self.type_name}")
            for name in text.split(",")
        ]
        if len(set(names)) < len(names):
            raise FieldRefused(field, f"{text!r} names one position twice.", "Name each once.")
        return ", ".join(names)


def _named(known: Iterable[str], text: str, field: str, what: str) -> str:
    known = tuple(known)
    wanted = one_line(text).casefold()
    for name in known:
        if name.casefold() == wanted:
            return name
    said = f"There is no {what} called {one_line(text)!r}." if wanted else f"No {what} is named."
    raise FieldRefused(field, said, f"There are: {', '.join(known) or 'none yet'}.")
