"""Move stock between bins, to the bench, the quarantine, a firm, or the scrap drum."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.builds import Stripping
from invdb.records.posting import post
from invdb.records.stock import Piece, Place
from invdb.rules.quantities import quantity_words
from invdb.terms import Condition, EntryKind, FieldRefused, PlaceKind, Refused

# Stock gets into an engine, a piece or a pull by acts of their own.
MOVABLE_TO = frozenset(
    {
        PlaceKind.BIN,
        PlaceKind.STORES,
        PlaceKind.QUARANTINE,
        PlaceKind.BENCH,
        PlaceKind.FIRM,
        PlaceKind.SCRAP,
        PlaceKind.OUTSIDE,
    }
)
MOVABLE_FROM = MOVABLE_TO - {PlaceKind.OUTSIDE}
STOCK_KEEPING = frozenset({PlaceKind.BIN, PlaceKind.STORES})


@dataclass(frozen=True)
class Shift:
    """One thing to move; for a batch, how much and from where (all that is free, from the only place)."""

    thing: Thing
    quantity: int | None = None
    from_place: int | None = None


def check_place_admits(
    session: Session, place_id: int, condition: Condition, papers: int
) -> Row[str, PlaceKind, bool]:
    """Refuse a place that may not take such stock: bonded bins take accepted stock with papers only."""
    place = session.execute(
        select(Place.name, Place.kind, Place.bonded).where(Place.id == place_id)
    ).one_or_none()
    if place is None:
        raise FieldRefused("to_place", "There is no such place.", "Choose one that stands.")
    if place.kind not in MOVABLE_TO:
        raise FieldRefused("to_place", f"Stock isn't moved into {place.name} by hand.", "Choose a bin.")
    if place.bonded and (condition is not Condition.SERVICEABLE or papers == 0):
        why = "has no papers" if condition is Condition.SERVICEABLE else f"is {condition}"
        raise FieldRefused(
            "to_place",
            f"{place.name} is bonded: it admits only accepted stock with papers, and this {why}.",
            "Choose another bin, or accept it first.",
        )
    if condition is Condition.UNSALVAGEABLE and place.kind in STOCK_KEEPING:
        raise FieldRefused(
            "to_place",
            "What can't be salvaged may not lie among stock.",
            "Choose the quarantine or the scrap drum.",
        )
    return place


def check_within_reach(state: ThingState, where: Whereabouts) -> None:
    """Refuse to take a thing by hand from where only an act of its own takes it, such as a pull."""
    if where.kind not in MOVABLE_FROM:
        ways = {
            PlaceKind.OUTSIDE: "Reverse the entry that took it there.",
            PlaceKind.PULL: "Return it first.",
        }
        raise Refused(
            f"{state.tag} is in {where.name} and isn't moved from there by hand.",
            ways.get(where.kind, "Strip it first."),
        )


def move(session: Session, shifts: tuple[Shift, ...], to_place: int, by: By) -> int:
    """Move things to a place in one entry; returns its number. What is reserved stays within the stores."""
    draft = begin_draft(session, EntryKind.MOVED, by)
    if not shifts:
        raise Refused("Nothing is named that would be moved.", "Choose pieces or batches.")
    states = things_by_id(session, [shift.thing for shift in shifts])
    named: set[tuple[Thing, int | None]] = set()
    for shift in shifts:
        if (shift.thing, shift.from_place) in named:
            raise Refused(f"{states[shift.thing].tag} is named twice.", "Name it once.")
        named.add((shift.thing, shift.from_place))
        state = states[shift.thing]
        place = check_place_admits(session, to_place, state.condition, state.papers)
        where = _from(state, shift, to_place)
        if where.place == to_place:
            raise Refused(f"{state.tag} is in {place.name} already.", "Choose another place.")
        check_within_reach(state, where)
        _refuse_used_up(session, state, where, place.kind)
        if shift.thing.piece is not None:
            if state.reserved_for and place.kind not in STOCK_KEEPING:
                raise Refused(
                    f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel that pull first."
                )
            if state.reserved_for:
                # What is set aside is let go, moved, and set aside again where it now lies.
                line = _pull_line_of(session, shift.thing)
                draft.reserve(where.place, line, piece=shift.thing.piece, quantity=-1)
                draft.move(where.place, to_place, piece=shift.thing.piece)
                draft.reserve(to_place, line, piece=shift.thing.piece)
                draft.set("pull_line", line, place_id=to_place)
                continue
            draft.move(where.place, to_place, piece=shift.thing.piece)
            continue
        free = where.quantity - where.reserved
        quantity = free if shift.quantity is None else shift.quantity
        if quantity <= 0:
            raise FieldRefused(
                "quantity",
                f"None of {state.tag} in {where.name} is free to move.",
                "Look at what reserves it.",
            )
        if quantity > free:
            raise FieldRefused(
                "quantity",
                f"Only {quantity_words(free, state.measure)} of {state.tag} in {where.name} are free.",
                "Move less, or cancel what reserves the rest.",
            )
        draft.move(where.place, to_place, batch=shift.thing.batch, quantity=quantity)
    return post(session, draft).number


def _refuse_used_up(session: Session, state: ThingState, where: Whereabouts, to_kind: PlaceKind) -> None:
    """Refuse to bring back from the scrap drum what was thrown in untagged as it was stripped: the batch that
    it is of may have unused stock on the shelf."""
    if state.thing.batch is None or where.kind is not PlaceKind.SCRAP or to_kind is PlaceKind.OUTSIDE:
        return
    entry = session.scalar(
        select(Stripping.set_by).where(Stripping.batch_id == state.thing.batch).order_by(Stripping.set_by)
    )
    if entry is not None and state.condition is Condition.SERVICEABLE:
        raise Refused(
            f"{state.tag} in {where.name} is used: entry {entry} stripped it and threw it away.",
            f"Reverse entry {entry} if it was not.",
        )


def _pull_line_of(session: Session, thing: Thing) -> int:
    line = session.scalar(select(Piece.reserved_for).where(Piece.id == thing.piece))
    assert line is not None
    return line


def _from(state: ThingState, shift: Shift, to_place: int) -> Whereabouts:
    if not state.where:
        raise Refused(f"There is nothing left of {state.tag}.", "Look at its trace.")
    if shift.from_place is not None:
        for where in state.where:
            if where.place == shift.from_place:
                return where
        raise Refused(
            f"{state.tag} is not there any more; it is in {state.where[0].name}.",
            "Start from where it is now.",
        )
    elsewhere = [where for where in state.where if where.place != to_place]
    if len(elsewhere) > 1:
        names = ", ".join(where.name for where in elsewhere)
        raise FieldRefused("from_place", f"{state.tag} lies in several places: {names}.", "Say from which.")
    return elsewhere[0] if elsewhere else state.where[0]
