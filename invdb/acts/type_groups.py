"""The groups of each engine type, with their positions, stations and mods: where a part may be used."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.catalogue import Mod
from invdb.records.engines import EngineType, Position, Station


@dataclass(frozen=True)
class TypeMod:
    """A mod of an engine type; ``entry`` is what last set it."""

    mod: int
    code: str
    name: str
    note: str
    entry: int


@dataclass(frozen=True)
class TypeGroup:
    """A group of an engine type, such as its cylinders: names of positions and stations as drawn."""

    engine_type: int
    type_name: str
    group: str
    positions: tuple[str, ...]
    stations: tuple[str, ...]
    mods: tuple[TypeMod, ...]

    @property
    def words(self) -> str:
        """``Linnet, cylinder``."""
        return f"{self.type_name}, {self.group}"


def type_groups(session: Session) -> tuple[TypeGroup, ...]:
    """Every group of every engine type, by the names of both."""
    positions: dict[tuple[int, str], list[str]] = defaultdict(list)
    for row in session.execute(
        select(Position.engine_type_id, Position.group_name, Position.name).order_by(
            Position.sequence, Position.id
        )
    ):
        positions[row.engine_type_id, row.group_name].append(row.name)
    stations: dict[tuple[int, str], list[str]] = defaultdict(list)
    for row in session.execute(
        select(Station.engine_type_id, Station.group_name, Station.name).order_by(
            Station.sequence, Station.id
        )
    ):
        stations[row.engine_type_id, row.group_name].append(row.name)
    mods = mods_of_types(session)
    types = dict(session.execute(select(EngineType.id, EngineType.name)).all())
    return tuple(
        TypeGroup(
            engine_type,
            types[engine_type],
            group,
            tuple(names),
            tuple(stations[engine_type, group]),
            mods.get(engine_type, ()),
        )
        for (engine_type, group), names in sorted(
            positions.items(), key=lambda item: (types[item[0][0]], item[0][1])
        )
    )


def mods_of_types(session: Session) -> dict[int, tuple[TypeMod, ...]]:
    """The mods of each engine type, by its id, in the order of their codes."""
    found: dict[int, list[TypeMod]] = defaultdict(list)
    for mod in session.scalars(select(Mod).order_by(Mod.code, Mod.id)):
        found[mod.engine_type_id].append(TypeMod(mod.id, mod.code, mod.name, mod.note, mod.set_by))
    return {engine_type: tuple(mods) for engine_type, mods in found.items()}
