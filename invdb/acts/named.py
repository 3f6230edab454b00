"""What records are called, also those that are gone since their entry was reversed."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from sqlalchemy import ColumnElement, or_, select
from sqlalchemy.orm import Session

from invdb.records.ledger import EntryFact
from invdb.records.registry import TABLES
from invdb.rules.folding import Plain, RecordKey
from invdb.rules.told import Seat

# A pull line leads to its pull, that to an engine and a position, and a position to no more; a station inside
# a piece leads to the piece's place, and that to the piece.
_STEPS_MAX = 4
_NAMED_BY = {
    "part": ("house_number", "name", "measure"),
    "piece": ("tag",),
    "batch": ("tag", "part_id"),
    # The station that a place is, and the piece or the engine that holds it.
    "place": ("name", "engine_id", "position_id", "station_id", "parent_id", "piece_id"),
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
    "life_reset": ("piece_id", "engine_id"),
    "engine_event": ("kind", "engine_id", "event_on"),
    "directive": ("reference", "issue"),
    "concession": ("reference", "piece_id"),
    "presumption": ("engine_id", "position_id", "station_id"),
    "engine_mod": ("mod_id", "engine_id"),
    "kit_line": ("engine_type_id", "station"),
    "stand_in": ("part_id",),
    "other_number": ("number", "part_id"),
    "part_hazard": ("hazard", "part_id"),
    "spec": ("part_id", "revision"),
    "fit_limit": ("name",),
    "match_rule": ("station", "other_station"),
    "balance_set": ("name",),
    "part_size": ("part_id", "size_class"),
    "instrument": ("number", "name"),
    "work_order": ("number",),
    "matched_set": ("name",),
    "enquiry": ("number",),
    "enquiry_firm": ("enquiry_id", "firm_id"),
    "quote": ("firm_id", "part_id"),
    "purchase_order": ("number",),
    "order_line": ("purchase_order_id",),
    "loan": ("number",),
    "planned_overhaul": ("engine_id",),
    "planned_flying": ("engine_id",),
    "part_belief": ("family_id",),
}
Values = Mapping[str, Any]


def points_at(record: str, values: Mapping[str, Plain]) -> set[RecordKey]:
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
            for pointed in points_at(
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
        case "part" | "family" | "mod" | "document" | "position" | "instrument":
            first, second = (_NAMED_BY[record])[:2]
            return f"{own[first] or ''} {own[second] or ''}".strip()
        case "person":
            licence = own["licence_number"]
            return f"{own['name']} (licence {licence})" if licence else str(own["name"] or "")
        case "pull":
            engine = name_of(("engine", own["engine_id"]), values)
            position = name_of(("position", own["position_id"]), values)
            return f"pull {own['number']}, {engine} {position}".rstrip(" ,")
        case "enquiry_firm":
            firm = name_of(("firm", own["firm_id"]), values)
            return f"{firm} in enquiry {name_of(('enquiry', own['enquiry_id']), values)}"
        case "quote":
            part = name_of(("part", own["part_id"]), values)
            return f"{name_of(('firm', own['firm_id']), values)} for {part}"
        case "order_line":
            return f"order {name_of(('purchase_order', own['purchase_order_id']), values)}"
        case "planned_overhaul" | "planned_flying":
            return name_of(("engine", own["engine_id"]), values)
        case "part_belief":
            return name_of(("family", own["family_id"]), values) if own["family_id"] is not None else ""
        case "pull_line":
            return name_of(("pull", own["pull_id"]), values)
        case "hold" | "life_reset":
            for of in ("part", "piece", "batch", "engine"):
                if own.get(f"{of}_id") is not None:
                    return name_of((of, own[f"{of}_id"]), values)
            return ""
        case "spec" | "part_size":
            of = name_of(("part", own["part_id"]), values)
            return f"of {of}, {own[_NAMED_BY[record][1]]}"
        case "kit_line":
            return f"{name_of(('engine_type', own['engine_type_id']), values)} {own['station']}"
        case "stand_in":
            return f"for {name_of(('part', own['part_id']), values)}"
        case "other_number" | "part_hazard":
            return f"{own[_NAMED_BY[record][0]]} of {name_of(('part', own['part_id']), values)}"
        case "match_rule":
            return f"of {own['station']} and {own['other_station']}"
        case "engine_event":
            engine = name_of(("engine", own["engine_id"]), values)
            return f"{own['kind']} of {engine} on {own['event_on']}"
        case "directive":
            return f"{own['reference']} issue {own['issue']}" if own["issue"] else str(own["reference"] or "")
        case "presumption":
            engine = name_of(("engine", own["engine_id"]), values)
            position = name_of(("position", own["position_id"]), values)
            return f"the {name_of(('station', own['station_id']), values)} of {engine}, {position}"
        case "engine_mod":
            mod = name_of(("mod", own["mod_id"]), values)
            return f"{mod} on {name_of(('engine', own['engine_id']), values)}"
    return str(own[_NAMED_BY[record][0]] or "")


def seats_of(values: Mapping[RecordKey, Values]) -> dict[int, Seat]:
    """The stations among places, by the id of the place."""
    found = {}
    for (record, place), own in values.items():
        if record != "place" or own["station_id"] is None:
            continue
        around = values.get(("place", own["parent_id"]), {})
        found[place] = Seat(
            name_of(("station", own["station_id"]), values),
            name_of(("engine", own["engine_id"]), values) if own["engine_id"] is not None else "",
            name_of(("position", own["position_id"]), values) if own["position_id"] is not None else "",
            name_of(("piece", around["piece_id"]), values) if around.get("piece_id") is not None else "",
        )
    return found
