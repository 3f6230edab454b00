"""What must be so before uninspected stock is accepted for a scope (FAA AC 20-154; EASA 145.A.42)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import NOT_LIMITED, Limit, Lived, judge, limit_words, used_words
from invdb.terms import Condition, Scope


@dataclass(frozen=True)
class Candidate:
    """What is known of one piece or batch that is to be accepted; hours in hundredths.

    ``checks_missing`` are the receiving checks not recorded yet, in words; ``papers`` how many there are;
    ``lived`` is None for a batch; there may be no ``limits`` on record, though the part is ``life_limited``;
    ``doubts`` are of engine events that it has not been cleared of, each a clause.
    """

    tag: str
    condition: Condition
    scope: Scope | None
    checks_missing: tuple[str, ...]
    papers: int
    hold_reasons: tuple[str, ...]
    shelf_expiry_on: date | None
    lived: Lived | None
    limits: tuple[Limit, ...]
    life_limited: bool
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bar:
    """Why something is not done, in one clause; ``lesser`` if a licensed person may override it."""

    words: str
    lesser: bool = False


def bars_to_acceptance(candidate: Candidate, scope: Scope, on: date, licensed: bool) -> list[Bar]:
    """Everything that stands against accepting a candidate for a scope on a date, worst first."""
    bars: list[Bar] = []
    if candidate.condition in {Condition.UNSALVAGEABLE, Condition.UNSERVICEABLE}:
        bars.append(Bar(f"it is {candidate.condition}"))
    if candidate.condition is Condition.SERVICEABLE and candidate.scope is scope:
        bars.append(Bar(f"it is accepted for {scope} already"))
    bars += [Bar(f"it is on hold: {reason}") for reason in candidate.hold_reasons]
    bars += [Bar(f"it was {doubt}") for doubt in candidate.doubts]
    if candidate.shelf_expiry_on is not None and candidate.shelf_expiry_on <= on:
        bars.append(Bar(f"its shelf life ended on {candidate.shelf_expiry_on.isoformat()}"))
    bars += _bars_by_life(candidate, scope, on)
    bars += [Bar(f"the check of {check} is not recorded") for check in candidate.checks_missing]
    if scope is Scope.FLIGHT:
        if not licensed:
            bars.append(Bar("only a person with a licence number accepts for flight"))
        if candidate.papers == 0:
            bars.append(Bar("it has no papers", lesser=True))
    return bars


def _bars_by_life(candidate: Candidate, scope: Scope, on: date) -> list[Bar]:
    """What its life forbids in every engine; what hangs on the engine is judged when it is asked for one."""
    judged = NOT_LIMITED
    if candidate.lived is not None and candidate.limits:
        judged = judge(candidate.lived, candidate.limits, on, None)
    governing = judged.governing
    if governing is not None and governing.verdict is LifeVerdict.EXPIRED:
        used, limit = used_words(governing), limit_words(governing.limit)
        return [Bar(f"its life is used up: {used} of {limit}")]
    if judged.verdict is LifeVerdict.UNKNOWN and scope is Scope.FLIGHT:
        return [Bar("how much of its life is used is not known")]
    if candidate.life_limited and not judged.lines and scope is Scope.FLIGHT:
        return [Bar("it is life-limited, and the limit is not recorded")]
    return []
