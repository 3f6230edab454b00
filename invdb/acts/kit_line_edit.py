"""Add to kit lists and change them, each change dated, signed and kept with its reason.

What has been in force is not rewritten: a line ends on a day, and another begins. What was written wrongly is
corrected in place. A pull that has something for a line is checked against the line again when it is issued;
so a line may end on a day to come while a pull hangs on it, but not on one that has come.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.catalogue import NewKitLine, kit_line_columns
from invdb.acts.change import refuse_stale
from invdb.acts.group_stations import GroupStations
from invdb.acts.held_where import holds_of
from invdb.records.builds import Presumption
from invdb.records.catalogue import KitLine, Part
from invdb.records.draft import Draft
from invdb.records.engines import Engine, Position
from invdb.records.posting import post
from invdb.records.stock import Pull, PullLine
from invdb.rules.quantities import QUANTITY_MAX, quantity_words, read_quantity
from invdb.terms import EntryKind, FieldRefused, Refused


def kit_line_as_kept(session: Session, line: int) -> NewKitLine:
    """A kit line as it stands, to begin a change from; Refused where there is none."""
    row = session.get(KitLine, line, populate_existing=True)
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
        holds_of(row),
        row.note,
    )


def read_asked_for(session: Session, part: int, text: str) -> int:
    """How much of a part a line asks for, as a person typed it: ``2``, ``1.25 m``; in its smallest unit."""
    measure = session.scalar(select(Part.measure).where(Part.id == part))
    if measure is None:
        raise FieldRefused("part", "There is no such part.", "Choose one, or add it first.")
    return read_quantity(text, measure)


def pulls_on_kit_line(session: Session, line: int) -> tuple[str, ...]:
    """The numbers of the open pulls that have something set aside for a line, or out on it."""
    return tuple(
        session.scalars(
            select(Pull.number)
            .join(PullLine, PullLine.pull_id == Pull.id)
            .where(
                PullLine.kit_line_id == line,
                Pull.cancelled.is_(False),
                PullLine.reserved + PullLine.issued > PullLine.returned,
            )
            .distinct()
            .order_by(Pull.number)
        )
    )


def add_to_kit_list(session: Session, line: NewKitLine, by: By) -> int:
    """Add a line to a group's kit list; returns its id. The reason is the note.

    Refused for a group, station or part that is not there, and for what the list has already.
    """
    draft = begin_change(session, by)
    line = _checked(session, line)
    _refuse_twice(session, line, None)
    made = draft.new(session, "kit_line", **kit_line_columns(session, line))
    post(session, draft)
    return made


def correct_kit_line(session: Session, line: int, seen: int, corrected: NewKitLine, by: By) -> int:
    """Correct a kit line that was written wrongly, for the past too; returns the entry's number.

    ``seen`` is the entry that had set the line when the person looked. Refused when another changed it since,
    without a reason (the note), and while an open pull has something for the line or a station is presumed to
    hold what it asks for, unless only its sequence or note is corrected.
    """
    draft = begin_change(session, by)
    kept = kit_line_as_kept(session, line)
    if (corrected.engine_type, corrected.group) != (kept.engine_type, kept.group):
        raise FieldRefused("group", "A kit line stays with its group.", "End it, and add another there.")
    corrected = _checked(session, corrected)
    before, after = kit_line_columns(session, kept), kit_line_columns(session, corrected)
    changed = {name: value for name, value in after.items() if before[name] != value}
    refuse_stale(session, "kit_line", line, seen, changed)
    if not changed:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    if set(changed) - {"sequence", "note"}:
        _refuse_pulled(session, line)
        _refuse_presumed(session, line, None)
        _refuse_twice(session, corrected, line)
    draft.set("kit_line", line, **changed)
    return post(session, draft).number


def end_kit_line(session: Session, line: int, seen: int, until_on: date, by: By) -> int:
    """Say that a kit line holds no more from a day on; returns the entry's number. The reason is the note.

    Refused for a day that has come while an open pull has something for it, or before a station was presumed
    to hold what it asks for; and when another changed it since ``seen``.
    """
    draft = begin_change(session, by)
    _draft_end(session, draft, line, seen, until_on)
    return post(session, draft).number


def replace_kit_line(session: Session, line: int, seen: int, new: NewKitLine, from_on: date, by: By) -> int:
    """End a kit line on a day and begin another in its stead, in one entry; returns the new line's id.

    What was in force until then stays as it was. See ``end_kit_line``.
    """
    draft = begin_change(session, by)
    kept = kit_line_as_kept(session, line)
    if (new.engine_type, new.group) != (kept.engine_type, kept.group):
        raise FieldRefused("group", "Another group's line replaces nothing here.", "Add it there.")
    new = _checked(session, replace(new, holds=replace(new.holds, from_on=from_on)))
    if replace(new, holds=replace(new.holds, from_on=kept.holds.from_on)) == kept:
        raise Refused("The new line is as the old one.", "Change something, or leave it.")
    _draft_end(session, draft, line, seen, from_on)
    made = draft.new(session, "kit_line", **kit_line_columns(session, new))
    post(session, draft)
    return made


def begin_change(session: Session, by: By) -> Draft:
    """The draft of a change to the catalogue; Refused without a reason, which is the note."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    if not by.note.strip():
        raise FieldRefused("reason", "It isn't said why this is changed.", "Type the reason.")
    return draft


