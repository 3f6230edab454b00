"""Everything in one position of an engine, or in all of them, as an order to strip it."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_fitted import as_fitted
from invdb.acts.numbers import Thing
from invdb.acts.strip import Strip
from invdb.records.stock import Place
from invdb.rules.build import BuiltPosition
from invdb.terms import LifeControl, PlaceKind, Refused


def plan_strip(
    session: Session,
    engine: int,
    to_place: int,
    found: str,
    *,
    position: int | None = None,
    control: LifeControl | None = None,
    scrap_place: int | None = None,
) -> tuple[Strip, ...]:
    """What to strip so that a position (None: the whole engine) is empty, as it is fitted now.

    Pieces go to ``to_place`` with what rides in them; what its kit line always renews goes untagged to the
    scrap drum. Refused when there is nothing there.
    """
    build = as_fitted(session, engine)
    drum = scrap_place
    if drum is None:
        drum = session.scalar(select(Place.id).where(Place.kind == PlaceKind.SCRAP).order_by(Place.id))
    if drum is None:
        raise Refused("There is no scrap drum.", "Add a place of that kind first.")
    places = {
        (row.position_id, row.station_id): row.id
        for row in session.execute(
            select(Place.id, Place.position_id, Place.station_id).where(Place.engine_id == engine)
        )
    }
    strips: list[Strip] = []
    for each in build.positions:
        if position is None or each.position == position:
            strips += _of_position(each, places, to_place, found, control, drum)
    if position is None:
        strips += [
            Strip(Thing(thing.piece, thing.batch), found, to_place, control=control)
            for thing in build.elsewhere
        ]
    if not strips:
        raise Refused(f"Nothing is recorded as fitted there in {build.engine_name}.", "Look again.")
    return tuple(strips)


def _of_position(
    position: BuiltPosition,
    places: Mapping[tuple[int | None, int | None], int],
    to_place: int,
    found: str,
    control: LifeControl | None,
    drum: int,
) -> list[Strip]:
    strips = []
    for station in position.stations:
        for thing in station.contents:
            renewed = any(line.renewed_always for line in station.lines if line.part == thing.part) or (
                bool(station.lines) and all(line.renewed_always for line in station.lines)
            )
            strips.append(
                Strip(
                    Thing(thing.piece, thing.batch),
                    "always renewed" if renewed else found,
                    drum if renewed else to_place,
                    control=control if thing.piece is not None else None,
                    from_place=places[position.position, station.station],
                    scrapped=renewed,
                )
            )
    return strips
