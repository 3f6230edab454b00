"""Pull a kit: reserve what was proposed, issue it, take back what was not used, or cancel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
    read_engine,
    read_held,
    read_position,
)
from invdb.acts.kit_suits import KitSuits
from invdb.acts.matched_in_kit import parted, throws_of
from invdb.acts.move import check_place_admits
from invdb.acts.numbers import Thing, next_number
from invdb.acts.proposed import KitProposal
from invdb.acts.reserve_check import ReserveCheck, Take
from invdb.acts.things import ThingState, things_by_id
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Piece, Place, Pull, PullLine
from invdb.rules.availability import Offered, bars
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.numbering import TAG_LETTERS, NumberKind
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, FieldRefused, PlaceKind, Refused, ReturnedAs


@dataclass(frozen=True)
class Lack:
    """What a kit line still misses, and what bars the nearest misses, in words."""

    kit_line: int
    quantity: int
    why: str = ""


@dataclass(frozen=True)
class PullOrder:
    """One kit to reserve: what to set aside for each line, and what is missing."""

    engine: int
    position: int
    takes: tuple[Take, ...]
    lacks: tuple[Lack, ...] = ()


@dataclass(frozen=True)
class ReservedPull:
    """A pull that stands: its id and its number."""

    pull: int
    number: str


@dataclass(frozen=True)
class GiveBack:
    """Some of what a pull line was issued, coming back: how, and where to."""

    pull_line: int
    quantity: int
    returned_as: ReturnedAs
    to_place: int
    note: str = ""


def order_of(kit: KitProposal) -> PullOrder:
    """A proposed kit as an order: everything chosen, and every lack with its nearest misses."""
    takes = []
    lacks = []
    for line in kit.lines:
        for choice in line.choices:
            takes.append(Take(line.kit_line, choice.thing, choice.place, choice.quantity, choice.why))
        if line.missing:
            why = "; ".join(f"{miss.tag} {', '.join(miss.bars)}" for miss in line.misses)
            lacks.append(Lack(line.kit_line, line.missing, why))
    return PullOrder(kit.engine.id, kit.position.id, tuple(takes), tuple(lacks))


def reserve(session: Session, orders: tuple[PullOrder, ...], by: By) -> tuple[ReservedPull, ...]:
    """Set kits aside, all of them or none, in one entry; each becomes a pull.

    Everything is judged again: refused, saying who has it, when a thing was reserved by another meanwhile;
    with its bar when it may not be taken any more; and when another pull fills the same kit line by now.
    """
    draft = begin_draft(session, EntryKind.RESERVED, by)
    if not orders or not any(order.takes for order in orders):
        raise Refused("There is nothing to reserve.", "See the near misses, and put one of them right first.")
    if len({(order.engine, order.position) for order in orders}) < len(orders):
        raise Refused("The same position is asked for twice.", "Ask for it once.")
    engines = {order.engine: read_engine(session, order.engine, draft.happened_on) for order in orders}
    for engine in engines.values():
        if engine.holds:
            raise Refused(f"{engine.name} is on hold: {engine.holds[0]}.", "Clear the hold first.")
    catalogue = Catalogue(session, {engine.engine_type for engine in engines.values()})
    held = read_held(session, engines)
    things = {take.thing for order in orders for take in order.takes}
    standing = {each.thing for every in held.values() for each in every}
    states = things_by_id(session, things | standing)
    positions = {
        (order.engine, order.position): read_position(session, engines[order.engine], order.position)
        for order in orders
    }
    groups = [(engines[engine].engine_type, each.group) for (engine, _), each in positions.items()]
    suits = KitSuits(session, groups, states.values(), draft.happened_on)
    free: dict[tuple[Thing, int], int] = {
        (state.thing, where.place): where.quantity - where.reserved
        for state in states.values()
        for where in state.where
    }
    _refuse_parted(session, orders, states)
    made = []
    for order in orders:
        engine = engines[order.engine]
        position = positions[order.engine, order.position]
        held_here = held.get((order.engine, order.position), [])
        check = ReserveCheck(session, catalogue, engine, position, states, free, held_here, suits)
        made.append(_draft_pull(session, draft, order, check))
    post(session, draft)
    return tuple(made)


def _refuse_parted(
    session: Session, orders: tuple[PullOrder, ...], states: Mapping[Thing, ThingState]
) -> None:
    """Refuse orders that take some of a matched set and not all of it into one throw."""
    throws = throws_of(session, {order.position for order in orders})
    bound = {
        take.thing.piece: (order.engine, throws[order.position])
        for order in orders
        for take in order.takes
        if take.thing.piece is not None
    }
    for each in parted(session, bound):
        raise Refused(
            f"{states[Thing(piece=each.piece)].tag} {each.words}.", "Propose the kit again, with both."
        )


def _draft_pull(session: Session, draft: Draft, order: PullOrder, check: ReserveCheck) -> ReservedPull:
    number = next_number(session, draft, "pull", "number", TAG_LETTERS[NumberKind.PULL])
    pull = draft.new(
        session,
        "pull",
        number=number,
        engine_id=order.engine,
        position_id=order.position,
        asked_on=draft.happened_on,
        asked_by=draft.who,
        note=draft.note,
    )
    draft.new(session, "place", kind=PlaceKind.PULL, name=f"Pull {number}", pull_id=pull)
    for take in order.takes:
        line, state, option = check.take(take)
        pull_line = draft.new(
            session,
            "pull_line",
            pull_id=pull,
            kit_line_id=line.id,
            wanted_part_id=line.part,
            part_id=state.part,
            piece_id=take.thing.piece,
            batch_id=take.thing.batch,
            place_id=take.place,
            quantity=take.quantity,
            why=take.why,
            authority=option.authority,
        )
        draft.reserve(
            take.place, pull_line, piece=take.thing.piece, batch=take.thing.batch, quantity=take.quantity
        )
    for lack in order.lacks:
        line = check.line(lack.kit_line)
        draft.new(
            session,
            "pull_line",
            pull_id=pull,
            kit_line_id=line.id,
            wanted_part_id=line.part,
            part_id=line.part,
            quantity=lack.quantity,
            why=lack.why,
        )
    return ReservedPull(pull, number)


def issue(session: Session, pull: int, by: By, only: Mapping[int, int] | None = None) -> int:
    """Hand over what a pull has set aside, or some of it (pull line → quantity); returns the entry's number.

    Refused for what was put on hold or lost its standing since it was reserved, and where the kit line no
    longer holds for the engine or no longer takes that part.
    """
    draft = begin_draft(session, EntryKind.ISSUED, by)
    head, place, lines = _read_pull(session, pull)
    wanted = dict(only) if only is not None else {line.id: line.reserved for line in lines if line.reserved}
    if not wanted:
        raise Refused(f"Pull {head.number} has nothing set aside.", "There is nothing to issue.")
    by_id = {line.id: line for line in lines}
    engine = read_engine(session, head.engine_id, draft.happened_on)
    if engine.holds:
        raise Refused(f"{engine.name} is on hold: {engine.holds[0]}.", "Clear the hold first.")
    states = things_by_id(session, [_thing(line) for line in lines if _has_thing(line)])
    catalogue = Catalogue(session, {engine.engine_type})
    position = read_position(session, engine, head.position_id)
    kit_lines = {line.id: line for line in catalogue.lines_for(engine, position)}
    group = (engine.engine_type, position.group)
    suits = KitSuits(session, [group], states.values(), draft.happened_on)
    together = [
        (kit_lines[line.kit_line_id].station, states[_thing(line)])
        for line in lines
        if _has_thing(line) and line.kit_line_id in kit_lines and line.reserved + line.issued > line.returned
    ]
    for line_id, quantity in wanted.items():
        line = by_id.get(line_id)
        if line is None or not _has_thing(line):
            raise Refused(f"Pull {head.number} has no such line.", "Look at the pick list again.")
        state = states[_thing(line)]
        if not 0 < quantity <= line.reserved:
            raise FieldRefused(
                "quantity",
                f"{quantity_words(line.reserved, state.measure)} of {state.tag} are set aside, not"
                f" {quantity_words(quantity, state.measure)}.",
                "Issue that much or less.",
            )
        where = next(each for each in state.where if line.piece_id is not None or each.place == line.place_id)
        offered = replace(offered_at(state, where), free=quantity, reserved_for=())
        kit_line = kit_lines.get(line.kit_line_id)
        said = _bars_to_issue(catalogue, engine, position, kit_line, line, offered)
        if kit_line is not None:
            said += tuple(bar.words for bar in suits.bars(group, (kit_line.station, state), together))
        if said:
            raise Refused(
                f"{state.tag} can't be issued: {'; '.join(said)}.",
                "Cancel the pull, and propose the kit again.",
            )
        draft.reserve(where.place, line.id, piece=line.piece_id, batch=line.batch_id, quantity=-quantity)
        draft.move(
            where.place, place, piece=line.piece_id, batch=line.batch_id, quantity=quantity, pull_line=line.id
        )
    return post(session, draft).number


def _bars_to_issue(
    catalogue: Catalogue,
    engine: EngineFacts,
    position: PositionFacts,
    kit_line: LineFacts | None,
    line: PullLine,
    offered: Offered,
) -> tuple[str, ...]:
    """What stands against issuing a pull line now, in plain clauses; no kit line where it holds no more."""
    if kit_line is None:
        return (f"its kit line no longer holds for {engine.name}",)
    if line.part_id != kit_line.part:
        options = catalogue.options_for(kit_line.part, engine, position)
        if all(line.part_id != part for option in options for part, _ in option.members):
            return (f"it may no longer stand in for {kit_line.part_number} here",)
    return bars(offered, asking(engine, kit_line.renewed_always))


def give_back(session: Session, pull: int, returns: tuple[GiveBack, ...], by: By) -> int:
    """Take back what was issued and not used; returns the entry's number.

    Untouched goes back as good stock; handled becomes uninspected, and altered unserviceable.
    """
    draft = begin_draft(session, EntryKind.RETURNED, by)
    if not returns:
        raise Refused("Nothing is named that would come back.", "Choose the lines.")
    head, place, lines = _read_pull(session, pull)
    by_id = {line.id: line for line in lines}
    out_by_line = {line.id: line.issued - line.returned for line in lines}
    states = things_by_id(
        session, [_thing(by_id[each.pull_line]) for each in returns if _has_thing(by_id.get(each.pull_line))]
    )
    for each in returns:
        line = by_id.get(each.pull_line)
        if line is None or not _has_thing(line):
            raise Refused(f"Pull {head.number} has no such line.", "Look at the pick list again.")
        thing = _thing(line)
        state = states[thing]
        out = out_by_line[line.id]
        if out <= 0:
            raise Refused(
                f"None of {state.tag} is out on pull {head.number}.",
                "Look at the pick list again.",
            )
        if not 0 < each.quantity <= out:
            raise FieldRefused(
                "quantity",
                f"{quantity_words(out, state.measure)} of {state.tag} are out on pull {head.number}, not"
                f" {quantity_words(each.quantity, state.measure)}.",
                "Return that much or less.",
            )
        out_by_line[line.id] -= each.quantity
        condition = {
            ReturnedAs.UNTOUCHED: state.condition,
            ReturnedAs.HANDLED: Condition.UNINSPECTED,
            ReturnedAs.ALTERED: Condition.UNSERVICEABLE,
        }[each.returned_as]
        check_place_admits(session, each.to_place, condition, state.papers)
        draft.set("pull_line", line.id, returned_as=each.returned_as)
        lost: dict[str, object] = {
            "condition": condition,
            "scope": None,
            "accepted_by": None,
            "accepted_on": None,
        }
        if thing.piece is not None:
            draft.move(place, each.to_place, piece=thing.piece, pull_line=line.id)
            if each.returned_as is not ReturnedAs.UNTOUCHED:
                note = "; ".join(
                    part for part in (state.note, f"came back {each.returned_as}", each.note) if part
                )
                draft.set("piece", thing.piece, note=note, **lost)
            continue
        if each.returned_as is ReturnedAs.UNTOUCHED:
            draft.move(place, each.to_place, batch=thing.batch, quantity=each.quantity, pull_line=line.id)
            continue
        assert thing.batch is not None
        changed = {
            **lost,
            "note": "; ".join(part for part in (f"came back {each.returned_as}", each.note) if part),
        }
        child, _ = draft_child(session, draft, read_parent(session, thing.batch), changed)
        draft.move(place, OUTSIDE_PLACE, batch=thing.batch, quantity=each.quantity, pull_line=line.id)
        draft.move(OUTSIDE_PLACE, each.to_place, batch=child, quantity=each.quantity)
    return post(session, draft).number


def cancel(session: Session, pull: int, reason: str, by: By) -> int:
    """Let go of what a pull has set aside; returns the entry's number. Refused while some is out on it."""
    draft = begin_draft(session, EntryKind.CANCELLED, by)
    if not reason.strip():
        raise FieldRefused("reason", "No reason is given.", "Say why the pull is not wanted.")
    draft.remark(reason)
    head, _, lines = _read_pull(session, pull)
    out = [line for line in lines if line.issued > line.returned]
    if out:
        raise Refused(f"Something issued on pull {head.number} has not come back.", "Return it first.")
    if any(line.fitted for line in lines) and not any(line.reserved for line in lines):
        raise Refused(
            f"What was issued on pull {head.number} is fitted, and nothing is set aside any more.",
            "There is nothing to cancel; strip what was fitted if it should come out.",
        )
    for line in lines:
        if line.reserved:
            where = line.place_id if line.batch_id is not None else session.scalar(
                select(Piece.place_id).where(Piece.id == line.piece_id)
            )  # fmt: skip
            assert where is not None
            draft.reserve(where, line.id, piece=line.piece_id, batch=line.batch_id, quantity=-line.reserved)
    draft.set("pull", pull, cancelled=True)
    return post(session, draft).number


def _thing(line: PullLine) -> Thing:
    return Thing(line.piece_id, line.batch_id)


def _has_thing(line: PullLine | None) -> bool:
    """Whether a line is there and is not short."""
    return line is not None and (line.piece_id is not None or line.batch_id is not None)


def _read_pull(session: Session, pull: int) -> tuple[Row[int, str, int, int, bool], int, list[PullLine]]:
    head = session.execute(
        select(Pull.id, Pull.number, Pull.engine_id, Pull.position_id, Pull.cancelled).where(Pull.id == pull)
    ).one_or_none()
    if head is None:
        raise Refused("There is no such pull.", "Look at the pick list again.")
    if head.cancelled:
        raise Refused(f"Pull {head.number} was cancelled.", "Propose the kit again.")
    place = session.scalar(select(Place.id).where(Place.pull_id == pull))
    assert place is not None
    session.expire_all()
    lines = list(session.scalars(select(PullLine).where(PullLine.pull_id == pull).order_by(PullLine.id)))
    return head, place, lines
