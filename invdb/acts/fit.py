"""Fit things at stations of an engine: from an issued pull in one act, or piece by piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.debts import draft_repaid
from invdb.acts.fit_check import TAKEN_FROM, FitCheck
from invdb.acts.in_the_way import is_late, refuse_crowded, refuse_not_there_yet, refuse_touched
from invdb.acts.kit_facts import read_engine, read_position
from invdb.acts.kit_fits import read_suiting
from invdb.acts.matched_by_fit import draft_matched_by_fit
from invdb.acts.numbers import Thing
from invdb.acts.running import draft_reading, log_at
from invdb.acts.seats import Seat, Seated, SeatedThing, read_seated, station_place
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.catalogue import KitLine
from invdb.records.clock import today
from invdb.records.engines import Station
from invdb.records.nesting import now_beneath
from invdb.records.posting import post
from invdb.records.stock import Piece, Place, Pull, PullLine
from invdb.rules.quantities import quantity_words
from invdb.terms import Asked, EntryKind, FieldRefused, PlaceKind, Refused, RunningUse

# A line of a pull that has something out: its id, piece, batch, how much, its station's name and id, the
# pull's place, and how much its kit line takes.
Issued = Row[int, int | None, int | None, int, str, int | None, int, int]


@dataclass(frozen=True)
class Fit:
    """A thing to fit at a station; of a batch how much (smallest unit), and from where if it lies in several
    places."""

    station: int
    thing: Thing
    quantity: int = 1
    from_place: int | None = None
    pull_line: int | None = None


@dataclass(frozen=True)
class FitOrder:
    """What to fit at one position of an engine.

    ``reading`` is what the engine's meter reads (hundredths), None if it has none; ``use`` what it ran for
    since its log's last line, where it ran. ``override`` is a licensed person's written reason.
    """

    engine: int
    position: int
    fits: tuple[Fit, ...]
    reading: int | None
    use: RunningUse | None = None
    override: str = ""
    sure: bool = False


def fit(session: Session, order: FitOrder, by: By) -> int:
    """Fit things at stations of a position, all in one entry or none; returns the entry's number.

    Refused, naming the rule, for a part that the engine's type, serial, mods or position do not allow, for
    what is not fit for this engine's use, and for more than a station takes. What is fitted at a station
    that something was robbed from pays that debt back.
    """
    draft = begin_draft(session, EntryKind.FITTED, by)
    if not order.fits:
        raise Refused("Nothing is named that would be fitted.", "Choose pieces or batches.")
    engine = read_engine(session, order.engine, draft.happened_on)
    position = read_position(session, engine, order.position)
    log = log_at(session, order.engine, draft.happened_on)
    draft_reading(session, draft, log, order.reading, order.use, order.sure)
    states = things_by_id(session, [each.thing for each in order.fits])
    inside = _inside(session, [each.thing.piece for each in order.fits if each.thing.piece is not None])
    late = is_late(session, draft.happened_on)
    seated = read_seated(session, order.engine, draft.happened_on if late else None)
    check = FitCheck(session, draft, engine, position, seated, order.override, by)
    fitted: dict[Seat, list[SeatedThing]] = defaultdict(list)
    pieces: dict[int, list[str]] = defaultdict(list)
    named: set[tuple[Thing, int, int | None, int | None]] = set()
    taken: dict[tuple[Thing, int], int] = defaultdict(int)
    for each in order.fits:
        state = states[each.thing]
        key = (each.thing, each.station if each.thing.batch else 0, each.from_place, each.pull_line)
        if key in named:
            raise Refused(f"{state.tag} is named twice.", "Name it once.")
        named.add(key)
        where = _where(state, each)
        taken[each.thing, where.place] += each.quantity
        _refuse_beyond_free(state, where, taken[each.thing, where.place])
        if late:
            refuse_not_there_yet(session, state, where, draft.happened_on, taken[each.thing, where.place])
        within = inside.get(each.thing.piece or 0, ())
        check.judge(state, where, each.quantity, each.station, within)
        for thing, station, quantity in (
            (state, each.station, each.quantity),
            *((inner, station, 1) for inner, station in within),
        ):
            if station in check.stations:
                if thing.thing.piece is not None:
                    pieces[thing.thing.piece].append(check.station(station).name)
                fitted[order.position, station].append(SeatedThing(thing.part, quantity, thing.tag))
        pull_line = each.pull_line
        if where.kind is PlaceKind.PULL and pull_line is None:
            pull_line = _pull_line(session, each, where, state)
        draft.move(
            where.place,
            station_place(session, draft, order.engine, order.position, each.station),
            piece=each.thing.piece,
            batch=each.thing.batch,
            quantity=each.quantity,
            pull_line=pull_line,
            engine=order.engine,
            reading=order.reading,
        )
    check.close()
    draft_matched_by_fit(
        session,
        draft,
        engine.engine_type,
        position.group,
        pieces,
        _pieces_seated(check, seated, order.position, pieces),
    )
    wanted = {seat: check.wanted(check.station(seat[1]).name) for seat in fitted}
    draft_repaid(session, draft, order.engine, seated, fitted, wanted)
    number = post(session, draft).number
    if late:
        after = (draft.happened_on, number)
        refuse_crowded(session, order.engine, {order.position}, after)
        refuse_touched(session, [each.thing.piece for each in order.fits if each.thing.piece], after)
    return number


def _pieces_seated(
    check: FitCheck, seated: Seated, position: int, fitted: Collection[int]
) -> dict[int, list[str]]:
    """The pieces at the stations of a position, less those that are fitted just now, with the stations."""
    found: dict[int, list[str]] = defaultdict(list)
    for (at, station), things in seated.things.items():
        for each in things:
            piece = each.thing.piece if each.thing is not None else None
            if at == position and piece is not None and piece not in fitted and station in check.stations:
                found[piece].append(check.station(station).name)
    return found


def fit_pull(
    session: Session,
    pull: int,
    reading: int | None,
    by: By,
    *,
    use: RunningUse | None = None,
    override: str = "",
    only: Collection[int] | None = None,
    sure: bool = False,
) -> int:
    """Fit what a pull was issued and has not given back, or some of its lines; returns the entry's number.

    Each thing goes to the station of its kit line. What was fitted inside another piece on the bench, such
    as a guide in its barrel, has left the pull already and rides along. Of what is selected on assembly more
    was issued than goes in: Asked which, unless ``only`` names it; with ``sure`` it is left for later.
    """
    head = session.execute(
        select(Pull.number, Pull.engine_id, Pull.position_id, Pull.cancelled).where(Pull.id == pull)
    ).one_or_none()
    if head is None or head.cancelled:
        raise Refused("There is no such pull that stands.", "Look at the pick list again.")
    fits = []
    lines = _issued(session, pull)
    ranges = _ranges(session, head.engine_id, head.position_id, lines, by) if only is None else {}
    if ranges and not sure:
        names = ", ".join(dict.fromkeys(ranges.values()))
        raise Asked(
            "only",
            f"A range was issued to select from: {names}.",
            "Choose which is fitted; or say so, and all but these is fitted.",
        )
    for line in lines:
        if line.id in ranges or (only is not None and line.id not in only):
            continue
        if line.station_id is None:
            raise Refused(
                f"The engine type has no station called {line.station}, which a kit line names.",
                "Add the station, or correct the kit line.",
            )
        fits.append(
            Fit(line.station_id, Thing(line.piece_id, line.batch_id), line.out, line.place_id, line.id)
        )
    if only is not None and len(fits) < len(set(only)):
        raise Refused(f"Some of those lines of pull {head.number} have nothing out.", "Look again.")
    if not fits:
        raise Refused(f"Nothing is out on pull {head.number}.", "Issue it first.")
    order = FitOrder(head.engine_id, head.position_id, tuple(fits), reading, use, override, sure)
    return fit(session, order, by)


def _ranges(
    session: Session, engine: int, position: int, lines: Collection[Issued], by: By
) -> dict[int, str]:
    """The lines of which more is out than their kit line takes, since they are to be selected from, with
    their stations."""
    facts = read_engine(session, engine, by.on or today(session))
    group = read_position(session, facts, position).group
    suiting = read_suiting(session, facts.engine_type, group, facts.state.on)
    out: dict[str, int] = defaultdict(int)
    for line in lines:
        out[line.station] += line.out
    return {
        line.id: line.station
        for line in lines
        if out[line.station] > line.quantity and suiting.selecting(line.station) is not None
    }


def _issued(session: Session, pull: int) -> list[Issued]:
    """The lines of a pull that have something out, each with its kit line's station."""
    return list(
        session.execute(
            select(
                PullLine.id,
                PullLine.piece_id,
                PullLine.batch_id,
                (PullLine.issued - PullLine.returned).label("out"),
                KitLine.station,
                Station.id.label("station_id"),
                Place.id.label("place_id"),
                KitLine.quantity,
            )
            .join(KitLine, KitLine.id == PullLine.kit_line_id)
            .outerjoin(
                Station,
                (Station.engine_type_id == KitLine.engine_type_id)
                & (Station.group_name == KitLine.group_name)
                & (Station.name == KitLine.station),
            )
            .join(Place, Place.pull_id == PullLine.pull_id)
            .where(PullLine.pull_id == pull, PullLine.issued > PullLine.returned)
            .order_by(KitLine.sequence, PullLine.id)
        )
    )


