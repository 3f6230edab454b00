"""Strip things from an engine, or out of another piece: what came out, as it was found, and where it goes."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW
from invdb.acts.by import By, begin_draft
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.engine_event import events_inside
from invdb.acts.fitted_things import fitted_things
from invdb.acts.move import check_place_admits
from invdb.acts.numbers import Thing
from invdb.acts.running import draft_reading, log_at
from invdb.acts.seats import with_inside
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.draft import Draft
from invdb.records.engines import Engine
from invdb.records.life import LifeLimit
from invdb.records.nesting import now_beneath
from invdb.records.posting import post
from invdb.records.stock import Piece, Place
from invdb.rules.folding import FITTED_KINDS, OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, FieldRefused, LifeControl, PlaceKind, Refused, RunningUse

MATES_LENGTH_MAX = 2000
# Up to eight pieces inside each other.
_STEPS_MAX = 20


@dataclass(frozen=True)
class Strip:
    """One thing to strip: what was found, the condition that gives it, and where it goes.

    ``control`` says how a life-limited piece is kept from being fitted past its limit (14 CFR 43.10).
    ``quantity`` of a batch in the smallest unit, all of it at that station when None. ``scrapped`` throws it
    away untagged, as what is always renewed is.
    """

    thing: Thing
    found: str
    to_place: int
    condition: Condition = Condition.UNINSPECTED
    orientation: str = ""
    control: LifeControl | None = None
    quantity: int | None = None
    from_place: int | None = None
    scrapped: bool = False


@dataclass(frozen=True)
class StripOrder:
    """What to strip in one entry; see ``FitOrder`` for ``reading`` and ``use``.

    ``engine`` None: out of pieces that are on the bench.
    """

    engine: int | None
    strips: tuple[Strip, ...]
    reading: int | None = None
    use: RunningUse | None = None
    sure: bool = False


@dataclass(frozen=True)
class Stripped:
    """What came of it: the entry's number, and the tags of batches that were split off."""

    entry: int
    new_tags: tuple[str, ...]


def strip(session: Session, order: StripOrder, by: By) -> Stripped:
    """Strip things, all in one entry or none.

    A piece keeps its tag, becomes used and, unless found worse, uninspected, and so does what rides in it;
    some of a batch becomes a batch of its own. Refused for what is not there, and for a life-limited piece
    whose control is not said.
    """
    draft = begin_draft(session, EntryKind.STRIPPED, by)
    return draft_strip(session, draft, order)


def draft_strip(session: Session, draft: Draft, order: StripOrder) -> Stripped:
    """Put a stripping into a draft and post it; see ``strip``."""
    if not order.strips:
        raise Refused("Nothing is named that would be stripped.", "Choose what comes off.")
    if order.engine is not None:
        log = log_at(session, order.engine, draft.happened_on)
        draft_reading(session, draft, log, order.reading, order.use, order.sure)
    states = things_by_id(session, [each.thing for each in order.strips])
    mates = _Mates(session, order.engine)
    named: set[tuple[Thing, int]] = set()
    tags: list[str] = []
    for each in order.strips:
        state = states[each.thing]
        where = _where(state, each)
        if (each.thing, where.place) in named:
            raise Refused(f"{state.tag} is named twice.", "Name it once.")
        named.add((each.thing, where.place))
        seat = _seat(session, where.place)
        if seat.engine != order.engine:
            raise _elsewhere(session, state, where, order.engine, seat)
        if not each.found.strip():
            raise FieldRefused(
                "found", f"It isn't said how {state.tag} was found.", "Say what it looked like."
            )
        stripping: dict[str, object] = {
            "engine_id": order.engine,
            "position_id": seat.position,
            "station_id": seat.station,
            "from_place_id": where.place,
            "stripped_on": draft.happened_on,
            "found": each.found,
            "orientation": each.orientation,
            "mates": mates.of(seat.position, state.tag),
        }
        if each.thing.piece is not None:
            _strip_piece(session, draft, order, each, state, where, stripping)
        else:
            tag = _strip_batch(session, draft, order, each, state, where, stripping)
            tags += [tag] if tag else []
    return Stripped(post(session, draft).number, tuple(tags))


def _strip_piece(
    session: Session,
    draft: Draft,
    order: StripOrder,
    each: Strip,
    state: ThingState,
    where: Whereabouts,
    stripping: dict[str, object],
) -> None:
    piece = each.thing.piece
    assert piece is not None
    condition = Condition.UNSALVAGEABLE if each.scrapped else each.condition
    if condition is Condition.SERVICEABLE:
        raise FieldRefused(
            "condition", "What is stripped becomes serviceable by being accepted.", "Say how it was found."
        )
    place = check_place_admits(session, each.to_place, condition, state.papers)
    if each.scrapped and place.kind not in {PlaceKind.SCRAP, PlaceKind.QUARANTINE}:
        raise FieldRefused(
            "to_place", f"{state.tag} is scrapped and may not lie in {place.name}.", "Send it to the drum."
        )
    limited = order.engine is not None and _life_limited(session, state)
    if limited and each.control is None:
        raise FieldRefused(
            "control",
            f"{state.tag} is life-limited; it isn't said how it is kept from being fitted past its limit.",
            "Choose record, tag, mark, segregation or mutilation.",
        )
    stripping = {**stripping, "control": each.control if limited else None}
    draft.move(where.place, each.to_place, piece=piece, engine=order.engine, reading=_reading(order))
    out = sorted(now_beneath(session.connection(), {piece}) - {other.thing.piece for other in order.strips})
    for rider in {piece, *out}:
        lost: dict[str, object] = {"scope": None, "accepted_by": None, "accepted_on": None}
        draft.set(
            "piece",
            rider,
            condition=condition,
            **lost,
            **({"used": True} if order.engine is not None else {}),
        )
    draft.new(session, "stripping", piece_id=piece, batch_id=None, **stripping)


