"""Entries read from the ledger with the names that their sentences need, also names of what is gone."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import ColumnElement, Select, func, or_, select
from sqlalchemy.orm import Session

from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.registry import TABLES
from invdb.rules.folding import Fact, Line, Plain, RecordKey
from invdb.rules.told import Told
from invdb.terms import EntryKind, LineKind, Measure

# Of a long entry no more than this many lines of a kind, and facts of a record, are read.
LOADED_MAX = 12
# A pull line leads to its pull, that to an engine and a position, and a position to no more.
_STEPS_MAX = 4
_SETTING_UP = frozenset({EntryKind.CATALOGUE, EntryKind.PEOPLE, EntryKind.PLACES, EntryKind.ENGINES})
_NAMED_BY = {
    "part": ("house_number", "name", "measure"),
    "piece": ("tag",),
    "batch": ("tag", "part_id"),
    "place": ("name",),
    "person": ("name", "licence_number"),
    "firm": ("name",),
    "owner": ("name",),
    "engine": ("name",),
    "engine_type": ("name",),
    "family": ("letters", "name"),
    "mod": ("code", "name"),
    "position": ("group_name", "name"),
    "station": ("name",),
    "setting": ("name",),
    "document": ("kind", "reference"),
    "pull": ("number", "engine_id", "position_id"),
    "pull_line": ("pull_id",),
    "hold": ("part_id", "piece_id", "batch_id", "engine_id"),
}
Values = Mapping[str, Any]


def read_told(session: Session, numbers: Collection[int], about: Iterable[RecordKey] = ()) -> dict[int, Told]:
    """Entries by number, ready to be told; what they say of the records ``about`` is read whole."""
    of_records: dict[str, set[int]] = defaultdict(set)
    for record, record_id in about:
        of_records[record].add(record_id)
    entries = session.execute(
        select(Entry.number, Entry.happened_on, Entry.kind, Entry.who, Entry.reverses).where(
            Entry.number.in_(numbers)
        )
    ).all()
    reversed_numbers = [row.reverses for row in entries if row.reverses is not None]
    reversed_kinds = dict(
        session.execute(select(Entry.number, Entry.kind).where(Entry.number.in_(reversed_numbers))).all()
    )
    facts: dict[int, list[Fact]] = defaultdict(list)
    fact_counts: dict[int, dict[str, int]] = defaultdict(dict)
    for row in session.execute(_facts_query(numbers, of_records)):
        fact_counts[row.entry_number][row.record] = row.amount
        facts[row.entry_number].append(Fact(row.record, row.record_id, json.loads(row.fact_values)))
    happened_on = {row.number: row.happened_on for row in entries}
    lines: dict[int, list[Line]] = defaultdict(list)
    line_counts: dict[int, dict[LineKind, int]] = defaultdict(dict)
    for row in session.execute(_lines_query(numbers, of_records)):
        line_counts[row.entry_number][row.kind] = row.amount
        lines[row.entry_number].append(
            Line(
                row.entry_number,
                row.ordinal,
                happened_on[row.entry_number],
                row.kind,
                row.piece_id,
                row.batch_id,
                row.from_place_id,
                row.to_place_id,
                row.quantity,
                row.pull_line_id,
            )
        )
    wanted = {("person", row.who) for row in entries}
    for of_entry in facts.values():
        for fact in of_entry:
            wanted.add((fact.record, fact.record_id))
            wanted.update(_points_at(fact.record, fact.values))
    for of_lines in lines.values():
        for line in of_lines:
            wanted.update(_named_on(line))
    values = read_values(session, wanted)
    names = {key: name_of(key, values) for key in values}
    measures = {
        key: Measure(values["part", each["part_id"]]["measure"] or Measure.COUNT)
        for key, each in values.items()
        if key[0] == "batch" and ("part", each["part_id"]) in values
    }
    begun = _begun(session, {row.number: facts[row.number] for row in entries if row.kind in _SETTING_UP})
    return {
        row.number: Told(
            row.number,
            row.kind,
            row.who,
            tuple(lines[row.number]),
            tuple(facts[row.number]),
            line_counts[row.number],
            fact_counts[row.number],
            names,
            measures,
            frozenset(begun.get(row.number, ())),
            row.reverses,
            reversed_kinds.get(row.reverses),
        )
        for row in entries
    }


def _facts_query(numbers: Collection[int], of_records: Mapping[str, set[int]]) -> Select[Any]:
    group = (EntryFact.entry_number, EntryFact.record)
    ranked = (
        select(
            EntryFact.entry_number,
            EntryFact.ordinal,
            EntryFact.record,
            EntryFact.record_id,
            EntryFact.values.label("fact_values"),
            func.row_number().over(partition_by=group, order_by=EntryFact.ordinal).label("place"),
            func.count().over(partition_by=group).label("amount"),
        )
        .where(EntryFact.entry_number.in_(numbers))
        .subquery()
    )
    own = [(ranked.c.record == record) & ranked.c.record_id.in_(ids) for record, ids in of_records.items()]
    return (
        select(ranked)
        .where(or_(ranked.c.place <= LOADED_MAX, *own))
        .order_by(ranked.c.entry_number, ranked.c.ordinal)
    )


def _lines_query(numbers: Collection[int], of_records: Mapping[str, set[int]]) -> Select[Any]:
    group = (EntryLine.entry_number, EntryLine.kind)
    ranked = (
        select(
            EntryLine,
            func.row_number().over(partition_by=group, order_by=EntryLine.ordinal).label("place"),
            func.count().over(partition_by=group).label("amount"),
        )
        .where(EntryLine.entry_number.in_(numbers))
        .subquery()
    )
    own = [
        column.in_(of_records[record])
        for record, column in (("piece", ranked.c.piece_id), ("batch", ranked.c.batch_id))
        if record in of_records
    ]
    return (
        select(ranked)
        .where(or_(ranked.c.place <= LOADED_MAX, *own))
        .order_by(ranked.c.entry_number, ranked.c.ordinal)
    )


def _named_on(line: Line) -> set[RecordKey]:
    keys: set[RecordKey] = {("place", line.from_place), ("place", line.to_place)}
    for record, record_id in (("piece", line.piece), ("batch", line.batch), ("pull_line", line.pull_line)):
        if record_id is not None:
            keys.add((record, record_id))
    return keys


def _points_at(record: str, values: Mapping[str, Plain]) -> set[RecordKey]:
    """The records, of those that have names, that some values of a record point at."""
    columns = TABLES[record].columns
    found: set[RecordKey] = set()
    for name, value in values.items():
        if isinstance(value, int) and not isinstance(value, bool):
            tables = [key.column.table.name for key in columns[name].foreign_keys]
            found.update((table, value) for table in tables if table in _NAMED_BY)
    return found


def read_values(session: Session, keys: Iterable[RecordKey]) -> dict[RecordKey, Values]:
    """What names these records and those that their names rest on; from the ledger where a row is gone."""
    found: dict[RecordKey, Values] = {}
    wanted = {key for key in keys if key[0] in _NAMED_BY}
    for _ in range(_STEPS_MAX):
        fresh: dict[str, set[int]] = defaultdict(set)
        for record, record_id in wanted - found.keys():
            fresh[record].add(record_id)
        if not fresh:
            break
        for record, ids in fresh.items():
            table = TABLES[record]
            columns = [table.c[name] for name in _NAMED_BY[record]]
            for row in session.execute(select(table.c.id, *columns).where(table.c.id.in_(ids))):
                found[record, row.id] = dict(row._mapping)
        found.update(
            _values_in_ledger(session, {record: ids - _ids(found, record) for record, ids in fresh.items()})
        )
        wanted = {
            pointed
            for record, ids in fresh.items()
            for record_id in ids
            if (record, record_id) in found
            for pointed in _points_at(
                record, {name: found[record, record_id].get(name) for name in _NAMED_BY[record]}
            )
        }
    return found


def facts_of(ids: Mapping[str, Collection[int]]) -> ColumnElement[bool]:
    """That a fact is of one of these records, given by kind; there is at least one."""
    return or_(
        *(
            (EntryFact.record == record) & EntryFact.record_id.in_(some)
            for record, some in ids.items()
            if some
        )
    )


def _ids(found: Mapping[RecordKey, Values], record: str) -> set[int]:
    return {record_id for kind, record_id in found if kind == record}


def _values_in_ledger(session: Session, gone: Mapping[str, set[int]]) -> dict[RecordKey, Values]:
    """The values with which records that have no row any more were once set."""
    chosen = [
        (EntryFact.record == record) & EntryFact.record_id.in_(ids) for record, ids in gone.items() if ids
    ]
    if not chosen:
        return {}
    found: dict[RecordKey, dict[str, Any]] = {}
    rows = session.execute(
        select(EntryFact.record, EntryFact.record_id, EntryFact.values)
        .where(facts_of(gone))
        .order_by(EntryFact.entry_number, EntryFact.ordinal)
    )
    for record, record_id, values in rows:
        known = found.setdefault((record, record_id), dict.fromkeys(_NAMED_BY[record]))
        known.update({name: value for name, value in json.loads(values).items() if name in known})
    return dict(found)


def name_of(key: RecordKey, values: Mapping[RecordKey, Values]) -> str:
    """What a record is called; '' where nothing is known of it."""
    record, _ = key
    own = values.get(key)
    if own is None:
        return ""
    match record:
        case "part" | "family" | "mod" | "document" | "position":
            first, second = (_NAMED_BY[record])[:2]
            return f"{own[first] or ''} {own[second] or ''}".strip()
        case "person":
            licence = own["licence_number"]
            return f"{own['name']} (licence {licence})" if licence else str(own["name"] or "")
        case "pull":
            engine = name_of(("engine", own["engine_id"]), values)
            position = name_of(("position", own["position_id"]), values)
            return f"pull {own['number']}, {engine} {position}".rstrip(" ,")
        case "pull_line":
            return name_of(("pull", own["pull_id"]), values)
        case "hold":
            for of in ("part", "piece", "batch", "engine"):
                if own[f"{of}_id"] is not None:
                    return name_of((of, own[f"{of}_id"]), values)
            return ""
    return str(own[_NAMED_BY[record][0]] or "")


def _begun(session: Session, facts: Mapping[int, list[Fact]]) -> dict[int, set[RecordKey]]:
    """Which of the records that entries set were set by them first, by entry."""
    ids: dict[str, set[int]] = defaultdict(set)
    for of_entry in facts.values():
        for fact in of_entry:
            ids[fact.record].add(fact.record_id)
    if not ids:
        return {}
    first = (
        select(EntryFact.record, EntryFact.record_id, func.min(EntryFact.entry_number))
        .where(
            or_(
                *(
                    (EntryFact.record == record) & EntryFact.record_id.in_(some)
                    for record, some in ids.items()
                )
            )
        )
        .group_by(EntryFact.record, EntryFact.record_id)
    )
    begun: dict[int, set[RecordKey]] = defaultdict(set)
    for record, record_id, number in session.execute(first):
        begun[number].add((record, record_id))
    return begun