def _inside(
    session: Session, pieces: Collection[int]
) -> dict[int, tuple[tuple[ThingState, int | None], ...]]:
    """What is inside each of these pieces, with the station at which it sits there."""
    found: dict[int, tuple[tuple[ThingState, int | None], ...]] = {}
    for piece in pieces:
        beneath = now_beneath(session.connection(), {piece}) - {piece}
        if not beneath:
            continue
        states = things_by_id(session, [Thing(piece=each) for each in sorted(beneath)])
        stations = dict(
            session.execute(
                select(Piece.id, Place.station_id)
                .join(Place, Place.id == Piece.place_id)
                .where(Piece.id.in_(beneath))
            ).all()
        )
        found[piece] = tuple((state, stations[thing.piece or 0]) for thing, state in states.items())
    return found


def _where(state: ThingState, each: Fit) -> Whereabouts:
    if not state.where:
        raise Refused(f"There is nothing left of {state.tag}.", "Look at its trace.")
    if each.from_place is not None:
        for where in state.where:
            if where.place == each.from_place:
                return where
        raise Refused(
            f"{state.tag} is not there any more; it is in {state.where[0].name}.",
            "Start from where it is now.",
        )
    within_reach = [
        where for where in state.where if where.kind in TAKEN_FROM and where.quantity > where.reserved
    ]
    if len(within_reach) == 1:
        return within_reach[0]
    if len(state.where) > 1:
        names = ", ".join(where.name for where in within_reach or state.where)
        raise FieldRefused("from_place", f"{state.tag} lies in several places: {names}.", "Say from which.")
    return state.where[0]


