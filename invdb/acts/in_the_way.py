"""What stands in the way of an act on a past day, or of undoing one: later entries that could not have been.

``post`` refuses what starts from where a thing was not. Here is what it cannot know: that a station would
hold more than it takes, and that what is inside a piece would have been changed on the bench while that piece
was in an engine, or the other way round.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.as_fitted import fitted_dates
from invdb.acts.believed import NOW
from invdb.acts.kit_facts import Catalogue, read_engine, read_position
from invdb.acts.lying import batch_moves
from invdb.acts.seats import Seat, Seated, read_seated, wanted_at
from invdb.acts.things import ThingState, Whereabouts
from invdb.records.builds import Presumption
from invdb.records.chunks import chunks
from invdb.records.engines import Engine, Station
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.nesting import ever_beneath
from invdb.records.service_state import ServiceReader, Stretch
from invdb.records.stock import Batch, Piece, Place, Stay
from invdb.rules.points import Point
from invdb.rules.quantities import quantity_words
from invdb.terms import EntryKind, FieldRefused, LineKind, Refused

_REVERSAL = aliased(Entry)
_STANDS = ~select(_REVERSAL.number).where(_REVERSAL.reverses == Entry.number).exists()
_Move = tuple[int, date, int | None, int, int]
_MOVES = (
    select(
        EntryLine.entry_number,
        Entry.happened_on,
        EntryLine.engine_id,
        EntryLine.from_place_id,
        EntryLine.to_place_id,
    )
    .join(Entry, Entry.number == EntryLine.entry_number)
    .where(EntryLine.kind == LineKind.MOVE, _STANDS)
)


def is_late(session: Session, on: date) -> bool:
    """Whether entries of a later day stand in the ledger."""
    last = session.scalar(select(func.max(Entry.happened_on)))
    return last is not None and on < last


def refuse_not_there_yet(
    session: Session, state: ThingState, where: Whereabouts, on: date, quantity: int = 1
) -> None:
    """Refuse to take a thing on a day from where it, or so much of it, came only later; with that entry.

    To be asked of a day that is late, see ``is_late``; on any other nothing came later.
    """
    if state.thing.piece is not None:
        _refuse_piece(session, state.thing.piece, state.tag, where.name, on)
        return
    assert state.thing.batch is not None
    moves = batch_moves(session, [where.place], NOW).get((state.thing.batch, where.place), [])
    there = next((move.left for move in reversed(moves) if move.on <= on), 0)
    if there < quantity:
        later = next((move for move in moves if move.on > on and move.gained > 0), None)
        if later is not None:
            raise FieldRefused(
                "happened_on",
                f"{quantity_words(there, state.measure)} of {state.tag} lay in {where.name} on"
                f" {on.isoformat()}; entry {later.order[1]} of {later.on.isoformat()} brought more.",
                f"Give that day or a later one, or look at entry {later.order[1]}.",
            )


def refuse_holders_not_there_yet(session: Session, holders: Collection[int], on: date) -> None:
    """The same for the pieces around a thing, which may have been elsewhere, or in no engine yet."""
    for holder in holders:
        tag, name = session.execute(
            select(Piece.tag, Place.name).join(Place, Place.id == Piece.place_id).where(Piece.id == holder)
        ).one()
        _refuse_piece(session, holder, tag, name, on)


def _refuse_piece(session: Session, piece: int, tag: str, place: str, on: date) -> None:
    came = session.execute(
        select(Stay.from_on, Stay.from_entry).where(Stay.piece_id == piece, Stay.to_entry.is_(None))
    ).one_or_none()
    if came is not None and came.from_on > on:
        raise FieldRefused(
            "happened_on",
            f"{tag} came to {place} by entry {came.from_entry} of {came.from_on.isoformat()}, after"
            f" {on.isoformat()}.",
            f"Give that day or a later one, or look at entry {came.from_entry}.",
        )


def refuse_crowded(session: Session, engine: int, positions: Collection[int], after: Point) -> None:
    """Refuse when, on some day since a point, a station of these positions holds more than it takes, or what
    is presumed there unseen; with the first entry since then that put something there.

    To be asked when the act is posted, so that the builds of all days have it.
    """
    days = [day for day in fitted_dates(session, engine, positions) if day >= after[0]]
    facts = read_engine(session, engine, after[0])
    catalogue = Catalogue(session, {facts.engine_type})
    stations: dict[str, dict[int, str]] = defaultdict(dict)
    rows = session.execute(
        select(Station.group_name, Station.id, Station.name).where(
            Station.engine_type_id == facts.engine_type
        )
    )
    for group, station, name in rows:
        stations[group][station] = name
    for day in days:
        facts = read_engine(session, engine, day)
        seated = read_seated(session, engine, day)
        for each in positions:
            position = read_position(session, facts, each)
            for station, name in stations[position.group].items():
                seat = (each, station)
                where = f"the {name} of {facts.name}, {position.group} {position.name},"
                wanted = wanted_at(catalogue, facts, position, name)
                if not seated.has_room(seat, wanted):
                    _refuse_what_came(session, engine, seated, seat, where, after)
                if seat in seated.presumed and seated.things.get(seat):
                    _refuse_what_came(session, engine, seated, seat, where, after)
                    raise Refused(
                        f"{where[0].upper()}{where[1:]} has been presumed to hold something unseen since"
                        f" {seated.presumed[seat].isoformat()}, and would hold {seated.tags(seat)} as well.",
                        "Strip what is presumed first, or reverse what presumed it.",
                    )


def _refuse_what_came(
    session: Session, engine: int, seated: Seated, seat: Seat, where: str, after: Point
) -> None:
    """Refuse what a station would hold because of what came there since a point, if anything did."""
    came = [(each.since, each.tag) for each in seated.things[seat] if each.since and each.since > after]
    more = session.execute(
        select(Entry.happened_on, Entry.number, Batch.tag)
        .join(EntryLine, EntryLine.entry_number == Entry.number)
        .join(Batch, Batch.id == EntryLine.batch_id)
        .join(Place, Place.id == EntryLine.to_place_id)
        .where(
            Place.engine_id == engine,
            Place.position_id == seat[0],
            Place.station_id == seat[1],
            Entry.happened_on >= after[0],
            _STANDS,
        )
    )
    came += [((on, number), tag) for on, number, tag in more if (on, number) > after]
    if not came:
        return
    (on, number), tag = min(came)
    raise Refused(
        f"Entry {number} of {on.isoformat()} stands in the way: it put {tag} where {where} would hold"
        f" {seated.tags(seat)} by then.",
        f"Look at entry {number}, and reverse it first if it is wrong.",
    )


def _moves(session: Session, pieces: Collection[int], places: Collection[int]) -> Iterator[Row[*_Move]]:
    """The moves of pieces, and those of batches into and out of places, by entries that stand."""
    for ids, own in (
        (pieces, EntryLine.piece_id),
        (places, EntryLine.from_place_id),
        (places, EntryLine.to_place_id),
    ):
        moves = _MOVES if own is EntryLine.piece_id else _MOVES.where(EntryLine.batch_id.is_not(None))
        for some in chunks(ids):
            yield from session.execute(moves.where(own.in_(some)))


def refuse_touched(session: Session, pieces: Collection[int], after: Point) -> None:
    """Refuse when something was put into one of these pieces or taken out of it since a point on the bench
    while it was in an engine, or in an engine while it was not; with that entry.

    To be asked when the act is posted, so that every stay has it.
    """
    connection = session.connection()
    beneath = ever_beneath(connection, pieces)
    holders = _places_in(session, beneath)
    if not holders:
        return
    reader = ServiceReader(connection)
    stretches: dict[int, list[Stretch]] = {}
    found: list[tuple[Point, int]] = []
    for line in _moves(session, beneath, holders.keys()):
        point = (line.happened_on, line.entry_number)
        for place in (line.from_place_id, line.to_place_id) if point > after else ():
            holder = holders.get(place)
            if holder is not None:
                inside = stretches.setdefault(holder, reader.stretches(holder))
                if not _could_be(line.engine_id, inside, point):
                    found.append((point, holder))
    if not found:
        return
    (on, number), holder = min(found)
    tag = session.scalar(select(Piece.tag).where(Piece.id == holder))
    raise Refused(
        f"Entry {number} of {on.isoformat()} stands in the way: it changed what is inside {tag}, which would"
        " not have been where that entry says.",
        f"Look at entry {number}, and reverse it first if it is wrong.",
    )


def _could_be(engine: int | None, inside: Collection[Stretch], point: Point) -> bool:
    """Whether the engine that a line names is the one that the piece around was in. What the same entry fits
    or strips may be in or out."""
    at_an_end = {each.engine for each in inside if point in (each.began, each.ended)}
    within = {each.engine for each in inside if each.began < point < each.ended}
    if engine is None:
        return not within
    return engine in within | at_an_end


def _places_in(session: Session, pieces: Collection[int]) -> dict[int, int]:
    """The places in pieces, each with its piece."""
    around = aliased(Place)
    found: dict[int, int] = {}
    for some in chunks(pieces):
        rows = session.execute(
            select(Place.id, func.coalesce(Place.piece_id, around.piece_id))
            .outerjoin(around, around.id == Place.parent_id)
            .where(or_(Place.piece_id.in_(some), around.piece_id.in_(some)))
        )
        found.update((place, piece) for place, piece in rows if piece is not None)
    return found


def refuse_reversal(session: Session, number: int) -> None:
    """Refuse to have undone an entry while later ones fill what it emptied, or rest on what it moved.

    To be asked when the reversal is posted.
    """
    entry = session.execute(select(Entry.kind, Entry.happened_on).where(Entry.number == number)).one()
    after = (entry.happened_on, number)
    if entry.kind is EntryKind.LOG_BEGUN:
        _refuse_without_log(session, number)
    lines = session.execute(
        select(EntryLine.piece_id, EntryLine.from_place_id).where(
            EntryLine.entry_number == number, EntryLine.engine_id.is_not(None)
        )
    ).all()
    seats = session.execute(
        select(Place.engine_id, Place.position_id)
        .where(
            Place.id.in_({line.from_place_id for line in lines}),
            Place.engine_id.is_not(None),
            Place.position_id.is_not(None),
        )
        .distinct()
    ).all()
    positions: dict[int, set[int]] = defaultdict(set)
    for seat in seats:
        positions[seat.engine_id or 0].add(seat.position_id or 0)
    for presumed in session.execute(
        select(Presumption.engine_id, Presumption.position_id)
        .join(EntryFact, EntryFact.record_id == Presumption.id)
        .where(EntryFact.entry_number == number, EntryFact.record == "presumption")
    ):
        positions[presumed.engine_id].add(presumed.position_id)
    for engine, each in positions.items():
        refuse_crowded(session, engine, each, after)
    pieces = {line.piece_id for line in lines if line.piece_id is not None}
    standing = set(session.scalars(select(Piece.id).where(Piece.id.in_(pieces)))) if pieces else set()
    if standing:
        refuse_touched(session, standing, after)


def _refuse_without_log(session: Session, number: int) -> None:
    """What is in an engine without a log would seem to run nothing."""
    first = session.execute(
        select(Entry.number, Entry.happened_on, Engine.name)
        .join(EntryLine, EntryLine.entry_number == Entry.number)
        .join(Engine, Engine.id == EntryLine.engine_id)
        .join(
            EntryFact,
            (EntryFact.record == "engine")
            & (EntryFact.record_id == Engine.id)
            & (EntryFact.entry_number == number),
        )
        .where(_STANDS)
        .order_by(Entry.number)
        .limit(1)
    ).first()
    if first is not None:
        raise Refused(
            f"Entry {first.number} of {first.happened_on.isoformat()} stands in the way: it fitted or"
            f" stripped something in {first.name}, which would have no log then.",
            f"Reverse entry {first.number} first.",
        )
