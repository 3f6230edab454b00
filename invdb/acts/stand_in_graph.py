"""What stands in for a part, and what it stands in for, step by step: as a picture that one can follow."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.mods_embodied import mod_names
from invdb.records.catalogue import Part, StandIn, StandInMember
from invdb.records.documents import Document
from invdb.records.engines import EngineType
from invdb.rules.alternates import STEPS_MAX
from invdb.rules.effectivity import Effectivity, effectivity_words, names_of


@dataclass(frozen=True)
class GraphPart:
    """A part of the picture; ``steps`` from the part itself, which is at 0.

    ``stood_in_for``: the part itself may stand in for this one, over one step or several that hold on the
    day.
    """

    part: int
    number: str
    name: str
    steps: int
    stood_in_for: bool


@dataclass(frozen=True)
class GraphStep:
    """That ``members`` (part, how many for one), together, may stand in for ``part``; both ways or one.

    ``holds`` is for which engines, in words; ``ended`` on the day asked about.
    """

    stand_in: int
    part: int
    members: tuple[tuple[int, int], ...]
    both_ways: bool
    superseding: bool
    holds: str
    authority: str
    document: str
    ended: bool
    entry: int


@dataclass(frozen=True)
class StandInGraph:
    """Every part that is reached by steps either way, nearest first, and the steps between them."""

    nodes: tuple[GraphPart, ...]
    steps: tuple[GraphStep, ...]


def stand_in_graph(session: Session, part: int, on: date) -> StandInGraph:
    """The stand-ins round a part as they stand on a day; those that have ended are shown as such."""
    distance = {part: 0}
    steps: dict[int, GraphStep] = {}
    fresh = {part}
    for _ in range(STEPS_MAX):
        if not fresh:
            break
        near = _steps_at(session, fresh, on)
        steps |= {each.stand_in: each for each in near}
        reached = {other for each in near for other in (each.part, *(member for member, _ in each.members))}
        fresh = reached - set(distance)
        for other in fresh:
            distance[other] = _nearest(other, near, distance)
    names = {
        row.id: row
        for row in session.execute(select(Part.id, Part.house_number, Part.name).where(Part.id.in_(distance)))
    }
    stood_for = _stood_for(part, steps.values())
    nodes = sorted(
        (
            GraphPart(each, names[each].house_number, names[each].name, steps_away, each in stood_for)
            for each, steps_away in distance.items()
        ),
        key=lambda node: (node.steps, node.number),
    )
    return StandInGraph(tuple(nodes), tuple(steps[key] for key in sorted(steps)))


def _nearest(part: int, near: list[GraphStep], distance: dict[int, int]) -> int:
    known = [
        distance[other]
        for each in near
        for parts in [{each.part, *(member for member, _ in each.members)}]
        if part in parts
        for other in parts
        if other in distance and other != part
    ]
    return min(known, default=0) + 1


def _steps_at(session: Session, parts: set[int], on: date) -> list[GraphStep]:
    rows = session.execute(
        select(StandIn, EngineType.name, Document.reference)
        .outerjoin(EngineType, EngineType.id == StandIn.engine_type_id)
        .outerjoin(Document, Document.id == StandIn.document_id)
        .where(
            or_(
                StandIn.part_id.in_(parts),
                StandIn.id.in_(select(StandInMember.stand_in_id).where(StandInMember.part_id.in_(parts))),
            )
        )
        .order_by(StandIn.id)
    ).all()
    members: dict[int, list[tuple[int, int]]] = defaultdict(list)
    own = session.execute(
        select(StandInMember.stand_in_id, StandInMember.part_id, StandInMember.quantity_each)
        .where(StandInMember.stand_in_id.in_([row.StandIn.id for row in rows]))
        .order_by(StandInMember.id)
    )
    for stand_in, member, each in own:
        members[stand_in].append((member, each))
    mods = mod_names(session)
    return [_step(each, name, reference or "", members[each.id], mods, on) for each, name, reference in rows]


def _step(
    each: StandIn,
    engine_type: str | None,
    document: str,
    members: list[tuple[int, int]],
    mods: Mapping[int, str],
    on: date,
) -> GraphStep:
    mod = frozenset({mods[each.mod_id]}) if each.mod_id is not None else frozenset()
    holds = Effectivity(
        engine_type=engine_type,
        positions=names_of(each.positions),
        serial_from=each.serial_from or None,
        serial_to=each.serial_to or None,
        mods_required=mod if each.mod_embodied else frozenset(),
        mods_barred=frozenset() if each.mod_embodied else mod,
        date_from=each.from_on,
        date_until=each.until_on,
    )
    return GraphStep(
        each.id,
        each.part_id,
        tuple(members),
        each.both_ways,
        each.superseding,
        effectivity_words(holds),
        each.authority,
        document,
        each.until_on is not None and each.until_on <= on,
        each.set_by,
    )


def _stood_for(part: int, steps: Iterable[GraphStep]) -> set[int]:
    """The parts that a part may stand in for, over steps that have not ended."""
    found: set[int] = set()
    waiting = [part]
    standing = [each for each in steps if not each.ended]
    while waiting:
        here = waiting.pop()
        for each in standing:
            others = [each.part] if here in {member for member, _ in each.members} else []
            if each.both_ways and each.part == here:
                others += [member for member, _ in each.members]
            for other in others:
                if other not in found and other != part:
                    found.add(other)
                    waiting.append(other)
    return found
