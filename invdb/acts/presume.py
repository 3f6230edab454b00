"""An engine that came with no build record: what its stations hold is presumed, and nobody has seen it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_fitted import fitted_dates
from invdb.acts.by import By, begin_draft
from invdb.acts.engine_event import open_event_ids
from invdb.acts.in_the_way import is_late
from invdb.acts.kit_facts import Catalogue, PositionFacts, read_engine
from invdb.acts.numbers import Thing, issue_tag
from invdb.acts.running import draft_reading, log_at
from invdb.acts.seats import Seat, read_seated, station_place
from invdb.acts.serials import refuse_known_serial
from invdb.acts.strip import check_stripped_to, has_life_limits, refuse_uncontrolled
from invdb.records.builds import Presumption
from invdb.records.catalogue import Part
from invdb.records.draft import Draft
from invdb.records.engines import Engine, Position, Station
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.terms import (
    Condition,
    EntryKind,
    FieldRefused,
    HoursKnown,
    LifeControl,
    Origin,
    PriorLife,
    Refused,
    RunningUse,
    Tracking,
)


@dataclass(frozen=True)
class Unidentified:
    """What came out of a station that was presumed filled, or that it was found empty (no ``part``).

    The part may turn out to be another than was presumed. ``quantity`` None: as much as was presumed.
    """

    presumption: int
    found: str
    part: int | None = None
    to_place: int | None = None
    serial: str = ""
    condition: Condition = Condition.UNINSPECTED
    orientation: str = ""
    control: LifeControl | None = None
    quantity: int | None = None
    tag: str | None = None


@dataclass(frozen=True)
class Identified:
    """What was made of it: the entry's number, and each thing with its tag."""

    entry: int
    things: tuple[tuple[Thing, str], ...]


def presume(session: Session, engine: int, by: By, positions: tuple[int, ...] = ()) -> int:
    """Presume every station of an engine filled that is not known to be; returns how many.

    By the kit list that holds for it now; of some ``positions`` alone if they are named. Refused when there
    is nothing left to presume.
    """
    draft = begin_draft(session, EntryKind.BUILD_TAKEN_OVER, by)
    facts = read_engine(session, engine, draft.happened_on)
    log_at(session, engine, draft.happened_on)
    catalogue = Catalogue(session, {facts.engine_type})
    known = _known_since(session, engine, draft.happened_on)
    stations = {
        (group, name): station
        for station, group, name in session.execute(
            select(Station.id, Station.group_name, Station.name).where(
                Station.engine_type_id == facts.engine_type
            )
        )
    }
    pieces = set(session.scalars(select(Part.id).where(Part.tracking == Tracking.PIECE)))
    rows = session.execute(
        select(Position.id, Position.group_name, Position.name)
        .where(Position.engine_type_id == facts.engine_type)
        .order_by(Position.group_name, Position.sequence)
    ).all()
    presumed = 0
    strange = set(positions) - {row.id for row in rows}
    if strange:
        raise Refused(f"{facts.name} has no such position.", "Choose one of its own.")
    for row in rows:
        if positions and row.id not in positions:
            continue
        position = PositionFacts(row.id, row.group_name, row.name)
        for line in catalogue.lines_for(facts, position):
            station = stations.get((row.group_name, line.station))
            if station is None or (row.id, station) in known:
                continue
            # Single pieces are found one by one, a batch all at once.
            single = line.part in pieces
            for _ in range(line.quantity if single else 1):
                draft.new(
                    session,
                    "presumption",
                    engine_id=engine,
                    position_id=row.id,
                    station_id=station,
                    kit_line_id=line.id,
                    part_id=line.part,
                    quantity=1 if single else line.quantity,
                    presumed_on=draft.happened_on,
                )
                presumed += 1
    if not presumed:
        raise Refused(
            f"Every station of {facts.name} is known or presumed already.", "There is nothing to presume."
        )
    draft.remark("No build record: what is in it is presumed, unidentified")
    post(session, draft)
    return presumed


def _known_since(session: Session, engine: int, on: date) -> set[Seat]:
    """The stations at which something is known or presumed to be, on a day or on any day since."""
    days: list[date | None] = [None]
    if is_late(session, on):
        days += [on, *(day for day in fitted_dates(session, engine) if day > on)]
    known: set[Seat] = set()
    for day in days:
        seated = read_seated(session, engine, day)
        known |= {seat for seat, things in seated.things.items() if things} | seated.presumed.keys()
    return known


