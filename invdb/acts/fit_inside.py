"""Fit a piece into another on the bench, such as a guide in its barrel; from then on it rides along."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.fit_check import TAKEN_FROM
from invdb.acts.in_the_way import is_late, refuse_not_there_yet, refuse_touched
from invdb.acts.matched_by_fit import draft_matched_by_fit, stations_for_part
from invdb.acts.numbers import Thing
from invdb.acts.seats import place_in_piece
from invdb.acts.things import ThingState, things_by_id
from invdb.records.catalogue import KitLine, StandIn, StandInMember
from invdb.records.draft import Draft
from invdb.records.engines import EngineType, Station
from invdb.records.posting import post
from invdb.records.stock import Piece, Place, PullLine
from invdb.rules.alternates import STEPS_MAX
from invdb.terms import Condition, EntryKind, PlaceKind, Refused


@dataclass(frozen=True)
class InsideFit:
    """A piece to fit into another, and as what: the station that it fills once the holder is fitted."""

    holder: int
    piece: int
    station: int


def fit_inside(session: Session, fits: tuple[InsideFit, ...], by: By) -> int:
    """Fit pieces into others, all in one entry; returns its number.

    Refused while the holder is in an engine, for what is scrapped, on hold or not to be salvaged, for a part
    that no kit list knows at that station, and for a second piece at the same station of a holder. Whether
    each may go into a certain engine is judged when the holder is fitted there.
    """
    draft = begin_draft(session, EntryKind.FITTED, by)
    if not fits:
        raise Refused("Nothing is named that would be fitted.", "Choose pieces.")
    things = [Thing(piece=each) for fit in fits for each in (fit.holder, fit.piece)]
    states = things_by_id(session, things)
    late = is_late(session, draft.happened_on)
    filled: Counter[tuple[int, int]] = Counter()
    for fit in fits:
        holder, state = states[Thing(piece=fit.holder)], states[Thing(piece=fit.piece)]
        for each in (holder, state):
            where = each.where[0]
            if where.kind not in TAKEN_FROM:
                raise Refused(
                    f"{each.tag} is in {where.name}.",
                    "Bring it to the bench first; strip it if it is fitted.",
                )
            if each.reserved_for:
                raise Refused(
                    f"{each.tag} is reserved for pull {each.reserved_for[0]}.", "Issue that pull first."
                )
            if each.condition is Condition.UNSALVAGEABLE:
                raise Refused(f"{each.tag} can't be salvaged.", "Choose another.")
            if each.holds:
                raise Refused(f"{each.tag} is on hold: {each.holds[0]}.", "Clear the hold first.")
            if where.kind is PlaceKind.QUARANTINE:
                raise Refused(f"{each.tag} is in quarantine.", "Take it out of there first, if it may be.")
            if late:
                refuse_not_there_yet(session, each, where, draft.happened_on)
        _refuse_other_parts(session, fit.station, state.part, state.part_number)
        _refuse_too_many(session, fit, holder.tag, filled)
        draft.move(
            state.where[0].place,
            place_in_piece(session, draft, fit.holder, fit.station),
            piece=fit.piece,
            pull_line=_pull_line(session, fit.piece) if state.where[0].kind is PlaceKind.PULL else None,
        )
    _match_by_fit(session, draft, fits, states)
    number = post(session, draft).number
    if late:
        pieces = {piece for fit in fits for piece in (fit.holder, fit.piece)}
        refuse_touched(session, pieces, (draft.happened_on, number))
    return number


def _match_by_fit(
    session: Session, draft: Draft, fits: Collection[InsideFit], states: Mapping[Thing, ThingState]
) -> None:
    """Put into the draft the matched sets that these fittings make: a valve in its head, a cap on its rod."""
    for fit in fits:
        row = session.execute(
            select(Station.engine_type_id, Station.group_name, Station.name).where(Station.id == fit.station)
        ).one()
        holder = states[Thing(piece=fit.holder)]
        around = stations_for_part(session, row.engine_type_id, row.group_name, holder.part)
        draft_matched_by_fit(
            session,
            draft,
            row.engine_type_id,
            row.group_name,
            {fit.piece: [row.name]},
            {fit.holder: around},
        )


def _refuse_other_parts(session: Session, station: int, part: int, number: str) -> None:
    """Refuse a part that no kit line at this station asks for, and that stands in for none of those."""
    row = session.execute(
        select(Station.name, Station.group_name, Station.engine_type_id, EngineType.name.label("type_name"))
        .join(EngineType, EngineType.id == Station.engine_type_id)
        .where(Station.id == station)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such station.", "Choose one that the engine type has.")
    reached = set(
        session.scalars(
            select(KitLine.part_id).where(
                KitLine.engine_type_id == row.engine_type_id,
                KitLine.group_name == row.group_name,
                KitLine.station == row.name,
            )
        )
    )
    for _ in range(STEPS_MAX):
        stands_in = set(
            session.scalars(
                select(StandInMember.part_id)
                .join(StandIn, StandIn.id == StandInMember.stand_in_id)
                .where(StandIn.part_id.in_(reached))
            )
        ) | set(
            session.scalars(
                select(StandIn.part_id)
                .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
                .where(StandIn.both_ways, StandInMember.part_id.in_(reached))
            )
        )
        if stands_in <= reached:
            break
        reached |= stands_in
    if part not in reached:
        raise Refused(
            f"{number} is no {row.name} of any {row.type_name}, by its kit list.",
            "Check the part, or the station that it fills.",
        )


def _refuse_too_many(session: Session, fit: InsideFit, holder: str, filled: Counter[tuple[int, int]]) -> None:
    """Refuse more pieces at a station of a holder than the kit lists ever ask for there."""
    if fit.holder == fit.piece:
        raise Refused(f"{holder} can't be fitted into itself.", "Check which of the two holds the other.")
    filled[fit.holder, fit.station] += 1
    own = select(Place.id).where(Place.piece_id == fit.holder).scalar_subquery()
    tags = session.scalars(
        select(Piece.tag)
        .join(Place, Place.id == Piece.place_id)
        .where(Place.parent_id == own, Place.station_id == fit.station)
        .order_by(Piece.tag)
    ).all()
    asked = session.scalar(
        select(func.max(KitLine.quantity))
        .join(
            Station,
            (Station.engine_type_id == KitLine.engine_type_id)
            & (Station.group_name == KitLine.group_name)
            & (Station.name == KitLine.station),
        )
        .where(Station.id == fit.station)
    )
    if len(tags) + filled[fit.holder, fit.station] > (asked or 1):
        raise Refused(
            f"{holder} takes {asked or 1} at that station, and holds {', '.join(tags) or 'none'}.",
            "Take that out first, or name each station once.",
        )


def _pull_line(session: Session, piece: int) -> int | None:
    """The line of the pull that a piece lies on."""
    return session.scalar(
        select(PullLine.id).where(PullLine.piece_id == piece, PullLine.issued > PullLine.returned)
    )
