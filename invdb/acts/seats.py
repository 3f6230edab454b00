"""The places at which things sit in an engine or in another piece, and what each station holds already."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW
from invdb.acts.fitted_things import fitted_things
from invdb.records.builds import Presumption
from invdb.records.draft import Draft
from invdb.records.engines import Engine, Position, Station
from invdb.records.stock import Piece, Place
from invdb.rules.build import BuiltThing
from invdb.terms import FieldRefused, PlaceKind, Refused

# A station of a position, by their ids.
Seat = tuple[int, int]


@dataclass
class Seated:
    """What sits at each station of an engine: amounts by part, and tags to name it by.

    ``presumed`` are the stations that something nobody has seen is presumed at.
    """

    amounts: dict[Seat, dict[int, int]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(int)))
    tags: dict[Seat, list[str]] = field(default_factory=lambda: defaultdict(list))
    presumed: frozenset[Seat] = frozenset()

    def add(self, seat: Seat, part: int, quantity: int, tag: str) -> None:
        """Count a thing at a station."""
        self.amounts[seat][part] += quantity
        self.tags[seat].append(tag)


def read_seated(session: Session, engine: int) -> Seated:
    """What sits at each station of an engine now, at first hand or inside a piece of the same position."""
    seated = Seated(
        presumed=frozenset(
            (position, station)
            for position, station in session.execute(
                select(Presumption.position_id, Presumption.station_id).where(
                    Presumption.engine_id == engine, Presumption.ended_on.is_(None)
                )
            )
        )
    )
    for each in fitted_things(session, engine, NOW):
        if each.position is None:
            continue
        for thing in with_inside(each.thing):
            if thing.station is not None:
                seated.add((each.position, thing.station), thing.part, thing.quantity, thing.tag)
    return seated


def with_inside(thing: BuiltThing) -> Iterator[BuiltThing]:
    """A thing and all that is inside it."""
    yield thing
    for inner in thing.inside:
        yield from with_inside(inner)


def station_place(session: Session, draft: Draft, engine: int, position: int, station: int) -> int:
    """The place of a station of an engine's position; put into the draft when nothing was ever fitted there.

    Refused when the position and the station are not of the engine's type and of one group.
    """
    row = session.execute(
        select(
            Engine.name.label("engine"),
            Position.group_name,
            Position.name.label("position"),
            Station.name.label("station"),
            Station.group_name.label("station_group"),
        )
        .join(Position, Position.engine_type_id == Engine.engine_type_id)
        .join(Station, Station.engine_type_id == Engine.engine_type_id)
        .where(Engine.id == engine, Position.id == position, Station.id == station)
    ).one_or_none()
    if row is None or row.group_name != row.station_group:
        raise FieldRefused(
            "station", "That engine has no such station at that position.", "Choose one of its own."
        )
    standing = session.scalar(
        select(Place.id).where(
            Place.engine_id == engine, Place.position_id == position, Place.station_id == station
        )
    )
    if standing is not None:
        return standing
    for fact in draft.facts:
        wanted = {"engine_id": engine, "position_id": position, "station_id": station}
        if fact.record == "place" and wanted.items() <= fact.values.items():
            return fact.record_id
    around = session.scalar(select(Place.id).where(Place.engine_id == engine, Place.kind == PlaceKind.ENGINE))
    if around is None:
        raise Refused("That engine is no place.", "Run `invdb check`.")
    return draft.new(
        session,
        "place",
        kind=PlaceKind.STATION,
        name=f"{row.engine} {row.group_name} {row.position} {row.station}",
        parent_id=around,
        engine_id=engine,
        position_id=position,
        station_id=station,
    )


def place_in_piece(session: Session, draft: Draft, holder: int, station: int, *, tag: str = "") -> int:
    """The place of a station inside a piece, such as a guide's in its barrel; made when there is none yet.

    ``tag`` is given for a piece that is in this very draft.
    """
    tag = tag or session.scalar(select(Piece.tag).where(Piece.id == holder)) or ""
    name = session.scalar(select(Station.name).where(Station.id == station))
    if not tag or name is None:
        raise Refused("That piece or that station is not in the store.", "Look again.")
    drafted = {
        fact.record_id: fact.values
        for fact in draft.facts
        if fact.record == "place" and ("place", fact.record_id) in draft.new_records
    }
    own = session.scalar(select(Place.id).where(Place.piece_id == holder))
    own = own or next((place for place, values in drafted.items() if values.get("piece_id") == holder), None)
    if own is None:
        # Its place hangs where the piece is, so it stands in no other.
        own = draft.new(session, "place", kind=PlaceKind.PIECE, name=tag, piece_id=holder)
    standing = session.scalar(select(Place.id).where(Place.parent_id == own, Place.station_id == station))
    for place, values in drafted.items():
        if (values.get("parent_id"), values.get("station_id")) == (own, station):
            standing = place
    if standing is not None:
        return standing
    return draft.new(
        session,
        "place",
        kind=PlaceKind.STATION,
        name=f"{tag} {name}",
        parent_id=own,
        station_id=station,
    )
