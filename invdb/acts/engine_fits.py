"""The fits and masses of a whole engine, by cylinder: as it is built, or as a proposal would have it.

Lengths are exact fractions of a millimetre and masses of a gram, beside their words in the published unit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

from sqlalchemy.orm import Session

from invdb.acts.built_things import built_things
from invdb.acts.kit_facts import EngineFacts, PositionFacts, read_engine
from invdb.acts.kit_suits import At, Group, KitSuits
from invdb.acts.proposed import Proposal
from invdb.acts.things import things_by_id
from invdb.records.clock import today
from invdb.rules.fits import FitTerms, FitVerdict
from invdb.rules.measuring import shown
from invdb.rules.suiting import BalanceLine, FitLine, Judgement
from invdb.terms import FitKind

_MG_PER_G = 1000


@dataclass(frozen=True)
class FitPoint:
    """One fit at one position: its clearance in mm, None where nothing is known, and its verdict.

    ``tags`` are of what is outside and of what is inside. Not ``measured``: from the limits of the parts.
    """

    position: str
    tags: tuple[str, str]
    low: Fraction | None
    mean: Fraction | None
    high: Fraction | None
    measured: bool
    verdict: FitVerdict
    words: str


@dataclass(frozen=True)
class FitRow:
    """One fit over all positions at which two things make it, with its limits in mm and as published."""

    name: str
    kind: FitKind
    stations: tuple[str, str]
    unit: str
    low: Fraction
    target: Fraction
    high: Fraction
    worn_high: Fraction
    limits_words: str
    operation: str
    points: tuple[FitPoint, ...]


@dataclass(frozen=True)
class MassPoint:
    """What counts of one position, in g; None, and why, where something was not weighed or is missing."""

    position: str
    mass: Fraction | None
    words: str


@dataclass(frozen=True)
class MassRow:
    """A set of masses that agree: within ``spread`` g of one another, or of ``target`` g."""

    name: str
    unit: str
    spread: Fraction
    target: Fraction | None
    points: tuple[MassPoint, ...]

    @property
    def apart(self) -> Fraction | None:
        """How far the masses are apart, or the farthest from the target; None where none is known."""
        known = [point.mass for point in self.points if point.mass is not None]
        if not known:
            return None
        if self.target is not None:
            return max(abs(mass - self.target) for mass in known)
        return max(known) - min(known)

    @property
    def within(self) -> bool | None:
        """Whether they agree as far as they are known."""
        apart = self.apart
        return None if apart is None else apart <= self.spread

    @property
    def words(self) -> str:
        """``3.2 g apart, of 5 g allowed``."""
        apart = self.apart
        if apart is None:
            return "nothing was weighed"
        how = "apart" if self.target is None else f"from {shown(self.target, self.unit)}"
        unknown = sum(point.mass is None for point in self.points)
        rest = f"; {unknown} not known" if unknown else ""
        return f"{shown(apart, self.unit)} {how}, of {shown(self.spread, self.unit)} allowed{rest}"


@dataclass(frozen=True)
class EngineFits:
    """The fits and the masses of a group of an engine's positions, in the maker's order."""

    engine: int
    engine_name: str
    group: str
    positions: tuple[str, ...]
    fits: tuple[FitRow, ...]
    masses: tuple[MassRow, ...]


def built_fits(session: Session, engine: int, group: str = "cylinder") -> EngineFits:
    """How what is fitted in an engine fits together now. Refused for an engine that is not in the store."""
    on = today(session)
    facts = read_engine(session, engine, on)
    built = built_things(session, facts, group)
    states = things_by_id(session, {thing for things in built.values() for _, thing in things})
    suits = KitSuits(session, [(facts.engine_type, group)], states.values(), on)
    at = {
        position: [(station, states[thing]) for station, thing in things]
        for position, things in built.items()
    }
    return _engine_fits(facts, group, at, suits)


def proposed_fits(session: Session, proposal: Proposal) -> tuple[EngineFits, ...]:
    """How what a proposal chose, with what pulls hold already, would fit together: engine by engine."""
    by_engine: dict[tuple[int, str], dict[PositionFacts, list[At]]] = defaultdict(dict)
    engines: dict[int, EngineFacts] = {}
    things = {choice.thing for kit in proposal.kits for line in kit.lines for choice in line.choices} | {
        held.thing for kit in proposal.kits for line in kit.lines for held in line.held
    }
    states = things_by_id(session, things)
    for kit in proposal.kits:
        engines[kit.engine.id] = kit.engine
        by_engine[kit.engine.id, kit.position.group][kit.position] = [
            (line.station, states[thing])
            for line in kit.lines
            if not line.selected
            for thing in (*(each.thing for each in line.held), *(each.thing for each in line.choices))
        ]
    found = []
    for (engine, group), at in by_engine.items():
        facts = engines[engine]
        suits = KitSuits(session, [(facts.engine_type, group)], states.values(), proposal.proposed_on)
        found.append(_engine_fits(facts, group, at, suits))
    return tuple(found)


def _engine_fits(
    engine: EngineFacts, group: str, at: Mapping[PositionFacts, Collection[At]], suits: KitSuits
) -> EngineFits:
    key = (engine.engine_type, group)
    found: dict[FitLine, list[FitPoint]] = defaultdict(list)
    for position, things in at.items():
        for one, other in combinations(things, 2):
            if one[0] != other[0] and suits.tied(key, one[0], other[0]):
                for judgement in suits.judge(key, one, other).fits:
                    outer_first = judgement.line.outer.station == one[0]
                    pair = (one, other) if outer_first else (other, one)
                    found[judgement.line].append(_point(position.name, judgement, *pair))
    order = {line: place for place, line in enumerate(suits.suiting(key).fits)}
    return EngineFits(
        engine.id,
        engine.name,
        group,
        tuple(position.name for position in at),
        tuple(_row(line, found[line]) for line in sorted(found, key=order.__getitem__)),
        tuple(_mass_row(balance, at, suits, key) for balance in suits.balances[key]),
    )


def _point(position: str, judgement: Judgement, outer: At, inner: At) -> FitPoint:
    judged = judgement.judged
    clearance = judged.clearance
    return FitPoint(
        position,
        (outer[1].tag, inner[1].tag),
        None if clearance is None else clearance.low,
        None if clearance is None else clearance.mean,
        None if clearance is None else clearance.high,
        clearance is not None and clearance.measured,
        judged.verdict,
        judged.words,
    )


def _row(line: FitLine, points: Collection[FitPoint]) -> FitRow:
    terms = line.terms
    low, high = terms.ends
    return FitRow(
        terms.name,
        terms.kind,
        (line.outer.station, line.inner.station),
        terms.unit,
        low,
        terms.aim,
        high,
        terms.loosest,
        limits_words(terms),
        terms.operation,
        tuple(points),
    )


def limits_words(terms: FitTerms) -> str:
    """``0.30 to 0.40 mm, target 0.33 mm, worn 0.55 mm``, as published."""
    words = f"{terms.low} to {terms.high} {terms.unit}"
    if terms.target is not None:
        words += f", target {terms.target} {terms.unit}"
    if terms.worn_high is not None:
        words += f", worn {terms.worn_high} {terms.unit}"
    return words


def _mass_row(
    balance: BalanceLine, at: Mapping[PositionFacts, Collection[At]], suits: KitSuits, group: Group
) -> MassRow:
    points = []
    for position, things in at.items():
        if balance.holds_for(position.name):
            points.append(_mass_point(balance, position.name, things, suits))
    target = None if balance.target is None else Fraction(balance.target, _MG_PER_G)
    return MassRow(balance.name, balance.unit, Fraction(balance.spread, _MG_PER_G), target, tuple(points))


def _mass_point(balance: BalanceLine, position: str, things: Collection[At], suits: KitSuits) -> MassPoint:
    mass, unknown = suits.mass(balance, things)
    return MassPoint(position, mass, unknown if mass is None else shown(mass, balance.unit))
