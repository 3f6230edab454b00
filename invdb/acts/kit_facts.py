"""What a kit choice must know, read from the store: engines, kit lines that hold, stand-ins, and stock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import BindParameter, Connection, Row, bindparam, func, or_, select
from sqlalchemy.orm import Session

from invdb.acts.believed import When
from invdb.acts.mods_embodied import mod_names, mods_embodied
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, Whereabouts
from invdb.records.catalogue import KitLine, Part, StandIn, StandInMember
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Owner, OwnerAgreement, Person
from invdb.records.stock import Batch, Hold, Piece, Pull, PullLine
from invdb.rules import alternates
from invdb.rules.availability import Asking, Offered
from invdb.rules.effectivity import Effectivity, EngineState, applies, names_of
from invdb.rules.life_limits import Serving
from invdb.rules.pulling import Option
from invdb.terms import Measure, Refused, Scope

# Made once: putting a statement together costs more than executing it.
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_ENGINE = (
    select(
        Engine.id,
        Engine.name,
        Engine.serial,
        Engine.engine_type_id,
        EngineType.name.label("type_name"),
        Engine.use,
        Engine.owner_id,
        Owner.name.label("owner_name"),
        Engine.priority,
    )
    .join(EngineType, EngineType.id == Engine.engine_type_id)
    .join(Owner, Owner.id == Engine.owner_id)
    .where(Engine.id == bindparam("engine"))
)
_OWNERS_AGREED = select(OwnerAgreement.owner_id).where(
    OwnerAgreement.for_owner_id == bindparam("owner"),
    or_(OwnerAgreement.engine_id.is_(None), OwnerAgreement.engine_id == bindparam("engine")),
    OwnerAgreement.from_on <= bindparam("on"),
    or_(OwnerAgreement.until_on.is_(None), OwnerAgreement.until_on >= bindparam("on")),
)
_ENGINE_HOLDS = select(Hold.reason).where(Hold.engine_id == bindparam("engine"), Hold.cleared_on.is_(None))
_POSITION = select(Position.id, Position.group_name, Position.name).where(
    Position.id == bindparam("position"), Position.engine_type_id == bindparam("engine_type")
)
_TYPE_NAMES = select(EngineType.id, EngineType.name)
_KIT_LINES = (
    select(
        KitLine.id,
        KitLine.sequence,
        KitLine.station,
        KitLine.part_id,
        Part.house_number,
        Part.name,
        Part.measure,
        KitLine.quantity,
        KitLine.renewed_always,
        KitLine.note,
        KitLine.engine_type_id,
        KitLine.group_name,
        KitLine.positions,
        KitLine.serial_from,
        KitLine.serial_to,
        KitLine.mod_id,
        KitLine.mod_embodied,
        KitLine.from_on,
        KitLine.until_on,
    )
    .join(Part, Part.id == KitLine.part_id)
    .where(KitLine.engine_type_id.in_(_IDS))
    .order_by(KitLine.sequence, KitLine.id)
)
# What replaces one of the parts, and what one of them may be replaced with where it goes both ways.
_STAND_INS = (
    select(
        StandIn.id,
        StandIn.part_id,
        StandIn.both_ways,
        StandIn.authority,
        StandIn.engine_type_id,
        StandIn.positions,
        StandIn.serial_from,
        StandIn.serial_to,
        StandIn.mod_id,
        StandIn.mod_embodied,
        StandIn.from_on,
        StandIn.until_on,
        StandInMember.part_id.label("member"),
        StandInMember.quantity_each,
    )
    .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
    .where(
        or_(
            StandIn.part_id.in_(_IDS),
            StandIn.both_ways
            & StandIn.id.in_(select(StandInMember.stand_in_id).where(StandInMember.part_id.in_(_IDS))),
        )
    )
    .order_by(StandIn.id, StandInMember.id)
)
_PART_NAMES = select(Part.id, Part.house_number, Part.name).where(Part.id.in_(_IDS))
_USES = select(KitLine.part_id, func.count()).where(KitLine.part_id.in_(_IDS)).group_by(KitLine.part_id)
_HELD = (
    select(
        Pull.engine_id,
        Pull.position_id,
        Pull.number,
        PullLine.kit_line_id,
        PullLine.part_id,
        PullLine.piece_id,
        PullLine.batch_id,
        KitLine.station,
        Part.house_number,
        func.coalesce(Piece.tag, Batch.tag).label("tag"),
        PullLine.reserved,
        (PullLine.issued - PullLine.returned).label("issued"),
    )
    .join(Pull, Pull.id == PullLine.pull_id)
    .join(Part, Part.id == PullLine.part_id)
    .join(KitLine, KitLine.id == PullLine.kit_line_id)
    .outerjoin(Piece, Piece.id == PullLine.piece_id)
    .outerjoin(Batch, Batch.id == PullLine.batch_id)
    .where(
        Pull.engine_id.in_(_IDS),
        Pull.cancelled.is_(False),
        PullLine.reserved + PullLine.issued - PullLine.returned > 0,
    )
    .order_by(PullLine.id)
)


@dataclass(frozen=True)
class EngineFacts:
    """An engine as a kit choice sees it; ``mods`` are the ids of those that ``state`` names."""

    id: int
    name: str
    serial: str
    engine_type: int
    engine_type_name: str
    use: Scope
    owner: int
    owner_name: str
    priority: int
    agreed_owners: frozenset[int]
    holds: tuple[str, ...]
    state: EngineState
    mods: frozenset[int]


@dataclass(frozen=True)
class PositionFacts:
    """A position of an engine type."""

    id: int
    group: str
    name: str


@dataclass(frozen=True)
class LineFacts:
    """A kit line that holds for the engine and position asked about."""

    id: int
    sequence: int
    station: str
    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    renewed_always: bool
    note: str


def read_engine(session: Session, engine: int, on: date, believed_at: datetime | None = None) -> EngineFacts:
    """An engine with its owner and the owners who have agreed to lend to it on a day, and the mods embodied
    on that day as believed at an instant (None: now).
    """
    connection = session.connection()
    row = connection.execute(_ENGINE, {"engine": engine}).one_or_none()
    if row is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    names = mod_names(session, When(on, believed_at))
    embodied = mods_embodied(session, engine, on, believed_at)
    mods = {names[mod] for mod in embodied}
    agreed = connection.scalars(_OWNERS_AGREED, {"engine": engine, "owner": row.owner_id, "on": on})
    holds = connection.scalars(_ENGINE_HOLDS, {"engine": engine})
    return EngineFacts(
        row.id,
        row.name,
        row.serial,
        row.engine_type_id,
        row.type_name,
        row.use,
        row.owner_id,
        row.owner_name,
        row.priority,
        frozenset(agreed),
        tuple(holds),
        EngineState(row.type_name, row.serial, frozenset(mods), on, row.use),
        embodied,
    )


def read_position(session: Session, engine: EngineFacts, position: int) -> PositionFacts:
    """A position; Refused when it is not one of the engine's."""
    asked = {"position": position, "engine_type": engine.engine_type}
    row = session.connection().execute(_POSITION, asked).one_or_none()
    if row is None:
        raise Refused(f"{engine.name} has no such position.", "Choose one of its own.")
    return PositionFacts(row.id, row.group_name, row.name)


