"""Who changed what the catalogue says of a part, when, and from what to what, by the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, Said, facts_of
from invdb.records.catalogue import (
    Family,
    KitLine,
    Mod,
    OtherNumber,
    Part,
    PartHazard,
    PartSize,
    StandIn,
    StandInMember,
)
from invdb.records.chunks import chunks
from invdb.records.documents import Document, DocumentLink
from invdb.records.engines import EngineType
from invdb.records.ledger import Entry, EntryFact
from invdb.records.life import LifeLimit
from invdb.records.people import Firm, Person
from invdb.records.specs import FitLimit, Spec
from invdb.rules.catalogue_words import RecordChange, fields_changed, record_words
from invdb.rules.folding import Plain
from invdb.terms import Measure

CHANGES_MAX = 200
_NAMED_BY = {
    "part_id": (Part.id, Part.house_number),
    "outer_part_id": (Part.id, Part.house_number),
    "inner_part_id": (Part.id, Part.house_number),
    "engine_type_id": (EngineType.id, EngineType.name),
    "mod_id": (Mod.id, Mod.code),
    "document_id": (Document.id, Document.reference),
    "family_id": (Family.id, Family.name),
    "firm_id": (Firm.id, Firm.name),
}
Names = dict[tuple[str, int], str]


@dataclass(frozen=True)
class PartChange:
    """That somebody changed what the catalogue says of the part, and what: dated, signed and kept.

    ``happened_on`` is the day from which it is so, ``recorded_at`` the instant (UTC) at which it was
    entered; ``note`` the reason that was given.
    """

    entry: int
    happened_on: date
    recorded_at: datetime
    who: str
    note: str
    records: tuple[RecordChange, ...]

    @property
    def what(self) -> tuple[str, ...]:
        """``kit line Linnet cylinder, exhaust springs: quantity 2 off → 3 off``, each record in a clause."""
        return tuple(record.words for record in self.records)


def part_changes(session: Session, part: int) -> tuple[PartChange, ...]:
    """Every entry that set the part, its numbers, hazards, sizes, limits, specifications, fits, kit lines,
    stand-ins or papers and counts still; the last to be entered first, at most ``CHANGES_MAX``.
    """
    facts = {
        record: facts_of(session, record, ids, NOW)
        for record, ids in _records_of(session, part).items()
        if ids
    }
    names = column_names(
        session,
        ((column, value) for said in _every(facts) for column, value in said[2].items()),
    )
    names |= _members(session, facts.get("stand_in", {}))
    measures = _measures(session, facts.get("kit_line", {}))
    changes: dict[int, list[RecordChange]] = defaultdict(list)
    for record, by_id in facts.items():
        for record_id, said in by_id.items():
            own = {**names, ("members", record_id): names.get(("members", record_id), "")}
            before: dict[str, Plain] | None = None
            for _, number, values in said:
                now = {**(before or {}), **values}
                measure = measures.get(_as_id(now.get("part_id")), Measure.COUNT)
                fields = fields_changed(record, before, values, own, measure)
                if before is None or fields:
                    what = record_words(record, {**now, "members": record_id}, own)
                    changes[number].append(RecordChange(what, before is None, fields))
                before = now
    return _signed(session, changes)


def column_names(session: Session, values: Iterable[tuple[str, object]]) -> Names:
    """What the ids in some columns of the catalogue point at is called, by column and id."""
    wanted: dict[str, set[int]] = defaultdict(set)
    for column, value in values:
        if column in _NAMED_BY and isinstance(value, int):
            wanted[column].add(value)
    found: Names = {}
    for column, ids in wanted.items():
        key, name = _NAMED_BY[column]
        for some in chunks(ids):
            for found_id, called in session.execute(select(key, name).where(key.in_(some))):
                found[column, found_id] = called
    return found


def _as_id(value: Plain) -> int:
    return value if isinstance(value, int) else 0


def _every(facts: dict[str, dict[int, list[Said]]]) -> Iterable[Said]:
    for by_id in facts.values():
        for said in by_id.values():
            yield from said


def _records_of(session: Session, part: int) -> dict[str, set[int]]:
    """The records that say something of a part, by kind."""
    own: dict[str, Select[Any]] = {
        "other_number": select(OtherNumber.id).where(OtherNumber.part_id == part),
        "part_hazard": select(PartHazard.id).where(PartHazard.part_id == part),
        "part_size": select(PartSize.id).where(PartSize.part_id == part),
        "life_limit": select(LifeLimit.id).where(LifeLimit.part_id == part),
        "spec": select(Spec.id).where(Spec.part_id == part),
        "kit_line": select(KitLine.id).where(KitLine.part_id == part),
        "stand_in": select(StandIn.id).where(
            or_(
                StandIn.part_id == part,
                StandIn.id.in_(select(StandInMember.stand_in_id).where(StandInMember.part_id == part)),
            )
        ),
        "fit_limit": select(FitLimit.id).where(
            or_(FitLimit.outer_part_id == part, FitLimit.inner_part_id == part)
        ),
        "document_link": select(DocumentLink.id).where(DocumentLink.part_id == part),
    }
    found = {"part": {part}} | {record: set(session.scalars(query)) for record, query in own.items()}
    # A kit line that was corrected to another part once asked for this one.
    once = select(EntryFact.record_id).where(
        EntryFact.record == "kit_line",
        or_(EntryFact.values.like(f'%"part_id":{part},%'), EntryFact.values.like(f'%"part_id":{part}}}%')),
    )
    found["kit_line"] |= set(session.scalars(once))
    return found


def _members(session: Session, stand_ins: dict[int, list[Said]]) -> Names:
    """What stands in, of each stand-in: ``VX0412-K + 2 × GK0003-1``."""
    said: dict[int, list[str]] = defaultdict(list)
    for some in chunks(stand_ins):
        rows = session.execute(
            select(StandInMember.stand_in_id, StandInMember.quantity_each, Part.house_number)
            .join(Part, Part.id == StandInMember.part_id)
            .where(StandInMember.stand_in_id.in_(some))
            .order_by(StandInMember.id)
        )
        for stand_in, each, number in rows:
            said[stand_in].append(f"{each} × {number}" if each > 1 else number)
    return {("members", stand_in): " + ".join(words) for stand_in, words in said.items()}


def _measures(session: Session, kit_lines: dict[int, list[Said]]) -> dict[int, Measure]:
    parts = {_as_id(values.get("part_id")) for said in kit_lines.values() for _, _, values in said}
    return dict(session.execute(select(Part.id, Part.measure).where(Part.id.in_(parts))).all())


def _signed(session: Session, changes: dict[int, list[RecordChange]]) -> tuple[PartChange, ...]:
    """The changes with who made them and when, the last to be entered first."""
    latest = sorted(changes, reverse=True)[:CHANGES_MAX]
    rows = session.execute(
        select(Entry.number, Entry.happened_on, Entry.recorded_at, Person.name, Entry.note)
        .join(Person, Person.id == Entry.who)
        .where(Entry.number.in_(latest))
        .order_by(Entry.number.desc())
    )
    return tuple(PartChange(*row, tuple(changes[row.number])) for row in rows)
