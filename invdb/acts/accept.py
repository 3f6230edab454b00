"""Receiving inspection: accept uninspected stock for a scope, or say that it is not serviceable."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, licence_of
from invdb.acts.goods_in import ReceivingChecks
from invdb.acts.move import check_place_admits, check_within_reach
from invdb.acts.numbers import Thing
from invdb.acts.scrap import refuse_scrapped
from invdb.acts.things import ThingState, things_by_id
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.acceptance import Candidate, bars_to_acceptance
from invdb.terms import Condition, EntryKind, FieldRefused, PlaceKind, Refused, Scope

CHECK_WORDS = {
    "right_part": "the right part",
    "papers": "the papers",
    "damage": "damage",
    "hazards": "hazards",
}


@dataclass(frozen=True)
class Acceptance:
    """What is accepted and for which scope; ``override`` is a licensed person's written reason."""

    things: tuple[Thing, ...]
    scope: Scope
    checks: ReceivingChecks = ReceivingChecks()
    to_place: int | None = None
    override: str = ""


def accept(session: Session, acceptance: Acceptance, by: By) -> int:
    """Accept pieces and batches as serviceable for a scope; returns the entry's number.

    Checks given here are recorded; those that stand already count. Refused with every bar named; a lesser
    bar is passed over with a written reason, which the ledger keeps.
    """
    draft = begin_draft(session, EntryKind.ACCEPTED, by)
    if not acceptance.things:
        raise Refused("Nothing is named that would be accepted.", "Choose pieces or batches.")
    licensed = licensed_to(session, draft, acceptance.override)
    states = things_by_id(session, acceptance.things)
    for thing in acceptance.things:
        draft_accepted(session, draft, states[thing], acceptance, licensed)
    return post(session, draft).number


def licensed_to(session: Session, draft: Draft, override: str) -> bool:
    """Whether who acts has a licence number; their reason for passing over a rule is put into the entry.

    FieldRefused when a reason is given by somebody who has none.
    """
    licensed = licence_of(session, draft.who) is not None
    if override.strip():
        if not licensed:
            raise FieldRefused(
                "override", "Only a person with a licence number may override a rule.", "Ask one who has."
            )
        draft.remark(f"Override: {override.strip()}")
    return licensed


def draft_accepted(
    session: Session, draft: Draft, state: ThingState, acceptance: Acceptance, licensed: bool
) -> None:
    """Put into a draft that a thing is accepted, and where it goes; Refused with every bar named."""
    _refuse_bars(state, acceptance, draft.happened_on, licensed)
    facts: dict[str, object] = {
        f"check_{name}": found for name, found in _checks(acceptance.checks).items() if found.strip()
    }
    draft.set(
        *_record(state.thing),
        condition=Condition.SERVICEABLE,
        scope=acceptance.scope,
        accepted_by=draft.who,
        accepted_on=draft.happened_on,
        **facts,
    )
    if acceptance.to_place is not None:
        check_place_admits(session, acceptance.to_place, Condition.SERVICEABLE, state.papers)
        _draft_moves(draft, state, acceptance.to_place)


def _checks(checks: ReceivingChecks) -> dict[str, str]:
    return {name: getattr(checks, name) for name in CHECK_WORDS}


def _record(thing: Thing) -> tuple[str, int]:
    if thing.piece is not None:
        return "piece", thing.piece
    assert thing.batch is not None
    return "batch", thing.batch


def refuse_reserved(state: ThingState) -> None:
    """Refuse a thing that is set aside for a pull."""
    if state.reserved_for:
        raise Refused(
            f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel or change that pull first."
        )


def _draft_moves(draft: Draft, state: ThingState, to_place: int) -> None:
    """All of a thing to one place, from wherever it lies; refused for what is reserved or out on a pull."""
    for where in state.where:
        if where.place != to_place:
            check_within_reach(state, where)
            refuse_reserved(state)
            draft.move(
                where.place,
                to_place,
                piece=state.thing.piece,
                batch=state.thing.batch,
                quantity=where.quantity,
            )