def _strip_batch(
    session: Session,
    draft: Draft,
    order: StripOrder,
    each: Strip,
    state: ThingState,
    where: Whereabouts,
    stripping: dict[str, object],
) -> str | None:
    """Returns the tag of the batch that comes out; None where it is scrapped untagged."""
    batch = each.thing.batch
    assert batch is not None
    quantity = where.quantity if each.quantity is None else each.quantity
    if not 0 < quantity <= where.quantity:
        raise FieldRefused(
            "quantity",
            f"{quantity_words(where.quantity, state.measure)} of {state.tag} are fitted in {where.name}, not"
            f" {quantity_words(quantity, state.measure)}.",
            "Strip that much or less.",
        )
    if each.scrapped:
        place = check_place_admits(session, each.to_place, Condition.UNSALVAGEABLE, state.papers)
        if place.kind is not PlaceKind.SCRAP:
            raise FieldRefused(
                "to_place", "What is scrapped untagged goes to the scrap drum.", "Choose the drum."
            )
        draft.move(
            where.place,
            each.to_place,
            batch=batch,
            quantity=quantity,
            engine=order.engine,
            reading=_reading(order),
        )
        draft.new(session, "stripping", piece_id=None, batch_id=batch, **stripping)
        return None
    if each.condition is Condition.SERVICEABLE:
        raise FieldRefused(
            "condition", "What is stripped becomes serviceable by being accepted.", "Say how it was found."
        )
    check_place_admits(session, each.to_place, each.condition, state.papers)
    events = events_inside(session, batch, where.place, draft.happened_on)
    changed = {
        "condition": each.condition,
        "scope": None,
        "accepted_by": None,
        "accepted_on": None,
        "used": True,
        "note": f"stripped from {where.name}",
    }
    child, tag = draft_child(session, draft, read_parent(session, batch), changed)
    draft.move(
        where.place,
        OUTSIDE_PLACE,
        batch=batch,
        quantity=quantity,
        engine=order.engine,
        reading=_reading(order),
    )
    draft.move(OUTSIDE_PLACE, each.to_place, batch=child, quantity=quantity)
    for event in events:
        draft.new(session, "event_taint", event_id=event, batch_id=child)
    draft.new(session, "stripping", piece_id=None, batch_id=child, **stripping)
    return tag


def _reading(order: StripOrder) -> int | None:
    return order.reading if order.engine is not None else None


def _where(state: ThingState, each: Strip) -> Whereabouts:
    fitted = [where for where in state.where if where.kind in FITTED_KINDS]
    if each.from_place is not None:
        fitted = [where for where in fitted if where.place == each.from_place]
    if not fitted:
        here = state.where[0].name if state.where else "nowhere: nothing is left of it"
        raise Refused(f"{state.tag} is not fitted there; it is in {here}.", "Look again.")
    if len(fitted) > 1:
        names = ", ".join(where.name for where in fitted)
        raise FieldRefused(
            "from_place", f"{state.tag} is fitted in several places: {names}.", "Say from which."
        )
    return fitted[0]


@dataclass(frozen=True)
class _Seat:
    """Where in an engine a place is; inside pieces, by the engine and position of the piece around them."""

    engine: int | None
    engine_name: str
    position: int | None
    station: int | None


def _seat(session: Session, place: int) -> _Seat:
    station: int | None = None
    at: int | None = place
    for step in range(_STEPS_MAX):
        row = session.execute(
            select(
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
            return _Seat(row.engine_id, row.name, row.position_id, station)
        at = row.piece_at if row.piece_id is not None else row.parent_id
        if at is None:
            break
    return _Seat(None, "", None, station)


def _elsewhere(
    session: Session, state: ThingState, where: Whereabouts, engine: int | None, seat: _Seat
) -> Refused:
    """That a thing is not in the engine that it would be stripped from."""
    if seat.engine is None:
        name = session.scalar(select(Engine.name).where(Engine.id == engine))
        return Refused(f"{state.tag} is in no engine, but in {where.name}, not in {name}.", "Look again.")
    return Refused(
        f"{state.tag} is fitted in {where.name}, in {seat.engine_name}.",
        f"Strip it from {seat.engine_name}, with what its meter reads.",
    )


def _life_limited(session: Session, state: ThingState) -> bool:
    """Whether a piece's part has a limit of its own or by engine type."""
    limited = session.scalar(
        select(LifeLimit.id).where(LifeLimit.part_id == state.part, LifeLimit.withdrawn_on.is_(None)).limit(1)
    )
    return state.life_limited or limited is not None


class _Mates:
    """Who ran with whom: the tags of what sits in the same position of an engine."""

    def __init__(self, session: Session, engine: int | None) -> None:
        self._tags: dict[int, list[str]] = {}
        for each in fitted_things(session, engine, NOW) if engine is not None else ():
            if each.position is not None:
                inner = [thing.tag for thing in with_inside(each.thing)]
                self._tags.setdefault(each.position, []).extend(inner)

    def of(self, position: int | None, tag: str) -> str:
        """The tags of a thing's mates, separated by commas; as many as a line takes."""
        if position is None:
            return ""
        mates = sorted({mate for mate in self._tags.get(position, ()) if mate != tag})
        while mates and len(", ".join(mates)) > MATES_LENGTH_MAX:
            mates.pop()
        return ", ".join(mates)
