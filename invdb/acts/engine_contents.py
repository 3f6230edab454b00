"""What every engine holds of each part, by the kit lines that hold for its positions, serial and mods."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from sqlalchemy import Row, func, select
from sqlalchemy.orm import Session

from invdb.acts.mods_embodied import mods_embodied
from invdb.records.catalogue import KitLine, StandIn, StandInMember
from invdb.records.engines import Engine, EngineMod, EngineType, Position
from invdb.rules.effectivity import Effectivity, EngineState, applies, names_of
from invdb.terms import Scope

_ENGINES = (
    select(
        Engine.id,
        Engine.name,
        Engine.serial,
        Engine.engine_type_id,
        Engine.use,
        Engine.priority,
        Engine.log_begun_on,
    )
    .add_columns(EngineType.name.label("type_name"))
    .join(EngineType, EngineType.id == Engine.engine_type_id)
)
_EFFECTIVE = ("positions", "serial_from", "serial_to", "mod_id", "mod_embodied", "from_on", "until_on")


@dataclass(frozen=True)
class ShopEngine:
    """An engine of the shop; ``holds`` is how much of each part its kit lines call for, by part.

    ``renewed`` is how much of that is renewed always; both in the part's smallest unit.
    """

    id: int
    name: str
    use: Scope
    priority: int
    state: EngineState
    log_begun_on: date | None
    holds: Mapping[int, int] = field(default_factory=dict)
    renewed: Mapping[int, int] = field(default_factory=dict)

    @property
    def in_store(self) -> bool:
        """Whether it is for display: it runs nothing, and nothing is planned for it by itself."""
        return self.use is Scope.DISPLAY

    def judged(self, part: int) -> int:
        """How many of a part are looked at, and may go back."""
        return self.holds.get(part, 0) - self.renewed.get(part, 0)


def shop_engines(session: Session, day: date) -> tuple[ShopEngine, ...]:
    """Every engine with what it holds on a day; flying ones first, then by priority and name."""
    rows = session.connection().execute(_ENGINES).all()
    mods = _mods(session, day)
    positions: dict[tuple[int, str], list[str]] = defaultdict(list)
    for engine_type, group, name in session.connection().execute(
        select(Position.engine_type_id, Position.group_name, Position.name)
    ):
        positions[engine_type, group].append(name)
    lines: dict[int, list[tuple[Row[Any], Effectivity]]] = defaultdict(list)
    for row in session.connection().execute(
        select(
            KitLine.engine_type_id,
            KitLine.group_name,
            KitLine.part_id,
            KitLine.quantity,
            KitLine.renewed_always,
            *(getattr(KitLine, name) for name in _EFFECTIVE),
        )
    ):
        lines[row.engine_type_id].append((row, effectivity(row)))
    # What holds at some positions alone is counted by these, and asked of the engine without them.
    anywhere = {holding: replace(holding, positions=None) for of in lines.values() for _, holding in of}
    found = []
    for row in rows:
        state = EngineState(row.type_name, row.serial, mods.get(row.id, frozenset()), day, row.use)
        holds: dict[int, int] = defaultdict(int)
        renewed: dict[int, int] = defaultdict(int)
        for line, holding in lines[row.engine_type_id]:
            at = positions[line.engine_type_id, line.group_name]
            if holding.positions is not None:
                at = [name for name in at if name in holding.positions]
            if not at or applies(anywhere[holding], state, "") is not None:
                continue
            holds[line.part_id] += line.quantity * len(at)
            if line.renewed_always:
                renewed[line.part_id] += line.quantity * len(at)
        found.append(
            ShopEngine(
                row.id, row.name, row.use, row.priority, state, row.log_begun_on, dict(holds), dict(renewed)
            )
        )
    return tuple(sorted(found, key=lambda each: (-each.use.rank, each.priority, each.name)))


def effectivity(row: Any, engine_type: str | None = None) -> Effectivity:
    """For which engines a kit line or a stand-in holds, mods by their ids."""
    mod: frozenset[str | int] = frozenset() if row.mod_id is None else frozenset({row.mod_id})
    return Effectivity(
        engine_type=engine_type,
        positions=names_of(row.positions),
        serial_from=row.serial_from or None,
        serial_to=row.serial_to or None,
        mods_required=mod if row.mod_embodied else frozenset(),
        mods_barred=frozenset() if row.mod_embodied else mod,
        date_from=row.from_on,
        date_until=row.until_on,
    )


def stand_ins_in_force(session: Session, engines: tuple[ShopEngine, ...]) -> frozenset[tuple[int, int]]:
    """(a, b) for each part a that may stand in for b, one for one, in every engine that needs b.

    What passes on from one to the next is among them. What holds at some positions alone is left out, since
    its stock would not serve the rest; so is what holds in no engine of the shop.
    """
    alone = (
        select(StandInMember.stand_in_id)
        .group_by(StandInMember.stand_in_id)
        .having(func.count(StandInMember.id) == 1)
    )
    steps: set[tuple[int, int]] = set()
    for row in session.connection().execute(
        select(
            StandIn.part_id,
            StandIn.both_ways,
            StandInMember.part_id.label("member"),
            EngineType.name.label("type_name"),
            *(getattr(StandIn, name) for name in _EFFECTIVE),
        )
        .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
        .outerjoin(EngineType, EngineType.id == StandIn.engine_type_id)
        .where(StandInMember.quantity_each == 1, StandIn.id.in_(alone))
    ):
        holding = effectivity(row, row.type_name)
        ways = [(row.member, row.part_id), *([(row.part_id, row.member)] if row.both_ways else [])]
        for giver, taker in ways:
            needing = [each for each in engines if taker in each.holds]
            if holding.positions is None and all(
                applies(holding, each.state, "") is None for each in needing
            ):
                steps.add((giver, taker))
    return _passed_on(steps)


def _passed_on(steps: set[tuple[int, int]]) -> frozenset[tuple[int, int]]:
    givers: dict[int, set[int]] = defaultdict(set)
    for giver, taker in steps:
        givers[taker].add(giver)
    found = set()
    for taker in list(givers):
        reached: set[int] = set()
        waiting = list(givers[taker])
        while waiting:
            giver = waiting.pop()
            if giver != taker and giver not in reached:
                reached.add(giver)
                waiting += givers.get(giver, ())
        found |= {(giver, taker) for giver in reached}
    return frozenset(found)


def _mods(session: Session, day: date) -> dict[int, frozenset[int]]:
    """The mods embodied on each engine, by their ids."""
    embodied: dict[int, set[int]] = defaultdict(set)
    uncertain = set()
    for engine, mod, is_embodied, since_on in session.connection().execute(
        select(EngineMod.engine_id, EngineMod.mod_id, EngineMod.embodied, EngineMod.since_on)
    ):
        if since_on is not None and since_on > day:
            uncertain.add(engine)
        elif is_embodied:
            embodied[engine].add(mod)
    found = {engine: frozenset(mods) for engine, mods in embodied.items()}
    return found | {engine: mods_embodied(session, engine, day) for engine in uncertain}
