"""The places at which things sit in an engine or in another piece, and what each station holds already."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, When
from invdb.acts.fitted_things import fitted_things
from invdb.acts.kit_facts import Catalogue, EngineFacts, PositionFacts
from invdb.acts.numbers import Thing
from invdb.acts.presumed import read_presumed
from invdb.records.draft import Draft
from invdb.records.engines import Engine, Position, Station
from invdb.records.stock import Piece, Place
from invdb.rules.build import BuiltThing
from invdb.rules.fitting import Wanted, has_room
from invdb.rules.points import Point
from invdb.terms import FieldRefused, PlaceKind, Refused

# A station of a position, by their ids.
Seat = tuple[int, int]
# Up to eight pieces inside each other.
_STEPS_MAX = 20


@dataclass(frozen=True)
class SeatedThing:
    """Some of a part at a station, the tag to name it by, and the point since when it has been there."""

    part: int
    quantity: int
    tag: str
    since: Point | None = None
    thing: Thing | None = None


@dataclass
class Seated:
    """What sits at each station of an engine, and since which day something unseen is presumed at others."""

    things: dict[Seat, list[SeatedThing]] = field(default_factory=lambda: defaultdict(list))
    presumed: dict[Seat, date] = field(default_factory=dict)

    def add(self, seat: Seat, thing: SeatedThing) -> None:
        """Count a thing at a station."""
        self.things[seat].append(thing)

    def tags(self, seat: Seat) -> str:
        """What sits at a station, by tags and commas; '' for nothing."""
        return ", ".join(dict.fromkeys(thing.tag for thing in self.things.get(seat, ())))

    def has_room(self, seat: Seat, lines: Sequence[Wanted], *more: SeatedThing) -> bool:
        """Whether all that is at a station, and this besides, is no more than its kit lines take."""
        known = {part for line in lines for part in line.parts}
        amounts: dict[int, int] = defaultdict(int)
        strange = 0
        for thing in (*self.things.get(seat, ()), *more):
            amounts[thing.part] += thing.quantity
            strange += thing.part not in known
        return has_room(lines, amounts, strange)


def read_seated(session: Session, engine: int, on: date | None = None) -> Seated:
    """What sits at each station of an engine at the end of a day (None: now), at first hand or inside a piece
    of the same position."""
    when = NOW if on is None else When(on)
    seated = Seated()
    for position, station, presumed in read_presumed(session, engine, when):
        seated.presumed[position, station] = presumed.since_on
    for each in fitted_things(session, engine, when):
        if each.position is None:
            continue
        for thing in with_inside(each.thing):
            if thing.station is not None:
                since = (thing.since_on, thing.since_entry)
                own = Thing(thing.piece, thing.batch)
                seat = (each.position, thing.station)
                seated.add(seat, SeatedThing(thing.part, thing.quantity, thing.tag, since, own))
    return seated


def wanted_at(
    catalogue: Catalogue, engine: EngineFacts, position: PositionFacts, station: str
) -> tuple[Wanted, ...]:
    """What the kit lines that hold for an engine take at a station of a position, by its name."""
    return tuple(
        Wanted(line.quantity, tuple(catalogue.options_for(line.part, engine, position)))
        for line in catalogue.lines_for(engine, position)
        if line.station == station
    )


@dataclass(frozen=True)
class WhereSeated:
    """Where in an engine a place is: inside pieces, by the engine and position of the piece around them.

    ``engine`` is None where it is in none; ``holders`` are the pieces around it, the nearest first, and
    ``outermost`` the kind of place that the last of them, or else the place itself, lies at.
    """

    engine: int | None
    engine_name: str
    position: int | None
    station: int | None
    holders: tuple[int, ...]
    outermost: PlaceKind


def where_seated(session: Session, place: int) -> WhereSeated:
    """Where in an engine a place is now."""
    station: int | None = None
    holders: list[int] = []
    at: int = place
    for step in range(_STEPS_MAX):
        row = session.execute(
            select(
                Place.kind,
                Place.engine_id,
                Engine.name,
                Place.position_id,
                Place.station_id,
                Place.parent_id,
                Place.piece_id,
                Piece.place_id.label("piece_at"),
            )
            .outerjoin(Engine, Engine.id == Place.engine_id)
            .outerjoin(Piece, Piece.id == Place.piece_id)
            .where(Place.id == at)
        ).one()
        if step == 0:
            station = row.station_id
        if row.engine_id is not None:
            return WhereSeated(row.engine_id, row.name, row.position_id, station, tuple(holders), row.kind)
        if row.piece_id is not None:
            holders.append(row.piece_id)
            at = row.piece_at
        elif row.kind is PlaceKind.STATION and row.parent_id is not None:
            at = row.parent_id
        else:
            return WhereSeated(None, "", None, station, tuple(holders), row.kind)
    raise Refused("The places there do not lead outward.", "Run `invdb check`.")


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
        name=_free_name(session, draft, f"{row.engine} {row.group_name} {row.position} {row.station}"),
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
        own = draft.new(
            session, "place", kind=PlaceKind.PIECE, name=_free_name(session, draft, tag), piece_id=holder
        )
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
        name=_free_name(session, draft, f"{tag} {name}"),
        parent_id=own,
        station_id=station,
    )


def _free_name(session: Session, draft: Draft, name: str) -> str:
    """A name that no place has yet: stations of several engine types may be called the same."""
    drafted = {fact.values.get("name") for fact in draft.facts if fact.record == "place"}
    free, number = name, 1
    while free in drafted or session.scalar(select(Place.id).where(Place.name == free)) is not None:
        number += 1
        free = f"{name} ({number})"
    return free
