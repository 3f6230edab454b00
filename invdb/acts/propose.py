"""Propose a kit: which pieces and batches could go to each line, why, and what bars the nearest misses.

Reads only; nothing is held until ``pull.reserve`` takes the proposal and looks again under the lock.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    Held,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
    read_engine,
    read_held,
    read_position,
    read_whom,
)
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, Whereabouts, things_of_parts
from invdb.records.clock import today
from invdb.rules import kit_model
from invdb.rules.availability import bars
from invdb.rules.folding import FITTED_KINDS
from invdb.rules.kitting import choose_kit
from invdb.rules.life import prior_hours_words
from invdb.rules.pulling import KitState, Option, units_filled
from invdb.terms import Measure, Refused

MISSES_MAX = 5
SECONDS_MAX = 20.0
POSITIONS_MAX = 24


@dataclass(frozen=True)
class Asked:
    """One kit asked for: an engine and a position of it, by their ids."""

    engine: int
    position: int


@dataclass(frozen=True)
class Choice:
    """A thing chosen for a line; ``quantity`` in the smallest unit. No ``authority`` for the part itself."""

    thing: Thing
    tag: str
    serial: str
    part: int
    part_number: str
    part_name: str
    place: int
    bin: str
    walking_order: int
    quantity: int
    condition: str
    scope: str
    papers: int
    hours: str
    why: str
    authority: str


@dataclass(frozen=True)
class Miss:
    """A thing that nearly served, where it is, and everything that bars it."""

    tag: str
    part_number: str
    where: str
    bars: tuple[str, ...]


@dataclass(frozen=True)
class KitLineProposal:
    """One line of a proposed kit.

    ``held`` is what open pulls have for it already; ``choices`` fill the rest as far as they go, and
    ``missing`` is what could not be found, in the smallest unit.
    """

    kit_line: int
    station: str
    part: int
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    renewed_always: bool
    note: str
    held: tuple[Held, ...]
    choices: tuple[Choice, ...]
    missing: int
    misses: tuple[Miss, ...]

    @property
    def state(self) -> KitState:
        """How far the line could be filled, or has been."""
        if self.missing:
            return KitState.SHORT
        if not self.choices:
            waiting = any(each.reserved for each in self.held)
            return KitState.RESERVED if waiting else KitState.ISSUED
        alternate = any(choice.authority for choice in self.choices)
        return KitState.WITH_ALTERNATE if alternate else KitState.COMPLETE


@dataclass(frozen=True)
class KitProposal:
    """A proposed kit for one position of one engine."""

    engine: EngineFacts
    position: PositionFacts
    lines: tuple[KitLineProposal, ...]

    @property
    def complete(self) -> bool:
        """Whether every line is filled."""
        return all(line.missing == 0 for line in self.lines)

    @property
    def lines_filled(self) -> int:
        """How many of the lines are filled."""
        return sum(line.missing == 0 for line in self.lines)

    @property
    def state(self) -> KitState:
        """How far the kit could be filled, or has been: the worst of its lines."""
        states = {line.state for line in self.lines}
        for state in (
            KitState.SHORT,
            KitState.WITH_ALTERNATE,
            KitState.COMPLETE,
            KitState.RESERVED,
            KitState.ISSUED,
        ):
            if state in states:
                return state
        return KitState.NO_KIT_LIST


@dataclass(frozen=True)
class Proposal:
    """Kits proposed together, and whether no better choice exists."""

    kits: tuple[KitProposal, ...]
    proven: bool
    proposed_on: date


@dataclass
class _Pool:
    """The stock of every part that could serve, each thing at each place once."""

    by_part: dict[int, list[tuple[ThingState, Whereabouts]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def fill(self, states: Iterable[ThingState]) -> None:
        for state in states:
            for where in state.where:
                self.by_part[state.part].append((state, where))
        for each in self.by_part.values():
            each.sort(key=lambda pair: (pair[0].received_on, pair[0].tag, pair[1].walking_order))

    def pulls(self) -> set[str]:
        """The numbers of every pull that has any of this set aside or in hand."""
        pairs = [pair for each in self.by_part.values() for pair in each]
        return {number for state, where in pairs for number in (*state.reserved_for, where.pull) if number}


def propose(
    session: Session,
    asked: tuple[Asked, ...],
    *,
    seconds: float = SECONDS_MAX,
    stop: Callable[[], bool] = lambda: False,
) -> Proposal:
    """Choose stock for one kit or several at once; several share what there is by engine priority.

    What open pulls hold for a position already is not asked for again. Refused when nothing, or the same
    position twice, is asked for.
    """
    if not asked:
        raise Refused("No position is named.", "Choose an engine and a cylinder.")
    if len(set(asked)) < len(asked):
        raise Refused("The same position is asked for twice.", "Ask for it once.")
    if len(asked) > POSITIONS_MAX:
        raise Refused(f"{len(asked)} kits at once are too many.", f"Ask for {POSITIONS_MAX} at most.")
    on = today(session)
    engines = {each.engine: read_engine(session, each.engine, on) for each in asked}
    positions = {each: read_position(session, engines[each.engine], each.position) for each in asked}
    catalogue = Catalogue(session, {engine.engine_type for engine in engines.values()})
    kits = {each: catalogue.lines_for(engines[each.engine], positions[each]) for each in asked}
    build = _Build(catalogue, engines, positions, read_held(session, engines))
    parts = build.parts_of(kits)
    build.pool.fill(things_of_parts(session, parts).values())
    build.whom = read_whom(session, build.pool.pulls())
    request = build.request(kits)
    ends = time.monotonic() + seconds
    kit = choose_kit(request, seconds_left=lambda: ends - time.monotonic(), stop=stop)
    return Proposal(build.kits(kits, kit), kit.proven, on)


class _Build:
    """The kit choice's question in its own plain values, and the answer back in ours."""

    def __init__(
        self,
        catalogue: Catalogue,
        engines: dict[int, EngineFacts],
        positions: dict[Asked, PositionFacts],
        held: dict[tuple[int, int], list[Held]],
    ) -> None:
        self.catalogue = catalogue
        self.engines = engines
        self.positions = positions
        self.pool = _Pool()
        self._held = held
        self.whom: dict[str, str] = {}
        self._options: dict[tuple[Asked, int], list[Option]] = {}
        self._things: dict[str, tuple[ThingState, Whereabouts]] = {}

    def parts_of(self, kits: dict[Asked, list[LineFacts]]) -> set[int]:
        """Every part that a line of these kits could be filled with, or nearly."""
        parts: set[int] = set()
        for asked, lines in kits.items():
            engine, position = self.engines[asked.engine], self.positions[asked]
            for line in lines:
                options = self.catalogue.options_for(line.part, engine, position)
                self._options[asked, line.id] = options
                parts |= {part for option in options for part, _ in option.members}
                parts |= {part for part, _ in self.catalogue.barred_stand_ins(line.part, engine, position)}
        return parts

    def request(self, kits: dict[Asked, list[LineFacts]]) -> kit_model.KitRequest:
        """The question: needs with their options, and every source that nothing bars."""
        needs: list[kit_model.Need] = []
        used: dict[str, tuple[ThingState, Whereabouts]] = {}
        for asked, lines in kits.items():
            engine = self.engines[asked.engine]
            for line in lines:
                wanted = line.quantity - self._units_held(asked, line)
                if wanted <= 0:
                    continue
                options = []
                for preference, option in enumerate(self._options[asked, line.id]):
                    components = []
                    for part, each in option.members:
                        open_to = self._open(part, engine, line.renewed_always)
                        used.update(open_to)
                        components.append(kit_model.Component(each, tuple(open_to)))
                    options.append(kit_model.NeedOption(preference, tuple(components)))
                needs.append(
                    kit_model.Need(
                        _need_key(asked, line.id),
                        _position_key(asked),
                        wanted,
                        tuple(options),
                        line.measure,
                    )
                )
        self._things = used
        return kit_model.KitRequest(
            positions=[
                kit_model.PositionRequest(_position_key(asked), -self.engines[asked.engine].priority)
                for asked in kits
            ],
            needs=needs,
            sources=self._sources(used),
        )

    def _held_for(self, asked: Asked, line: LineFacts) -> tuple[Held, ...]:
        every = self._held.get((asked.engine, asked.position), ())
        return tuple(each for each in every if each.kit_line == line.id)

    def _units_held(self, asked: Asked, line: LineFacts) -> int:
        amounts: dict[int, int] = defaultdict(int)
        for each in self._held_for(asked, line):
            amounts[each.part] += each.reserved + each.issued
        return units_filled(self._options[asked, line.id], amounts)

    def _open(
        self, part: int, engine: EngineFacts, renewed_always: bool
    ) -> dict[str, tuple[ThingState, Whereabouts]]:
        ask = asking(engine, renewed_always)
        return {
            _source_key(state, where): (state, where)
            for state, where in self.pool.by_part.get(part, ())
            if where.quantity > where.reserved and not bars(offered_at(state, where), ask)
        }

    def _sources(self, used: dict[str, tuple[ThingState, Whereabouts]]) -> list[kit_model.Source]:
        expiries = sorted({state.shelf_expiry_on for state, _ in used.values() if state.shelf_expiry_on})
        receipts = sorted({state.received_on for state, _ in used.values()})
        expiry_rank = {expiry: rank for rank, expiry in enumerate(expiries)}
        receipt_rank = {receipt: rank for rank, receipt in enumerate(receipts)}
        return [
            kit_model.Source(
                key,
                where.quantity - where.reserved,
                shelf_expiry_rank=(
                    expiry_rank[state.shelf_expiry_on] if state.shelf_expiry_on else len(expiries)
                ),
                receipt_rank=receipt_rank[state.received_on],
                other_uses=self.catalogue.uses[state.part],
            )
            for key, (state, where) in used.items()
        ]

    def kits(self, kits: dict[Asked, list[LineFacts]], kit: kit_model.Kit) -> tuple[KitProposal, ...]:
        """The answer, line by line, with the near misses of what is short."""
        taken: dict[kit_model.Key, list[kit_model.Allocation]] = defaultdict(list)
        for allocation in kit.allocations:
            taken[allocation.need].append(allocation)
        short = {fill.need: fill.short for fill in kit.lines}
        chosen = {allocation.source for allocation in kit.allocations}
        proposals = []
        for asked, lines in kits.items():
            engine, position = self.engines[asked.engine], self.positions[asked]
            proposals.append(
                KitProposal(
                    engine,
                    position,
                    tuple(
                        self._line(asked, line, taken[key], short.get(key, 0), chosen)
                        for line in lines
                        for key in (_need_key(asked, line.id),)
                    ),
                )
            )
        return tuple(proposals)

    def _line(
        self,
        asked: Asked,
        line: LineFacts,
        allocations: list[kit_model.Allocation],
        missing: int,
        chosen: set[kit_model.Key],
    ) -> KitLineProposal:
        choices = []
        for allocation in allocations:
            option = self._options[asked, line.id][allocation.option]
            state, where = self._things[str(allocation.source)]
            choices.append(_choice(state, where, allocation.quantity, line, option))
        misses = self._misses(asked, line, chosen) if missing else ()
        return KitLineProposal(
            line.id,
            line.station,
            line.part,
            line.part_number,
            line.part_name,
            line.measure,
            line.quantity,
            line.renewed_always,
            line.note,
            self._held_for(asked, line),
            tuple(choices),
            missing,
            misses,
        )

    def _misses(self, asked: Asked, line: LineFacts, chosen: set[kit_model.Key]) -> tuple[Miss, ...]:
        """The nearest misses of a short line, those with the fewest bars first; last what is in engines."""
        engine, position = self.engines[asked.engine], self.positions[asked]
        ask = asking(engine, line.renewed_always)
        unsuited = dict(self.catalogue.barred_stand_ins(line.part, engine, position))
        parts = [part for option in self._options[asked, line.id] for part, _ in option.members]
        found: list[tuple[bool, int, int, Miss]] = []
        for rank, part in enumerate(
            [*dict.fromkeys(parts), *(part for part in unsuited if part not in parts)]
        ):
            for state, where in self.pool.by_part.get(part, ()):
                offered = replace(
                    offered_at(state, where),
                    reserved_for=tuple(self.whom.get(number, number) for number in state.reserved_for),
                    pull=self.whom.get(where.pull, where.pull),
                )
                said = list(bars(offered, ask))
                if part in unsuited and part not in parts:
                    said.append(f"unsuited: {unsuited[part]}")
                if not said and _source_key(state, where) in chosen:
                    said = ["chosen for another line of this proposal"]
                if not said:
                    said = ["not enough of it to fill the line"]
                miss = Miss(state.tag, state.part_number, _where_words(where), tuple(said))
                found.append((where.kind in FITTED_KINDS, len(said), rank, miss))
        found.sort(key=lambda each: each[:3])
        return tuple(miss for *_, miss in found[:MISSES_MAX])


def _need_key(asked: Asked, line: int) -> str:
    return f"{asked.engine}/{asked.position}/{line}"


def _position_key(asked: Asked) -> str:
    return f"{asked.engine}/{asked.position}"


def _source_key(state: ThingState, where: Whereabouts) -> str:
    return f"{state.tag}@{where.place}"


def _where_words(where: Whereabouts) -> str:
    return where.firm or where.name


def _choice(state: ThingState, where: Whereabouts, quantity: int, line: LineFacts, option: Option) -> Choice:
    if not option.authority:
        why = "the part itself"
    elif len(option.members) > 1:
        why = f"one of a set standing in for {line.part_number}"
    else:
        why = f"stands in for {line.part_number}"
    return Choice(
        thing=state.thing,
        tag=state.tag,
        serial=state.serial,
        part=state.part,
        part_number=state.part_number,
        part_name=state.part_name,
        place=where.place,
        bin=where.name,
        walking_order=where.walking_order,
        quantity=quantity,
        condition=str(state.condition),
        scope=str(state.scope or ""),
        papers=state.papers,
        hours=prior_hours_words(state.run_hours) if state.run_hours is not None else "",
        why=why,
        authority=option.authority,
    )
