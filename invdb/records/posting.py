"""The one function that posts: it writes the entry and keeps everything that is derived from it.

The caller holds the lock of the ledger's head (``Store.writing`` takes it first), so what is read here can't
change before the commit.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import delete, insert, select, update
from sqlalchemy.orm import Session, aliased

from invdb.records import holding_state
from invdb.records.base import write_instant
from invdb.records.clock import now, today
from invdb.records.documents import DocumentContent
from invdb.records.draft import Draft, plain_line
from invdb.records.ledger import Entry, EntryFact, EntryLine, LedgerHead
from invdb.records.registry import MAKING_ORDER, TABLES, pointing_at, to_row
from invdb.records.words import reindex
from invdb.rules.folding import OUTSIDE_PLACE, Plain, RecordKey, fold_record
from invdb.rules.sealing import canonical, chain_hash
from invdb.terms import Refused


@dataclass(frozen=True)
class Posted:
    """An entry that stands in the ledger."""

    number: int
    hash: str
    recorded_at: datetime


def post(session: Session, draft: Draft) -> Posted:
    """Write one entry and bring every derived table up to it.

    Refused for a date in the future, for a fact about a record before the record began, and when the lines
    contradict what else happened, naming the first entry in the way.
    """
    if draft.happened_on > today(session):
        raise Refused(
            f"The date {draft.happened_on.isoformat()} is in the future.",
            "Give the day on which it happened.",
        )
    head = session.execute(select(LedgerHead.number, LedgerHead.hash, LedgerHead.recorded_at)).one()
    number = head.number + 1
    recorded_at = now(session)
    if head.recorded_at is not None and recorded_at <= head.recorded_at:
        recorded_at = head.recorded_at + timedelta(microseconds=1)
    body = canonical(
        {
            "documents": sorted(draft.contents),
            "facts": [
                {"id": fact.record_id, "record": fact.record, "values": dict(fact.values)}
                for fact in draft.facts
            ],
            "happened_on": draft.happened_on.isoformat(),
            "job": draft.job_id,
            "kind": str(draft.kind),
            "lines": [plain_line(line) for line in draft.lines],
            "note": draft.note,
            "number": number,
            "recorded_at": write_instant(recorded_at),
            "reverses": draft.reverses,
            "who": draft.who,
        }
    )
    sealed = chain_hash(head.hash, body)
    _write(session, draft, number, recorded_at, body, head.hash, sealed)
    session.execute(update(LedgerHead).values(number=number, hash=sealed, recorded_at=recorded_at))
    _derive(session, draft, number)
    return Posted(number, sealed, recorded_at)


def _write(
    session: Session,
    draft: Draft,
    number: int,
    recorded_at: datetime,
    body: str,
    previous_hash: str,
    sealed: str,
) -> None:
    if draft.contents:
        held = set(
            session.scalars(select(DocumentContent.sha256).where(DocumentContent.sha256.in_(draft.contents)))
        )
        fresh = [
            {"sha256": sha256, "size": len(content), "content": content}
            for sha256, content in draft.contents.items()
            if sha256 not in held
        ]
        if fresh:
            session.connection().execute(insert(DocumentContent), fresh)
    session.connection().execute(
        insert(Entry).values(
            number=number,
            kind=draft.kind,
            happened_on=draft.happened_on,
            recorded_at=recorded_at,
            who=draft.who,
            job_id=draft.job_id,
            reverses=draft.reverses,
            note=draft.note,
            body=body,
            previous_hash=previous_hash,
            hash=sealed,
        )
    )
    if draft.facts:
        session.connection().execute(
            insert(EntryFact),
            [
                {
                    "entry_number": number,
                    "ordinal": ordinal,
                    "record": fact.record,
                    "record_id": fact.record_id,
                    "values": canonical(dict(fact.values)),
                }
                for ordinal, fact in enumerate(draft.facts, start=1)
            ],
        )
    if draft.lines:
        session.connection().execute(
            insert(EntryLine),
            [
                {
                    "entry_number": number,
                    "ordinal": ordinal,
                    "kind": line.kind,
                    "piece_id": line.piece_id,
                    "batch_id": line.batch_id,
                    "from_place_id": line.from_place_id,
                    "to_place_id": line.to_place_id,
                    "quantity": line.quantity,
                    "pull_line_id": line.pull_line_id,
                }
                for ordinal, line in enumerate(draft.lines, start=1)
            ],
        )


def _derive(session: Session, draft: Draft, number: int) -> None:
    touched: set[RecordKey] = {(fact.record, fact.record_id) for fact in draft.facts}
    things = {(line.piece_id, line.batch_id) for line in draft.lines}
    pull_lines = {line.pull_line_id for line in draft.lines if line.pull_line_id is not None}
    late = draft.happened_on < today(session)
    if draft.reverses is not None:
        facts = select(EntryFact.record, EntryFact.record_id).where(EntryFact.entry_number == draft.reverses)
        touched.update((record, record_id) for record, record_id in session.execute(facts).tuples())
        lines = select(EntryLine.piece_id, EntryLine.batch_id, EntryLine.pull_line_id).where(
            EntryLine.entry_number == draft.reverses
        )
        for piece_id, batch_id, pull_line_id in session.execute(lines).tuples():
            things.add((piece_id, batch_id))
            if pull_line_id is not None:
                pull_lines.add(pull_line_id)
        late = True
    gone = _set_rows(session, draft, number, touched)
    # A piece whose only entry was reversed is gone from its table, so its stays go before its row does.
    if late:
        holding_state.rederive(session, things, gone)
    else:
        holding_state.apply(session, draft.lines, draft.happened_on, number)
    if pull_lines:
        holding_state.rederive_pull_lines(session, pull_lines)
    _remove_rows(session, gone)
    reindex(session, touched)


def _set_rows(session: Session, draft: Draft, number: int, touched: set[RecordKey]) -> set[RecordKey]:
    """Bring the rows of the touched records to what their facts say; returns those with no facts left."""
    new = draft.new_records
    fresh: dict[str, dict[int, dict[str, Plain]]] = defaultdict(dict)
    for fact in draft.facts:
        if (fact.record, fact.record_id) in new:
            fresh[fact.record].setdefault(fact.record_id, {}).update(fact.values)
    for record in sorted(fresh, key=MAKING_ORDER.__getitem__):
        rows: list[dict[str, Any]] = []
        for record_id, values in fresh[record].items():
            row = to_row(record, values) | {"id": record_id, "set_by": number}
            if record == "piece":
                row["place_id"] = OUTSIDE_PLACE
            rows.append(row)
        session.execute(insert(TABLES[record]), rows)
    standing = touched - new
    if not standing:
        return set()
    history = _facts_of(session, standing)
    gone: set[RecordKey] = set()
    for record, record_id in sorted(standing, key=lambda key: (MAKING_ORDER[key[0]], key[1])):
        facts = history.get((record, record_id), [])
        if not facts:
            gone.add((record, record_id))
            continue
        first_on, first_number = min((fact[0], fact[1]) for fact in facts)
        began = min(facts, key=lambda fact: fact[1])
        if (first_on, first_number) != (began[0], began[1]):
            raise Refused(
                f"The {record.replace('_', ' ')} began with entry {began[1]} on {began[0].isoformat()}, after"
                f" {first_on.isoformat()}.",
                "Give a date on or after that day.",
            )
        values, set_by = fold_record(facts)
        table = TABLES[record]
        session.execute(
            update(table).where(table.c.id == record_id).values(to_row(record, values) | {"set_by": set_by})
        )
    _refuse_if_needed(session, gone)
    return gone


def _facts_of(
    session: Session, keys: Iterable[RecordKey]
) -> dict[RecordKey, list[tuple[date, int, dict[str, Plain]]]]:
    """The facts of records, of entries that were not reversed, as (happened_on, number, values)."""
    by_record: dict[str, list[int]] = defaultdict(list)
    for record, record_id in keys:
        by_record[record].append(record_id)
    reversal = aliased(Entry)
    found: dict[RecordKey, list[tuple[date, int, dict[str, Plain]]]] = defaultdict(list)
    for record, ids in by_record.items():
        for start in range(0, len(ids), 500):
            rows = session.execute(
                select(EntryFact.record_id, Entry.happened_on, Entry.number, EntryFact.values)
                .join(Entry, Entry.number == EntryFact.entry_number)
                .where(
                    EntryFact.record == record,
                    EntryFact.record_id.in_(ids[start : start + 500]),
                    ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
                )
                .order_by(Entry.happened_on, Entry.number, EntryFact.ordinal)
            ).tuples()
            for record_id, happened_on, entry_number, values in rows:
                found[record, record_id].append((happened_on, entry_number, json.loads(values)))
    return found


def _refuse_if_needed(session: Session, gone: set[RecordKey]) -> None:
    """Refuse to unmake records that other records still point at, naming the entry that made the first."""
    in_the_way: list[tuple[int, str]] = []
    for record, record_id in gone:
        for other, column in pointing_at(record):
            table = TABLES[other]
            rows = session.execute(select(table.c.id, table.c.set_by).where(table.c[column] == record_id))
            in_the_way += [(row.set_by, other) for row in rows if (other, row.id) not in gone]
    in_the_way += [(number, "movement") for number in _lines_upon(session, gone)]
    if in_the_way:
        entry_number, other = min(in_the_way)
        raise Refused(
            f"Entry {entry_number} stands in the way: its {other.replace('_', ' ')} rests on this one.",
            f"Reverse entry {entry_number} first.",
        )


def _lines_upon(session: Session, gone: set[RecordKey]) -> list[int]:
    """The entries, not reversed, whose lines move or hold what would be unmade."""
    columns = {
        "piece": (EntryLine.piece_id,),
        "batch": (EntryLine.batch_id,),
        "place": (EntryLine.from_place_id, EntryLine.to_place_id),
        "pull_line": (EntryLine.pull_line_id,),
    }
    reversal = aliased(Entry)
    found: list[int] = []
    for record, record_columns in columns.items():
        ids = [record_id for kind, record_id in gone if kind == record]
        for column in record_columns if ids else ():
            found += session.scalars(
                select(EntryLine.entry_number)
                .where(
                    column.in_(ids),
                    ~select(reversal.number).where(reversal.reverses == EntryLine.entry_number).exists(),
                )
                .order_by(EntryLine.entry_number)
                .limit(1)
            )
    return found


def _remove_rows(session: Session, gone: set[RecordKey]) -> None:
    for record, record_id in sorted(gone, key=lambda key: -MAKING_ORDER[key[0]]):
        table = TABLES[record]
        session.execute(delete(table).where(table.c.id == record_id))