def _refuse_beyond_free(state: ThingState, where: Whereabouts, wanted: int) -> None:
    if state.thing.piece is not None:
        if wanted > 1:
            raise FieldRefused("quantity", f"{state.tag} is one piece.", "Fit it once.")
        return
    free = where.quantity - where.reserved
    if wanted > free:
        raise FieldRefused(
            "quantity",
            f"Only {quantity_words(free, state.measure)} of {state.tag} in {where.name} are free.",
            "Fit less, or cancel what reserves the rest.",
        )


def _pull_line(session: Session, each: Fit, where: Whereabouts, state: ThingState) -> int:
    """The line of the pull, at whose place a thing lies, that it was issued for and that has so much out."""
    own = PullLine.piece_id if each.thing.piece is not None else PullLine.batch_id
    found = session.scalar(
        select(PullLine.id)
        .join(Place, Place.pull_id == PullLine.pull_id)
        .outerjoin(KitLine, KitLine.id == PullLine.kit_line_id)
        .outerjoin(Station, (Station.name == KitLine.station) & (Station.id == each.station))
        .where(
            Place.id == where.place,
            own == (each.thing.piece or each.thing.batch),
            PullLine.issued - PullLine.returned >= each.quantity,
        )
        .order_by(Station.id.is_(None), PullLine.id)
        .limit(1)
    )
    if found is None:
        raise FieldRefused(
            "quantity",
            f"So much of {state.tag} is not out on one line of pull {where.pull}.",
            "Fit each line's share by itself.",
        )
    return found
