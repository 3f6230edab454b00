"""Gather, for every part that matters, what the plan asks of it and what there is, as the rules take it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import reduce
from math import gcd

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.beliefs import Belief, beliefs
from invdb.acts.engine_contents import ShopEngine, shop_engines, stand_ins_in_force
from invdb.acts.firm_times import SupplierTimes, WorkTimes
from invdb.acts.flying_plan import EngineFlying, flying_plan, hours_ahead, plan_months
from invdb.acts.lives_ahead import LifeAhead, lives_ahead
from invdb.acts.overhaul_plan import PlannedOpening, month_of, openings
from invdb.acts.owed import Owed, owed
from invdb.acts.short_settings import short_settings
from invdb.acts.short_supply import PartStock, Wanting, stock_of_parts
from invdb.acts.strip_record import hours_logged, hours_of_pieces, strip_record
from invdb.records.catalogue import Family, Part
from invdb.records.clock import today
from invdb.rules.need import (
    FailureRecord,
    Need,
    Overhaul,
    RunningOut,
    checked_horizon,
)
from invdb.rules.pooled import Pool
from invdb.rules.reject_rate import LOOKED_MAX, Inspected, RejectRecord
from invdb.rules.short_facts import ShortSettings
from invdb.rules.shortage import PartCase
from invdb.rules.supply import DUE_MAX, FREE_MAX, Supply
from invdb.terms import Measure, Scope, Tracking

# So many of one thing are told apart; where there are more, they are reckoned in lots.
TOLD_APART_MAX = 2_000


@dataclass(frozen=True)
class PartFacts:
    """A part as the board names it."""

    id: int
    house_number: str
    name: str
    family: int
    family_name: str
    measure: Measure
    tracking: Tracking


@dataclass(frozen=True)
class PartPlan:
    """What the plan holds for a part: all that its need and its supply were made of, in its smallest unit.

    ``engines`` are those that need it and are not in store, flying ones first. ``pieces_hours`` are the
    planned hours of each month times the pieces that run.
    """

    part: PartFacts
    belief: Belief
    engines: tuple[ShopEngine, ...]
    openings: tuple[tuple[PlannedOpening, int, int], ...]
    inspected: tuple[Inspected, ...]
    failures: FailureRecord
    piece_hours: tuple[float, ...]
    lives: tuple[LifeAhead, ...]
    owed: tuple[Owed, ...]
    stock: PartStock
    renewed_only: bool


@dataclass(frozen=True)
class ShortCase:
    """A part's plan with its case: quantities of the case are in lots of ``unit`` smallest units."""

    plan: PartPlan
    case: PartCase
    unit: int


@dataclass(frozen=True)
class ShortCases:
    """Every part that matters, in pools of those whose stock stands in for one another.

    ``matters`` are the parts that get a row; others are there for their stock alone.
    """

    day: date
    months: tuple[date, ...]
    settings: ShortSettings
    pools: tuple[tuple[tuple[ShortCase, ...], Pool], ...]
    matters: frozenset[int]
    suppliers: SupplierTimes
    engines: tuple[ShopEngine, ...]

    @property
    def horizon(self) -> int:
        """How many months after this one it looks ahead."""
        return len(self.months) - 1


def short_cases(session: Session, months: int | None = None) -> ShortCases:
    """Gather them for so many months ahead (None: the shop's horizon); Refused for an absurd horizon."""
    settings = short_settings(session)
    horizon = checked_horizon(settings.horizon_months if months is None else months)
    settings = replace(settings, horizon_months=horizon)
    day = today(session)
    engines = shop_engines(session, day)
    flying = flying_plan(session, horizon)
    gathered = _Gathered(session, engines, flying, day)
    wanted = {part for engine in engines for part in engine.holds} | gathered.parts
    pairs = frozenset(pair for pair in stand_ins_in_force(session, engines) if pair[1] in wanted)
    facts = _parts(session, wanted | {part for pair in pairs for part in pair})
    held = beliefs(session)
    suppliers = SupplierTimes(session, settings, day)
    wanting = {part: gathered.wanting(part, pairs) for part in facts}
    families = {part: each.family for part, each in facts.items()}
    works = WorkTimes(session, settings, day)
    stock = stock_of_parts(session, wanting, families, held, works, suppliers, day)
    pools = []
    for group in _groups(facts, pairs):
        plans = [
            gathered.plan(facts[part], held.of(facts[part].family), stock.get(part, PartStock()))
            for part in group
        ]
        unit = _unit(plans)
        cases = tuple(ShortCase(plan, _case(plan, unit, day), unit) for plan in plans)
        places = {part: place for place, part in enumerate(group)}
        stands_in = frozenset((places[a], places[b]) for a, b in pairs if a in places and b in places)
        pools.append((cases, Pool(tuple(case.case for case in cases), stands_in)))
    return ShortCases(
        day, plan_months(day, horizon), settings, tuple(pools), frozenset(wanted), suppliers, engines
    )


