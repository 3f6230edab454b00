"""What is owed to the stations of an engine that was robbed, and how what is fitted there pays it back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.seats import Seat, Seated, SeatedThing
from invdb.records.builds import Debt
from invdb.records.draft import Draft
from invdb.rules.fitting import Wanted


def draft_repaid(
    session: Session,
    draft: Draft,
    engine: int,
    seated: Seated,
    fitted: Mapping[Seat, Iterable[SeatedThing]],
    wanted: Mapping[Seat, Sequence[Wanted]],
) -> None:
    """Put into a draft that debts are repaid by what is fitted at stations, which ``seated`` has already.

    The oldest goes first, as far as the quantity goes; when the station takes no more of what was robbed, all
    of it is. Where springs of two kinds share a station, each pays back its own.
    """
    debts = session.execute(
        select(Debt.id, Debt.position_id, Debt.station_id, Debt.part_id, Debt.quantity)
        .where(Debt.engine_id == engine, Debt.repaid_on.is_(None), Debt.owed_on <= draft.happened_on)
        .order_by(Debt.owed_on, Debt.id)
    ).all()
    left: dict[tuple[Seat, int], int] = defaultdict(int)
    for seat, things in fitted.items():
        for thing in things:
            left[seat, _line(wanted[seat], thing.part)] += thing.quantity
    for debt in debts:
        seat = (debt.position_id, debt.station_id)
        line = _line(wanted.get(seat, ()), debt.part_id)
        # What no line asks for, fitted by a concession, pays for whatever was robbed there.
        pools = [key for key in left if key[0] == seat and (line < 0 or key[1] in (line, -1))]
        if not pools:
            continue
        full = line >= 0 and not seated.has_room(seat, wanted[seat], SeatedThing(debt.part_id, 1, ""))
        if full or debt.quantity <= sum(left[pool] for pool in pools):
            draft.set("debt", debt.id, repaid_on=draft.happened_on)
            owed = debt.quantity
            for pool in pools:
                paid = min(owed, left[pool])
                left[pool] -= paid
                owed -= paid


def _line(wanted: Sequence[Wanted], part: int) -> int:
    """Which of the lines at a station a part fills; -1 for none."""
    return next((at for at, line in enumerate(wanted) if part in line.parts), -1)
