"""What the catalogue says: families, parts and their numbers, kit lists, stand-ins, mods."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import next_number
from invdb.records.catalogue import Family, Mod, OtherNumber, Part, StandIn, StandInMember
from invdb.records.draft import Draft
from invdb.records.engines import Position
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.rules import alternates, numbering
from invdb.rules.effectivity import Effectivity
from invdb.terms import EntryKind, FieldRefused, Hazard, Measure, Refused, Tracking


@dataclass(frozen=True)
class NewOtherNumber:
    """A maker's, dealer's or drawing number, and the firm whose number it is."""

    number: str
    kind: str = "maker's"
    firm: int | None = None


@dataclass(frozen=True)
class NewPart:
    """A part to add. Without a house number the next one of its family is given.

    ``life_limit_hours`` is in hundredths of an hour since new. ``size_class`` and ``finish`` are what its
    pieces are unless they say otherwise; '' for standard.
    """

    family: int
    name: str
    tracking: Tracking
    measure: Measure = Measure.COUNT
    house_number: str | None = None
    life_limited: bool = False
    critical: bool = False
    life_limit_hours: int | None = None
    shelf_life_months: int | None = None
    size_class: str = ""
    finish: str = ""
    other_numbers: tuple[NewOtherNumber, ...] = ()
    hazards: tuple[tuple[Hazard, str], ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Holds:
    """For which engines something holds; None means no such limit.

    ``positions`` is a comma-separated list of position names; both serials are inclusive; ``mod`` is a mod's
    id, and goes with whether it must be embodied or must not. ``until_on`` is the first day it holds no more.
    """

    positions: str | None = None
    serial_from: str | None = None
    serial_to: str | None = None
    mod: int | None = None
    mod_embodied: bool | None = None
    from_on: date | None = None
    until_on: date | None = None

    def columns(self) -> dict[str, object]:
        """The same as the table's columns."""
        return {
            "positions": self.positions,
            "serial_from": self.serial_from,
            "serial_to": self.serial_to,
            "mod_id": self.mod,
            "mod_embodied": self.mod_embodied,
            "from_on": self.from_on,
            "until_on": self.until_on,
        }


@dataclass(frozen=True)
class NewKitLine:
    """A line of a group's kit list; ``quantity`` in the part's smallest unit."""

    engine_type: int
    group: str
    sequence: int
    station: str
    part: int
    quantity: int
    renewed_always: bool = False
    holds: Holds = Holds()
    note: str = ""


@dataclass(frozen=True)
class NewStandIn:
    """What may stand in for a part: (part, how many for one), with its authority."""

    part: int
    members: tuple[tuple[int, int], ...]
    authority: str
    both_ways: bool = False
    superseding: bool = False
    engine_type: int | None = None
    document: int | None = None
    holds: Holds = Holds()


def add_family(session: Session, letters: str, name: str, by: By) -> int:
    """Add a family of parts; returns its id. Its letters begin its house numbers."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    family = draft_family(session, draft, letters, name)
    post(session, draft)
    return family


def draft_family(session: Session, draft: Draft, letters: str, name: str) -> int:
    """Put a family into a draft; see ``add_family``."""
    letters = letters.strip().upper()
    if not (2 <= len(letters) <= 4 and letters.isascii() and letters.isalpha()):
        raise FieldRefused(
            "letters", f"{letters!r} can't begin a house number.", "Use two to four letters A–Z."
        )
    if not name.strip():
        raise FieldRefused("name", "The family has no name.", "Type what kind of part it is.")
    if session.scalar(select(Family.id).where(Family.letters == letters)) is not None:
        raise FieldRefused("letters", f"The letters {letters} are taken.", "Choose others.")
    return draft.new(session, "family", letters=letters, name=name)


def add_part(session: Session, part: NewPart, by: By) -> int:
    """Add a part to the catalogue; returns its id."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    part_id = draft_part(session, draft, part)
    post(session, draft)
    return part_id


