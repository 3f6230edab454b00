"""Strip things from an engine, or out of another piece: what came out, as it was found, and where it goes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.engine_event import events_inside
from invdb.acts.in_the_way import (
    is_late,
    refuse_holders_not_there_yet,
    refuse_not_there_yet,
    refuse_touched,
)
from invdb.acts.mates import Mates
from invdb.acts.move import check_place_admits
from invdb.acts.numbers import Thing
from invdb.acts.running import draft_reading, log_at
from invdb.acts.seats import WhereSeated, where_seated
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.draft import Draft
from invdb.records.engines import Engine
from invdb.records.life import LifeLimit
from invdb.records.nesting import now_beneath
from invdb.records.posting import post
from invdb.rules.fitting import worse
from invdb.rules.folding import FITTED_KINDS, OUTSIDE_PLACE
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, FieldRefused, LifeControl, PlaceKind, Refused, RunningUse


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

    A piece keeps its tag, becomes used and, unless it was or is found worse, uninspected; what rides in it
    becomes uninspected with it. Some of a batch becomes a batch of its own. Refused for what is not there,
    and for a life-limited piece, on its own or riding along, whose control is not said.
    """
    draft = begin_draft(session, EntryKind.STRIPPED, by)
    return draft_strip(session, draft, order)


def draft_strip(session: Session, draft: Draft, order: StripOrder) -> Stripped:
    """Put a stripping into a draft and post it; see ``strip``."""
    if not order.strips:
        raise Refused("Nothing is named that would be stripped.", "Choose what comes off.")
    on = draft.happened_on
    if order.engine is not None:
        log = log_at(session, order.engine, on)
        draft_reading(session, draft, log, order.reading, order.use, order.sure)
    late = is_late(session, on)
    states = things_by_id(session, [each.thing for each in order.strips])
    mates = Mates(session, order.engine, on)
    named: set[tuple[Thing, int]] = set()
    pieces = {each.thing.piece for each in order.strips if each.thing.piece is not None}
    tags: list[str] = []
    for each in order.strips:
        state = states[each.thing]
        where = _where(session, state, each, order.engine)
        if (each.thing, where.place) in named:
            raise Refused(f"{state.tag} is named twice.", "Name it once.")
        named.add((each.thing, where.place))
        seat = where_seated(session, where.place)
        _refuse_elsewhere(session, state, where, order.engine, seat)
        if late:
            refuse_not_there_yet(session, state, where, on, each.quantity or 1)
            refuse_holders_not_there_yet(session, seat.holders, on)
        if not each.found.strip():
            raise FieldRefused(
                "found", f"It isn't said how {state.tag} was found.", "Say what it looked like."
            )
        stripping: dict[str, object] = {
            "engine_id": order.engine,
            "position_id": seat.position,
            "station_id": seat.station,
            "from_place_id": where.place,
            "stripped_on": on,
            "found": each.found,
            "orientation": each.orientation,
            "mates": mates.of(seat.position, state.tag),
        }
        if each.thing.piece is not None:
            _strip_piece(session, draft, order, each, state, where, stripping, pieces)
        else:
            tag = _strip_batch(session, draft, order, each, state, where, stripping)
            tags += [tag] if tag else []
    number = post(session, draft).number
    if late:
        refuse_touched(session, pieces, (on, number))
    return Stripped(number, tuple(tags))


def _strip_piece(
    session: Session,
    draft: Draft,
    order: StripOrder,
    each: Strip,
    state: ThingState,
    where: Whereabouts,
    stripping: dict[str, object],
    pieces: Collection[int],
) -> None:
    piece = each.thing.piece
    assert piece is not None
    condition = worse(state.condition, _found(each))
    check_stripped_to(session, each.to_place, condition, state.tag, each.scrapped)
    riders = _riders(session, piece, pieces)
    limited = [
        ridden for ridden in (state, *riders) if order.engine is not None and _limited(session, ridden)
    ]
    if limited and each.control is None:
        refuse_uncontrolled(limited[0].tag)
    draft.move(where.place, each.to_place, piece=piece, engine=order.engine, reading=_reading(order))
    for ridden in (state, *riders):
        draft.set(
            "piece",
            ridden.thing.piece or 0,
            condition=condition if ridden is state else worse(ridden.condition, Condition.UNINSPECTED),
            scope=None,
            accepted_by=None,
            accepted_on=None,
            **({"used": True} if order.engine is not None else {}),
        )
    for ridden in (state, *(rider for rider in limited if rider is not state)):
        own = {} if ridden is state else _riding(ridden, state.tag)
        draft.new(
            session,
            "stripping",
            piece_id=ridden.thing.piece,
            batch_id=None,
            control=each.control if ridden in limited else None,
            **{**stripping, **own},
        )


def _riding(rider: ThingState, holder: str) -> dict[str, object]:
    """What differs in the record of a life-limited piece that came out inside another."""
    return {"from_place_id": rider.where[0].place, "found": f"came out inside {holder}", "orientation": ""}


def _riders(session: Session, piece: int, named: Collection[int]) -> list[ThingState]:
    """The pieces that come out inside a piece, but for those inside another that is named itself."""
    connection = session.connection()
    beneath = now_beneath(connection, {piece}) - {piece}
    inner = beneath & set(named)
    beneath -= now_beneath(connection, inner) if inner else set()
    return list(things_by_id(session, [Thing(piece=each) for each in sorted(beneath)]).values())


