"""What stands in for a part, and what it stands in for, step by step: as a picture that one can follow."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.held_where import begins_after, ended_by, held_where, holds_of
from invdb.acts.mods_embodied import mod_names
from invdb.records.catalogue import Part, StandIn, StandInMember
from invdb.records.documents import Document
from invdb.records.engines import EngineType
from invdb.rules.alternates import STEPS_MAX
from invdb.rules.effectivity import effectivity_words


@dataclass(frozen=True)
class GraphPart:
    """A part of the picture; ``steps`` from the part itself, which is at 0.

    ``stood_in_for``: the part itself, alone or in a set, may stand in for this one, over one step or several
    that are in force on the day, ``through`` which (stand-ins by id, from the part itself on).
    ``stands_in``: this one may stand in for the part itself in the same way.
    """

    part: int
    number: str
    name: str
    steps: int
    stood_in_for: bool
    through: tuple[int, ...]
    stands_in: bool


@dataclass(frozen=True)
class GraphStep:
    """That ``members`` (part, how many for one), together, may stand in for ``part``; both ways or one.

    ``holds`` is for which engines and from when until when, in words. On the day asked about it had
    ``ended``, or it ``waits`` for the day on which it begins.
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
    waits: bool
    entry: int

    @property
    def in_force(self) -> bool:
        """Whether it held on the day asked about."""
        return not self.ended and not self.waits


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
    stood_for = _reached(part, steps.values(), standing_for=True)
    standing_in = _reached(part, steps.values(), standing_for=False)
    nodes = sorted(
        (
            GraphPart(
                each,
                names[each].house_number,
                names[each].name,
                steps_away,
                each in stood_for,
                stood_for.get(each, ()),
                each in standing_in,
            )
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
        .execution_options(populate_existing=True)
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
    return GraphStep(
        each.id,
        each.part_id,
        tuple(members),
        each.both_ways,
        each.superseding,
        effectivity_words(held_where(holds_of(each), mods, engine_type)),
        each.authority,
        document,
        ended_by(each, on),
        begins_after(each, on),
        each.set_by,
    )


def _reached(part: int, steps: Iterable[GraphStep], *, standing_for: bool) -> dict[int, tuple[int, ...]]:
    """The parts that a part may stand in for, or that may stand in for it, over steps in force on the day.

    Each with the stand-ins by which it is reached, the fewest that will do.
    """
    onward: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for each in steps:
        if each.in_force:
            for member, _ in each.members:
                ways = [(member, each.part)] if standing_for or each.both_ways else []
                ways += [(each.part, member)] if not standing_for or each.both_ways else []
                for here, there in ways:
                    onward[here].append((there, each.stand_in))
    found: dict[int, tuple[int, ...]] = {part: ()}
    waiting = deque([part])
    while waiting:
        here = waiting.popleft()
        for there, stand_in in onward[here]:
            if there not in found and len(found[here]) < STEPS_MAX:
                found[there] = (*found[here], stand_in)
                waiting.append(there)
    del found[part]
    return found