def candidate(state: ThingState, checks: ReceivingChecks) -> Candidate:
    """What the acceptance rule looks at, of a thing and of checks that are given with its acceptance.

    The check of hazards is asked for only of a part that has some.
    """
    given = _checks(checks)
    missing = tuple(
        CHECK_WORDS[name]
        for name, found in state.checks
        if not found and not given[name].strip() and (name != "hazards" or state.hazards)
    )
    return Candidate(
        state.tag,
        state.condition,
        state.scope,
        missing,
        state.papers,
        state.holds,
        state.shelf_expiry_on,
        state.lived,
        state.limits,
        state.life_limited,
        state.doubts,
    )


def _refuse_bars(state: ThingState, acceptance: Acceptance, on: date, licensed: bool) -> None:
    bars = bars_to_acceptance(candidate(state, acceptance.checks), acceptance.scope, on, licensed)
    standing = [bar for bar in bars if not (bar.lesser and acceptance.override.strip())]
    if standing:
        said = "; ".join(bar.words for bar in standing)
        lesser = all(bar.lesser for bar in standing)
        raise Refused(
            f"{state.tag} can't be accepted for {acceptance.scope}: {said}.",
            "A licensed person may override this with a written reason."
            if lesser
            else "Put that right first.",
        )


def set_condition(
    session: Session,
    things: tuple[Thing, ...],
    condition: Condition,
    reason: str,
    by: By,
    to_place: int | None = None,
) -> int:
    """Say that stock is uninspected again, unserviceable or unsalvageable; returns the entry's number.

    Unsalvageable stock goes to quarantine or the scrap drum. Serviceable is said by ``accept`` alone.
    """
    draft = begin_draft(session, EntryKind.CONDITION_SET, by)
    if condition is Condition.SERVICEABLE:
        raise Refused("Stock becomes serviceable by being accepted.", "Accept it for a scope.")
    if not reason.strip():
        raise FieldRefused("reason", "No reason is given.", "Say what was found.")
    draft.remark(reason)
    states = things_by_id(session, things)
    for thing in things:
        if states[thing].condition is condition:
            raise Refused(f"{states[thing].tag} is {condition} already.", "There is nothing to change.")
        if thing.piece is not None:
            refuse_scrapped(session, thing.piece, states[thing].tag)
        draft_condition(session, draft, states[thing], condition, to_place)
    return post(session, draft).number


def draft_condition(
    session: Session, draft: Draft, state: ThingState, condition: Condition, to_place: int | None
) -> None:
    """Put into a draft that a thing is not, or no longer, serviceable, and where it goes.

    Refused for what is reserved, for what can't be salvaged and would lie among stock, and for a bonded bin.
    """
    refuse_reserved(state)
    kind = session.scalar(select(Place.kind).where(Place.id == to_place)) if to_place is not None else None
    here = {where.kind for where in state.where}
    if (
        condition is Condition.UNSALVAGEABLE
        and kind not in {PlaceKind.SCRAP, PlaceKind.QUARANTINE}
        and (to_place is not None or not here <= {PlaceKind.SCRAP, PlaceKind.QUARANTINE})
    ):
        raise FieldRefused(
            "to_place",
            f"{state.tag} can't be salvaged and may not lie among stock.",
            "Send it to the quarantine or the scrap drum.",
        )
    draft.set(*_record(state.thing), condition=condition, scope=None, accepted_by=None, accepted_on=None)
    if to_place is not None:
        check_place_admits(session, to_place, condition, state.papers)
        _draft_moves(draft, state, to_place)
    elif any(where.bonded for where in state.where):
        raise FieldRefused(
            "to_place",
            f"{state.tag} lies in a bonded bin.",
            "Say where it goes, since that bin is for accepted stock.",
        )