@dataclass(frozen=True)
class Held:
    """What an open pull holds for a kit line already; quantities in the smallest unit."""

    pull_number: str
    kit_line: int
    station: str
    part: int
    part_number: str
    thing: Thing
    tag: str
    reserved: int
    issued: int


class Catalogue:
    """The kit lists and stand-ins that some engine types' kits can call on, read once for one proposal."""

    def __init__(self, session: Session, engine_types: Collection[int]) -> None:
        connection = session.connection()
        self._mod_names = mod_names(session)
        self._type_names = {engine_type: name for engine_type, name in connection.execute(_TYPE_NAMES)}
        self._lines: dict[tuple[int, str], list[tuple[LineFacts, Effectivity]]] = defaultdict(list)
        parts: set[int] = set()
        for row in connection.execute(_KIT_LINES, {"ids": list(engine_types)}):
            facts = LineFacts(
                row.id,
                row.sequence,
                row.station,
                row.part_id,
                row.house_number,
                row.name,
                row.measure,
                row.quantity,
                row.renewed_always,
                row.note,
            )
            self._lines[row.engine_type_id, row.group_name].append((facts, self._effectivity(row, None)))
            parts.add(row.part_id)
        self.graph = self._stand_ins(connection, parts)
        self.parts = parts | {
            part for each in self.graph for part in (each.part, *(member for member, _ in each.members))
            if isinstance(part, int)
        }  # fmt: skip
        self.part_names = {
            part: (number, name)
            for part, number, name in connection.execute(_PART_NAMES, {"ids": list(self.parts)})
        }
        self.uses = self._uses(connection)

    def _effectivity(self, row: Row[*tuple[Any, ...]], engine_type: int | None) -> Effectivity:
        mod = frozenset({self._mod_names[row.mod_id]}) if row.mod_id is not None else frozenset()
        return Effectivity(
            engine_type=self._type_names[engine_type] if engine_type is not None else None,
            positions=names_of(row.positions),
            serial_from=row.serial_from or None,
            serial_to=row.serial_to or None,
            mods_required=mod if row.mod_embodied else frozenset(),
            mods_barred=frozenset() if row.mod_embodied else mod,
            date_from=row.from_on,
            date_until=row.until_on,
        )

    def _stand_ins(self, connection: Connection, parts: set[int]) -> list[alternates.StandIn]:
        """Every stand-in that can be reached from these parts, step by step."""
        known: dict[int, alternates.StandIn] = {}
        reached, fresh = set(parts), set(parts)
        for _ in range(alternates.STEPS_MAX):
            if not fresh:
                break
            members: dict[int, list[tuple[int, int]]] = defaultdict(list)
            found: dict[int, Row[*tuple[Any, ...]]] = {}
            for row in connection.execute(_STAND_INS, {"ids": list(fresh)}):
                found[row.id] = row
                members[row.id].append((row.member, row.quantity_each))
            for stand_in_id, row in found.items():
                known[stand_in_id] = alternates.StandIn(
                    stand_in_id,
                    row.part_id,
                    tuple(members[stand_in_id]),
                    row.both_ways,
                    self._effectivity(row, row.engine_type_id),
                    row.authority,
                )
            now = {row.part_id for row in found.values()} | {
                part for each in members.values() for part, _ in each
            }
            fresh = now - reached
            reached |= fresh
        return [known[key] for key in sorted(known)]

    def _uses(self, connection: Connection) -> dict[int, int]:
        """How many kit lines of any type ask for a part, or for one that it may stand in for."""
        own = {part: lines for part, lines in connection.execute(_USES, {"ids": list(self.parts)})}
        uses = defaultdict(int, own)
        for each in self.graph:
            for member, _ in each.members:
                if isinstance(member, int) and isinstance(each.part, int):
                    uses[member] += own.get(each.part, 0)
        return uses

    def lines_for(self, engine: EngineFacts, position: PositionFacts) -> list[LineFacts]:
        """The kit lines that hold for this engine and position, in the kit list's order."""
        lines = self._lines[engine.engine_type, position.group]
        return [line for line, holds in lines if applies(holds, engine.state, position.name) is None]

    def barred_lines(self, engine: EngineFacts, position: PositionFacts) -> Iterable[tuple[LineFacts, str]]:
        """The kit lines of the position's group that do not hold for this engine and position, and why."""
        for line, holds in self._lines[engine.engine_type, position.group]:
            if why := applies(holds, engine.state, position.name):
                yield line, why

    def options_for(self, part: int, engine: EngineFacts, position: PositionFacts) -> list[Option]:
        """The part itself, then what may stand in for it, nearest first."""
        options = [Option(((part, 1),), "")]
        for option in alternates.stand_ins(part, self.graph, engine.state, position.name):
            members = tuple((int(member), each) for member, each in option.members)
            options.append(Option(members, "; then ".join(step.authority for step in option.path)))
        return options

    def barred_stand_ins(
        self, part: int, engine: EngineFacts, position: PositionFacts
    ) -> Iterable[tuple[int, str]]:
        """Parts that would stand in directly but for this engine, position, mods or date, and why not."""
        for each in self.graph:
            why = applies(each.effectivity, engine.state, position.name)
            if why is None:
                continue
            if each.part == part:
                for member, _ in each.members:
                    yield int(member), why
            elif each.both_ways and each.members[0][0] == part:
                yield int(each.part), why


