"""Put all that a recall concerns on hold in one act, and take apart what can be taken from the shelves."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import InstrumentedAttribute, Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.hold import Subject, draft_hold
from invdb.acts.move import STOCK_KEEPING
from invdb.acts.numbers import Thing
from invdb.acts.recall import Spot, asked_words, spots, things_concerned
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.chunks import chunks
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Hold, Place
from invdb.rules.quantities import quantity_words
from invdb.rules.recall import RecallQuestion, RecallWhere
from invdb.terms import EntryKind, FieldRefused, PlaceKind, Refused


@dataclass(frozen=True)
class Recalled:
    """What a recall's act did: the entry's number, and in words of tags and names what became of what.

    ``held`` are put on hold by it, ``already`` were so for the same reason; ``engines`` are put on hold since
    something of it is fitted there. ``quarantined`` were taken from a shelf; ``reserved`` stay on theirs for
    a pull, to which the hold bars their issue; ``elsewhere`` is what is on a bench, issued, or at a firm.
    """

    entry: int
    held: tuple[str, ...]
    already: tuple[str, ...]
    engines: tuple[str, ...]
    quarantined: tuple[str, ...]
    reserved: tuple[str, ...]
    elsewhere: tuple[str, ...]


def hold_recalled(
    session: Session,
    question: RecallQuestion | tuple[Thing, ...],
    reason: str,
    by: By,
    quarantine_place: int | None = None,
) -> Recalled:
    """Put every piece and batch that a question or a choice of things concerns on hold, with their engines.

    What lies free on a shelf goes to the quarantine, the first there is unless one is given. All of it is one
    entry, judged anew as things now stand. Refused when nothing is concerned or nothing is left to do, for a
    day before one of the things came, and where no quarantine takes what lies on a shelf.
    """
    draft = begin_draft(session, EntryKind.RECALLED, by)
    reason = reason.strip()
    if not reason:
        raise FieldRefused("reason", "No reason is given.", "Say what the doubt is.")
    asked = asked_words(session, question)
    states = things_by_id(session, things_concerned(session, question))
    if not states:
        raise Refused(f"There is nothing to recall: {asked}.", "Ask for something else.")
    last = max(states.values(), key=lambda state: state.received_on)
    refuse_before_it_came(last.tag, last.received_on, draft.happened_on)
    by_place = spots(session, {where.place for state in states.values() for where in state.where})
    held, already = _hold_things(session, draft, states, reason)
    engines = _hold_engines(session, draft, by_place, reason)
    shelves = _Shelves(session, draft, states, by_place, quarantine_place)
    if not held and not engines and not shelves.quarantined:
        raise Refused(
            "All of it is on hold for that reason already, and none of it lies free on a shelf.",
            "There is nothing to do.",
        )
    return Recalled(
        post(session, draft).number,
        held,
        already,
        engines,
        tuple(shelves.quarantined),
        tuple(shelves.reserved),
        tuple(shelves.elsewhere),
    )


def _hold_things(
    session: Session, draft: Draft, states: Mapping[Thing, ThingState], reason: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Raise a hold on each thing, unless one for the same reason stands; the tags of both kinds."""
    pieces = _so_held(session, Hold.piece_id, {thing.piece for thing in states}, reason)
    batches = _so_held(session, Hold.batch_id, {thing.batch for thing in states}, reason)
    held, already = [], []
    for thing, state in states.items():
        if thing.piece in pieces or thing.batch in batches:
            already.append(state.tag)
            continue
        held.append(state.tag)
        draft_hold(session, draft, Subject(piece=thing.piece, batch=thing.batch), reason)
    return tuple(held), tuple(already)


def _hold_engines(
    session: Session, draft: Draft, by_place: Mapping[int, Spot], reason: str
) -> tuple[str, ...]:
    """Raise a hold on each engine in which something is, unless one for the same reason stands."""
    inside = {spot.engine: spot.at for spot in by_place.values() if spot.engine is not None}
    so_held = _so_held(session, Hold.engine_id, inside.keys(), reason)
    fresh = {engine: name for engine, name in inside.items() if engine not in so_held}
    for engine in sorted(fresh):
        draft_hold(session, draft, Subject(engine=engine), reason)
    return tuple(sorted(fresh.values()))


def _so_held(
    session: Session, of: InstrumentedAttribute[int | None], ids: Collection[int | None], reason: str
) -> set[int]:
    """Which of these are on hold for that very reason."""
    found: set[int] = set()
    for some in chunks({each for each in ids if each is not None}):
        standing = select(of).where(of.in_(some), Hold.cleared_on.is_(None), Hold.reason == reason)
        found.update(each for each in session.scalars(standing) if each is not None)
    return found


class _Shelves:
    """Takes to the quarantine what lies free on a shelf, and says of the rest why it stays."""

    def __init__(
        self,
        session: Session,
        draft: Draft,
        states: Mapping[Thing, ThingState],
        by_place: Mapping[int, Spot],
        quarantine: int | None,
    ) -> None:
        self.quarantined: list[str] = []
        self.reserved: list[str] = []
        self.elsewhere: list[str] = []
        lying = [(thing, state, where) for thing, state in states.items() for where in state.where]
        free = [each for each in lying if each[2].kind in STOCK_KEEPING and _free(each[2])]
        if free or quarantine is not None:
            quarantine = _quarantine(session, quarantine)
        taken: set[int] = set()
        for thing, state, where in free:
            assert quarantine is not None
            draft.move(where.place, quarantine, piece=thing.piece, batch=thing.batch, quantity=_free(where))
            self.quarantined.append(_words(thing, state, _free(where), where.name))
            if thing.piece is not None:
                taken.add(thing.piece)
        for thing, state, where in lying:
            spot = by_place[where.place]
            if where.reserved:
                pulls = " and ".join(state.reserved_for)
                words = _words(thing, state, where.reserved, where.name)
                self.reserved.append(f"{words}, reserved for {pulls}")
            elif where.kind not in STOCK_KEEPING and not spot.holders & taken and _to_be_fetched(spot):
                self.elsewhere.append(_words(thing, state, where.quantity, spot.path))


def _free(where: Whereabouts) -> int:
    return where.quantity - where.reserved


def _to_be_fetched(spot: Spot) -> bool:
    return not spot.quarantined and spot.where in {RecallWhere.STORES, RecallWhere.SHOP, RecallWhere.FIRM}


def _words(thing: Thing, state: ThingState, quantity: int, place: str) -> str:
    """'T000140-2 in A-01-01', '25 off B000017-X in A-11-3'."""
    much = "" if thing.batch is None else f"{quantity_words(quantity, state.measure)} "
    return f"{much}{state.tag} in {place}"


def _quarantine(session: Session, place: int | None) -> int:
    if place is None:
        first = select(Place.id).where(Place.kind == PlaceKind.QUARANTINE).order_by(Place.id).limit(1)
        found = session.scalar(first)
        if found is None:
            raise Refused("There is no quarantine to take them to.", "Add one, then recall them.")
        return found
    row = session.execute(select(Place.name, Place.kind).where(Place.id == place)).one_or_none()
    if row is None:
        raise FieldRefused("quarantine_place", "There is no such place.", "Choose one that stands.")
    if row.kind is not PlaceKind.QUARANTINE:
        raise FieldRefused("quarantine_place", f"{row.name} is no quarantine.", "Choose the quarantine.")
    return place
