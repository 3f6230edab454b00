"""Which pieces in engines may be near a limit of their life, picked out by the database alone.

By whole numbers and for all engines at once, so that the many pieces far from any limit cost no more than
that. It errs on the side of too many, which are then judged exactly: it takes no notice of which mods an
engine has, nor, where a piece was overhauled inside an engine, of what it ran in that engine before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from sqlalchemy import (
    CTE,
    BigInteger,
    ColumnElement,
    Connection,
    ScalarSelect,
    Select,
    and_,
    case,
    column,
    func,
    literal,
    null,
    or_,
    select,
    tuple_,
    union_all,
    values,
)
from sqlalchemy.orm import aliased

from invdb.acts.engine_use import last_line
from invdb.records.catalogue import Part
from invdb.records.doubts import Concession
from invdb.records.engines import Engine
from invdb.records.life import LifeLimit, LifeReset, Running, Service
from invdb.records.stock import Piece
from invdb.rules.calendar import months_after
from invdb.terms import ConcessionOver, LifeMeasure, LifeSince, RunningCounted

# By so much a month's last day may cut a day short.
_DAYS_CUT = 3


@dataclass(frozen=True)
class Reach:
    """How much may be left for a piece to be near: hundredths of an hour, starts, and until which day.

    ``by_engine`` are the hours and starts where an engine's own use brings more of them near.
    """

    hours: int
    starts: int
    until: date
    by_engine: Mapping[int, tuple[int, int]] = field(default_factory=dict)


def pieces_near_limits(
    connection: Connection, reach: Reach, on: date, engine: int | None = None
) -> list[int]:
    """The pieces in an engine (None: in any), nested ones too, that may be near a limit now, by their ids."""
    months: dict[LifeSince, set[int]] = defaultdict(set)
    kinds = (
        select(LifeLimit.since, LifeLimit.amount)
        .where(LifeLimit.part_id.is_not(None), LifeLimit.measure == LifeMeasure.MONTHS, _stands(on))
        .distinct()
    )
    for since, amount in connection.execute(kinds):
        months[since].add(amount)
    every_month = months[LifeSince.NEW] | months[LifeSince.OVERHAUL]
    return sorted(
        {
            *connection.scalars(_under_concession(on, engine)),
            *connection.scalars(_near(LifeSince.NEW, every_month, reach, on, engine)),
            *connection.scalars(_near(LifeSince.OVERHAUL, months[LifeSince.OVERHAUL], reach, on, engine)),
        }
    )


def _stands(on: date) -> ColumnElement[bool]:
    return or_(LifeLimit.withdrawn_on.is_(None), LifeLimit.withdrawn_on > on)


def _under_concession(on: date, engine: int | None) -> Select[int]:
    """Pieces for which a concession may have set a lower limit than their part's."""
    chosen = (
        select(Concession.piece_id)
        .join(Service, (Service.piece_id == Concession.piece_id) & Service.to_entry.is_(None))
        .where(
            Service.engine_id == Concession.engine_id,
            Concession.over == ConcessionOver.LIFE_LIMIT,
            Concession.life_limit_hours.is_not(None),
            Concession.from_on <= on,
            or_(Concession.withdrawn_on.is_(None), Concession.withdrawn_on > on),
        )
    )
    return chosen if engine is None else chosen.where(Concession.engine_id == engine)


def _near(
    since: LifeSince, months: Collection[int], reach: Reach, on: date, engine: int | None
) -> Select[int]:
    limits, totals = _limits(since, on), _totals()
    lives = _lives(since, limits, engine)
    chosen = (
        select(lives.c.piece_id)
        .distinct()
        .join(limits, limits.c.part_id == lives.c.part_id)
        .join(totals, totals.c.engine_id == lives.c.engine_id)
    )
    hours: ColumnElement[int] = literal(reach.hours)
    starts: ColumnElement[int] = literal(reach.starts)
    if reach.by_engine:
        figures = [(each, *near) for each, near in reach.by_engine.items()]
        nearer = (
            values(column("engine", BigInteger), column("hours", BigInteger), column("starts", BigInteger))
            .data(figures)
            .cte("nearer")
        )
        chosen = chosen.outerjoin(nearer, nearer.c.engine == lives.c.engine_id)
        hours, starts = func.coalesce(nearer.c.hours, hours), func.coalesce(nearer.c.starts, starts)
    near = or_(
        _near_by_hours(limits, lives, totals, hours),
        _near_by_starts(limits, lives, totals, starts),
        _near_by_calendar(limits, lives, months, reach.until),
    )
    if since is LifeSince.NEW:
        # What was never overhauled counts since new for either kind of limit.
        near = and_(near, or_(limits.c.since == LifeSince.NEW, ~_was_overhauled(lives.c.piece_id)))
    return chosen.where(near, _may_hold(limits, lives, totals))


