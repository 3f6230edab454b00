"""Entries read from the ledger with the names that their sentences need, also names of what is gone."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import Select, and_, func, or_, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.named import name_of, points_at, read_values, seats_of
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.life import RAN_COLUMNS, Running
from invdb.rules.folding import Fact, Line, RecordKey
from invdb.rules.running import Ran, ran_from
from invdb.rules.told import Told
from invdb.terms import EntryKind, LineKind, Measure

# Of a long entry no more than this many lines of a kind, and facts of a record, are read.
LOADED_MAX = 12
_SETTING_UP = frozenset({EntryKind.CATALOGUE, EntryKind.PEOPLE, EntryKind.PLACES, EntryKind.ENGINES})


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
            wanted.update(points_at(fact.record, fact.values))
    for of_lines in lines.values():
        for line in of_lines:
            wanted.update(_named_on(line))
    values = read_values(session, wanted)
    names = {key: name_of(key, values) for key in values}
    seats = seats_of(values)
    ran = _ran_by(session, facts)
    measures = {
        key: Measure(values["part", each["part_id"]]["measure"] or Measure.COUNT)
        for key, each in values.items()
        if key[0] == "batch" and ("part", each["part_id"]) in values
    }
    measures |= {
        key: Measure(each.get("measure") or Measure.COUNT) for key, each in values.items() if key[0] == "part"
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
            seats,
            ran,
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


def _ran_by(session: Session, facts: Mapping[int, list[Fact]]) -> dict[int, Ran]:
    """What was run by each line of a log that entries set and that still stands, by its id."""
    ids = {fact.record_id for of_entry in facts.values() for fact in of_entry if fact.record == "running"}
    if not ids:
        return {}
    before, earlier = aliased(Running), aliased(Running)
    is_before = or_(
        earlier.ran_on < Running.ran_on,
        and_(earlier.ran_on == Running.ran_on, earlier.set_by < Running.set_by),
    )
    last_before = (
        select(earlier.id)
        .where(earlier.engine_id == Running.engine_id, is_before)
        .order_by(earlier.ran_on.desc(), earlier.set_by.desc())
        .limit(1)
        .correlate(Running)
        .scalar_subquery()
    )
    rows = session.execute(
        select(Running.id, *_totals(Running), *_totals(before))
        .outerjoin(before, before.id == last_before)
        .where(Running.id.in_(ids))
    )
    count = len(RAN_COLUMNS)
    return {row[0]: ran_from(row[1 : 1 + count]) - ran_from(row[1 + count :]) for row in rows}


def _totals(of: type[Running]) -> list[Any]:
    return [getattr(of, column) for column in RAN_COLUMNS]
