"""The acts of the Stores view: what each is called, its key, when it fits, and the form it begins with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from gui.shown import Hit
from gui.sitting import Sitting
from gui.views.accept_form import accept_form, condition_form
from gui.views.clear_doubt_form import clear_doubt_form
from gui.views.concession_form import concession_form
from gui.views.form_plan import FormPlan
from gui.views.goods_in_offers import read_offered
from gui.views.goods_in_presenter import goods_in_form
from gui.views.hold_form import clear_form, hold_form
from gui.views.identity_form import identity_form
from gui.views.match_form import end_match_form, match_form
from gui.views.move_form import move_form
from gui.views.overhaul_form import overhaul_form
from gui.views.papers_form import papers_form
from gui.views.recall_form import recall_form
from gui.views.scrap_form import scrap_form
from gui.views.split_form import split_form
from gui.views.work_forms import back_form, send_form
from invdb.acts.event_doubts import events_on
from invdb.acts.hold import holds_on
from invdb.acts.matched import matched_with
from invdb.acts.numbers import Thing
from invdb.acts.offers import places_to_put
from invdb.acts.part_size import sizes_of
from invdb.acts.scrap import hazards_of
from invdb.acts.seated_at import seats_at
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.work_list import WorkOrderFacts, work_orders
from invdb.terms import Condition, PlaceKind, Refused


class Act(StrEnum):
    """What is done by a form of this view, by the word of its button."""

    GOODS_IN = "Goods in"
    ACCEPT = "Accept"
    CONDITION = "Condition"
    MOVE = "Move"
    SPLIT = "Split"
    HOLD = "Hold"
    CLEAR = "Clear hold"
    CLEAR_EVENT = "Clear event"
    PAPERS = "Papers"
    CONCESSION = "Concession"
    OVERHAUL = "Overhauled"
    RECALL = "Recall"
    SEND = "Send for work"
    BACK = "Back from work"
    IDENTITY = "Re-identify"
    MATCH = "Match"
    END_MATCH = "End match"
    SCRAP = "Scrap"


KEYS = {
    Act.GOODS_IN: ("Ctrl+N", "Book in pieces or a batch that came"),
    Act.ACCEPT: ("Ctrl+I", "Look at it and accept it for a scope"),
    Act.CONDITION: ("Ctrl+U", "Say that it is unserviceable, unsalvageable, or to be looked at again"),
    Act.MOVE: ("Ctrl+M", "Put it into another place"),
    Act.SPLIT: ("Ctrl+S", "Break the batch down into shares of different conditions"),
    Act.HOLD: ("Ctrl+H", "Raise a doubt on it, or on its part"),
    Act.CLEAR: ("Ctrl+L", "Say what settled the doubt"),
    Act.CLEAR_EVENT: ("Ctrl+Shift+K", "Clear it of an engine event by the inspection named for that"),
    Act.PAPERS: ("Ctrl+P", "Attach documents that stand behind it"),
    Act.CONCESSION: ("Ctrl+Shift+G", "Record what an authority allows of it beyond a limit"),
    Act.OVERHAUL: ("Ctrl+Shift+O", "Begin its count since overhaul anew, for what a report says"),
    Act.RECALL: ("Ctrl+Shift+C", "Find everything of its part or batch, hold it, and write the letter"),
    Act.SEND: ("Ctrl+Shift+S", "Send it to a firm or to our own bench, with what is wanted and by when"),
    Act.BACK: ("Ctrl+Shift+B", "Book back what came of the work, with its report"),
    Act.IDENTITY: ("Ctrl+Shift+D", "Make it another part, size or finish, on an authority"),
    Act.MATCH: ("Ctrl+Shift+A", "Say that pieces go back together from now on"),
    Act.END_MATCH: ("Ctrl+Shift+E", "Say that it need not go with the others any more"),
    Act.SCRAP: ("Ctrl+Shift+X", "Say why it is scrapped, and how it was made unusable"),
}
# Done rarely enough to stand in a menu behind one button.
SELDOM = frozenset(
    {Act.CONCESSION, Act.OVERHAUL, Act.RECALL, Act.IDENTITY, Act.MATCH, Act.END_MATCH, Act.SCRAP}
)
INSPECT_KEY = ("Inspect", "Ctrl+Shift+I", "Fill in its inspection sheet on the Bench")
ENGINE_KEY = ("Show in engine", "Ctrl+E", "Show its engine in the Engines view, where it is stripped")


@dataclass(frozen=True)
class Key:
    """Which row: a piece, or a batch at one place. What the row showed beside that tells it from no other.

    ``fitted`` if it sits in an engine or in a piece, ``engine`` which engine that is; ``tainted`` if an
    engine event is not cleared on it; ``at_work`` if it is out for work.
    """

    thing: Thing
    place: int | None = None
    condition: Condition = field(compare=False, default=Condition.UNINSPECTED)
    held: bool = field(compare=False, default=False)
    tainted: bool = field(compare=False, default=False)
    fitted: bool = field(compare=False, default=False)
    engine: int | None = field(compare=False, default=None)
    at_work: bool = field(compare=False, default=False)


def acts_for(keys: Sequence[Key]) -> list[Act]:
    """The acts that fit these, in the order one does them.

    What is fitted is stripped before it is moved, split or accepted, so that these are not among its acts.
    """
    if not keys:
        return []
    acts: list[Act] = []
    single = keys[0] if len(keys) == 1 else None
    if not any(key.fitted for key in keys):
        if {key.condition for key in keys} <= {Condition.UNINSPECTED, Condition.SERVICEABLE}:
            acts.append(Act.ACCEPT)
        acts += [Act.MOVE, Act.CONDITION]
        if single is not None and single.thing.batch is not None:
            acts.append(Act.SPLIT)
        if all(key.at_work for key in keys):
            acts.append(Act.BACK)
        elif not any(key.at_work for key in keys):
            acts.append(Act.SEND)
    acts.append(Act.HOLD)
    if single is not None and single.held:
        acts.append(Act.CLEAR)
    if any(key.tainted for key in keys):
        acts.append(Act.CLEAR_EVENT)
    acts.append(Act.PAPERS)
    if single is not None and single.thing.piece is not None:
        acts += [Act.CONCESSION, Act.OVERHAUL]
    acts += _seldom(keys, single)
    return acts


def _seldom(keys: Sequence[Key], single: Key | None) -> list[Act]:
    """What is done rarely: identity and scrap only of what lies in our own hands, matches of any pieces."""
    acts = []
    here = single is not None and not single.fitted and not single.at_work
    if here and single is not None and single.thing.piece is not None:
        acts.append(Act.IDENTITY)
    if all(key.thing.piece is not None for key in keys):
        acts.append(Act.MATCH)
        if single is not None:
            acts.append(Act.END_MATCH)
    if single is not None:
        acts.append(Act.RECALL)
    if here:
        acts.append(Act.SCRAP)
    return acts


def plan_of(sitting: Sitting, act: Act, keys: Sequence[Key]) -> FormPlan:
    """The form for an act on these; to be called on a worker. Refused where it cannot be done at all."""
    if act is Act.GOODS_IN:
        return goods_in_form(sitting, read_offered(sitting))
    things = list(dict.fromkeys(key.thing for key in keys))
    with sitting.store.reading() as session:
        states = things_by_id(session, things)
        stock = [states[thing] for thing in things]
        match act:
            case Act.ACCEPT:
                return accept_form(sitting, stock)
            case Act.CONDITION:
                return condition_form(sitting, stock)
            case Act.MOVE:
                return move_form(sitting, [(states[key.thing], key.place) for key in keys])
            case Act.SPLIT:
                return split_form(sitting, stock[0])
            case Act.HOLD:
                return hold_form(sitting, stock)
            case Act.CLEAR:
                holds = holds_on(session, things[0])
                if not holds:
                    raise Refused(f"{stock[0].tag} is not on hold.", "There is nothing to clear.")
                return clear_form(sitting, stock, holds)
            case Act.CLEAR_EVENT:
                return clear_doubt_form(sitting, stock, events_on(session, things))
            case Act.PAPERS:
                return papers_form(sitting, stock)
            case Act.CONCESSION:
                return _concession_form(sitting, session, stock[0])
            case Act.OVERHAUL:
                return overhaul_form(sitting, stock[0])
            case Act.RECALL:
                return recall_of(sitting, stock[0])
            case Act.MATCH:
                return match_form(sitting, stock)
            case _:
                return _work_plan(sitting, session, act, [(states[key.thing], key.place) for key in keys])


def _work_plan(
    sitting: Sitting, session: Any, act: Act, rows: Sequence[tuple[ThingState, int | None]]
) -> FormPlan:
    """The form of an act that sends out, gets back, changes or ends what lies at these places."""
    stock = [state for state, _ in rows]
    first, place = rows[0]
    match act:
        case Act.SEND:
            hazards = {state.part: hazards_of(session, state.part) for state in stock}
            where = places_to_put(session, {PlaceKind.FIRM, PlaceKind.BENCH})
            return send_form(sitting, rows, where, hazards)
        case Act.BACK:
            order = _order_of(session, stock)
            things = {state.thing for state in stock}
            lines = [line.work_line for line in order.lines if line.thing in things and line.out]
            return back_form(sitting, order, lines, places_to_put(session, {PlaceKind.SCRAP}))
        case Act.IDENTITY:
            sizes = tuple(each.size_class for each in sizes_of(session, first.part, sitting.today()))
            return identity_form(sitting, first, sizes)
        case Act.END_MATCH:
            piece = first.thing.piece or 0
            sets = matched_with(session, [piece]).get(piece, ())
            if not sets:
                raise Refused(f"{first.tag} is matched with nothing.", "There is nothing to end.")
            return end_match_form(sitting, first, sets)
        case Act.SCRAP:
            drums = places_to_put(session, {PlaceKind.SCRAP})
            if not drums:
                raise Refused("There is no scrap drum in the store.", "Add a place of that kind first.")
            return scrap_form(sitting, first, place, drums, hazards_of(session, first.part))
    raise AssertionError(f"{act} has no form")


def _order_of(session: Any, stock: Sequence[ThingState]) -> WorkOrderFacts:
    """The one order that all of these are out on; Refused where they are out on several."""
    wanted = {state.thing for state in stock}
    for order in work_orders(session, thing=stock[0].thing):
        if wanted <= {line.thing for line in order.lines if line.out}:
            return order
    if len(stock) == 1:
        raise Refused(f"{stock[0].tag} is not out for work.", "There is nothing to book back.")
    raise Refused("They are not all out on one order.", "Book each order back by itself.")


def _concession_form(sitting: Sitting, session: Any, piece: ThingState) -> FormPlan:
    place = piece.where[0].place
    return concession_form(sitting, piece, seats_at(session, {place}).get(place))


def recall_of(sitting: Sitting, state: ThingState) -> FormPlan:
    """The form to recall, begun with the part of a piece, or with a batch."""
    if state.thing.batch is None:
        return recall_form(sitting, Hit(state.part_number, state.part_name, "part", state.part))
    batch = Hit(state.tag, state.part_name, "batch", state.thing.batch)
    plan = recall_form(sitting)
    fields = tuple(replace(each, start=batch) if each.name == "batch" else each for each in plan.fields)
    return replace(plan, fields=fields)
