"""The limits of life that may hold in an engine: its own, and those of every part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.life_limit import read_engine_limits, read_limits
from invdb.records.catalogue import KitLine, Part
from invdb.records.engines import Engine
from invdb.rules.life_limits import Limit, limit_words
from invdb.terms import Refused


@dataclass(frozen=True)
class ListedLimit:
    """A limit and the part that it is on; ``part`` is None, and the words '', for the engine's own."""

    limit: Limit
    part: int | None = None
    part_number: str = ""
    part_name: str = ""

    @property
    def words(self) -> str:
        """'600.00 h since new, for the Linnet'."""
        return limit_words(self.limit)


def limits_on(session: Session, engine: int, on: date | None = None) -> tuple[ListedLimit, ...]:
    """The engine's own limits, then those of parts, as they stood on a day (None: today).

    Parts come by house number, those first that a kit list of the engine's type asks for. Limits that hold
    for other engine types alone are left out.
    """
    day = as_of(session, on)
    engine_type = session.scalar(select(Engine.engine_type_id).where(Engine.id == engine))
    if engine_type is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    parts = {
        row.id: row
        for row in session.execute(
            select(Part.id, Part.house_number, Part.name, Part.life_limit_hours)
            .where(or_(Part.life_limited, Part.life_limit_hours.is_not(None)))
            .order_by(Part.house_number)
        )
    }
    asked_for = set(session.scalars(select(KitLine.part_id).where(KitLine.engine_type_id == engine_type)))
    connection = session.connection()
    own = [ListedLimit(limit) for limit in read_engine_limits(connection, day)]
    by_part = read_limits(connection, {part: row.life_limit_hours for part, row in parts.items()}, day)
    of_parts = [
        ListedLimit(limit, part, parts[part].house_number, parts[part].name)
        for part, limits in sorted(by_part.items(), key=lambda each: each[0] not in asked_for)
        for limit in limits
    ]
    return tuple(each for each in (*own, *of_parts) if each.limit.engine_type in (None, engine_type))
