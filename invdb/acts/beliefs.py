"""What the shop believes of the parts of a family before its own record speaks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.records.base import damaged
from invdb.records.buying import PartBelief
from invdb.records.catalogue import Family
from invdb.records.posting import post
from invdb.rules.need import FailureRecord
from invdb.rules.reject_rate import RejectPrior
from invdb.rules.supply import YieldRecord
from invdb.terms import EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class Belief:
    """What is believed of a part of a family; see ``invdb.records.buying.PartBelief`` for the figures.

    Without ``family`` it is of the parts of all families that have none of their own. Without ``id`` it is
    not the shop's: it comes with the program, and ``source`` says so.
    """

    reject_mean: Decimal
    reject_weight: Decimal
    concentration: Decimal
    failures: Decimal
    failure_hours: int
    yield_mean: Decimal
    yield_weight: Decimal
    source: str
    family: int | None = None
    family_name: str = "all other families"
    id: int | None = None

    @property
    def built_in(self) -> bool:
        """Whether the shop has set none, so that a plain one stands in its place."""
        return self.id is None

    @property
    def rejects(self) -> RejectPrior:
        """As the rule of rejects takes it."""
        return RejectPrior(float(self.reject_mean), float(self.reject_weight), float(self.concentration))

    def good(self, good: int = 0, failed: int = 0) -> YieldRecord:
        """As the rule of yields takes it, with what came back so far."""
        return YieldRecord(float(self.yield_mean), float(self.yield_weight), good, failed)

    def failing(self, failures: int = 0, hours: float = 0.0) -> FailureRecord:
        """As the rule of failures takes it, with our own failures in so many hours of pieces' running."""
        return FailureRecord(float(self.failures), self.failure_hours / 100, failures, hours)


# Deliberately mild: some five pieces looked at, or one failure seen, outweigh it.
BUILT_IN = Belief(
    reject_mean=Decimal("0.15"),
    reject_weight=Decimal("5"),
    concentration=Decimal("8"),
    failures=Decimal("0.5"),
    failure_hours=20_000_00,
    yield_mean=Decimal("0.8"),
    yield_weight=Decimal("5"),
    source="comes with the program; the shop has set none",
)
# The figures with what is least and most for each.
_FIGURES = {
    "reject_mean": (Decimal("0.001"), Decimal("0.999")),
    "reject_weight": (Decimal("0.1"), Decimal(10_000)),
    "concentration": (Decimal("0.1"), Decimal(10_000)),
    "failures": (Decimal("0.01"), Decimal(10_000)),
    "yield_mean": (Decimal("0.001"), Decimal("0.999")),
    "yield_weight": (Decimal("0.1"), Decimal(10_000)),
}
_HOURS_MAX = 10_000_000_00
_FAMILY = select(Family.id).where(Family.id == bindparam("family"))


@dataclass(frozen=True)
class Beliefs:
    """The one of each family that has its own, by family, and the one of all others."""

    others: Belief
    of_families: tuple[Belief, ...]

    def of(self, family: int) -> Belief:
        """What is believed of the parts of a family."""
        return next((each for each in self.of_families if each.family == family), self.others)


def beliefs(session: Session) -> Beliefs:
    """What the shop believes; what it has not set is as it comes with the program."""
    rows = session.execute(
        select(PartBelief, Family.letters, Family.name)
        .outerjoin(Family, Family.id == PartBelief.family_id)
        .where(PartBelief.withdrawn_on.is_(None))
        .order_by(Family.letters)
    ).all()
    found = []
    for row, letters, name in rows:
        figures = {field: _decimal(getattr(row, field), field) for field in _FIGURES}
        belief = Belief(
            **figures,
            failure_hours=row.failure_hours,
            source=row.source,
            family=row.family_id,
            family_name=f"{letters} {name}" if row.family_id is not None else BUILT_IN.family_name,
            id=row.id,
        )
        found.append(belief)
    others = next((each for each in found if each.family is None), BUILT_IN)
    return Beliefs(others, tuple(each for each in found if each.family is not None))


def set_belief(session: Session, belief: Belief, by: By) -> int:
    """Set what is believed of a family, or of all others; returns the entry's number.

    Its ``id`` and ``family_name`` count for nothing. Refused out of reason, and without a source.
    """
    draft = begin_draft(session, EntryKind.BELIEVED, by)
    if belief.family is not None and session.scalar(_FAMILY, {"family": belief.family}) is None:
        raise FieldRefused("family", "There is no such family.", "Choose one.")
    for field, (least, most) in _FIGURES.items():
        figure = getattr(belief, field)
        if not least <= figure <= most:
            raise FieldRefused(
                field,
                f"{figure} is out of reason for {field.replace('_', ' ')}.",
                f"Give a figure from {least} to {most:,}.",
            )
    if not 0 < belief.failure_hours <= _HOURS_MAX:
        raise FieldRefused(
            "failure_hours",
            f"{belief.failure_hours / 100:g} hours of running are out of reason.",
            f"Give more than 0 and up to {_HOURS_MAX // 100:,} hours.",
        )
    if not belief.source.strip():
        raise FieldRefused("source", "It isn't said where this comes from.", "Say who or what says so.")
    values: dict[str, object] = {field: format(getattr(belief, field), "f") for field in _FIGURES}
    values |= {"failure_hours": belief.failure_hours, "source": belief.source}
    of_family = (
        PartBelief.family_id.is_(None) if belief.family is None else PartBelief.family_id == belief.family
    )
    standing = session.execute(select(PartBelief.id, PartBelief.withdrawn_on).where(of_family)).one_or_none()
    if standing is None:
        draft.new(session, "part_belief", family_id=belief.family, **values)
    else:
        now = beliefs(session)
        own = now.others if belief.family is None else now.of(belief.family)
        same = replace(belief, id=own.id, family_name=own.family_name, source=belief.source.strip()) == own
        if standing.withdrawn_on is None and same:
            raise Refused("That is believed already.", "There is nothing to change.")
        draft.set("part_belief", standing.id, withdrawn_on=None, **values)
    return post(session, draft).number


def withdraw_belief(session: Session, belief: int, by: By) -> int:
    """Take a belief back; the more general one counts again. Returns the entry's number."""
    draft = begin_draft(session, EntryKind.BELIEVED, by)
    standing = session.scalar(
        select(PartBelief.id).where(PartBelief.id == belief, PartBelief.withdrawn_on.is_(None))
    )
    if standing is None:
        raise Refused("That belief was withdrawn already.", "Look at the beliefs again.")
    draft.set("part_belief", belief, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def _decimal(text: str, field: str) -> Decimal:
    try:
        figure = Decimal(text)
    except InvalidOperation as error:
        raise damaged(text, f"a figure for {field.replace('_', ' ')}") from error
    if not figure.is_finite():
        raise damaged(text, f"a figure for {field.replace('_', ' ')}")
    return figure
