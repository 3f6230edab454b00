"""Matched sets among the things of kits: they go together into one throw of one engine, or not at all."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from invdb.acts.matched import MatchedFacts, matched_with
from invdb.records.engines import EngineType, Position
from invdb.records.stock import Piece, Place, Pull, PullLine
from invdb.rules.throws import throw_of
from invdb.terms import MatchedAs

# An engine and a throw of it.
Throw = tuple[int, str]
_DEPTH_MAX = 8


def throws_of(session: Session, positions: Collection[int]) -> dict[int, str]:
    """The throw of each position, by id."""
    rows = session.execute(
        select(Position.id, Position.name, EngineType.layout)
        .join(EngineType, EngineType.id == Position.engine_type_id)
        .where(Position.id.in_(positions))
    )
    return {position: throw_of(layout, name) for position, name, layout in rows}


def hard_sets(session: Session, pieces: Collection[int]) -> dict[int, MatchedFacts]:
    """The matched set of each piece that is in one which must stay together, by piece."""
    return {
        piece: each
        for piece, sets in matched_with(session, pieces).items()
        for each in sets
        if each.kind is MatchedAs.SET
    }


def throws_now(session: Session, pieces: Collection[int]) -> dict[int, Throw]:
    """Where pieces are bound for or sit: set aside or issued for a pull, or fitted at first hand or
    inside.
    """
    found: dict[int, tuple[int, int]] = {}
    here = aliased(Pull)
    at = {piece: piece for piece in pieces}
    for _ in range(_DEPTH_MAX):
        if not at:
            break
        rows = session.execute(
            select(
                Piece.id,
                Place.engine_id,
                Place.position_id,
                Place.parent_id,
                Pull.engine_id.label("reserved_engine"),
                Pull.position_id.label("reserved_position"),
                here.engine_id.label("issued_engine"),
                here.position_id.label("issued_position"),
            )
            .join(Place, Place.id == Piece.place_id)
            .outerjoin(PullLine, PullLine.id == Piece.reserved_for)
            .outerjoin(Pull, Pull.id == PullLine.pull_id)
            .outerjoin(here, here.id == Place.pull_id)
            .where(Piece.id.in_(at))
        ).all()
        holders: dict[int, int] = {}
        for row in rows:
            for engine, position in (
                (row.engine_id, row.position_id),
                (row.reserved_engine, row.reserved_position),
                (row.issued_engine, row.issued_position),
            ):
                if engine is not None and position is not None:
                    found[at[row.id]] = (engine, position)
                    break
            else:
                if row.parent_id is not None:
                    holders[row.parent_id] = at[row.id]
        at = {
            piece: holders[place]
            for place, piece in session.execute(
                select(Place.id, Place.piece_id).where(Place.id.in_(holders), Place.piece_id.is_not(None))
            )
            if piece is not None
        }
    throws = throws_of(session, {position for _, position in found.values()})
    return {piece: (engine, throws[position]) for piece, (engine, position) in found.items()}


@dataclass(frozen=True)
class Parted:
    """A piece that would go without the rest of its set, and why they belong together."""

    piece: int
    others: str
    why: str

    @property
    def words(self) -> str:
        """``goes only with T00012-4: lapped together``."""
        return f"goes only with {self.others}: {self.why}"


def parted(session: Session, bound: Mapping[int, Throw]) -> Iterator[Parted]:
    """The pieces that would be parted from their sets if each went into its throw.

    The rest of a set may be bound for the same throw with them, or be there or set aside for it already.
    """
    sets = hard_sets(session, list(bound))
    others = {piece for each in sets.values() for piece, _ in each.members} - set(bound)
    there = {**throws_now(session, others), **bound}
    for piece, each in sets.items():
        away = [tag for other, tag in each.members if there.get(other) != bound[piece]]
        if away:
            yield Parted(piece, ", ".join(away), each.why)