def _was_overhauled(piece: ColumnElement[int]) -> ColumnElement[bool]:
    reset = aliased(LifeReset)
    return select(reset.id).where(reset.piece_id == piece, reset.withdrawn_on.is_(None)).exists()


def _near_by_hours(limits: CTE, lives: CTE, totals: CTE, near: ColumnElement[int]) -> ColumnElement[bool]:
    of_all = limits.c.counted == RunningCounted.ALL
    flight, ground = lives.c.flight + totals.c.flight_high, lives.c.ground + totals.c.ground_high
    ground_open = lives.c.ground_open + totals.c.ground_open
    return and_(
        limits.c.measure == LifeMeasure.HOURS,
        or_(
            lives.c.hours_before.is_(None),
            lives.c.flight_open + totals.c.flight_open + case((of_all, ground_open), else_=0) > 0,
            lives.c.hours_before + flight + case((of_all, ground), else_=0) >= limits.c.amount - near,
        ),
    )


def _near_by_starts(limits: CTE, lives: CTE, totals: CTE, near: ColumnElement[int]) -> ColumnElement[bool]:
    starts = lives.c.starts_before + lives.c.starts + totals.c.starts_high
    return and_(
        limits.c.measure == LifeMeasure.STARTS,
        or_(
            lives.c.starts_before.is_(None),
            lives.c.starts_open + totals.c.starts_open > 0,
            starts >= limits.c.amount - near,
        ),
    )


def _near_by_calendar(limits: CTE, lives: CTE, months: Collection[int], until: date) -> ColumnElement[bool]:
    """By the last day on which a count of so many months can have begun to be over by then."""
    over = (
        and_(
            limits.c.amount == amount,
            lives.c.counts_from <= months_after(until, -amount) + timedelta(days=_DAYS_CUT),
        )
        for amount in sorted(months)
    )
    return and_(limits.c.measure == LifeMeasure.MONTHS, or_(lives.c.counts_from.is_(None), *over))


def _may_hold(limits: CTE, lives: CTE, totals: CTE) -> ColumnElement[bool]:
    """Whether the limit's engine type is one that the piece serves, has served, or may have served."""
    other, its_engine = aliased(Service), aliased(Engine)
    served = (
        select(other.piece_id)
        .join(its_engine, its_engine.id == other.engine_id)
        .where(other.piece_id == lives.c.piece_id, its_engine.engine_type_id == limits.c.engine_type_id)
        .exists()
    )
    return or_(
        limits.c.engine_type_id.is_(None),
        limits.c.engine_type_id == totals.c.engine_type_id,
        lives.c.ran_before > 0,
        served,
    )


def _limits(since: LifeSince, on: date) -> CTE:
    """The limits of parts, each with its part: those that count since overhaul, or all of them."""
    recorded = select(
        LifeLimit.part_id,
        LifeLimit.engine_type_id,
        LifeLimit.since,
        LifeLimit.measure,
        LifeLimit.counted,
        LifeLimit.amount,
    ).where(LifeLimit.part_id.is_not(None), _stands(on))
    if since is LifeSince.OVERHAUL:
        return recorded.where(LifeLimit.since == since).cte("limits")
    plain = select(
        Part.id,
        null(),
        literal(LifeSince.NEW, LifeLimit.since.type),
        literal(LifeMeasure.HOURS, LifeLimit.measure.type),
        literal(RunningCounted.ALL, LifeLimit.counted.type),
        Part.life_limit_hours,
    ).where(Part.life_limit_hours.is_not(None))
    return union_all(recorded, plain).cte("limits").prefix_with("MATERIALIZED")