def draft_part(session: Session, draft: Draft, part: NewPart) -> int:
    """Put a part, its numbers and its hazards into a draft; see ``add_part``."""
    if not part.name.strip():
        raise FieldRefused("name", "The part has no name.", "Type what it is called in the trade.")
    if part.tracking is Tracking.BATCH and (part.life_limited or part.critical):
        raise FieldRefused(
            "tracking", "A life-limited or critical part is always held as single pieces.", "Choose pieces."
        )
    if part.tracking is Tracking.PIECE and part.measure is not Measure.COUNT:
        raise FieldRefused("measure", "Single pieces are counted, not measured.", "Choose batches for it.")
    if part.life_limit_hours is not None and part.life_limit_hours <= 0:
        raise FieldRefused("life_limit_hours", "A life limit must be above zero.", "Leave it empty for none.")
    letters = session.scalar(select(Family.letters).where(Family.id == part.family))
    if letters is None:
        raise FieldRefused("family", "There is no such family.", "Choose one, or add it first.")
    house_number = _house_number(session, draft, part, letters)
    part_id = draft.new(
        session,
        "part",
        house_number=house_number,
        family_id=part.family,
        name=part.name,
        note=part.note,
        tracking=part.tracking,
        measure=part.measure,
        life_limited=part.life_limited or part.life_limit_hours is not None,
        critical=part.critical,
        life_limit_hours=part.life_limit_hours,
        shelf_life_months=part.shelf_life_months,
        size_class=part.size_class.strip(),
        finish=part.finish.strip(),
    )
    for other in part.other_numbers:
        draft_other_number(session, draft, part_id, other)
    hazards = [hazard for hazard, _ in part.hazards]
    for hazard, caution in part.hazards:
        if hazards.count(hazard) > 1:
            raise FieldRefused("hazards", f"The hazard {hazard} is given twice.", "Give it once.")
        draft.new(session, "part_hazard", part_id=part_id, hazard=hazard, caution=caution)
    return part_id


def _house_number(session: Session, draft: Draft, part: NewPart, letters: str) -> str:
    if part.house_number is not None:
        given = numbering.right_number(part.house_number)
        if numbering.read_number(given).prefix != letters:
            raise FieldRefused(
                "house_number",
                f"{given} is no number of the family {letters}.",
                "Choose its family, or leave it empty.",
            )
        if session.scalar(select(Part.id).where(Part.house_number == given)) is not None:
            raise FieldRefused(
                "house_number", f"The house number {given} is taken.", "Leave it empty for the next."
            )
        return given
    return next_number(session, draft, "part", "house_number", letters)


def add_other_number(session: Session, part: int, other: NewOtherNumber, by: By) -> int:
    """Add a number by which others know a part; returns its id."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    number = draft_other_number(session, draft, part, other)
    post(session, draft)
    return number


def draft_other_number(session: Session, draft: Draft, part: int, other: NewOtherNumber) -> int:
    """Put another number of a part into a draft."""
    if not other.number.strip():
        raise FieldRefused(
            "number", "The number is empty.", "Type it as it stands on the part or its papers."
        )
    kept = one_line(other.number)
    standing = [
        *(
            (row.number, row.firm_id)
            for row in session.execute(
                select(OtherNumber.number, OtherNumber.firm_id).where(
                    OtherNumber.part_id == part, OtherNumber.withdrawn_on.is_(None)
                )
            )
        ),
        *(
            (str(fact.values["number"]), fact.values["firm_id"])
            for fact in draft.facts
            if fact.record == "other_number" and fact.values.get("part_id") == part
        ),
    ]
    if any((number.casefold(), firm) == (kept.casefold(), other.firm) for number, firm in standing):
        raise FieldRefused("number", f"The part has the number {kept} already.", "Give it once.")
    return draft.new(
        session, "other_number", part_id=part, number=other.number, kind=other.kind, firm_id=other.firm
    )


def draft_kit_line(session: Session, draft: Draft, line: NewKitLine) -> int:
    """Put a kit line into a draft."""
    return draft.new(session, "kit_line", **kit_line_columns(session, line))


def kit_line_columns(session: Session, line: NewKitLine) -> dict[str, object]:
    """A kit line as the table's columns; Refused for one that asks for nothing, or could hold nowhere."""
    if line.quantity <= 0:
        raise FieldRefused(
            "quantity", f"A kit line of {line.quantity} asks for nothing.", "Give more than zero."
        )
    _check_holds(session, line.holds, line.engine_type)
    return {
        "engine_type_id": line.engine_type,
        "group_name": line.group,
        "sequence": line.sequence,
        "station": line.station,
        "part_id": line.part,
        "quantity": line.quantity,
        "renewed_always": line.renewed_always,
        "note": line.note,
        **line.holds.columns(),
    }


