"""Add what stands in for a part, and change or end it, each change dated, signed and kept with its reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.catalogue import NewStandIn, draft_stand_in, stand_in_columns
from invdb.acts.change import refuse_stale
from invdb.acts.held_where import held_where, holds_of
from invdb.acts.kit_facts import Catalogue, read_engine, read_position
from invdb.acts.kit_line_edit import begin_change, check_end
from invdb.acts.mods_embodied import mod_names
from invdb.acts.papers import refuse_unknown_document
from invdb.records.catalogue import StandIn, StandInMember
from invdb.records.draft import Draft
from invdb.records.engines import EngineType
from invdb.records.posting import post
from invdb.records.stock import Pull, PullLine
from invdb.rules import alternates
from invdb.terms import FieldRefused, Refused


def stand_in_as_kept(session: Session, stand_in: int) -> NewStandIn:
    """A stand-in as it stands, to begin a change from; Refused where there is none."""
    row = session.get(StandIn, stand_in, populate_existing=True)
    if row is None:
        raise Refused("There is no such stand-in.", "Look again.")
    members = session.execute(
        select(StandInMember.part_id, StandInMember.quantity_each)
        .where(StandInMember.stand_in_id == stand_in)
        .order_by(StandInMember.id)
    )
    return NewStandIn(
        row.part_id,
        tuple((part, each) for part, each in members),
        row.authority,
        row.both_ways,
        row.superseding,
        row.engine_type_id,
        row.document_id,
        holds_of(row),
    )


def add_stand_in_for(session: Session, new: NewStandIn, by: By) -> int:
    """Record what may stand in for a part; returns its id. The reason is the note.

    Refused when it closes a ring of one-way steps, naming the parts round it, and for what stands already.
    """
    draft = begin_change(session, by)
    refuse_unknown_document(session, new.document)
    _refuse_twice(session, new)
    made = draft_stand_in(session, draft, _trimmed(new))
    post(session, draft)
    return made


def correct_stand_in(session: Session, stand_in: int, seen: int, corrected: NewStandIn, by: By) -> int:
    """Correct a stand-in that was written wrongly, for the past too; returns the entry's number.

    ``seen`` is the entry that had set it when the person looked. Its parts stay as they are. Refused when
    another changed it since, without a reason (the note), when it would close a ring of one-way steps, and
    while an open pull has something that could not stand in any more.
    """
    draft = begin_change(session, by)
    kept = stand_in_as_kept(session, stand_in)
    corrected = _trimmed(corrected)
    if (corrected.part, corrected.members) != (kept.part, kept.members):
        raise FieldRefused("members", "A stand-in keeps its parts.", "End it, and add another.")
    if corrected.document != kept.document:
        refuse_unknown_document(session, corrected.document)
    before = stand_in_columns(session, draft, kept, stand_in)
    after = stand_in_columns(session, draft, corrected, stand_in)
    changed = {name: value for name, value in after.items() if before[name] != value}
    refuse_stale(session, "stand_in", stand_in, seen, changed)
    if not changed:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    _refuse_relied_on(session, stand_in, draft.happened_on, corrected)
    draft.set("stand_in", stand_in, **changed)
    return post(session, draft).number


def end_stand_in(session: Session, stand_in: int, seen: int, until_on: date, by: By) -> int:
    """Say that something stands in no more from a day on; returns the entry's number. The reason is the note.

    Refused for a day that has come while an open pull has something that stands in by it alone: a pull is
    checked again when it is issued.
    """
    draft = begin_change(session, by)
    _draft_end(session, draft, stand_in, seen, until_on)
    return post(session, draft).number


def replace_stand_in(
    session: Session, stand_in: int, seen: int, new: NewStandIn, from_on: date, by: By
) -> int:
    """End a stand-in on a day and begin another in its stead, in one entry; returns the new one's id."""
    draft = begin_change(session, by)
    if new.part != stand_in_as_kept(session, stand_in).part:
        raise FieldRefused("part", "That stands in for another part.", "Add it as another.")
    refuse_unknown_document(session, new.document)
    _draft_end(session, draft, stand_in, seen, from_on)
    new = _trimmed(replace(new, holds=replace(new.holds, from_on=from_on)))
    made = draft_stand_in(session, draft, new)
    post(session, draft)
    return made


def _draft_end(session: Session, draft: Draft, stand_in: int, seen: int, until_on: date) -> None:
    refuse_stale(session, "stand_in", stand_in, seen, {"until_on": until_on})
    kept = stand_in_as_kept(session, stand_in)
    check_end(kept.holds.from_on, kept.holds.until_on, until_on)
    if until_on <= draft.happened_on:
        ended = replace(kept, holds=replace(kept.holds, until_on=until_on))
        _refuse_relied_on(session, stand_in, draft.happened_on, ended)
    draft.set("stand_in", stand_in, until_on=until_on)


def _trimmed(new: NewStandIn) -> NewStandIn:
    holds = new.holds
    return replace(
        new,
        authority=new.authority.strip(),
        holds=replace(
            holds,
            positions=(holds.positions or "").strip() or None,
            serial_from=(holds.serial_from or "").strip() or None,
            serial_to=(holds.serial_to or "").strip() or None,
        ),
    )


def _refuse_twice(session: Session, new: NewStandIn) -> None:
    """Refuse what stands in already on the same terms, without an end."""
    alike = session.scalars(
        select(StandIn.id).where(StandIn.part_id == new.part, StandIn.until_on.is_(None)).order_by(StandIn.id)
    )
    for each in alike:
        kept = stand_in_as_kept(session, each)
        same = (set(kept.members), kept.engine_type, replace(kept.holds, from_on=None))
        if same == (set(new.members), new.engine_type, replace(_trimmed(new).holds, from_on=None)):
            raise FieldRefused(
                "members", f"Stand-in {each} says so already.", "Change that one, or end it first."
            )


def _refuse_relied_on(session: Session, stand_in: int, on: date, after: NewStandIn) -> None:
    """Refuse while an open pull has something that could not stand in any more, on a day, as it would be."""
    lines = session.execute(
        select(
            Pull.number,
            Pull.engine_id,
            Pull.position_id,
            PullLine.wanted_part_id,
            PullLine.part_id,
        )
        .join(PullLine, PullLine.pull_id == Pull.id)
        .where(
            PullLine.part_id != PullLine.wanted_part_id,
            Pull.cancelled.is_(False),
            PullLine.reserved + PullLine.issued > PullLine.returned,
        )
        .order_by(Pull.number)
        .distinct()
    ).all()
    engine_type = session.scalar(select(EngineType.name).where(EngineType.id == after.engine_type))
    would_be = held_where(after.holds, mod_names(session), engine_type)
    for line in lines:
        engine = read_engine(session, line.engine_id, on)
        position = read_position(session, engine, line.position_id)
        graph = Catalogue(session, {engine.engine_type}).graph
        changed = [
            replace(each, effectivity=would_be, both_ways=after.both_ways) if each.id == stand_in else each
            for each in graph
        ]
        before, then = (
            {
                part
                for option in alternates.stand_ins(line.wanted_part_id, steps, engine.state, position.name)
                for part, _ in option.members
            }
            for steps in (graph, changed)
        )
        if line.part_id in before - then:
            raise Refused(
                f"Pull {line.number} has something that stands in by this.",
                "Settle or cancel that pull first.",
            )
