"""What a piece of ours ran while a firm had it, where no log of ours counted."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.known_figures import check_known
from invdb.acts.lived import priors
from invdb.records.draft import Draft
from invdb.records.life import LifeReset, figure
from invdb.records.nesting import now_beneath
from invdb.records.stock import Piece
from invdb.rules.running import span_of
from invdb.terms import NO_PRIOR_LIFE, PriorLife


def draft_ran_elsewhere(
    session: Session, draft: Draft, piece: int, hours: PriorLife, starts: PriorLife
) -> None:
    """Add what a piece ran elsewhere to what it and all that is inside it had run before they came.

    Hours in hundredths. Where work began a count since overhaul anew, it is added to that count as well. The
    figures then stand on earlier days too, which makes those worse than they were and never better.
    """
    check_known(hours, "hours")
    check_known(starts, "starts")
    if (hours, starts) == (NO_PRIOR_LIFE, NO_PRIOR_LIFE):
        return
    pieces = now_beneath(session.connection(), {piece})
    for row in session.scalars(
        select(Piece).where(Piece.id.in_(pieces)).order_by(Piece.id).execution_options(populate_existing=True)
    ):
        before = priors(row)
        draft.set(
            "piece",
            row.id,
            **_columns("prior_hours", _added(before[0], hours)),
            **_columns("prior_starts", _added(before[1], starts)),
        )
    resets = session.scalars(
        select(LifeReset)
        .where(LifeReset.piece_id.in_(pieces), LifeReset.withdrawn_on.is_(None))
        .order_by(LifeReset.id)
        .execution_options(populate_existing=True)
    )
    for reset in resets:
        columns: dict[str, object] = {}
        if reset.resets_hours:
            since = figure(reset.hours_known, reset.hours_low, reset.hours_high)
            columns |= _columns("hours", _added(since, hours))
        if reset.resets_starts:
            since = figure(reset.starts_known, reset.starts_low, reset.starts_high)
            columns |= _columns("starts", _added(since, starts))
        if columns:
            draft.set("life_reset", reset.id, **columns)


def _added(one: PriorLife, other: PriorLife) -> PriorLife:
    return (span_of(one) + span_of(other)).known()


def _columns(column: str, life: PriorLife) -> dict[str, object]:
    return {f"{column}_known": life.known, f"{column}_low": life.low, f"{column}_high": life.high}
