"""What is wanted now of each part: short lines of open pulls, and what was robbed and is owed back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from invdb.records.builds import Debt
from invdb.records.engines import Engine
from invdb.records.stock import Pull, PullLine


@dataclass(frozen=True)
class Owed:
    """So much of a part, in its smallest unit, that an engine waits for; ``why`` in words."""

    part: int
    engine: int
    quantity: int
    why: str


def owed(session: Session) -> tuple[Owed, ...]:
    """All that is owed now.

    A short line counts while its pull has anything set aside or issued and not yet fitted or come back, and
    no later pull has something for the same kit line of the same position.
    """
    return (*_short_lines(session), *_debts(session))


def _short_lines(session: Session) -> Iterator[Owed]:
    holding, later, of_later = aliased(PullLine), aliased(Pull), aliased(PullLine)
    is_open = (
        select(holding.id)
        .where(holding.pull_id == Pull.id, or_(holding.reserved > 0, holding.issued > holding.returned))
        .exists()
    )
    filled_since = (
        select(of_later.id)
        .join(later, later.id == of_later.pull_id)
        .where(
            later.id > Pull.id,
            later.cancelled.is_(False),
            later.engine_id == Pull.engine_id,
            later.position_id == Pull.position_id,
            of_later.kit_line_id == PullLine.kit_line_id,
            or_(of_later.piece_id.is_not(None), of_later.batch_id.is_not(None)),
        )
        .exists()
    )
    for part, engine, quantity, number, name in session.execute(
        select(PullLine.wanted_part_id, Pull.engine_id, PullLine.quantity, Pull.number, Engine.name)
        .join(Pull, Pull.id == PullLine.pull_id)
        .join(Engine, Engine.id == Pull.engine_id)
        .where(
            PullLine.piece_id.is_(None),
            PullLine.batch_id.is_(None),
            Pull.cancelled.is_(False),
            is_open,
            ~filled_since,
        )
        .order_by(PullLine.id)
    ):
        yield Owed(part, engine, quantity, f"short on pull {number} for {name}")


def _debts(session: Session) -> Iterator[Owed]:
    for part, engine, quantity, on, name in session.execute(
        select(Debt.part_id, Debt.engine_id, Debt.quantity, Debt.owed_on, Engine.name)
        .join(Engine, Engine.id == Debt.engine_id)
        .where(Debt.repaid_on.is_(None))
        .order_by(Debt.owed_on, Debt.id)
    ):
        yield Owed(part, engine, quantity, f"robbed from {name} on {on.isoformat()} and owed back")
