"""Send things out for work, to a firm or to our own bench, and get them back with what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came, refuse_odd_year
from invdb.acts.child_batch import draft_child, read_parent
from invdb.acts.lapped import draft_lapped
from invdb.acts.life_reset import LifeResetOrder, draft_life_reset
from invdb.acts.lying_at_one import lying_at_one
from invdb.acts.matched import draft_reworked
from invdb.acts.move import check_place_admits
from invdb.acts.numbers import Thing, next_number
from invdb.acts.papers import draft_link, refuse_unknown_document
from invdb.acts.reidentify import NewIdentity, draft_identity
from invdb.acts.reworked import REWORKING
from invdb.acts.scrap import (
    ScrapOrder,
    draft_scrapped_share,
    draft_scrapping,
)
from invdb.acts.send_check import ask_of_hazards, refuse_not_to_be_sent
from invdb.acts.set_since import refuse_decided_since
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.records.work import WorkLine, WorkOrder
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.numbering import TAG_LETTERS, NumberKind
from invdb.rules.quantities import quantity_words
from invdb.terms import (
    Condition,
    EntryKind,
    FieldRefused,
    PlaceKind,
    Refused,
    WorkState,
    WorkWanted,
)

_WORK_STATES = {
    WorkWanted.INSPECTION: WorkState.INSPECTED,
    WorkWanted.REPAIR: WorkState.REPAIRED,
    WorkWanted.OVERHAUL: WorkState.OVERHAULED,
    WorkWanted.MACHINING: WorkState.RECONDITIONED,
    WorkWanted.PLATING: WorkState.RECONDITIONED,
    WorkWanted.LAPPING: WorkState.RECONDITIONED,
    WorkWanted.MODIFICATION: WorkState.MODIFIED,
}
_SENT_TO = frozenset({PlaceKind.FIRM, PlaceKind.BENCH})


@dataclass(frozen=True)
class ToSend:
    """A thing to send; of a batch how much, and from where if it lies in several places."""

    thing: Thing
    quantity: int = 1
    from_place: int | None = None


@dataclass(frozen=True)
class WorkSent:
    """What is sent where, what is wanted of it, and by when. ``hazards_seen``: its hazards were read."""

    place: int
    kind: WorkWanted
    wanted: str
    things: tuple[ToSend, ...]
    due_on: date | None = None
    hazards_seen: bool = False


@dataclass(frozen=True)
class WorkOrderMade:
    """An order that stands: its id and its number."""

    order: int
    number: str


@dataclass(frozen=True)
class BackLine:
    """One line of an order come back, or some of it: how, where it goes, and what its report says.

    ``resets`` are the counts of its life that the report says begin anew (its piece is filled in);
    ``identity`` is what it has become, where it is another part, size or finish; ``scrapped`` how it was made
    unusable, where it could not be saved (its thing and its place are filled in).
    """

    work_line: int
    to_place: int
    report: str
    condition: Condition = Condition.UNINSPECTED
    quantity: int = 1
    document: int | None = None
    resets: LifeResetOrder | None = None
    identity: NewIdentity | None = None
    scrapped: ScrapOrder | None = None


@dataclass(frozen=True)
class WorkBack:
    """What of one order has come back."""

    order: int
    lines: tuple[BackLine, ...] = field(default=())


def send_for_work(session: Session, sent: WorkSent, by: By) -> WorkOrderMade:
    """Send things to a firm or to our own bench under a number; all of them or none.

    Refused for what is reserved, fitted, scrapped or out for work already. Asked while the hazards of what is
    sent have not been read, since they go with it.
    """
    draft = begin_draft(session, EntryKind.SENT_FOR_WORK, by)
    place = session.execute(select(Place.name, Place.kind).where(Place.id == sent.place)).one_or_none()
    if place is None or place.kind not in _SENT_TO:
        raise FieldRefused("place", "Work is sent to a firm or to a bench.", "Choose one.")
    if not sent.wanted.strip():
        raise FieldRefused("wanted", "It isn't said what is wanted.", "Type what is to be done.")
    if not sent.things:
        raise Refused("Nothing is named that would be sent.", "Choose pieces or batches.")
    refuse_odd_year("due_on", sent.due_on)
    if sent.due_on is not None and sent.due_on < draft.happened_on:
        raise FieldRefused("due_on", f"{sent.due_on.isoformat()} is before it was sent.", "Check the day.")
    states = things_by_id(session, [each.thing for each in sent.things])
    if len(states) < len(sent.things):
        raise Refused("The same thing is named twice.", "Name it once.")
    ask_of_hazards(session, list(states.values()), sent.hazards_seen)
    number = next_number(session, draft, "work_order", "number", TAG_LETTERS[NumberKind.WORK])
    order = draft.new(
        session,
        "work_order",
        number=number,
        place_id=sent.place,
        kind=sent.kind,
        wanted=sent.wanted,
        sent_on=draft.happened_on,
        sent_by=draft.who,
        due_on=sent.due_on,
    )
    for each in sent.things:
        state = states[each.thing]
        refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
        where = lying_at_one(state, each.from_place)
        refuse_not_to_be_sent(session, state, where, each.quantity)
        draft.new(
            session,
            "work_line",
            work_order_id=order,
            piece_id=each.thing.piece,
            batch_id=each.thing.batch,
            quantity=each.quantity,
        )
        if where.place != sent.place:
            draft.move(
                where.place,
                sent.place,
                piece=each.thing.piece,
                batch=each.thing.batch,
                quantity=each.quantity,
            )
    post(session, draft)
    return WorkOrderMade(order, number)


def back_from_work(session: Session, back: WorkBack, by: By) -> int:
    """Book back what came of an order, all of it or some; returns the entry's number.

    What comes back is uninspected unless its report says what it is; what is serviceable is accepted by an
    act of its own. Its mates are free once it was reworked; what was lapped on one order is a matched set
    from then on, so each valve is sent with its own seat on an order of their own.
    """
    draft = begin_draft(session, EntryKind.BACK_FROM_WORK, by)
    order = session.execute(
        select(WorkOrder.number, WorkOrder.place_id, WorkOrder.kind, WorkOrder.sent_on).where(
            WorkOrder.id == back.order
        )
    ).one_or_none()
    if order is None:
        raise Refused("There is no such work order.", "Look at its number again.")
    if not back.lines:
        raise Refused("Nothing is named that came back.", "Choose the lines.")
    if draft.happened_on < order.sent_on:
        raise FieldRefused(
            "happened_on",
            f"Order {order.number} was sent on {order.sent_on.isoformat()}.",
            "Give a day on or after it.",
        )
    rows = {
        row.id: row
        for row in session.execute(
            select(
                WorkLine.id,
                WorkLine.piece_id,
                WorkLine.batch_id,
                WorkLine.quantity,
                WorkLine.returned,
                WorkLine.scrapped,
                WorkLine.returned_on,
            ).where(WorkLine.work_order_id == back.order)
        )
    }
    if any(line.work_line not in rows for line in back.lines):
        raise Refused(f"Order {order.number} has no such line.", "Look at it again.")
    if len({line.work_line for line in back.lines}) < len(back.lines):
        raise Refused("A line is named twice.", "Name it once.")
    things = [Thing(rows[line.work_line].piece_id, rows[line.work_line].batch_id) for line in back.lines]
    states = things_by_id(session, things)
    for line, thing in zip(back.lines, things, strict=True):
        _draft_line(session, draft, order, rows[line.work_line], line, states[thing])
    pieces = [
        thing.piece
        for line, thing in zip(back.lines, things, strict=True)
        if thing.piece is not None and (order.kind in REWORKING or line.condition is Condition.UNSALVAGEABLE)
    ]
    if pieces:
        draft_reworked(session, draft, pieces, f"{order.kind} on order {order.number}")
    if order.kind is WorkWanted.LAPPING:
        good = [
            thing.piece
            for line, thing in zip(back.lines, things, strict=True)
            if thing.piece is not None
            and line.scrapped is None
            and line.condition is not Condition.UNSALVAGEABLE
        ]
        draft_lapped(session, draft, back.order, order.number, good)
    return post(session, draft).number


def _draft_line(
    session: Session,
    draft: Draft,
    order: Row[str, int, WorkWanted, date],
    row: Row[int, int | None, int | None, int, int, int, date | None],
    line: BackLine,
    state: ThingState,
) -> None:
    where = next((each for each in state.where if each.place == order.place_id), None)
    left = row.quantity - row.returned
    if left <= 0:
        raise Refused(f"None of {state.tag} is out on order {order.number} any more.", "Look at its trace.")
    if where is None:
        names = ", ".join(each.name for each in state.where) or "no place"
        raise Refused(
            f"{state.tag} is not where order {order.number} sent it; it is in {names}.",
            "Move it back there, then book it back.",
        )
    if row.returned_on is not None and draft.happened_on < row.returned_on:
        raise FieldRefused(
            "happened_on",
            f"Some of {state.tag} came back on {row.returned_on.isoformat()} already.",
            "Give a day on or after it.",
        )
    if not 0 < line.quantity <= min(left, where.quantity):
        raise FieldRefused(
            "quantity",
            f"{quantity_words(left, state.measure)} of {state.tag} are out on order {order.number}.",
            "Give that much or less.",
        )
    if not line.report.strip():
        raise FieldRefused("report", "No report is named.", "Type its reference, and what it says was done.")
    refuse_unknown_document(session, line.document)
    if line.scrapped is not None and (line.identity is not None or line.resets is not None):
        raise FieldRefused(
            "scrapped", f"{state.tag} is scrapped, so nothing else comes of it.", "Leave the rest out."
        )
    if line.condition is Condition.SERVICEABLE:
        raise FieldRefused(
            "condition",
            "What comes back from work becomes serviceable by being inspected or accepted.",
            "Book it back uninspected.",
        )
    draft.set(
        "work_line",
        row.id,
        returned=row.returned + line.quantity,
        scrapped=row.scrapped + (line.quantity if line.scrapped is not None else 0),
        returned_on=draft.happened_on,
        condition=Condition.UNSALVAGEABLE if line.scrapped is not None else line.condition,
        report=line.report,
        document_id=line.document,
    )
    if line.scrapped is not None:
        _draft_scrapped(session, draft, where, line, line.scrapped, state)
    elif state.thing.piece is not None:
        _draft_piece(session, draft, order, line, state)
    else:
        _draft_share(session, draft, order, line, state)


def _draft_scrapped(
    session: Session,
    draft: Draft,
    where: Whereabouts,
    line: BackLine,
    scrapped: ScrapOrder,
    state: ThingState,
) -> None:
    quantity = line.quantity if state.thing.batch is not None else None
    order = replace(scrapped, thing=state.thing, to_place=line.to_place, quantity=quantity)
    draft_scrapping(session, draft, state, order)
    gone = state.thing
    if state.thing.piece is None:
        gone = Thing(batch=draft_scrapped_share(session, draft, where.place, order))
    elif where.place != line.to_place:
        draft.move(where.place, line.to_place, piece=state.thing.piece)
    if line.document is not None:
        draft_link(session, draft, line.document, gone)


def _worked(order: Row[str, int, WorkWanted, date], line: BackLine) -> dict[str, object]:
    """What a thing is after work: its state and the report behind it."""
    facts: dict[str, object] = {
        "condition": line.condition,
        "scope": None,
        "accepted_by": None,
        "accepted_on": None,
        "work_reference": line.report,
    }
    if order.kind in _WORK_STATES:
        facts["work_state"] = _WORK_STATES[order.kind]
    return facts


def _draft_piece(
    session: Session,
    draft: Draft,
    order: Row[str, int, WorkWanted, date],
    line: BackLine,
    state: ThingState,
) -> None:
    piece = state.thing.piece
    assert piece is not None
    refuse_decided_since(session, draft, piece, state.tag)
    check_place_admits(session, line.to_place, line.condition, state.papers)
    if order.place_id != line.to_place:
        draft.move(order.place_id, line.to_place, piece=piece)
    draft.set("piece", piece, **_worked(order, line))
    if line.identity is not None:
        draft_identity(session, draft, state, replace(line.identity, piece=piece))
    if line.resets is not None:
        draft_life_reset(session, draft, replace(line.resets, piece=piece, engine=None))
    if line.document is not None:
        draft_link(session, draft, line.document, state.thing)


def _draft_share(
    session: Session,
    draft: Draft,
    order: Row[str, int, WorkWanted, date],
    line: BackLine,
    state: ThingState,
) -> None:
    """What comes back of a batch was worked on, and so is a batch of its own."""
    assert state.thing.batch is not None
    if line.identity is not None or line.resets is not None:
        raise FieldRefused(
            "identity", "Only a single piece becomes another part or has its life reset.", "Leave that out."
        )
    check_place_admits(session, line.to_place, line.condition, state.papers)
    child, _ = draft_child(session, draft, read_parent(session, state.thing.batch), _worked(order, line))
    draft.move(order.place_id, OUTSIDE_PLACE, batch=state.thing.batch, quantity=line.quantity)
    draft.move(OUTSIDE_PLACE, line.to_place, batch=child, quantity=line.quantity)
    if line.document is not None:
        draft_link(session, draft, line.document, Thing(batch=child))