def add_kit_line(session: Session, line: NewKitLine, by: By) -> int:
    """Add a line to a group's kit list; returns its id."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    line_id = draft_kit_line(session, draft, line)
    post(session, draft)
    return line_id


def add_stand_in(session: Session, stand_in: NewStandIn, by: By) -> int:
    """Record what may stand in for a part; returns its id. Refused when it closes a one-way ring."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    stand_in_id = draft_stand_in(session, draft, stand_in)
    post(session, draft)
    return stand_in_id


def draft_stand_in(session: Session, draft: Draft, stand_in: NewStandIn) -> int:
    """Put a stand-in into a draft; see ``add_stand_in``."""
    stand_in_id = draft.new(session, "stand_in", **stand_in_columns(session, draft, stand_in))
    for part, quantity_each in stand_in.members:
        draft.new(
            session, "stand_in_member", stand_in_id=stand_in_id, part_id=part, quantity_each=quantity_each
        )
    return stand_in_id


def stand_in_columns(
    session: Session, draft: Draft, stand_in: NewStandIn, own: int | None = None
) -> dict[str, object]:
    """A stand-in as the table's columns, less its members; see ``add_stand_in`` for what is refused.

    ``own`` is the one that is put in its place, if it stands already.
    """
    if not stand_in.members:
        raise FieldRefused("members", "Nothing is named that would stand in.", "Name at least one part.")
    _check_members(session, stand_in)
    if not stand_in.authority.strip():
        raise FieldRefused("authority", "No authority is given.", "Name the document that allows it.")
    _check_holds(session, stand_in.holds, stand_in.engine_type)
    if not stand_in.both_ways:
        _refuse_ring(session, draft, stand_in, own)
    return {
        "part_id": stand_in.part,
        "both_ways": stand_in.both_ways,
        "superseding": stand_in.superseding,
        "authority": stand_in.authority,
        "engine_type_id": stand_in.engine_type,
        "document_id": stand_in.document,
        **stand_in.holds.columns(),
    }


def _check_holds(session: Session, holds: Holds, engine_type: int | None) -> None:
    """Refuse bounds under which something would hold nowhere, or not where it was meant to.

    Of an ``engine_type``, or of any where it is None.
    """
    # An empty range of serials or of days is refused where it is made.
    Effectivity(
        serial_from=holds.serial_from or None,
        serial_to=holds.serial_to or None,
        date_from=holds.from_on,
        date_until=holds.until_on,
    )
    if (holds.mod is None) != (holds.mod_embodied is None):
        raise FieldRefused(
            "mod", "A mod and whether it is embodied go together.", "Give both of them, or neither."
        )
    mod = session.execute(select(Mod.engine_type_id, Mod.code).where(Mod.id == holds.mod)).one_or_none()
    if mod is not None and engine_type not in {None, mod.engine_type_id}:
        raise FieldRefused("mod", f"Mod {mod.code} is of another engine type.", "Choose a mod of this type.")
    if holds.positions is None:
        return
    names = [name.strip() for name in holds.positions.split(",") if name.strip()]
    if not names:
        raise FieldRefused(
            "positions", "It would hold for no position.", "Name at least one, or leave it empty for all."
        )
    positions = select(Position.name)
    if engine_type is not None:
        positions = positions.where(Position.engine_type_id == engine_type)
    known = set(session.scalars(positions))
    strange = [name for name in names if name not in known]
    if strange:
        raise FieldRefused(
            "positions", f"There is no position {strange[0]}.", "Name them as the engine's drawing does."
        )


