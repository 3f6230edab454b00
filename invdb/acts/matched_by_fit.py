"""What becomes a matched set by being fitted together, as a cap and its rod do where a fit says so."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_fits import read_suiting
from invdb.acts.matched import MatchedFacts, NewMatch, draft_matched, matched_with
from invdb.records.catalogue import KitLine, StandIn, StandInMember
from invdb.records.draft import Draft
from invdb.records.stock import Piece
from invdb.rules.alternates import STEPS_MAX
from invdb.rules.suiting import FitLine
from invdb.terms import FieldRefused, MatchedAs

Stations = Mapping[int, Collection[str]]
"""Pieces, each with the names of the stations that it fills or may fill."""


def draft_matched_by_fit(
    session: Session, draft: Draft, engine_type: int, group: str, fitted: Stations, seated: Stations
) -> tuple[int, ...]:
    """Put into a draft the matched sets that a fitting makes; returns their ids.

    ``fitted`` is what the entry fits at one position, what is inside it included; ``seated`` is what is at
    that position already, and with which the fitted becomes matched. Where one of two is in a matched set
    that stands, all of that becomes one set with it. Refused for a second piece of a part whose set has one
    elsewhere: a cap can't take the place of the one that its rod was bored with.
    """
    lines = [
        line
        for line in read_suiting(session, engine_type, group, draft.happened_on).fits
        if line.makes_matched
    ]
    if not lines:
        return ()
    at = {**seated, **fitted}
    parts = _parts(session, at)
    why: dict[tuple[int, int], str] = {}
    for outer, inner, name in _matching(lines, at, parts):
        if outer in fitted or inner in fitted:
            why.setdefault((outer, inner), name)
    standing = {
        piece: each
        for piece, sets in matched_with(session, at).items()
        for each in sets
        if each.kind is MatchedAs.SET
    }
    made = []
    for group_of in _together(why, standing):
        covering = {each.id: each for piece in group_of if (each := standing.get(piece)) is not None}
        if any(len(each.members) == len(group_of) for each in covering.values()):
            continue
        _refuse_replacing(session, covering, group_of, at)
        names = dict.fromkeys(name for pair, name in why.items() if pair[0] in group_of)
        tags = _tags(session, group_of)
        for each in covering.values():
            because = f"matched with {', '.join(tags[piece] for piece in group_of - _members(each))} as well"
            draft.set("matched_set", each.id, ended_on=draft.happened_on, ended_because=because)
        match = NewMatch(MatchedAs.SET, "", f"fitted together: {', '.join(names)}", tuple(sorted(group_of)))
        made.append(draft_matched(session, draft, match, free=True))
    return tuple(made)


def _members(matched: MatchedFacts) -> set[int]:
    return {piece for piece, _ in matched.members}


def _matching(
    lines: Collection[FitLine], at: Stations, parts: Mapping[int, int]
) -> Iterator[tuple[int, int, str]]:
    """Every two pieces that a line makes a matched set of, the outer first, with the line's name."""
    for line in lines:
        for outer, outer_stations in at.items():
            if line.outer.station not in outer_stations or line.outer.part not in {None, parts[outer]}:
                continue
            for inner, inner_stations in at.items():
                fills = line.inner.station in inner_stations and line.inner.part in {None, parts[inner]}
                if inner != outer and fills:
                    yield outer, inner, line.terms.name


def _together(pairs: Collection[tuple[int, int]], standing: Mapping[int, MatchedFacts]) -> list[set[int]]:
    """The pieces that hang together by pairs and by the sets that they are in, each group once."""
    groups: list[set[int]] = []
    for pair in pairs:
        grown = set(pair)
        for piece in pair:
            grown |= _members(standing[piece]) if piece in standing else set()
        apart = [group for group in groups if not group & grown]
        for group in groups:
            if group & grown:
                grown |= group
        groups = [*apart, grown]
    return groups


def _refuse_replacing(
    session: Session, covering: Mapping[int, MatchedFacts], group: Collection[int], at: Stations
) -> None:
    parts = _parts(session, group)
    tags = _tags(session, group)
    for each in covering.values():
        own = _members(each)
        newcomers = [piece for piece in sorted(group) if piece in at and piece not in own]
        for absent in sorted(own - set(at)):
            instead = next((piece for piece in newcomers if parts[piece] == parts[absent]), None)
            if instead is not None:
                here = next(piece for piece in sorted(own) if piece in at)
                raise FieldRefused(
                    "piece",
                    f"{tags[here]} is matched with {tags[absent]}, and {tags[instead]} can't take its"
                    f" place: {each.why}.",
                    f"Fit {tags[absent]}, or end that set first.",
                )


def _parts(session: Session, pieces: Collection[int]) -> dict[int, int]:
    rows = session.execute(select(Piece.id, Piece.part_id).where(Piece.id.in_(pieces)))
    return {piece: part for piece, part in rows}


def _tags(session: Session, pieces: Collection[int]) -> dict[int, str]:
    rows = session.execute(select(Piece.id, Piece.tag).where(Piece.id.in_(pieces)).order_by(Piece.tag))
    return {piece: tag for piece, tag in rows}


def stations_for_part(session: Session, engine_type: int, group: str, part: int) -> frozenset[str]:
    """The stations of a group at which a part, or what it may stand in for, is asked for by the kit lists.

    For a piece on the bench, into which another is fitted before it is in any engine.
    """
    asked = {part}
    for _ in range(STEPS_MAX):
        for_members = select(StandIn.part_id).join(StandInMember, StandInMember.stand_in_id == StandIn.id)
        more = set(session.scalars(for_members.where(StandInMember.part_id.in_(asked)))) | set(
            session.scalars(
                select(StandInMember.part_id)
                .join(StandIn, StandIn.id == StandInMember.stand_in_id)
                .where(StandIn.both_ways, StandIn.part_id.in_(asked))
            )
        )
        if more <= asked:
            break
        asked |= more
    return frozenset(
        session.scalars(
            select(KitLine.station).where(
                KitLine.engine_type_id == engine_type,
                KitLine.group_name == group,
                KitLine.part_id.in_(asked),
            )
        )
    )