def _totals() -> CTE:
    """What each engine ran since its log began, by the worst end, with its type."""
    total = aliased(Running)
    names = ("flight_high", "ground_high", "starts_high", "flight_open", "ground_open", "starts_open")
    figures = (func.coalesce(getattr(total, name), 0).label(name) for name in names)
    return (
        select(Engine.id.label("engine_id"), Engine.engine_type_id, *figures)
        .outerjoin(total, total.id == last_line(Engine.id))
        .cte("totals")
        .prefix_with("MATERIALIZED")
    )


def _lives(since: LifeSince, limits: CTE, engine: int | None) -> CTE:
    """The pieces in engines whose part has such a limit, and what each used up here by the worst end.

    What its engine ran in all is yet to be added, as `Service` says. ``hours_before`` and ``starts_before``
    are None where nobody knows them.
    """
    inside = aliased(Service)
    limited = Piece.part_id.in_(select(limits.c.part_id))
    prior = (Piece.prior_hours_high, Piece.prior_starts_high)
    ran_before = or_(*(each.is_(None) | (each > 0) for each in prior))
    before: list[Any] = [*prior, Piece.made_on]
    counts: dict[str, ColumnElement[bool]] = {}
    resets = [aliased(LifeReset) for _ in range(3)] if since is LifeSince.OVERHAUL else []
    if resets:
        hours, starts, calendar = resets
        before = [
            case((hours.id.is_(None), prior[0]), else_=hours.hours_high),
            case((starts.id.is_(None), prior[1]), else_=starts.starts_high),
            case((calendar.id.is_(None), Piece.made_on), else_=calendar.overhauled_on),
        ]
        counts = {"flight": _after(hours), "ground": _after(hours), "starts": _after(starts)}

    def added(name: str) -> ColumnElement[int]:
        ran = getattr(Service, name)
        counting = counts.get(name.split("_", maxsplit=1)[0])
        return func.sum(ran if counting is None else case((counting, ran), else_=0))

    chosen = (
        select(
            Piece.id.label("piece_id"),
            Piece.part_id,
            func.min(inside.engine_id).label("engine_id"),
            func.max(case((ran_before, 1), else_=0)).label("ran_before"),
            before[0].label("hours_before"),
            before[1].label("starts_before"),
            before[2].label("counts_from"),
            added("flight_high").label("flight"),
            added("ground_high").label("ground"),
            added("starts_high").label("starts"),
            added("flight_open").label("flight_open"),
            added("ground_open").label("ground_open"),
            added("starts_open").label("starts_open"),
        )
        .select_from(inside)
        .join(Piece, Piece.id == inside.piece_id)
        .join(Service, Service.piece_id == Piece.id)
        .where(inside.to_entry.is_(None), limited)
    )
    for reset, kind in zip(resets, ("resets_hours", "resets_starts", "resets_calendar"), strict=False):
        chosen = chosen.outerjoin(reset, reset.id == _last_reset(kind))
    if resets:
        overhauled = select(LifeReset.piece_id).where(
            LifeReset.piece_id.is_not(None), LifeReset.withdrawn_on.is_(None)
        )
        chosen = chosen.where(inside.piece_id.in_(overhauled))
    if engine is not None:
        chosen = chosen.where(inside.engine_id == engine)
    return chosen.group_by(Piece.id, *(reset.id for reset in resets)).cte("lives").prefix_with("MATERIALIZED")


def _last_reset(kind: str) -> ScalarSelect[int]:
    reset = aliased(LifeReset)
    return (
        select(reset.id)
        .where(reset.piece_id == Piece.id, getattr(reset, kind), reset.withdrawn_on.is_(None))
        .order_by(reset.reset_on.desc(), reset.set_by.desc(), reset.id.desc())
        .limit(1)
        .correlate(Piece)
        .scalar_subquery()
    )


def _after(reset: type[LifeReset]) -> ColumnElement[bool]:
    """Whether a time in an engine did not end before a reset, if there was one."""
    ended = tuple_(Service.to_on, Service.to_entry)
    return or_(reset.id.is_(None), Service.to_entry.is_(None), ended > tuple_(reset.reset_on, reset.set_by))
