"""What a kit choice must know, read from the store: engines, kit lines that hold, stand-ins, and stock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from invdb.acts.things import ThingState, Whereabouts
from invdb.records.catalogue import KitLine, Mod, Part, StandIn, StandInMember
from invdb.records.engines import Engine, EngineMod, EngineType, Position
from invdb.records.people import Owner, OwnerAgreement
from invdb.records.stock import Batch, Hold, Piece, Pull, PullLine
from invdb.rules import alternates
from invdb.rules.availability import Asking, Offered
from invdb.rules.effectivity import Effectivity, EngineState, applies
from invdb.rules.pulling import Option
from invdb.terms import Measure, Refused, Scope


@dataclass(frozen=True)
class EngineFacts:
    """An engine as a kit choice sees it."""

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


def read_engine(session: Session, engine: int, on: date) -> EngineFacts:
    """An engine with its mods, owner and the owners who have agreed to lend to it on a day."""
    row = session.execute(
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
        .where(Engine.id == engine)
    ).one_or_none()
    if row is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    mods = session.scalars(
        select(Mod.code)
        .join(EngineMod, EngineMod.mod_id == Mod.id)
        .where(
            EngineMod.engine_id == engine,
            EngineMod.embodied,
            or_(EngineMod.since_on.is_(None), EngineMod.since_on <= on),
        )
    )
    agreed = session.scalars(
        select(OwnerAgreement.owner_id).where(
            OwnerAgreement.for_owner_id == row.owner_id,
            or_(OwnerAgreement.engine_id.is_(None), OwnerAgreement.engine_id == engine),
            OwnerAgreement.from_on <= on,
            or_(OwnerAgreement.until_on.is_(None), OwnerAgreement.until_on >= on),
        )
    )
    holds = session.scalars(select(Hold.reason).where(Hold.engine_id == engine, Hold.cleared_on.is_(None)))
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
    )


def read_position(session: Session, engine: EngineFacts, position: int) -> PositionFacts:
    """A position; Refused when it is not one of the engine's."""
    row = session.execute(
        select(Position.id, Position.group_name, Position.name).where(
            Position.id == position, Position.engine_type_id == engine.engine_type
        )
    ).one_or_none()
    if row is None:
        raise Refused(f"{engine.name} has no such position.", "Choose one of its own.")
    return PositionFacts(row.id, row.group_name, row.name)


@dataclass(frozen=True)
class Held:
    """What an open pull holds for a kit line already; quantities in the smallest unit."""

    pull_number: str
    kit_line: int
    part: int
    part_number: str
    tag: str
    reserved: int
    issued: int