class _Gathered:
    """What was read for all parts at once: the plan, and what our own record says."""

    def __init__(
        self,
        session: Session,
        engines: Sequence[ShopEngine],
        flying: Sequence[EngineFlying],
        day: date,
    ) -> None:
        import numpy as np

        self._engines = {engine.id: engine for engine in engines}
        self._horizon = len(flying[0].months) - 1 if flying else 0
        self._hours = {each.engine: np.array(hours_ahead(each, day), float) / 100 for each in flying}
        self._record = strip_record(session)
        self._logged = hours_logged(session)
        self._ran = hours_of_pieces(session, self._logged)
        self._lives: dict[int, list[LifeAhead]] = defaultdict(list)
        for life in lives_ahead(session, flying, day):
            self._lives[life.part].append(life)
        self._owed: dict[int, list[Owed]] = defaultdict(list)
        for each in owed(session):
            self._owed[each.part].append(each)
        self._holders: dict[int, list[ShopEngine]] = defaultdict(list)
        for engine in engines:
            for part in engine.holds:
                self._holders[part].append(engine)
        self._opened: dict[int, list[PlannedOpening]] = defaultdict(list)
        for opening in openings(session, flying):
            self._opened[opening.engine].append(opening)

    @property
    def parts(self) -> set[int]:
        """The parts with an open need of their own."""
        return {*self._lives, *self._owed}

    def wanting(self, part: int, pairs: Iterable[tuple[int, int]]) -> Wanting:
        """What a part is wanted for, by itself or as a stand-in."""
        holders = self._holders[part] or [
            holder for giver, taker in pairs if giver == part for holder in self._holders[taker]
        ]
        use = max((holder.use for holder in holders), key=lambda use: use.rank, default=Scope.FLIGHT)
        return Wanting(use, self._renewed_only(part))

    def plan(self, part: PartFacts, belief: Belief, stock: PartStock) -> PartPlan:
        """What the plan holds for a part."""
        holders = self._holders[part.id]
        asking = {each.id for each in holders} | {each.engine for each in self._lives[part.id]}
        asking |= {each.engine for each in self._owed[part.id]}
        opened = [
            (opening, engine.judged(part.id), engine.renewed.get(part.id, 0))
            for engine in holders
            for opening in self._opened[engine.id]
        ]
        ran = self._ran.get(part.id, 0.0)
        if part.tracking is Tracking.BATCH:
            # Batches are not followed piece by piece: their engines' logs say what they ran.
            ran = sum(self._logged.get(engine.id, 0.0) * engine.holds[part.id] for engine in holders)
        return PartPlan(
            part,
            belief,
            tuple(engine for engine in self._engines.values() if engine.id in asking and not engine.in_store),
            tuple(sorted(opened, key=lambda each: each[0].on)),
            self._record.inspected.get(part.id, ()),
            belief.failing(self._record.failures.get(part.id, 0), ran),
            self._piece_hours(part, holders),
            tuple(self._lives[part.id]),
            tuple(self._owed[part.id]),
            stock,
            self._renewed_only(part.id),
        )

    def _piece_hours(self, part: PartFacts, holders: Sequence[ShopEngine]) -> tuple[float, ...]:
        """The planned hours of each month times the pieces that run; none of what is no piece."""
        import numpy as np

        hours = np.zeros(self._horizon)
        if part.measure is Measure.COUNT:
            for engine in holders:
                hours += self._hours[engine.id] * engine.holds[part.id]
        return tuple(hours.tolist())

    def _renewed_only(self, part: int) -> bool:
        holders = self._holders[part]
        return bool(holders) and all(engine.judged(part) == 0 for engine in holders)


