"""Change what stands in kit lists and among stand-ins, each change dated, signed and kept.

What has been in force is not rewritten: a line or a stand-in ends on a day, and another begins. What never
was in force, or was written wrongly, may be corrected in place, which open pulls find out when they are
issued.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.catalogue import Holds, NewKitLine, draft_kit_line
from invdb.acts.change import refuse_stale
from invdb.records.builds import Presumption
from invdb.records.catalogue import KitLine, StandIn
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Pull, PullLine
from invdb.terms import EntryKind, FieldRefused, Refused


def kit_line_as_kept(session: Session, line: int) -> NewKitLine:
    """A kit line as it stands, to begin a change from; Refused where there is none."""
    row = session.get(KitLine, line)
    if row is None:
        raise Refused("There is no such kit line.", "Look again.")
    return NewKitLine(
        row.engine_type_id,
        row.group_name,
        row.sequence,
        row.station,
        row.part_id,
        row.quantity,
        row.renewed_always,
        Holds(
            row.positions,
            row.serial_from,
            row.serial_to,
            row.mod_id,
            row.mod_embodied,
            row.from_on,
            row.until_on,
        ),
        row.note,
    )


def correct_kit_line(session: Session, line: int, seen: int, corrected: NewKitLine, by: By) -> int:
    """Correct a kit line that was written wrongly; returns the entry's number. The reason is the note.

    Refused while an open pull has something for it, when another changed it since, and without a reason.
    """
    draft = _begun(session, by)
    refuse_stale(session, "kit_line", line, seen)
    kept = kit_line_as_kept(session, line)
    if corrected == kept:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    if (corrected.engine_type, corrected.group) != (kept.engine_type, kept.group):
        raise FieldRefused("group", "A kit line stays with its group.", "End it, and add another there.")
    _refuse_in_use(session, line)
    # What is drafted is checked as a new line is; only its facts are taken for the old one.
    trial = begin_draft(session, EntryKind.CATALOGUE, by)
    draft_kit_line(session, trial, corrected)
    (fact,) = [fact for fact in trial.facts if fact.record == "kit_line"]
    draft.set("kit_line", line, **fact.values)
    return post(session, draft).number


def end_kit_line(session: Session, line: int, seen: int, until_on: date, by: By) -> int:
    """Say that a kit line holds no more from a day on; returns the entry's number. The reason is the note."""
    draft = _begun(session, by)
    refuse_stale(session, "kit_line", line, seen)
    _draft_end(session, draft, line, until_on)
    return post(session, draft).number


def replace_kit_line(session: Session, line: int, seen: int, new: NewKitLine, from_on: date, by: By) -> int:
    """End a kit line on a day and begin another in its stead, in one entry; returns the new line's id."""
    draft = _begun(session, by)
    refuse_stale(session, "kit_line", line, seen)
    _draft_end(session, draft, line, from_on)
    made = draft_kit_line(session, draft, replace(new, holds=replace(new.holds, from_on=from_on)))
    post(session, draft)
    return made


def end_stand_in(session: Session, stand_in: int, seen: int, until_on: date, by: By) -> int:
    """Say that something stands in no more from a day on; returns the entry's number. The reason is the
    note.
    """
    draft = _begun(session, by)
    refuse_stale(session, "stand_in", stand_in, seen)
    row = session.execute(select(StandIn.from_on, StandIn.until_on).where(StandIn.id == stand_in)).one()
    _check_end(row.from_on, row.until_on, until_on)
    draft.set("stand_in", stand_in, until_on=until_on)
    return post(session, draft).number


def _begun(session: Session, by: By) -> Draft:
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    if not by.note.strip():
        raise FieldRefused("reason", "It isn't said why this is changed.", "Type the reason.")
    return draft


def _draft_end(session: Session, draft: Draft, line: int, until_on: date) -> None:
    row = session.execute(select(KitLine.from_on, KitLine.until_on).where(KitLine.id == line)).one()
    _check_end(row.from_on, row.until_on, until_on)
    if until_on <= draft.happened_on:
        _refuse_in_use(session, line)
    draft.set("kit_line", line, until_on=until_on)


def _check_end(from_on: date | None, standing: date | None, until_on: date) -> None:
    refuse_odd_year("until_on", until_on)
    if standing is not None:
        raise FieldRefused(
            "until_on", f"It ends on {standing.isoformat()} already.", "There is nothing to end."
        )
    if from_on is not None and until_on <= from_on:
        raise FieldRefused("until_on", f"It began on {from_on.isoformat()}.", "Give a day after that.")


def _refuse_in_use(session: Session, line: int) -> None:
    """Refuse while an open pull, or a station presumed filled, hangs on a kit line."""
    number = session.scalar(
        select(Pull.number)
        .join(PullLine, PullLine.pull_id == Pull.id)
        .where(
            PullLine.kit_line_id == line,
            Pull.cancelled.is_(False),
            PullLine.reserved + PullLine.issued > PullLine.returned,
        )
        .limit(1)
    )
    if number is not None:
        raise Refused(f"Pull {number} has something for this line.", "Settle or cancel that pull first.")
    presumed = session.scalar(
        select(Presumption.id).where(Presumption.kit_line_id == line, Presumption.ended_on.is_(None)).limit(1)
    )
    if presumed is not None:
        raise Refused("A station is presumed to hold what this line asks for.", "Strip that station first.")