class Catalogue:
    """The kit lists and stand-ins that some engine types' kits can call on, read once for one proposal."""

    def __init__(self, session: Session, engine_types: Collection[int]) -> None:
        self._mod_codes = dict(session.execute(select(Mod.id, Mod.code)).all())
        self._type_names = dict(session.execute(select(EngineType.id, EngineType.name)).all())
        self._lines: dict[tuple[int, str], list[tuple[LineFacts, Effectivity]]] = defaultdict(list)
        rows = session.execute(
            select(KitLine, Part.house_number, Part.name, Part.measure)
            .join(Part, Part.id == KitLine.part_id)
            .where(KitLine.engine_type_id.in_(engine_types))
            .order_by(KitLine.sequence, KitLine.id)
        )
        parts: set[int] = set()
        for line, number, name, measure in rows:
            facts = LineFacts(
                line.id,
                line.sequence,
                line.station,
                line.part_id,
                number,
                name,
                measure,
                line.quantity,
                line.renewed_always,
                line.note,
            )
            self._lines[line.engine_type_id, line.group_name].append((facts, self._effectivity(line, None)))
            parts.add(line.part_id)
        self.graph = self._stand_ins(session, parts)
        self.parts = parts | {
            part for each in self.graph for part in (each.part, *(member for member, _ in each.members))
            if isinstance(part, int)
        }  # fmt: skip
        self.part_names = {
            part: (number, name)
            for part, number, name in session.execute(
                select(Part.id, Part.house_number, Part.name).where(Part.id.in_(self.parts))
            )
        }
        self.uses = self._uses(session)

    def _effectivity(self, row: KitLine | StandIn, engine_type: int | None) -> Effectivity:
        mod = frozenset({self._mod_codes[row.mod_id]}) if row.mod_id is not None else frozenset()
        positions = None
        if row.positions:
            positions = frozenset(name.strip() for name in row.positions.split(",") if name.strip()) or None
        return Effectivity(
            engine_type=self._type_names[engine_type] if engine_type is not None else None,
            positions=positions,
            serial_from=row.serial_from or None,
            serial_to=row.serial_to or None,
            mods_required=mod if row.mod_embodied else frozenset(),
            mods_barred=frozenset() if row.mod_embodied else mod,
            date_from=row.from_on,
        )

    def _stand_ins(self, session: Session, parts: set[int]) -> list[alternates.StandIn]:
        """Every stand-in that can be reached from these parts, step by step."""
        known: dict[int, alternates.StandIn] = {}
        reached, fresh = set(parts), set(parts)
        for _ in range(alternates.STEPS_MAX):
            if not fresh:
                break
            of_member = select(StandInMember.stand_in_id).where(StandInMember.part_id.in_(fresh))
            rows = session.execute(
                select(StandIn, StandInMember.part_id, StandInMember.quantity_each)
                .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
                .where(or_(StandIn.part_id.in_(fresh), StandIn.both_ways & StandIn.id.in_(of_member)))
                .order_by(StandIn.id, StandInMember.id)
            )
            members: dict[int, list[tuple[int, int]]] = defaultdict(list)
            found: dict[int, StandIn] = {}
            for row, part, each in rows:
                found[row.id] = row
                members[row.id].append((part, each))
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

    def _uses(self, session: Session) -> dict[int, int]:
        """How many kit lines of any type ask for a part, or for one that it may stand in for."""
        own = dict(
            session.execute(
                select(KitLine.part_id, func.count())
                .where(KitLine.part_id.in_(self.parts))
                .group_by(KitLine.part_id)
            ).all()
        )
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
        note=state.note,
        shelf_expiry_on=state.shelf_expiry_on,
        prior_hours=state.prior_hours,
        life_limit=state.life_limit,
    )


def asking(engine: EngineFacts, renewed_always: bool) -> Asking:
    """What the availability rule is asked for, by a line of an engine's kit."""
    return Asking(engine.use, engine.owner, engine.agreed_owners, engine.state.on, renewed_always)


def read_held(session: Session, engines: Collection[int]) -> dict[tuple[int, int], list[Held]]:
    """What open pulls have set aside or were given and still hold, by (engine, position)."""
    rows = session.execute(
        select(
            Pull.engine_id,
            Pull.position_id,
            Pull.number,
            PullLine.kit_line_id,
            PullLine.part_id,
            Part.house_number,
            func.coalesce(Piece.tag, Batch.tag).label("tag"),
            PullLine.reserved,
            (PullLine.issued - PullLine.returned).label("issued"),
        )
        .join(Pull, Pull.id == PullLine.pull_id)
        .join(Part, Part.id == PullLine.part_id)
        .outerjoin(Piece, Piece.id == PullLine.piece_id)
        .outerjoin(Batch, Batch.id == PullLine.batch_id)
        .where(
            Pull.engine_id.in_(engines),
            Pull.cancelled.is_(False),
            PullLine.reserved + PullLine.issued - PullLine.returned > 0,
        )
        .order_by(PullLine.id)
    )
    found: dict[tuple[int, int], list[Held]] = defaultdict(list)
    for row in rows:
        found[row.engine_id, row.position_id].append(
            Held(
                row.number, row.kit_line_id, row.part_id, row.house_number, row.tag, row.reserved, row.issued
            )
        )
    return found
