"""What is lapped on one order, such as a valve with its seat, is a matched set once it is back."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.matched import MatchedFacts, NewMatch, draft_matched, matched_with
from invdb.acts.reworked import reworked
from invdb.records.draft import Draft
from invdb.records.stock import Piece
from invdb.records.work import WorkLine
from invdb.terms import Condition, MatchedAs


def draft_lapped(session: Session, draft: Draft, order: int, number: str, now: Collection[int]) -> None:
    """Put into a draft that the pieces coming back ``now`` make a set with what is back on the order already.

    What came back earlier is left out where it was scrapped, reworked or matched anew since. The set that it
    made then ends, and begins again with what comes now.
    """
    if not now:
        return
    why = f"lapped together on order {number}"
    earlier = _back_earlier(session, order, now)
    standing = matched_with(session, earlier)
    since = reworked(session, earlier)
    members = set(now)
    ending: dict[int, MatchedFacts] = {}
    for piece, returned in earlier.items():
        sets = [each for each in standing.get(piece, ()) if each.kind is MatchedAs.SET]
        own = next((each for each in sets if each.why == why), None)
        if own is not None:
            ending[own.id] = own
            members.update(member for member, _ in own.members)
        elif not sets and max(point[1] for point in since[piece]) == returned:
            members.add(piece)
    if len(members) < 2:
        return
    for each in ending.values():
        draft.set(
            "matched_set", each.id, ended_on=draft.happened_on, ended_because="more came back lapped with it"
        )
    draft_matched(session, draft, NewMatch(MatchedAs.SET, "", why, tuple(sorted(members))), free=True)


def _back_earlier(session: Session, order: int, now: Collection[int]) -> dict[int, int]:
    """The good pieces that are back on an order already, each with the entry that booked it back."""
    rows = session.execute(
        select(WorkLine.piece_id, WorkLine.set_by)
        .join(Piece, Piece.id == WorkLine.piece_id)
        .where(
            WorkLine.work_order_id == order,
            WorkLine.returned_on.is_not(None),
            WorkLine.scrapped == 0,
            Piece.condition != Condition.UNSALVAGEABLE,
        )
    )
    return {piece: entry for piece, entry in rows if piece is not None and piece not in now}