def _found(each: Strip) -> Condition:
    """The condition that a thing is found in."""
    if each.scrapped:
        return Condition.UNSALVAGEABLE
    if each.condition is Condition.SERVICEABLE:
        raise FieldRefused(
            "condition", "What is stripped becomes serviceable by being accepted.", "Say how it was found."
        )
    return each.condition


def check_stripped_to(
    session: Session, to_place: int, condition: Condition, tag: str, scrapped: bool = False
) -> None:
    """Refuse a place to which a thing in this condition may not go as it is stripped."""
    place = check_place_admits(session, to_place, condition, 0)
    if place.kind is PlaceKind.OUTSIDE:
        raise FieldRefused(
            "to_place", f"{tag} is stripped within the workshop.", "Say where it lies, and send it off then."
        )
    if condition is Condition.UNSALVAGEABLE and place.kind not in {PlaceKind.SCRAP, PlaceKind.QUARANTINE}:
        raise FieldRefused(
            "to_place",
            f"{tag} {'is scrapped' if scrapped else 'can not be salvaged'} and may not lie in {place.name}.",
            "Send it to the quarantine or the scrap drum.",
        )


def refuse_uncontrolled(tag: str) -> None:
    """Refuse a life-limited piece of which it isn't said how it is controlled."""
    raise FieldRefused(
        "control",
        f"{tag} is life-limited; it isn't said how it is kept from being fitted past its limit.",
        "Choose record, tag, mark, segregation or mutilation.",
    )


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
    engine, reading = order.engine, _reading(order)
    if each.scrapped:
        place = check_place_admits(session, each.to_place, Condition.UNSALVAGEABLE, 0)
        if place.kind is not PlaceKind.SCRAP:
            raise FieldRefused(
                "to_place", "What is scrapped untagged goes to the scrap drum.", "Choose the drum."
            )
        draft.move(where.place, each.to_place, batch=batch, quantity=quantity, engine=engine, reading=reading)
        draft.new(session, "stripping", piece_id=None, batch_id=batch, **stripping)
        return None
    condition = worse(state.condition, _found(each))
    check_stripped_to(session, each.to_place, condition, state.tag)
    events = events_inside(session, batch, where.place, draft.happened_on)
    changed = {
        "condition": condition,
        "scope": None,
        "accepted_by": None,
        "accepted_on": None,
        "note": f"stripped from {where.name}",
        **({"used": True} if engine is not None else {}),
    }
    child, tag = draft_child(session, draft, read_parent(session, batch), changed)
    draft.move(where.place, OUTSIDE_PLACE, batch=batch, quantity=quantity, engine=engine, reading=reading)
    draft.move(OUTSIDE_PLACE, each.to_place, batch=child, quantity=quantity)
    for event in events:
        draft.new(session, "event_taint", event_id=event, batch_id=child)
    draft.new(session, "stripping", piece_id=None, batch_id=child, **stripping)
    return tag


def _reading(order: StripOrder) -> int | None:
    return order.reading if order.engine is not None else None


def _where(session: Session, state: ThingState, each: Strip, engine: int | None) -> Whereabouts:
    fitted = [where for where in state.where if where.kind in FITTED_KINDS]
    if each.from_place is not None:
        fitted = [where for where in fitted if where.place == each.from_place]
    if not fitted:
        here = state.where[0].name if state.where else "nowhere: nothing is left of it"
        raise Refused(f"{state.tag} is not fitted there; it is in {here}.", "Look again.")
    if len(fitted) > 1:
        here_alone = [where for where in fitted if where_seated(session, where.place).engine == engine]
        fitted = here_alone or fitted
    if len(fitted) > 1:
        names = ", ".join(where.name for where in fitted)
        raise FieldRefused(
            "from_place", f"{state.tag} is fitted in several places: {names}.", "Say from which."
        )
    return fitted[0]


def _refuse_elsewhere(
    session: Session, state: ThingState, where: Whereabouts, engine: int | None, seat: WhereSeated
) -> None:
    """Refuse to strip a thing from an engine that it is not in, and from pieces that are not at hand."""
    if seat.engine is None and engine is not None:
        name = session.scalar(select(Engine.name).where(Engine.id == engine))
        raise Refused(f"{state.tag} is in no engine, but in {where.name}, not in {name}.", "Look again.")
    if seat.engine != engine:
        raise Refused(
            f"{state.tag} is fitted in {where.name}, in {seat.engine_name}.",
            f"Strip it from {seat.engine_name}, with what its meter reads.",
        )
    if seat.outermost in {PlaceKind.FIRM, PlaceKind.OUTSIDE}:
        raise Refused(
            f"{state.tag} is in {where.name}, which is not in the workshop.", "Take it back in first."
        )


def _limited(session: Session, state: ThingState) -> bool:
    return state.life_limited or has_life_limits(session, state.part)


def has_life_limits(session: Session, part: int) -> bool:
    """Whether a part has a limit besides the plain one, for some engine type or mod."""
    limits = select(LifeLimit.id).where(LifeLimit.part_id == part, LifeLimit.withdrawn_on.is_(None))
    return session.scalar(limits.limit(1)) is not None