def check_end(from_on: date | None, standing: date | None, until_on: date) -> None:
    """Refuse to end what has ended already, or what would end on or before the day on which it began."""
    refuse_odd_year("until_on", until_on)
    if standing is not None:
        raise FieldRefused(
            "until_on", f"It ends on {standing.isoformat()} already.", "There is nothing to end."
        )
    if from_on is not None and until_on <= from_on:
        raise FieldRefused("until_on", f"It began on {from_on.isoformat()}.", "Give a day after that.")


def _draft_end(session: Session, draft: Draft, line: int, seen: int, until_on: date) -> None:
    refuse_stale(session, "kit_line", line, seen, {"until_on": until_on})
    row = session.execute(select(KitLine.from_on, KitLine.until_on).where(KitLine.id == line)).one()
    check_end(row.from_on, row.until_on, until_on)
    if until_on <= draft.happened_on:
        _refuse_pulled(session, line)
    _refuse_presumed(session, line, until_on)
    draft.set("kit_line", line, until_on=until_on)


def _checked(session: Session, line: NewKitLine) -> NewKitLine:
    """The line with its group, station and positions as the engine's drawing names them."""
    names = GroupStations(session, line.engine_type, line.group)
    part = session.execute(select(Part.measure).where(Part.id == line.part)).one_or_none()
    if part is None:
        raise FieldRefused("part", "There is no such part.", "Choose one, or add it first.")
    if line.sequence < 0:
        raise FieldRefused("sequence", f"The sequence {line.sequence} is below zero.", "Give 0 or more.")
    if line.quantity > QUANTITY_MAX[part.measure]:
        said = quantity_words(line.quantity, part.measure)
        raise FieldRefused("quantity", f"{said} is more than any workshop holds.", "Check the number.")
    return replace(
        line,
        group=names.group,
        station=names.station(line.station, "station"),
        holds=replace(
            line.holds,
            positions=names.positions_named(line.holds.positions),
            serial_from=(line.holds.serial_from or "").strip() or None,
            serial_to=(line.holds.serial_to or "").strip() or None,
        ),
        note=line.note.strip(),
    )


def _refuse_twice(session: Session, line: NewKitLine, own: int | None) -> None:
    """Refuse a line by which the same station would ask twice for the same part on the same terms."""
    holds = line.holds
    twice = session.scalar(
        select(KitLine.id).where(
            KitLine.id != (own or 0),
            KitLine.engine_type_id == line.engine_type,
            KitLine.group_name == line.group,
            KitLine.station == line.station,
            KitLine.part_id == line.part,
            KitLine.positions.is_not_distinct_from(holds.positions),
            KitLine.serial_from.is_not_distinct_from(holds.serial_from),
            KitLine.serial_to.is_not_distinct_from(holds.serial_to),
            KitLine.mod_id.is_not_distinct_from(holds.mod),
            KitLine.mod_embodied.is_not_distinct_from(holds.mod_embodied),
            KitLine.until_on.is_(None),
        )
    )
    if twice is not None and holds.until_on is None:
        raise FieldRefused(
            "part", f"Kit line {twice} asks for that there already.", "Change that line, or end it first."
        )


def _refuse_pulled(session: Session, line: int) -> None:
    """Refuse while an open pull has something for a line."""
    numbers = pulls_on_kit_line(session, line)
    if numbers:
        raise Refused(f"Pull {numbers[0]} has something for this line.", "Settle or cancel that pull first.")


def _refuse_presumed(session: Session, line: int, until_on: date | None) -> None:
    """Refuse while a station is presumed to hold what a line asks for: at all, or from ``until_on`` on.

    What was presumed before the line ends was presumed by a line that held then.
    """
    query = (
        select(Engine.name, Position.name.label("position"), KitLine.station, Presumption.presumed_on)
        .join(Engine, Engine.id == Presumption.engine_id)
        .join(Position, Position.id == Presumption.position_id)
        .join(KitLine, KitLine.id == Presumption.kit_line_id)
        .where(Presumption.kit_line_id == line, Presumption.ended_on.is_(None))
    )
    if until_on is not None:
        query = query.where(Presumption.presumed_on >= until_on)
    row = session.execute(query.order_by(Presumption.id).limit(1)).one_or_none()
    if row is not None:
        raise Refused(
            f"The {row.station} of {row.name}, {row.position}, is presumed since"
            f" {row.presumed_on.isoformat()} to hold what this line asks for.",
            "Identify what is there first."
            if until_on is None
            else "Give a later day, or identify what is there first.",
        )