def _case(plan: PartPlan, unit: int, day: date) -> PartCase:
    """The plan as the rules take it, in lots of so many smallest units: need rounded up, supply down."""
    overhauls: list[Overhaul] = []
    running_out = [RunningOut(_engine(plan, each.engine), each.month, each.count) for each in plan.lives]
    for opening, judged, renewed in plan.openings:
        month = month_of(opening.on, day)
        looked = renewed if plan.renewed_only else judged
        overhauls += [
            Overhaul(opening.engine_name, month, lot) for lot in _lots(-(-looked // unit), LOOKED_MAX)
        ]
        if renewed and not plan.renewed_only:
            # What is renewed beside what is looked at is a count known beforehand, of no piece in place.
            running_out.append(
                RunningOut(f"{opening.engine_name}, renewed always", month, -(-renewed // unit))
            )
    need = Need(
        overhauls=tuple(overhauls),
        rejects=None if plan.renewed_only else RejectRecord(plan.belief.rejects, plan.inspected),
        hours=tuple(hours / unit for hours in plan.piece_hours) if any(plan.piece_hours) else (),
        failures=plan.failures if any(plan.piece_hours) else None,
        running_out=tuple(running_out),
        owed=sum(-(-each.quantity // unit) for each in plan.owed),
    )
    coming = [each for each in plan.stock.coming if each.count >= unit]
    supply = Supply(
        free=min(plan.stock.free // unit, FREE_MAX),
        in_work=tuple(each.work(unit) for each in coming if each.good is not None),
        on_order=tuple(each.order(unit) for each in coming if each.good is None),
    )
    return PartCase(plan.part.house_number, need, supply)


def _engine(plan: PartPlan, engine: int) -> str:
    """The engine's name, under which its overhauls stand too."""
    return next(each.name for each in plan.engines if each.id == engine)


def _unit(plans: Sequence[PartPlan]) -> int:
    """In how many smallest units a pool is reckoned: pieces one by one, lengths and weights by their lines.

    No more lots than the rules tell apart: of what is cut from a reel, or counted by the thousand, a lot is
    as much as that takes.
    """
    asked = [
        quantity
        for plan in plans
        for quantity in (
            *(looked for opened in plan.openings for looked in opened[1:]),
            *(each.quantity for each in plan.owed),
        )
        if quantity
    ]
    due = [each.count for plan in plans for each in plan.stock.coming]
    most = max(sum(asked), sum(due))
    counted = all(plan.part.measure is Measure.COUNT for plan in plans)
    unit = 1 if counted or not asked else reduce(gcd, asked)
    return max(unit, -(-most // min(TOLD_APART_MAX, DUE_MAX)))


def _lots(count: int, most: int) -> list[int]:
    """A count as lots of no more than so many."""
    return [most] * (count // most) + ([count % most] if count % most else [])


def _groups(facts: Collection[int], pairs: Iterable[tuple[int, int]]) -> list[tuple[int, ...]]:
    """The parts in groups that are joined by a stand-in, each in the order of ids."""
    root = {part: part for part in facts}

    def find(part: int) -> int:
        while root[part] != part:
            root[part] = root[root[part]]
            part = root[part]
        return part

    for one, other in pairs:
        root[find(one)] = find(other)
    groups: dict[int, list[int]] = defaultdict(list)
    for part in sorted(facts):
        groups[find(part)].append(part)
    return [tuple(group) for group in groups.values()]


def _parts(session: Session, wanted: Collection[int]) -> dict[int, PartFacts]:
    rows = session.execute(
        select(
            Part.id, Part.house_number, Part.name, Part.family_id, Family.name, Part.measure, Part.tracking
        ).join(Family, Family.id == Part.family_id)
    )
    return {row.id: PartFacts(*row) for row in rows if row.id in wanted}
