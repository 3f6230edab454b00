"""Every entry of the ledger that concerns one piece or batch, also what was reversed, each in a sentence."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import ColumnElement, func, literal, or_, select, union_all
from sqlalchemy.orm import Session, aliased

from invdb.acts.named import facts_of
from invdb.acts.numbers import Thing
from invdb.acts.told import read_told
from invdb.records.documents import DocumentLink
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.people import Person
from invdb.records.registry import TABLES
from invdb.records.stock import Batch, Hold, Piece
from invdb.rules.folding import RecordKey
from invdb.rules.history import TraceEntry
from invdb.rules.numbering import TAG_LETTERS, NumberKind, Verdict, read_number
from invdb.rules.telling import tell
from invdb.rules.told import stopped
from invdb.terms import Refused

# A batch is split, and what was split off is split again, no oftener than this; what went before is refused
# rather than left out of a story that seems whole.
ANCESTORS_MAX = 200
# What is said of a piece or a batch in a record of its own, beside its holds.
_ON_THINGS = (
    "document_link",
    "inspection",
    "stripping",
    "life_reset",
    "event_taint",
    "event_clearance",
    "compliance",
    "concession",
)


def entries_about(session: Session, thing: Thing, part: int, received_on: date) -> tuple[TraceEntry, ...]:
    """Every entry that concerns the thing, in the ledger's order of what happened, reversals among them.

    A batch that was split off begins with what happened to the batches before it, each under its own tag.
    """
    about: RecordKey = ("piece", thing.piece) if thing.piece is not None else ("batch", thing.batch or 0)
    holds = list(session.scalars(select(Hold.id).where(of_thing(Hold, thing) | on_part(part, received_on))))
    records = {**_records_on(session, about), "hold": holds}
    numbers = _numbers_of(session, {about[0]: [about[1]], **records})
    gone = _reversed_about(session, about, part)
    numbers |= {number for number, _ in gone}
    concerns = dict.fromkeys(numbers, about)
    earlier = _before(session, thing.batch) if thing.batch is not None else {}
    concerns |= {number: of for number, of in earlier.items() if number not in concerns}
    for reversal, of in session.execute(
        select(Entry.number, Entry.reverses).where(Entry.reverses.in_(concerns))
    ):
        concerns[reversal] = concerns[of or 0]
    rows = session.execute(
        select(
            Entry.number,
            Entry.happened_on,
            Entry.recorded_at,
            Entry.kind,
            Entry.note,
            Entry.reverses,
            Person.name.label("who"),
            Person.licence_kind,
            Person.licence_number,
        )
        .outerjoin(Person, Person.id == Entry.who)
        .where(Entry.number.in_(concerns))
        .order_by(Entry.happened_on, Entry.number)
    ).all()
    reversed_by = {row.reverses: row.number for row in rows if row.reverses is not None}
    own = {about, *concerns.values(), *(key for _, key in gone)}
    own |= {(record, record_id) for record, ids in records.items() for record_id in ids}
    told = read_told(session, concerns.keys(), own)

    def what(number: int) -> str:
        of = concerns[number]
        sentence = stopped(tell(told[number], of))
        return sentence if of == about else f"{told[number].name(*of)}: {sentence}"

    return tuple(
        TraceEntry(
            row.number,
            row.happened_on,
            row.recorded_at,
            str(row.kind),
            row.who or told[row.number].name("person", told[row.number].who),
            what(row.number),
            licence_words(row.licence_kind, row.licence_number),
            row.note,
            row.reverses,
            reversed_by.get(row.number),
        )
        for row in rows
    )


def _records_on(session: Session, about: RecordKey) -> dict[str, list[int]]:
    """The records of ``_ON_THINGS`` that are on a piece or batch itself, by kind."""
    record, record_id = about
    column = f"{record}_id"
    tables = {name: TABLES[name] for name in _ON_THINGS if column in TABLES[name].c}
    found: dict[str, list[int]] = {name: [] for name in tables}
    rows = session.execute(
        union_all(
            *(
                select(literal(name).label("record"), table.c.id).where(table.c[column] == record_id)
                for name, table in tables.items()
            )
        )
    )
    for name, found_id in rows:
        found[name].append(found_id)
    return found


def _numbers_of(session: Session, ids: Mapping[str, Sequence[int]], below: int | None = None) -> set[int]:
    """The entries with lines or facts of these records; with ``below``, only the entries before that one."""
    numbers = set(session.scalars(select(EntryFact.entry_number).where(facts_of(ids))))
    for record, column in (("piece", EntryLine.piece_id), ("batch", EntryLine.batch_id)):
        if ids.get(record):
            numbers.update(session.scalars(select(EntryLine.entry_number).where(column.in_(ids[record]))))
    return {number for number in numbers if below is None or number < below}


def _before(session: Session, batch: int) -> dict[int, RecordKey]:
    """What happened to the batches that a batch was split from, until then: each entry, and whose it is."""
    found: dict[int, RecordKey] = {}
    for _ in range(ANCESTORS_MAX):
        parent = session.scalar(select(Batch.parent_batch_id).where(Batch.id == batch))
        if parent is None:
            break
        began = session.scalar(
            select(func.min(EntryFact.entry_number)).where(
                EntryFact.record == "batch", EntryFact.record_id == batch
            )
        )
        for number in _numbers_of(session, {"batch": [parent]}, below=began):
            found.setdefault(number, ("batch", parent))
        batch = parent
    else:
        raise Refused(
            f"This batch was split off more than {ANCESTORS_MAX} times over.",
            "Look at the trace of its parent.",
        )
    return found


def _reversed_about(session: Session, about: RecordKey, part: int) -> list[tuple[int, RecordKey]]:
    """Reversed entries that raised a hold on the thing or its part, or said something of ``_ON_THINGS``.

    Their rows are gone, so only the ledger still knows of them.
    """
    keys = {f"{about[0]}_id": about[1], "part_id": part}
    reversal = aliased(Entry)
    rows = session.execute(
        select(EntryFact.entry_number, EntryFact.record, EntryFact.record_id, EntryFact.values)
        .join(reversal, reversal.reverses == EntryFact.entry_number)
        .where(EntryFact.record.in_(("hold", *_ON_THINGS)))
    )
    found = []
    for number, record, record_id, text in rows:
        values = json.loads(text)
        columns = keys if record == "hold" else {f"{about[0]}_id": about[1]}
        if any(values.get(column) == record_id_ for column, record_id_ in columns.items()):
            found.append((number, (record, record_id)))
    return found


def refuse_if_reversed(session: Session, tag_text: str) -> None:
    """Refuse a tag that a piece or batch had until the entry that booked it in was reversed, saying so.

    Passes over a tag that stands, that was never given, or that is mistyped.
    """
    reading = read_number(tag_text)
    if reading.verdict is not Verdict.RIGHT or reading.kind not in {NumberKind.PIECE, NumberKind.BATCH}:
        return
    record = "piece" if reading.prefix == TAG_LETTERS[NumberKind.PIECE] else "batch"
    table = Piece if record == "piece" else Batch
    if session.scalar(select(table.id).where(table.tag == reading.number)) is not None:
        return
    reversal, person = aliased(Entry), aliased(Person)
    # A row is gone only when every entry that set it was reversed, and reversed entries are few.
    rows = session.execute(
        select(
            Entry.number,
            Entry.happened_on,
            EntryFact.values.label("fact_values"),
            reversal.number.label("reversed_by"),
            reversal.happened_on.label("reversed_on"),
            reversal.note.label("why"),
            person.name.label("who"),
        )
        .join(reversal, reversal.reverses == Entry.number)
        .join(EntryFact, EntryFact.entry_number == Entry.number)
        .outerjoin(person, person.id == reversal.who)
        .where(
            EntryFact.record == record,
            EntryFact.values.contains(f'"tag":"{reading.number}"', autoescape=True),
        )
        .order_by(Entry.number.desc())
    )
    for row in rows:
        if json.loads(row.fact_values).get("tag") == reading.number:
            why = f": {row.why}" if row.why else ""
            raise Refused(
                f"{reading.number} was made by entry {row.number} of {row.happened_on.isoformat()}, and"
                f" {row.who or 'someone'} reversed that by entry {row.reversed_by} on"
                f" {row.reversed_on.isoformat()}{why}.",
                "If it is in your hand, book it in again; it gets a new tag.",
            )


def of_thing(table: type[Hold] | type[DocumentLink], thing: Thing) -> ColumnElement[bool]:
    """That a hold or a link to a document is on this piece or batch itself."""
    return table.piece_id == thing.piece if thing.piece is not None else table.batch_id == thing.batch


def on_part(part: int, received_on: date) -> ColumnElement[bool]:
    """That a hold is on the part, and was not cleared before the thing came."""
    return (Hold.part_id == part) & or_(Hold.cleared_on.is_(None), Hold.cleared_on >= received_on)


def licence_words(kind: str | None, number: str | None) -> str:
    """``engine inspector HL 2041``; nothing of one who holds no licence."""
    return " ".join(part for part in (kind, number) if part) if number else ""
