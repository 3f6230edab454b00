"""Where the stations of an engine's type sit within a position, as drawn."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.records.engines import Engine, Station


@dataclass(frozen=True)
class DrawnStation:
    """A station of a group; see ``invdb.records.engines.Station`` for the units."""

    station: int
    group: str
    name: str
    x_thousandths: int
    y_thousandths: int


# Made once: putting a statement together costs more than executing it.
_STATIONS = (
    select(Station.id, Station.group_name, Station.name, Station.x_thousandths, Station.y_thousandths)
    .join(Engine, Engine.engine_type_id == Station.engine_type_id)
    .where(Engine.id == bindparam("engine"))
    .order_by(Station.group_name, Station.sequence, Station.id)
)


def stations_drawn(session: Session, engine: int) -> dict[int, DrawnStation]:
    """The stations of an engine's type by id, in the maker's order within each group."""
    rows = session.connection().execute(_STATIONS, {"engine": engine})
    return {row.id: DrawnStation(*row) for row in rows}
