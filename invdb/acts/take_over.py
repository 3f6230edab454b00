"""Take over what an engine came with: a build record of what is in it, or stations presumed filled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.in_the_way import is_late, refuse_crowded
from invdb.acts.kit_facts import Catalogue, EngineFacts, LineFacts, PositionFacts, read_engine
from invdb.acts.known_figures import check_known
from invdb.acts.numbers import Thing, issue_tag
from invdb.acts.papers import NewPaper, draft_link, draft_paper
from invdb.acts.running import draft_reading, log_at
from invdb.acts.seats import (
    Seated,
    SeatedThing,
    place_in_piece,
    read_seated,
    station_place,
    wanted_at,
)
from invdb.acts.serials import refuse_known_serial
from invdb.records.catalogue import Part
from invdb.records.documents import Document
from invdb.records.draft import Draft
from invdb.records.engines import Position, Station
from invdb.records.posting import post
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.terms import (
    PRIOR_LIFE_UNKNOWN,
    Condition,
    EntryKind,
    FieldRefused,
    Origin,
    PriorLife,
    Refused,
    RunningUse,
    Tracking,
)


@dataclass(frozen=True)
class StationFill:
    """What a build record says of one station: the part there, its serial, and what it had run by then.

    ``inside`` is the tag of a piece of the same record that this one sits in, or where no tag was given, its
    number in the record, counted from 1. ``quantity`` is of a batch, in the smallest unit.
    """

    position: int
    station: int
    part: int
    serial: str = ""
    quantity: int = 1
    prior_hours: PriorLife = PRIOR_LIFE_UNKNOWN
    prior_starts: PriorLife = PRIOR_LIFE_UNKNOWN
    made_on: date | None = None
    tag: str | None = None
    owner: int | None = None
    inside: str | None = None
    note: str = ""


@dataclass(frozen=True)
class TakenOver:
    """A build record: the engine, the document it is (one that is here, or a new one), and its stations.

    For ``reading``, ``use`` and ``sure`` see ``FitOrder``. ``as_found`` takes what the kit list does not
    allow, too: it is in the engine all the same.
    """

    engine: int
    stations: tuple[StationFill, ...]
    reading: int | None
    document: int | None = None
    paper: NewPaper | None = None
    use: RunningUse | None = None
    as_found: bool = False
    sure: bool = False


@dataclass(frozen=True)
class BuiltIn:
    """What was taken over: the entry's number, and each thing with its tag."""

    entry: int
    things: tuple[tuple[Thing, str], ...]


def take_over(session: Session, record: TakenOver, by: By) -> BuiltIn:
    """Book in what a build record says is in an engine, each thing at its station.

    It is taken as serviceable for what the engine is used for, on the strength of that document alone, which
    is linked to each. Refused for a part that the kit list does not allow there, unless it is so
    ``as_found``, and for more than a station takes.
    """
    draft = begin_draft(session, EntryKind.BUILD_TAKEN_OVER, by)
    if not record.stations:
        raise Refused("The build record names nothing.", "Give what is at each station.")
    engine = read_engine(session, record.engine, draft.happened_on)
    log = log_at(session, record.engine, draft.happened_on)
    document = _document(session, draft, record)
    draft_reading(session, draft, log, record.reading, record.use, record.sure)
    catalogue = Catalogue(session, {engine.engine_type})
    late = is_late(session, draft.happened_on)
    seated = read_seated(session, record.engine, draft.happened_on if late else None)
    made: list[tuple[Thing, str]] = []
    named: dict[str, tuple[int, str]] = {}
    for number, fill in enumerate(record.stations, 1):
        thing, tag = _draft_fill(session, draft, record, engine, catalogue, seated, named, fill)
        draft_link(session, draft, document, thing)
        if thing.piece is not None:
            named[tag] = named[str(number)] = (thing.piece, tag)
        made.append((thing, tag))
    number = post(session, draft).number
    if late:
        positions = {fill.position for fill in record.stations}
        refuse_crowded(session, record.engine, positions, (draft.happened_on, number))
    return BuiltIn(number, tuple(made))


def _document(session: Session, draft: Draft, record: TakenOver) -> int:
    if record.paper is not None:
        return draft_paper(session, draft, record.paper)
    known = session.scalar(select(Document.id).where(Document.id == record.document))
    if known is None:
        raise FieldRefused(
            "document",
            "A build record is a document, and none is named.",
            "Take it in, or give its reference.",
        )
    return known


