"""The one function that posts: it writes the entry and keeps everything that is derived from it.

The caller holds the lock of the ledger's head (``Store.writing`` takes it first), so what is read here can't
change before the commit.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session, aliased

from invdb.records import holding_state
from invdb.records.base import write_instant
from invdb.records.chunks import chunks
from invdb.records.clock import now, today
from invdb.records.documents import DocumentContent
from invdb.records.draft import Draft, plain_line
from invdb.records.ledger import Entry, EntryFact, EntryLine, LedgerHead
from invdb.records.nesting import check_places
from invdb.records.registry import MAKING_ORDER, TABLES, pointing_at, to_row
from invdb.records.running_state import engines_concerned, follow_logs
from invdb.records.service_state import follow_service
from invdb.records.words import reindex
from invdb.rules.folding import OUTSIDE_PLACE, Plain, RecordKey, fold_record
from invdb.rules.sealing import canonical, chain_hash
from invdb.terms import EntryKind, Refused

_REVERSAL = aliased(Entry)
# Made once: putting a statement together costs more than executing it.
_LAST_DAY = select(func.max(Entry.happened_on)).scalar_subquery().label("last_day")
_HEAD = select(LedgerHead.number, LedgerHead.hash, LedgerHead.recorded_at, _LAST_DAY)
_SET_HEAD = update(LedgerHead)
_ADD_ENTRY = insert(Entry)
_ADD_FACTS = insert(EntryFact)
_ADD_LINES = insert(EntryLine)
_ADD_CONTENTS = insert(DocumentContent)
_ADD_ROWS = {record: insert(table) for record, table in TABLES.items()}
_SET_ROW = {
    record: update(table).where(table.c.id == bindparam("record_id")) for record, table in TABLES.items()
}
_MADE_BY = (
    select(EntryFact.record_id, func.min(EntryFact.entry_number))
    .where(EntryFact.record == bindparam("record"), EntryFact.record_id.in_(bindparam("ids", expanding=True)))
    .group_by(EntryFact.record_id)
)
_FACTS_OF = (
    select(EntryFact.record_id, Entry.happened_on, Entry.number, EntryFact.values)
    .join(Entry, Entry.number == EntryFact.entry_number)
    .where(
        EntryFact.record == bindparam("record"),
        EntryFact.record_id.in_(bindparam("ids", expanding=True)),
        ~select(_REVERSAL.number).where(_REVERSAL.reverses == Entry.number).exists(),
    )
    .order_by(Entry.happened_on, Entry.number, EntryFact.ordinal)
)


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
    connection = session.connection()
    _refuse_reversal(connection, draft)
    head = connection.execute(_HEAD).one()
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
    _write(connection, draft, number, recorded_at, body, head.hash, sealed)
    connection.execute(_SET_HEAD, {"number": number, "hash": sealed, "recorded_at": recorded_at})
    # Not today's date: after a clock was set back, or the shop's zone changed, today may not be the last day.
    late = head.last_day is not None and draft.happened_on < head.last_day
    _derive(connection, draft, number, late)
    return Posted(number, sealed, recorded_at)


def _refuse_reversal(connection: Connection, draft: Draft) -> None:
    """A reversal has no lines, names one entry that stands, and is itself never reversed."""
    if draft.reverses is None:
        return
    assert not draft.lines
    named = connection.execute(
        select(Entry.kind, Entry.reverses, _REVERSAL.number.label("reversed_by"))
        .outerjoin(_REVERSAL, _REVERSAL.reverses == Entry.number)
        .where(Entry.number == draft.reverses)
    ).one_or_none()
    why = None
    if named is None:
        why = "there is no such entry"
    elif named.kind is EntryKind.STORE_BEGUN:
        why = "it began the store"
    elif named.reverses is not None:
        why = "it is itself a reversal"
    elif named.reversed_by is not None:
        why = f"entry {named.reversed_by} reversed it already"
    if why is not None:
        raise Refused(
            f"Entry {draft.reverses} can't be reversed: {why}.", "Look at the number, or post afresh."
        )


def _write(
    connection: Connection,
    draft: Draft,
    number: int,
    recorded_at: datetime,
    body: str,
    previous_hash: str,
    sealed: str,
) -> None:
    if draft.contents:
        held = set(
            connection.scalars(
                select(DocumentContent.sha256).where(DocumentContent.sha256.in_(draft.contents))
            )
        )
        fresh = [
            {"sha256": sha256, "size": len(content), "content": content}
            for sha256, content in draft.contents.items()
            if sha256 not in held
        ]
        if fresh:
            connection.execute(_ADD_CONTENTS, fresh)
    connection.execute(
        _ADD_ENTRY,
        {
            "number": number,
            "kind": draft.kind,
            "happened_on": draft.happened_on,
            "recorded_at": recorded_at,
            "who": draft.who,
            "job_id": draft.job_id,
            "reverses": draft.reverses,
            "note": draft.note,
            "body": body,
            "previous_hash": previous_hash,
            "hash": sealed,
        },
    )
    if draft.facts:
        connection.execute(
            _ADD_FACTS,
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
        connection.execute(
            _ADD_LINES,
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
                    "engine_id": line.engine_id,
                    "reading": line.reading,
                }
                for ordinal, line in enumerate(draft.lines, start=1)
            ],
        )


def _derive(connection: Connection, draft: Draft, number: int, late: bool) -> None:
    touched: set[RecordKey] = {(fact.record, fact.record_id) for fact in draft.facts}
    things = {(line.piece_id, line.batch_id) for line in draft.lines}
    pull_lines = {line.pull_line_id for line in draft.lines if line.pull_line_id is not None}
    if draft.reverses is not None:
        facts = select(EntryFact.record, EntryFact.record_id).where(EntryFact.entry_number == draft.reverses)
        touched.update((record, record_id) for record, record_id in connection.execute(facts))
        lines = select(EntryLine.piece_id, EntryLine.batch_id, EntryLine.pull_line_id).where(
            EntryLine.entry_number == draft.reverses
        )
        for piece_id, batch_id, pull_line_id in connection.execute(lines):
            things.add((piece_id, batch_id))
            if pull_line_id is not None:
                pull_lines.add(pull_line_id)
        late = True
    gone = _set_rows(connection, draft, number, touched)
    # A piece whose only entry was reversed is gone from its table, so its stays go before its row does.
    if late:
        holding_state.rederive(connection, number, things, gone)
    else:
        holding_state.apply(connection, draft.lines, draft.happened_on, number)
    if pull_lines:
        holding_state.rederive_pull_lines(connection, pull_lines)
    engines = engines_concerned(connection, touched)
    rewritten = follow_logs(connection, engines, gone, number, late) if engines else set()
    follow_service(connection, draft, late, [piece for piece, _ in things if piece], gone, rewritten)
    _remove_rows(connection, gone)
    reindex(connection, touched, draft.new_records)


def _set_rows(connection: Connection, draft: Draft, number: int, touched: set[RecordKey]) -> set[RecordKey]:
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
        connection.execute(_ADD_ROWS[record], rows)
    places = {record_id for record, record_id in touched if record == "place"}
    standing = touched - new
    if not standing:
        check_places(connection, places)
        return set()
    history = _facts_of(connection, standing)
    made_by = _made_by(connection, standing)
    gone = {key for key in standing if not any(fact[1] == made_by[key] for fact in history.get(key, []))}
    _refuse_if_needed(connection, gone, history, number)
    for record, record_id in sorted(standing - gone, key=lambda key: (MAKING_ORDER[key[0]], key[1])):
        facts = history[record, record_id]
        first_on, first_number = min((fact[0], fact[1]) for fact in facts)
        if first_number != made_by[record, record_id]:
            began = next(fact[0] for fact in facts if fact[1] == made_by[record, record_id])
            raise Refused(
                f"The {_words(record)} began with entry {made_by[record, record_id]} on {began.isoformat()},"
                f" after {first_on.isoformat()}.",
                "Give a date on or after that day.",
            )
        values, set_by = fold_record(facts)
        row = to_row(record, values) | {"record_id": record_id, "set_by": set_by}
        try:
            connection.execute(_SET_ROW[record], row)
        except IntegrityError as error:
            raise Refused(
                f"The {_words(record)} that entry {set_by} set can't stand so: it would have a name or number"
                " that another has now, or rest on something that is gone.",
                "Change or reverse the other entry first.",
            ) from error
    check_places(connection, {place for place in places if ("place", place) not in gone})
    return gone


def _words(record: str) -> str:
    return record.replace("_", " ")


def _made_by(connection: Connection, keys: Iterable[RecordKey]) -> dict[RecordKey, int]:
    """The entry that made each record: the first that set it, reversed or not, since no id is given twice."""
    found: dict[RecordKey, int] = {}
    for record, ids in _by_record(keys):
        rows = connection.execute(_MADE_BY, {"record": record, "ids": ids})
        found.update(((record, record_id), number) for record_id, number in rows)
    return found


def _by_record(keys: Iterable[RecordKey]) -> Iterator[tuple[str, list[int]]]:
    by_record: dict[str, list[int]] = defaultdict(list)
    for record, record_id in keys:
        by_record[record].append(record_id)
    for record, ids in by_record.items():
        for some in chunks(ids):
            yield record, some


def _facts_of(
    connection: Connection, keys: Iterable[RecordKey]
) -> dict[RecordKey, list[tuple[date, int, dict[str, Plain]]]]:
    """The facts of records, of entries that were not reversed, as (happened_on, number, values)."""
    found: dict[RecordKey, list[tuple[date, int, dict[str, Plain]]]] = defaultdict(list)
    for record, ids in _by_record(keys):
        rows = connection.execute(_FACTS_OF, {"record": record, "ids": ids})
        for record_id, happened_on, entry_number, values in rows:
            found[record, record_id].append((happened_on, entry_number, json.loads(values)))
    return found


def _refuse_if_needed(
    connection: Connection,
    gone: set[RecordKey],
    history: dict[RecordKey, list[tuple[date, int, dict[str, Plain]]]],
    number: int,
) -> None:
    """Refuse to unmake records that others rest on, naming the first entry in the way; and to set a record
    that was unmade before."""
    in_the_way = [(fact[1], key[0]) for key in gone for fact in history.get(key, [])]
    if any(entry_number == number for entry_number, _ in in_the_way):
        raise Refused(
            f"That {_words(min(in_the_way)[1])} is no longer in the store; what made it was reversed.",
            "Look again.",
        )
    for record, record_id in gone:
        for other, column in pointing_at(record):
            in_the_way += [(maker, other) for maker in _pointing(connection, other, column, record_id, gone)]
    in_the_way += [(maker, "movement") for maker in _lines_upon(connection, gone)]
    if in_the_way:
        first, other = min(in_the_way)
        raise Refused(
            f"Entry {first} stands in the way: its {_words(other)} rests on what this would undo.",
            f"Reverse entry {first} first.",
        )
    people = [record_id for record, record_id in gone if record == "person"]
    acted = (
        connection.scalars(select(func.min(Entry.number)).where(Entry.who.in_(people))).one()
        if people
        else None
    )
    if acted is not None:
        raise Refused(
            f"Entry {acted} stands in the way: it was done by the person whom this would undo.",
            "Leave the person in the books.",
        )


def _pointing(connection: Connection, record: str, column: str, to: int, gone: set[RecordKey]) -> list[int]:
    """The entry that made a row point at what would be unmade; of the first such row, if there is one."""
    table = TABLES[record]
    rows = connection.scalars(select(table.c.id).where(table.c[column] == to).order_by(table.c.id))
    first = next((row_id for row_id in rows if (record, row_id) not in gone), None)
    if first is None:
        return []
    facts = _facts_of(connection, [(record, first)])[record, first]
    return [entry_number for _, entry_number, values in facts if values.get(column) == to][:1]


def _lines_upon(connection: Connection, gone: set[RecordKey]) -> list[int]:
    """The entries, not reversed, whose lines move or hold what would be unmade."""
    columns = {
        "piece": (EntryLine.piece_id,),
        "batch": (EntryLine.batch_id,),
        "place": (EntryLine.from_place_id, EntryLine.to_place_id),
        "pull_line": (EntryLine.pull_line_id,),
    }
    found: list[int] = []
    for record, record_columns in columns.items():
        ids = [record_id for kind, record_id in gone if kind == record]
        for column in record_columns if ids else ():
            found += connection.scalars(
                select(EntryLine.entry_number)
                .where(
                    column.in_(ids),
                    ~select(_REVERSAL.number).where(_REVERSAL.reverses == EntryLine.entry_number).exists(),
                )
                .order_by(EntryLine.entry_number)
                .limit(1)
            )
    return found


def _remove_rows(connection: Connection, gone: set[RecordKey]) -> None:
    # Within a table the later row goes first: what points at another of its own kind was made after it.
    for record, record_id in sorted(gone, key=lambda key: (-MAKING_ORDER[key[0]], -key[1])):
        table = TABLES[record]
        connection.execute(delete(table).where(table.c.id == record_id))
