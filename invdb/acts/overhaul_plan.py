"""Which engines are to be opened, and when: as planned, and else as their own hours call for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.engine_use import recent_use
from invdb.acts.flying_plan import EngineFlying, flying_plan, plan_months
from invdb.acts.life import EngineLife, engine_lives
from invdb.acts.lives_ahead import uses_ahead
from invdb.acts.short_settings import short_settings
from invdb.records.buying import PlannedOverhaul
from invdb.records.clock import today
from invdb.records.engines import Engine
from invdb.records.posting import post
from invdb.rules.calendar import month_words, months_after
from invdb.rules.forecast import Window
from invdb.rules.life_limits import LimitLine, left_words, limit_words
from invdb.rules.overhaul_due import Due, Wearing, overhauls_due
from invdb.terms import Asked, EntryKind, FieldRefused, LifeMeasure, LifeSince, Refused

# Planned further ahead than this, or nearer to another, it is asked about.
FAR_MONTHS, NEAR_MONTHS = 120, 12


@dataclass(frozen=True)
class PlannedOpening:
    """That an engine is to be opened in the month of ``on``; ``why`` says in words where that comes from.

    ``plan`` is the id of what somebody planned, and ``note`` their remark; None where it is proposed.
    """

    engine: int
    engine_name: str
    on: date
    why: str
    plan: int | None = None
    note: str = ""

    @property
    def planned(self) -> bool:
        """Whether somebody planned it; else it is proposed from the engine's life limits and its use."""
        return self.plan is not None


def overhaul_plan(session: Session, months: int | None = None) -> tuple[PlannedOpening, ...]:
    """The overhauls up to so many months ahead (None: the shop's horizon), by day: planned, then proposed.

    A plan in force goes before the proposal: until its month none is proposed for that engine, and counts
    begin anew in it. One planned for a month gone by and not done is still to come. For an engine that is in
    store, or of whose life since overhaul there is no limit on record, nothing is proposed.
    """
    horizon = short_settings(session).horizon_months if months is None else months
    return openings(session, flying_plan(session, horizon))


def openings(session: Session, flying: Sequence[EngineFlying]) -> tuple[PlannedOpening, ...]:
    """The same for the months of a plan of flying that is read already."""
    day = today(session)
    planned: dict[int, list[PlannedOpening]] = defaultdict(list)
    for row in session.execute(
        select(PlannedOverhaul.id, PlannedOverhaul.engine_id, PlannedOverhaul.planned_on)
        .add_columns(PlannedOverhaul.note, Engine.name)
        .join(Engine, Engine.id == PlannedOverhaul.engine_id)
        .where(PlannedOverhaul.done_on.is_(None), PlannedOverhaul.withdrawn_on.is_(None))
        .order_by(PlannedOverhaul.planned_on, PlannedOverhaul.id)
    ):
        late = row.planned_on < day.replace(day=1)
        why = f"planned for {month_words(row.planned_on)}{', and not done yet' if late else ''}"
        planned[row.engine_id].append(
            PlannedOpening(row.engine_id, row.name, row.planned_on, why, row.id, row.note)
        )
    running = [each for each in flying if not each.in_store]
    lives = engine_lives(session, [each.engine for each in running])
    windows = recent_use(session.connection(), [each.engine for each in running], day)
    found = [each for every in planned.values() for each in every]
    for each in running:
        own = planned.get(each.engine, ())
        last = max((month_of(opening.on, day) for opening in own), default=None)
        found += _proposed(lives[each.engine], each, windows[each.engine], last, day)
    return tuple(sorted(found, key=lambda opening: (opening.on, opening.engine_name)))


def month_of(on: date, day: date) -> int:
    """Which month from the one of today a day lies in: 0 for this one, and for those gone by."""
    return max((on.year - day.year) * 12 + on.month - day.month, 0)


def _proposed(
    life: EngineLife, flying: EngineFlying, windows: Sequence[Window], planned: int | None, day: date
) -> list[PlannedOpening]:
    horizon = len(flying.months) - 1
    lines = [
        line
        for line in life.stands.lines
        if line.limit.since is LifeSince.OVERHAUL and not line.depends and line.left_best is not None
    ]
    uses = uses_ahead(flying, windows, day)
    wearing = [Wearing(line.limit.amount, _left(line), uses[line.limit.measure]) for line in lines]
    first_days = plan_months(day, horizon)
    due = overhauls_due(wearing, horizon, planned)
    return [
        PlannedOpening(
            life.engine,
            life.name,
            first_days[each.month],
            _why(lines[each.limit], each, flying, counted_anew=at > 0 or planned is not None),
        )
        for at, each in enumerate(due)
    ]


def _left(line: LimitLine) -> int:
    """What is left by the worst end; by the best where that is not known, by which it is surely used up."""
    if line.left_worst is not None:
        return line.left_worst
    assert line.left_best is not None
    return line.left_best