def offered_at(state: ThingState, where: Whereabouts) -> Offered:
    """What the availability rule looks at, of a thing at one of its places."""
    return Offered(
        condition=state.condition,
        scope=state.scope,
        owner=state.owner,
        owner_name=state.owner_name,
        used=state.used,
        holds=state.holds,
        reserved_for=state.reserved_for,
        free=where.quantity - where.reserved,
        place_name=where.name,
        place_kind=where.kind,
        place_firm=where.firm,
        pull=where.pull,
        note=state.work or state.note,
        shelf_expiry_on=state.shelf_expiry_on,
        lived=state.lived,
        limits=state.limits,
        life_limited=state.life_limited,
        doubts=state.doubts,
    )


def asking(engine: EngineFacts, renewed_always: bool) -> Asking:
    """What the availability rule is asked for, by a line of an engine's kit."""
    return Asking(
        engine.use,
        engine.owner,
        engine.agreed_owners,
        engine.state.on,
        renewed_always,
        Serving(engine.engine_type, engine.mods),
    )


def read_held(session: Session, engines: Collection[int]) -> dict[tuple[int, int], list[Held]]:
    """What open pulls have set aside or were given and still hold, by (engine, position)."""
    rows = session.connection().execute(_HELD, {"ids": list(engines)})
    found: dict[tuple[int, int], list[Held]] = defaultdict(list)
    for row in rows:
        found[row.engine_id, row.position_id].append(
            Held(
                row.number,
                row.kit_line_id,
                row.station,
                row.part_id,
                row.house_number,
                Thing(row.piece_id, row.batch_id),
                row.tag,
                row.reserved,
                row.issued,
            )
        )
    return found


def read_whom(session: Session, numbers: Collection[str]) -> dict[str, str]:
    """For whom pulls are, by number: ``P00003-M (Twelve 219 cylinder B2, Dunya Halloran)``."""
    if not numbers:
        return {}
    rows = session.execute(
        select(Pull.number, Engine.name, Position.group_name, Position.name, Person.name)
        .join(Engine, Engine.id == Pull.engine_id)
        .join(Position, Position.id == Pull.position_id)
        .join(Person, Person.id == Pull.asked_by)
        .where(Pull.number.in_(numbers))
    )
    return {
        number: f"{number} ({engine} {group} {position}, {who})"
        for number, engine, group, position, who in rows
    }
