"""How what pulls have set aside, or were given and still have, fits together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_suits import KitSuits
from invdb.acts.numbers import Thing
from invdb.acts.proposed import FitShown
from invdb.acts.things import things_by_id
from invdb.records.catalogue import KitLine
from invdb.records.clock import today
from invdb.records.stock import Pull, PullLine
from invdb.rules.fits import FitVerdict
from invdb.rules.pick_list import FitNote
from invdb.terms import FitKind


def fits_of_pulls(session: Session, pulls: Collection[int]) -> dict[int, tuple[FitShown, ...]]:
    """The fits of each pull, in the order of its lines; pulls in which nothing has a fit are left out."""
    rows = session.execute(
        select(
            PullLine.pull_id,
            PullLine.piece_id,
            PullLine.batch_id,
            KitLine.station,
            KitLine.engine_type_id,
            KitLine.group_name,
        )
        .join(KitLine, KitLine.id == PullLine.kit_line_id)
        .join(Pull, Pull.id == PullLine.pull_id)
        .where(
            PullLine.pull_id.in_(pulls),
            PullLine.reserved + PullLine.issued > PullLine.returned,
            (PullLine.piece_id.is_not(None)) | (PullLine.batch_id.is_not(None)),
        )
        .order_by(KitLine.sequence, PullLine.id)
    ).all()
    states = things_by_id(session, {Thing(row.piece_id, row.batch_id) for row in rows})
    groups = {(row.engine_type_id, row.group_name) for row in rows}
    suits = KitSuits(session, groups, states.values(), today(session))
    at = defaultdict(list)
    for row in rows:
        group = (row.engine_type_id, row.group_name)
        if suits.suiting(group).selecting(row.station) is None:
            at[row.pull_id, group].append((row.station, states[Thing(row.piece_id, row.batch_id)]))
    found = {pull: suits.fits(group, things) for (pull, group), things in at.items()}
    return {pull: fits for pull, fits in found.items() if fits}


def fit_notes(pull_number: str, fits: Iterable[FitShown]) -> Iterator[FitNote]:
    """The fits of a kit in words, as they stand on a pick list."""
    for fit in fits:
        yield FitNote(
            pull_number,
            fit.name,
            f"{fit.station} {fit.tag}, {fit.other_station} {fit.other_tag}",
            fit.words,
            fit.verdict,
            _to_do(fit),
            fit.measured,
        )


def _to_do(fit: FitShown) -> str:
    if fit.kind is FitKind.MACHINED and fit.verdict in {FitVerdict.MACHINED, FitVerdict.UNMEASURED}:
        return f"{fit.operation or 'Machine'} to {fit.target}"
    if fit.kind is FitKind.SELECTED:
        return f"Select on assembly for {fit.target}; return the rest"
    return "Measure before fitting" if fit.verdict is FitVerdict.UNMEASURED else ""