def _why(line: LimitLine, due: Due, flying: EngineFlying, counted_anew: bool) -> str:
    if counted_anew:
        return f"proposed: {limit_words(line.limit)}, counted on from the overhaul before"
    how = f" ({flying.of_late})" if line.limit.measure is LifeMeasure.HOURS and due.month else ""
    return f"proposed: {left_words(line)} of {limit_words(line.limit)}{how}"


def plan_overhaul(
    session: Session, engine: int, on: date, by: By, note: str = "", *, sure: bool = False
) -> int:
    """Plan that an engine is opened in the month of a day; returns the plan's id.

    Refused for a month gone by, and where one is planned for the same month already. Asked about a month far
    ahead, and one near another that is planned, unless ``sure``.
    """
    draft = begin_draft(session, EntryKind.PLANNED, by)
    if session.scalar(select(Engine.use).where(Engine.id == engine)) is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    _check_month(session, engine, on)
    if not sure:
        _ask_of_month(session, engine, on)
    plan = draft.new(session, "planned_overhaul", engine_id=engine, planned_on=on, note=note)
    post(session, draft)
    return plan


def change_overhaul(
    session: Session,
    plan: int,
    by: By,
    *,
    on: date | None = None,
    done_on: date | None = None,
    note: str | None = None,
) -> int:
    """Put a planned overhaul off or forward, say that it was done, or reword its note; the entry's number.

    Refused for one that is done or withdrawn.
    """
    draft = begin_draft(session, EntryKind.PLANNED, by)
    row = _standing(session, plan)
    changes: dict[str, object] = {}
    if on is not None and on != row.planned_on:
        _check_month(session, row.engine_id, on, but=plan)
        changes["planned_on"] = on
    if done_on is not None:
        if done_on > today(session):
            raise FieldRefused(
                "done_on", f"{done_on.isoformat()} is in the future.", "Give the day on which it was done."
            )
        refuse_odd_year("done_on", done_on)
        changes["done_on"] = done_on
    if note is not None and note.strip() != row.note:
        changes["note"] = note
    if not changes:
        raise Refused("The plan is that already.", "There is nothing to change.")
    draft.set("planned_overhaul", plan, **changes)
    return post(session, draft).number


def withdraw_overhaul(session: Session, plan: int, by: By) -> int:
    """Take a planned overhaul back, so that the proposal counts again; returns the entry's number."""
    draft = begin_draft(session, EntryKind.PLANNED, by)
    _standing(session, plan)
    draft.set("planned_overhaul", plan, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def _standing(session: Session, plan: int) -> Row[int, date, str]:
    row = session.execute(
        select(PlannedOverhaul.engine_id, PlannedOverhaul.planned_on, PlannedOverhaul.note).where(
            PlannedOverhaul.id == plan,
            PlannedOverhaul.done_on.is_(None),
            PlannedOverhaul.withdrawn_on.is_(None),
        )
    ).one_or_none()
    if row is None:
        raise Refused("That overhaul is not planned any more.", "Look at the plan again.")
    return row


def _check_month(session: Session, engine: int, on: date, but: int | None = None) -> None:
    refuse_odd_year("on", on)
    if on < today(session).replace(day=1):
        raise FieldRefused("on", f"{month_words(on)} has gone by.", "Give this month or one to come.")
    standing = session.execute(
        select(PlannedOverhaul.id, PlannedOverhaul.planned_on).where(
            PlannedOverhaul.engine_id == engine,
            PlannedOverhaul.done_on.is_(None),
            PlannedOverhaul.withdrawn_on.is_(None),
        )
    )
    for plan, planned_on in standing:
        if plan != but and (planned_on.year, planned_on.month) == (on.year, on.month):
            raise FieldRefused(
                "on",
                f"An overhaul of that engine is planned for {month_words(on)} already.",
                "Change that one, or give another month.",
            )


def _ask_of_month(session: Session, engine: int, on: date) -> None:
    if on > months_after(today(session), FAR_MONTHS):
        raise Asked(
            "on",
            f"{month_words(on)} is more than {FAR_MONTHS // 12} years ahead.",
            "Check the year, or say that it is meant.",
        )
    planned = session.scalars(
        select(PlannedOverhaul.planned_on).where(
            PlannedOverhaul.engine_id == engine,
            PlannedOverhaul.done_on.is_(None),
            PlannedOverhaul.withdrawn_on.is_(None),
        )
    )
    for other in planned:
        if abs((on.year - other.year) * 12 + on.month - other.month) < NEAR_MONTHS:
            raise Asked(
                "on",
                f"One is planned for {month_words(other)} already.",
                "Put that one off, or say that the engine is opened twice.",
            )
