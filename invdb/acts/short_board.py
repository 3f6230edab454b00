"""The shortage board: every part that matters, worst first, and what one row rests on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.short_advice import WaysOut
from invdb.acts.short_cases import ShortCase, ShortCases, short_cases
from invdb.acts.short_grounds import need_grounds, rate_words, supply_grounds
from invdb.acts.spend import spend
from invdb.rules.counts import Counts, central_range
from invdb.rules.need import need_by_month
from invdb.rules.need_at_end import needs_at_end
from invdb.rules.pooled import Pool, PooledShortage, pooled_shortages
from invdb.rules.short_facts import MonthOutlook, ShortBoard, ShortReasons, ShortRow
from invdb.rules.supply import due_by_month
from invdb.terms import Refused, Scope

__all__ = ["short_board", "short_reasons", "spend"]

# The range that a person is shown holds the count with this chance.
SHOWN_CHANCE = 0.8


def short_board(session: Session, months: int | None = None) -> ShortBoard:
    """The board for so many months ahead (None: the shop's horizon); Refused for an absurd horizon.

    Worst first: by P(short) at the end of the horizon, then by how much is short on average.
    """
    cases = short_cases(session, months)
    ways_out = WaysOut(session, cases)
    pools = [
        (own, pool) for own, pool in cases.pools if any(each.plan.part.id in cases.matters for each in own)
    ]
    shorts = pooled_shortages([pool for _, pool in pools], cases.horizon)
    needs = iter(needs_at_end([each.case.need for own, _ in pools for each in own], cases.horizon))
    rows = []
    for (own, pool), found in zip(pools, shorts, strict=True):
        for place, case in enumerate(own):
            need = next(needs)
            if case.plan.part.id in cases.matters:
                rows.append(_row(cases, ways_out, (own, pool), place, found, need))
    rows.sort(key=lambda row: (-row.p_short, -row.expected_short, not row.stops_flying, row.house_number))
    return ShortBoard(cases.day, cases.months, cases.settings, tuple(rows))


def short_reasons(session: Session, part: int, months: int | None = None) -> ShortReasons:
    """What the figures of one part's row rest on; Refused for a part that is not on the board."""
    cases = short_cases(session, months)
    at = next(
        (
            (own, pool, place)
            for own, pool in cases.pools
            for place, case in enumerate(own)
            if case.plan.part.id == part and part in cases.matters
        ),
        None,
    )
    if at is None:
        raise Refused(
            "That part is not on the board: no engine of the shop needs it.",
            "Choose one of the board, or put it on a kit list.",
        )
    own, pool, place = at
    case = own[place]
    (found,) = pooled_shortages([pool], cases.horizon)
    need = need_by_month(case.case.need, cases.horizon)
    row = _row(cases, WaysOut(session, cases), (own, pool), place, found, need.at(cases.horizon))
    return ShortReasons(
        row,
        _outlooks(cases, case, need, row.chances),
        need_grounds(case, cases),
        supply_grounds(case, cases),
        rate_words(case),
    )


def _row(
    cases: ShortCases,
    ways_out: WaysOut,
    pooled: tuple[Sequence[ShortCase], Pool],
    place: int,
    found: PooledShortage,
    need: Counts,
) -> ShortRow:
    own, pool = pooled
    case = own[place]
    plan, short, unit = case.plan, found.shortages[place], case.unit
    low, high = central_range(need, SHOWN_CHANCE)
    sharing = [
        each.plan.part.house_number
        for other, each in enumerate(own)
        if (other, place) in pool.stands_in or (place, other) in pool.stands_in
    ]
    chances = tuple(float(chance) for chance in short.chance)
    return ShortRow(
        part=plan.part.id,
        house_number=plan.part.house_number,
        name=plan.part.name,
        family=plan.part.family_name,
        free=plan.stock.free,
        coming=sum(each.count for each in plan.stock.coming),
        need_mean=float(need.mean) * unit,
        need_low=int(low) * unit,
        need_high=int(high) * unit,
        chances=chances,
        expected=tuple(float(expected) * unit for expected in short.expected),
        first_watch=_month(cases, short.first_month(cases.settings.watch_percent / 100)),
        first_short=_month(cases, short.first_month(cases.settings.short_percent / 100)),
        engines=tuple(engine.name for engine in plan.engines),
        stops_flying=any(engine.use is Scope.FLIGHT for engine in plan.engines),
        advice=ways_out.of(case, pool, place, max(chances), need),
        pooled=tuple(sharing),
        error=found.error if sharing else None,
        inspections=sum(each.looked for each in plan.inspected),
        measure=plan.part.measure,
    )


def _month(cases: ShortCases, month: int | None) -> date | None:
    return None if month is None else cases.months[month]


def _outlooks(
    cases: ShortCases, case: ShortCase, need: Counts, chances: Sequence[float]
) -> tuple[MonthOutlook, ...]:
    """Need and supply by the end of each month, of the part's own stock."""
    import numpy as np

    unit, free = case.unit, case.case.supply.free
    due = due_by_month(case.case.supply, cases.horizon)
    need_low, need_high = (np.asarray(end) * unit for end in central_range(need, SHOWN_CHANCE))
    due_low, due_high = ((np.asarray(end) + free) * unit for end in central_range(due, SHOWN_CHANCE))
    return tuple(
        MonthOutlook(
            day,
            float(need.mean[month]) * unit,
            int(need_low[month]),
            int(need_high[month]),
            (float(due.mean[month]) + free) * unit,
            int(due_low[month]),
            int(due_high[month]),
            chances[month],
        )
        for month, day in enumerate(cases.months)
    )
