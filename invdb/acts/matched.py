"""Mates and matched sets: pieces that go back together, until one of them is reworked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.numbers import Thing
from invdb.acts.things import things_by_id
from invdb.records.chunks import chunks
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.records.work import MatchedMember, MatchedSet
from invdb.terms import Condition, EntryKind, FieldRefused, MatchedAs, Refused

MEMBERS_MAX = 40


@dataclass(frozen=True)
class NewMatch:
    """Pieces that go together from now on, and why: lapped together, line-bored together, ran together."""

    kind: MatchedAs
    name: str
    why: str
    pieces: tuple[int, ...]


@dataclass(frozen=True)
class MatchedFacts:
    """A set that stands: its pieces are (id, tag)."""

    id: int
    kind: MatchedAs
    name: str
    why: str
    made_on: date
    members: tuple[tuple[int, str], ...]

    def others(self, piece: int) -> str:
        """The tags of the rest, with commas between them."""
        return ", ".join(tag for member, tag in self.members if member != piece)


def match_pieces(session: Session, match: NewMatch, by: By) -> int:
    """Record that pieces go together; returns the set's id. See ``draft_matched``."""
    draft = begin_draft(session, EntryKind.MATCHED, by)
    made = draft_matched(session, draft, match)
    post(session, draft)
    return made


def draft_matched(session: Session, draft: Draft, match: NewMatch, *, free: bool = False) -> int:
    """Put a set into a draft; returns its id. ``free``: this very entry ends the sets they were in.

    Refused for fewer than two pieces, for one that can't be salvaged, and for a member of a matched set that
    stands, since one piece can't go back with two.
    """
    if len(set(match.pieces)) < max(2, len(match.pieces)):
        raise FieldRefused("pieces", "A matched set needs two pieces at least, each once.", "Name them.")
    if len(match.pieces) > MEMBERS_MAX:
        raise FieldRefused("pieces", f"{len(match.pieces)} pieces are no set.", "Name fewer.")
    if not match.why.strip():
        raise FieldRefused("why", "It isn't said why they go together.", "Type what was done.")
    states = things_by_id(session, [Thing(piece=piece) for piece in match.pieces])
    standing = {} if free else matched_with(session, match.pieces)
    for thing, state in states.items():
        refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
        if state.condition is Condition.UNSALVAGEABLE:
            raise FieldRefused("pieces", f"{state.tag} can't be salvaged.", "Leave it out.")
        for other in standing.get(thing.piece or 0, ()):
            if match.kind is MatchedAs.SET and other.kind is MatchedAs.SET:
                raise FieldRefused(
                    "pieces",
                    f"{state.tag} is matched with {other.others(thing.piece or 0)} already: {other.why}.",
                    "End that set first.",
                )
    tags = " and ".join(state.tag for state in states.values())
    made = draft.new(
        session,
        "matched_set",
        kind=match.kind,
        name=match.name.strip() or tags,
        made_on=draft.happened_on,
        why=match.why,
    )
    for piece in match.pieces:
        draft.new(session, "matched_member", matched_set_id=made, piece_id=piece)
    return made


def end_match(session: Session, matched_set: int, because: str, by: By) -> int:
    """Say that pieces need go together no more, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.MATCHED, by)
    row = session.execute(
        select(MatchedSet.made_on, MatchedSet.ended_on).where(MatchedSet.id == matched_set)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such matched set.", "Look again.")
    if row.ended_on is not None:
        raise Refused(f"That set ended on {row.ended_on.isoformat()}.", "There is nothing to end.")
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the set ends.", "Type what was done.")
    if draft.happened_on < row.made_on:
        raise FieldRefused(
            "happened_on", f"The set was made on {row.made_on.isoformat()}.", "Give a day on or after it."
        )
    draft.set("matched_set", matched_set, ended_on=draft.happened_on, ended_because=because)
    return post(session, draft).number


def draft_reworked(session: Session, draft: Draft, pieces: Iterable[int], because: str) -> tuple[str, ...]:
    """End every set that these pieces are in, since one of it is no more what it was when they were matched.

    Returns the names of the sets, for the entry's note.
    """
    ended: dict[int, str] = {}
    drafted = {fact.record_id for fact in draft.facts if fact.record == "matched_set"}
    for sets in matched_with(session, list(pieces)).values():
        for each in sets:
            if each.id not in ended and each.id not in drafted:
                ended[each.id] = each.name
                draft.set("matched_set", each.id, ended_on=draft.happened_on, ended_because=because)
    if ended:
        draft.remark(f"No longer matched: {'; '.join(ended.values())}")
    return tuple(ended.values())


def matched_with(session: Session, pieces: Collection[int]) -> dict[int, tuple[MatchedFacts, ...]]:
    """The sets that stand and that pieces are in, by piece, the oldest first."""
    ids: set[int] = set()
    for some in chunks(set(pieces)):
        ids.update(
            session.scalars(
                select(MatchedMember.matched_set_id)
                .join(MatchedSet, MatchedSet.id == MatchedMember.matched_set_id)
                .where(MatchedMember.piece_id.in_(some), MatchedSet.ended_on.is_(None))
            )
        )
    members: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for some in chunks(ids):
        rows = session.execute(
            select(MatchedMember.matched_set_id, Piece.id, Piece.tag)
            .join(Piece, Piece.id == MatchedMember.piece_id)
            .where(MatchedMember.matched_set_id.in_(some))
            .order_by(MatchedMember.id)
        )
        for matched_set, piece, tag in rows:
            members[matched_set].append((piece, tag))
    found: dict[int, list[MatchedFacts]] = defaultdict(list)
    for some in chunks(ids):
        sets = session.execute(
            select(MatchedSet.id, MatchedSet.kind, MatchedSet.name, MatchedSet.why, MatchedSet.made_on)
            .where(MatchedSet.id.in_(some))
            .order_by(MatchedSet.id)
        )
        for row in sets:
            facts = MatchedFacts(row.id, row.kind, row.name, row.why, row.made_on, tuple(members[row.id]))
            for piece, _ in facts.members:
                found[piece].append(facts)
    return {piece: tuple(found[piece]) for piece in pieces if piece in found}