def _draft_fill(
    session: Session,
    draft: Draft,
    record: TakenOver,
    engine: EngineFacts,
    catalogue: Catalogue,
    seated: Seated,
    named: dict[str, tuple[int, str]],
    fill: StationFill,
) -> tuple[Thing, str]:
    part = session.execute(
        select(Part.house_number, Part.tracking, Part.measure, Part.life_limited).where(Part.id == fill.part)
    ).one_or_none()
    if part is None:
        raise FieldRefused("part", "That part is not in the catalogue.", "Find it again, or add it.")
    if part.tracking is Tracking.PIECE and fill.quantity != 1:
        raise FieldRefused(
            "quantity", f"{part.house_number} is held as single pieces.", "Name each by itself."
        )
    if fill.quantity <= 0:
        raise FieldRefused(
            "quantity", f"{quantity_words(fill.quantity, part.measure)} is nothing.", "Give more than zero."
        )
    place = station_place(session, draft, record.engine, fill.position, fill.station)
    _refuse_at_station(session, catalogue, engine, seated, fill, part.house_number, record.as_found)
    check_known(fill.prior_hours, "prior_hours")
    check_known(fill.prior_starts, "prior_starts")
    if fill.made_on is not None and fill.made_on > draft.happened_on:
        raise FieldRefused(
            "made_on", f"It would be made on {fill.made_on.isoformat()}, after this.", "Check the day."
        )
    shared: dict[str, object] = {
        "part_id": fill.part,
        "condition": Condition.SERVICEABLE,
        "scope": engine.use,
        "origin": Origin.UNKNOWN,
        "used": True,
        "owner_id": fill.owner or engine.owner,
        "received_on": draft.happened_on,
        "donor": f"came in {engine.name}, by its build record",
        "note": fill.note,
    }
    if part.tracking is Tracking.PIECE:
        refuse_known_serial(session, draft, fill.part, fill.serial)
        tag = issue_tag(session, draft, "piece", fill.tag)
        piece = draft.new(
            session,
            "piece",
            tag=tag,
            serial=fill.serial.strip() or None,
            made_on=fill.made_on,
            **shared,
            **_prior(fill),
        )
        thing = Thing(piece=piece)
    else:
        tag = issue_tag(session, draft, "batch", fill.tag)
        thing = Thing(batch=draft.new(session, "batch", tag=tag, maker_batch=fill.serial, **shared))
    if fill.inside is not None:
        holder = named.get(fill.inside)
        if holder is None or thing.piece is None:
            raise FieldRefused(
                "inside",
                f"{part.house_number} is held by batch, and only a piece is recorded inside another."
                if holder is not None
                else f"{fill.inside} is no piece named before in this record.",
                "Leave it empty." if holder is not None else "Name the piece that holds it first.",
            )
        place = place_in_piece(session, draft, holder[0], fill.station, tag=holder[1])
    draft.move(
        OUTSIDE_PLACE,
        place,
        piece=thing.piece,
        batch=thing.batch,
        quantity=fill.quantity,
        engine=record.engine,
        reading=record.reading,
    )
    return thing, tag


def _refuse_at_station(
    session: Session,
    catalogue: Catalogue,
    engine: EngineFacts,
    seated: Seated,
    fill: StationFill,
    number: str,
    as_found: bool,
) -> None:
    position = session.execute(
        select(Position.id, Position.group_name, Position.name).where(Position.id == fill.position)
    ).one()
    facts = PositionFacts(position.id, position.group_name, position.name)
    name = session.scalar(select(Station.name).where(Station.id == fill.station))
    line = _line(catalogue, engine, facts, name or "", fill.part)
    at = f"the {name} of {engine.name}, {facts.group} {facts.name}"
    seat = (fill.position, fill.station)
    if seat in seated.presumed:
        raise Refused(f"Something unseen is presumed at {at}.", "Strip it first.")
    if line is None and not as_found:
        raise FieldRefused(
            "part",
            f"{number} may not be {at}, by the kit list.",
            "Check the part, or say that it is so as found.",
        )
    thing = SeatedThing(fill.part, fill.quantity, fill.tag or fill.serial or number)
    if not seated.has_room(seat, wanted_at(catalogue, engine, facts, name or ""), thing):
        takes = f"takes {quantity_words(line.quantity, line.measure)}, and " if line is not None else ""
        raise Refused(
            f"{at[0].upper()}{at[1:]}, {takes}holds {seated.tags(seat) or 'nothing'}.", "Check the record."
        )
    seated.add(seat, thing)


def _line(
    catalogue: Catalogue, engine: EngineFacts, position: PositionFacts, station: str, part: int
) -> LineFacts | None:
    for line in catalogue.lines_for(engine, position):
        if line.station != station:
            continue
        options = catalogue.options_for(line.part, engine, position)
        if any(part in {member for member, _ in option.members} for option in options):
            return line
    return None


def _prior(fill: StationFill) -> dict[str, object]:
    return {
        "prior_hours_known": fill.prior_hours.known,
        "prior_hours_low": fill.prior_hours.low,
        "prior_hours_high": fill.prior_hours.high,
        "prior_starts_known": fill.prior_starts.known,
        "prior_starts_low": fill.prior_starts.low,
        "prior_starts_high": fill.prior_starts.high,
    }