def strip_presumed(
    session: Session,
    engine: int,
    finds: tuple[Unidentified, ...],
    reading: int | None,
    by: By,
    *,
    use: RunningUse | None = None,
    sure: bool = False,
) -> Identified:
    """Strip stations that were presumed filled: each find becomes a piece or a batch with a tag.

    It has run at least what the engine ran since it was presumed there, with no upper end known. It is
    tainted by the engine's events of that time.
    """
    draft = begin_draft(session, EntryKind.STRIPPED, by)
    if not finds:
        raise Refused("Nothing is named that would be stripped.", "Choose the stations.")
    log = log_at(session, engine, draft.happened_on)
    draft_reading(session, draft, log, reading, use, sure)
    made: list[tuple[Thing, str]] = []
    named: set[int] = set()
    for find in finds:
        row = session.get(Presumption, find.presumption, populate_existing=True)
        if row is None or row.engine_id != engine:
            raise Refused("Nothing is presumed at that station.", "Look at the engine again.")
        if row.ended_on is not None or row.id in named:
            raise Refused("That station has been stripped already.", "Look at the engine again.")
        named.add(row.id)
        if draft.happened_on < row.presumed_on:
            raise FieldRefused(
                "happened_on",
                f"It was presumed there on {row.presumed_on.isoformat()}.",
                "Give a date on or after that day.",
            )
        if not find.found.strip():
            raise FieldRefused("found", "It isn't said how it was found.", "Say what it looked like.")
        ended: dict[str, object] = {"ended_on": draft.happened_on, "found": find.found}
        if find.part is not None:
            thing, tag = _draft_find(session, draft, find, row, reading)
            made.append((thing, tag))
            ended |= {"piece_id": thing.piece, "batch_id": thing.batch}
        draft.set("presumption", row.id, **ended)
    return Identified(post(session, draft).number, tuple(made))


def _draft_find(
    session: Session, draft: Draft, find: Unidentified, presumed: Presumption, reading: int | None
) -> tuple[Thing, str]:
    part = session.execute(
        select(Part.house_number, Part.tracking, Part.measure, Part.life_limited).where(Part.id == find.part)
    ).one_or_none()
    if part is None:
        raise FieldRefused("part", "That part is not in the catalogue.", "Find it again, or add it.")
    if find.condition is Condition.SERVICEABLE:
        raise FieldRefused(
            "condition", "What is stripped becomes serviceable by being accepted.", "Say how it was found."
        )
    if find.to_place is None:
        raise FieldRefused("to_place", "It isn't said where it goes.", "Choose a place.")
    check_stripped_to(session, find.to_place, find.condition, part.house_number)
    limited = part.life_limited or has_life_limits(session, find.part or 0)
    if limited and find.control is None:
        refuse_uncontrolled(part.house_number)
    quantity = presumed.quantity if find.quantity is None else find.quantity
    single = part.tracking is Tracking.PIECE
    if quantity <= 0 or (single and quantity != 1):
        raise FieldRefused(
            "quantity",
            f"{quantity_words(quantity, part.measure)} can't come out as one find.",
            "Tag single pieces one by one.",
        )
    engine = session.execute(
        select(Engine.name, Engine.owner_id).where(Engine.id == presumed.engine_id)
    ).one()
    shared: dict[str, object] = {
        "part_id": find.part,
        "condition": find.condition,
        "origin": Origin.SALVAGED,
        "used": True,
        "owner_id": engine.owner_id,
        "received_on": draft.happened_on,
        "donor_engine_id": presumed.engine_id,
        "donor": "no build record",
    }
    events = open_event_ids(session, presumed.engine_id, draft.happened_on, presumed.presumed_on)
    if single:
        refuse_known_serial(session, draft, find.part or 0, find.serial)
        tag = issue_tag(session, draft, "piece", find.tag)
        prior = _ran_since(session, draft, presumed, reading)
        piece = draft.new(
            session,
            "piece",
            tag=tag,
            serial=find.serial.strip() or None,
            prior_hours_known=prior.known,
            prior_hours_low=prior.low,
            **shared,
        )
        thing = Thing(piece=piece)
    else:
        tag = issue_tag(session, draft, "batch", find.tag)
        batch = draft.new(session, "batch", tag=tag, maker_batch=find.serial.strip(), **shared)
        thing = Thing(batch=batch)
        for event in events:
            draft.new(session, "event_taint", event_id=event, batch_id=batch)
    place = station_place(session, draft, presumed.engine_id, presumed.position_id, presumed.station_id)
    for from_place, to_place in ((OUTSIDE_PLACE, place), (place, find.to_place)):
        draft.move(
            from_place,
            to_place,
            piece=thing.piece,
            batch=thing.batch,
            quantity=quantity,
            engine=presumed.engine_id,
            reading=reading,
        )
    draft.new(
        session,
        "stripping",
        piece_id=thing.piece,
        batch_id=thing.batch,
        engine_id=presumed.engine_id,
        position_id=presumed.position_id,
        station_id=presumed.station_id,
        from_place_id=place,
        stripped_on=draft.happened_on,
        found=find.found,
        orientation=find.orientation,
        control=find.control if limited else None,
    )
    return thing, tag


def _ran_since(session: Session, draft: Draft, presumed: Presumption, reading: int | None) -> PriorLife:
    """What the engine ran since the piece was presumed in it: the least that the piece has run."""
    now = log_at(session, presumed.engine_id, draft.happened_on).state
    then = log_at(session, presumed.engine_id, presumed.presumed_on).state
    least = (now.ran.hours - then.ran.hours).low
    if reading is not None and now.meter is not None:
        least += reading - now.meter
    return PriorLife(HoursKnown.AT_LEAST, least) if least else PriorLife(HoursKnown.UNKNOWN)
