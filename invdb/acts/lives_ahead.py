"""Which pieces in engines run out of life at the planned flying, and in which month."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.engine_use import recent_use
from invdb.acts.flying_plan import EngineFlying, hours_ahead
from invdb.acts.life import LifeStanding, life_of
from invdb.acts.near_limits import Reach, pieces_near_limits
from invdb.records.chunks import chunks
from invdb.records.stock import Piece
from invdb.rules.calendar import months_after
from invdb.rules.forecast import Window, pace
from invdb.rules.lead_time import DAYS_A_MONTH
from invdb.rules.overhaul_due import Wearing, used_up_in
from invdb.terms import LifeMeasure


@dataclass(frozen=True)
class LifeAhead:
    """That so many pieces of a part in an engine run out of life in a month from now; 0 is now."""

    part: int
    engine: int
    month: int
    count: int


Uses = Mapping[LifeMeasure, tuple[float, ...]]


def uses_ahead(flying: EngineFlying, windows: Sequence[Window], day: date) -> Uses:
    """What an engine uses in each month after this one: hundredths of an hour as planned, starts, months.

    Starts go on as of late: none are planned.
    """
    horizon = len(flying.months) - 1
    ran = pace(windows, LifeMeasure.STARTS)
    starts = 0.0 if ran is None else float(ran.least if ran.most is None else ran.most) * DAYS_A_MONTH
    return {
        LifeMeasure.HOURS: tuple(float(hours) for hours in hours_ahead(flying, day)),
        LifeMeasure.STARTS: (starts,) * horizon,
        LifeMeasure.MONTHS: (1.0,) * horizon,
    }


def lives_ahead(session: Session, flying: Sequence[EngineFlying], day: date) -> tuple[LifeAhead, ...]:
    """What runs out of life in the months of a plan of flying, in engines that are not in store.

    By the worst end of what is left; where no one knows that, by the best, by which it is surely used up.
    """
    running = {each.engine: each for each in flying if not each.in_store}
    if not running:
        return ()
    connection = session.connection()
    windows = recent_use(connection, running, day)
    uses = {engine: uses_ahead(each, windows[engine], day) for engine, each in running.items()}
    horizon = max(len(each.months) - 1 for each in running.values())
    # One more than is used, so that what is used up to the last hundredth is among them.
    by_engine = {
        engine: (int(sum(own[LifeMeasure.HOURS])) + 1, int(sum(own[LifeMeasure.STARTS])) + 1)
        for engine, own in uses.items()
    }
    near = pieces_near_limits(connection, Reach(0, 0, months_after(day, horizon), by_engine), day)
    lives = {
        piece: life
        for piece, life in life_of(session, near).items()
        if life.engine is not None and life.engine in running
    }
    parts = _parts(session, lives)
    found: dict[tuple[int, int, int], int] = defaultdict(int)
    for piece, life in lives.items():
        assert life.engine is not None
        month = _runs_out_in(life.stands, uses[life.engine])
        if month is not None:
            found[parts[piece], life.engine, month] += 1
    return tuple(LifeAhead(*key, count) for key, count in sorted(found.items()))


def _runs_out_in(stands: LifeStanding, uses: Uses) -> int | None:
    months = []
    for line in stands.lines:
        left = line.left_best if line.left_worst is None else line.left_worst
        if line.depends or left is None:
            continue
        month = used_up_in(Wearing(line.limit.amount, left, uses[line.limit.measure]))
        if month is not None:
            months.append(month)
    return min(months, default=None)


def _parts(session: Session, pieces: Collection[int]) -> dict[int, int]:
    return {
        piece: part
        for some in chunks(pieces)
        for piece, part in session.execute(select(Piece.id, Piece.part_id).where(Piece.id.in_(some)))
    }