def _check_members(session: Session, stand_in: NewStandIn) -> None:
    """Refuse what no kit could be filled with, by the house numbers of the parts concerned."""
    parts = {stand_in.part, *(part for part, _ in stand_in.members)}
    rows = session.execute(select(Part.id, Part.house_number, Part.measure).where(Part.id.in_(parts))).all()
    number = {row.id: row.house_number for row in rows}
    measure = {row.id: row.measure for row in rows}
    if len(rows) < len(parts):
        raise FieldRefused("members", "One of these parts is not in the catalogue.", "Find it again.")
    # Too many, too much of one, a part for itself, or a set both ways is refused where a stand-in is made.
    members = tuple((number[part], each) for part, each in stand_in.members)
    alternates.StandIn(0, number[stand_in.part], members, stand_in.both_ways)
    for part, _ in stand_in.members:
        if measure[part] is not measure[stand_in.part]:
            raise FieldRefused(
                "members",
                f"{number[part]} is held by {measure[part]} and {number[stand_in.part]} by"
                f" {measure[stand_in.part]}.",
                "Only what is measured alike can stand in.",
            )


def _refuse_ring(session: Session, draft: Draft, stand_in: NewStandIn, own: int | None) -> None:
    """Refuse to close a ring of one-way steps; one that never holds on the same day is no part of it."""
    holds = stand_in.holds
    steps = session.execute(
        select(StandIn.id, StandIn.part_id, StandInMember.part_id)
        .join(StandInMember, StandInMember.stand_in_id == StandIn.id)
        .where(
            StandIn.both_ways.is_(False),
            StandIn.id != (own or 0),
            or_(StandIn.until_on.is_(None), StandIn.until_on > (holds.from_on or date.min)),
            or_(StandIn.from_on.is_(None), StandIn.from_on < (holds.until_on or date.max)),
        )
    )
    drafted = {
        fact.record_id: fact.values["part_id"]
        for fact in draft.facts
        if fact.record == "stand_in"
        and ("stand_in", fact.record_id) in draft.new_records
        and not fact.values["both_ways"]
    }
    graph = [alternates.StandIn(step_id, part, ((member, 1),)) for step_id, part, member in steps]
    for fact in draft.facts:
        if fact.record == "stand_in_member" and fact.values["stand_in_id"] in drafted:
            stand_in_id = int(fact.values["stand_in_id"] or 0)
            part, member = cast(int, drafted[stand_in_id]), cast(int, fact.values["part_id"])
            graph.append(alternates.StandIn(stand_in_id, part, ((member, 1),)))
    ring = alternates.find_cycle(graph, alternates.StandIn(0, stand_in.part, stand_in.members))
    if ring:
        names = dict(session.execute(select(Part.id, Part.house_number).where(Part.id.in_(ring))).all())
        shown = " → ".join(names.get(cast(int, part), str(part)) for part in ring)
        raise Refused(
            f"That closes a ring of one-way steps: {shown}.",
            "Record one of them as good both ways, end one before this begins, or leave it.",
        )


def draft_mod(session: Session, draft: Draft, engine_type: int, code: str, name: str, note: str = "") -> int:
    """Put a mod of an engine type into a draft."""
    if not code.strip():
        raise FieldRefused("code", "The mod has no code.", "Type it as the maker's leaflet gives it.")
    return draft.new(session, "mod", engine_type_id=engine_type, code=code, name=name, note=note)
