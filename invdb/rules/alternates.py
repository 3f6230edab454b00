"""Which parts may stand in for a part: a directed graph, followed step by step.

A step may be passed on only where it holds for this engine, position, mod state and date.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from invdb.rules.effectivity import EVERYWHERE, Effectivity, EngineState, applies
from invdb.terms import Refused

STEPS_MAX = 8
OPTIONS_MAX = 500
MEMBERS_MAX = 12
QUANTITY_EACH_MAX = 1000

Part = str | int


@dataclass(frozen=True)
class StandIn:
    """``part`` may be replaced by ``members``, each a (part, quantity for one of the replaced part).

    One member with quantity 1 is one for one; several are fitted together, as a set. ``both_ways`` lets the
    replaced part stand in for the other as well, and is only for one for one. Among the stand-ins of a part
    the lowest ``preference`` comes first.
    ``authority`` is the document or decision that allows it, in words.
    """

    id: int | str
    part: Part
    members: tuple[tuple[Part, int], ...]
    both_ways: bool = False
    effectivity: Effectivity = EVERYWHERE
    authority: str = ""
    preference: int = 0

    def __post_init__(self) -> None:
        if not 1 <= len(self.members) <= MEMBERS_MAX:
            raise Refused(
                f"{len(self.members)} parts cannot stand in for {self.part} together.",
                f"Name between 1 and {MEMBERS_MAX}.",
            )
        for member, quantity_each in self.members:
            if member == self.part:
                raise Refused(f"{member} cannot stand in for itself.", "Name another part.")
            if not 1 <= quantity_each <= QUANTITY_EACH_MAX:
                raise Refused(
                    f"{quantity_each} of {member} cannot stand in for one {self.part}.",
                    f"Give a whole number between 1 and {QUANTITY_EACH_MAX}.",
                )
        if len({member for member, _ in self.members}) < len(self.members):
            raise Refused("A part is named twice in one set.", "Name it once with the whole quantity.")
        if self.both_ways and not self.one_for_one:
            raise Refused(
                f"A set that stands in for {self.part} cannot be replaced both ways.", "Make it one way."
            )

    @property
    def one_for_one(self) -> bool:
        """Whether a single piece of a single part replaces it."""
        return len(self.members) == 1 and self.members[0][1] == 1


class Step(NamedTuple):
    """One stand-in passed: ``part`` was replaced by ``members`` on the word of ``authority``."""

    stand_in: int | str
    part: Part
    members: tuple[tuple[Part, int], ...]
    authority: str


@dataclass(frozen=True)
class Option:
    """What may be fitted for one of the part: every member, in the quantity given, and how it came about."""

    members: tuple[tuple[Part, int], ...]
    path: tuple[Step, ...]


class _Edge(NamedTuple):
    """A step that may be passed here, with its place in the order of preference."""

    rank: int
    step: Step


class _Slot(NamedTuple):
    """A member on its way: the part now, its quantity, and the parts it stands in for, one after another."""

    part: Part
    quantity: int
    stood_in_for: frozenset[Part]


def stand_ins(part: Part, graph: Sequence[StandIn], engine: EngineState, position: str) -> list[Option]:
    """Every option for one of ``part`` but the part itself, fewest steps first, then by preference.

    Breadth first, at most 8 steps; each combination of members appears once, by its shortest path. Refuses a
    part with more than 500 options, which no kit could be chosen from by a person.
    """
    edges = _edges_by_part(graph, engine, position)
    start = (_Slot(part, 1, frozenset({part})),)
    seen = {_members(start)}
    found: list[Option] = []
    level: list[tuple[tuple[_Slot, ...], tuple[Step, ...]]] = [(start, ())]
    for _ in range(STEPS_MAX):
        reached = []
        for slots, path in level:
            for slot_index, slot in enumerate(slots):
                for edge in edges.get(slot.part, ()):
                    replaced = _replace(slots, slot_index, edge.step)
                    if replaced is None or _members(replaced) in seen:
                        continue
                    seen.add(_members(replaced))
                    reached.append((replaced, (*path, edge.step)))
                    found.append(Option(_members_in_order(replaced), reached[-1][1]))
                    if len(found) > OPTIONS_MAX:
                        raise Refused(
                            f"More than {OPTIONS_MAX} options may stand in for {part}.",
                            "Look over its alternates and take out those no longer wanted.",
                        )
        level = reached
    return found


def find_cycle(graph: Sequence[StandIn], new: StandIn) -> list[Part] | None:
    """The shortest cycle of one-way steps that ``new`` would close, or None.

    The list begins and ends with the part replaced. A stand-in of the graph with the same id is taken to be
    the earlier state of ``new`` and left out.
    """
    if new.both_ways:
        return None
    onward: dict[Part, list[Part]] = {}
    for stand_in in graph:
        if not stand_in.both_ways and stand_in.id != new.id:
            onward.setdefault(stand_in.part, []).extend(member for member, _ in stand_in.members)
    came_from: dict[Part, Part] = {member: new.part for member, _ in new.members}
    waiting = deque(came_from)
    while waiting:
        part = waiting.popleft()
        for member in onward.get(part, ()):
            if member == new.part:
                back = [member, part]
                while back[-1] != new.part:
                    back.append(came_from[back[-1]])
                return back[::-1]
            if member not in came_from:
                came_from[member] = part
                waiting.append(member)
    return None


def refuse_cycle(graph: Sequence[StandIn], new: StandIn) -> None:
    """Refuses a one-way stand-in that would close a cycle, naming every part on it."""
    if cycle := find_cycle(graph, new):
        raise Refused(
            f"These would stand in for one another in a ring: {' → '.join(str(part) for part in cycle)}.",
            "Make one step work both ways, or leave this one out.",
        )


def _edges_by_part(graph: Sequence[StandIn], engine: EngineState, position: str) -> dict[Part, list[_Edge]]:
    """The steps open here by the part they replace, preferred first, then in the order of the graph."""
    edges: dict[Part, list[_Edge]] = {}
    for stand_in in graph:
        if applies(stand_in.effectivity, engine, position) is not None:
            continue
        ways = [(stand_in.part, stand_in.members)]
        if stand_in.both_ways:
            ways.append((stand_in.members[0][0], ((stand_in.part, 1),)))
        for part, members in ways:
            step = Step(stand_in.id, part, members, stand_in.authority)
            edges.setdefault(part, []).append(_Edge(stand_in.preference, step))
    for waiting in edges.values():
        waiting.sort(key=lambda edge: edge.rank)
    return edges


def _replace(slots: tuple[_Slot, ...], index: int, step: Step) -> tuple[_Slot, ...] | None:
    """The slots with one replaced, or None if that would bring back a part it already stands in for."""
    old = slots[index]
    if any(member in old.stood_in_for for member, _ in step.members):
        return None
    new = tuple(
        _Slot(member, old.quantity * each, old.stood_in_for | {member}) for member, each in step.members
    )
    return slots[:index] + new + slots[index + 1 :]


def _members_in_order(slots: tuple[_Slot, ...]) -> tuple[tuple[Part, int], ...]:
    """The members with like parts added up, in the order they appear."""
    total: dict[Part, int] = {}
    for slot in slots:
        total[slot.part] = total.get(slot.part, 0) + slot.quantity
    return tuple(total.items())


def _members(slots: tuple[_Slot, ...]) -> frozenset[tuple[Part, int]]:
    return frozenset(_members_in_order(slots))
