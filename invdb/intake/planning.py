"""The acts of the tables about the plan: overhauls planned, moved and done, the season, and beliefs."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.beliefs import Belief, set_belief
from invdb.acts.by import By
from invdb.acts.flying_plan import plan_flying
from invdb.acts.overhaul_plan import change_overhaul, plan_overhaul
from invdb.intake.alike import alike
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.plans import BeliefRow, FlyingRow, OverhaulRow, Plans
from invdb.intake.set_up import Ids
from invdb.records.catalogue import Family


class Planning:
    """Does these acts in one session."""

    def __init__(self, session: Session, plans: Plans, ids: Ids) -> None:
        self._session = session
        self._plans = plans
        self._ids = ids
        self._overhauls: dict[str, int] = {}

    def bookings(self) -> list[Booking]:
        """Every act of these tables; the months planned for an engine on one day are one act."""
        plans = self._plans
        seasons = alike(plans.flying, lambda row: (row.engine, row.booked_on, row.who))
        return [
            *booked("planned_overhauls.csv", Turn.PLANNED, singly(plans.overhauls), self._overhaul),
            *booked("planned_flying.csv", Turn.PLANNED, seasons, self._fly),
            *booked("beliefs.csv", Turn.PLANNED, singly(plans.beliefs), self._believe),
        ]

    def _overhaul(self, rows: tuple[OverhaulRow, ...]) -> None:
        (row,) = rows
        by = By(self._ids.people[row.who])
        plan = self._overhauls.get(row.plan)
        if plan is None:
            assert row.on is not None
            engine = self._ids.engines[row.engine]
            self._overhauls[row.plan] = plan_overhaul(self._session, engine, row.on, by, row.note, sure=True)
        else:
            note = row.note or None
            change_overhaul(self._session, plan, by, on=row.on, done_on=row.done_on, note=note)

    def _fly(self, rows: tuple[FlyingRow, ...]) -> None:
        by = By(self._ids.people[rows[0].who])
        months = {row.month: row.hours for row in rows}
        plan_flying(self._session, self._ids.engines[rows[0].engine], months, by)

    def _believe(self, rows: tuple[BeliefRow, ...]) -> None:
        (row,) = rows
        belief = Belief(
            row.reject_mean,
            row.reject_weight,
            row.concentration,
            row.failures,
            row.failure_hours,
            row.yield_mean,
            row.yield_weight,
            row.source,
            None if row.family is None else self._family(row.family),
        )
        set_belief(self._session, belief, By(self._ids.people[row.who]))

    def _family(self, letters: str) -> int:
        found: int = self._session.scalars(select(Family.id).where(Family.letters == letters)).one()
        return found
