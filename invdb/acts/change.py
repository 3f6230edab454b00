"""Change what stands in the catalogue or among the people, unless someone else changed it meanwhile."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, facts_of
from invdb.acts.by import By, begin_draft
from invdb.acts.part_changes import column_names
from invdb.records.catalogue import Part
from invdb.records.ledger import Entry
from invdb.records.life import LifeLimit
from invdb.records.people import Person
from invdb.records.posting import post
from invdb.records.registry import TABLES
from invdb.rules.catalogue_words import column_words, record_called, value_words
from invdb.terms import EntryKind, FieldRefused, Measure, Refused, Tracking

PART_COLUMNS = frozenset(
    {"name", "note", "critical", "life_limited", "life_limit_hours", "shelf_life_months"}
    | {"size_class", "finish"}
)
PERSON_COLUMNS = frozenset({"name", "licence_number", "licence_kind", "works_here"})


def change_part(session: Session, part: int, seen: int, changes: Mapping[str, object], by: By) -> int:
    """Change a part's name, note, limits or class; returns the entry's number.

    A part that gets a limit is life-limited from then on. ``seen`` is the entry that last set the part when
    the person looked. Refused, naming who and what, when another entry set it since; and when what is held
    by batch would become life-limited or critical.
    """
    if not str(changes.get("name", "name")).strip():
        raise FieldRefused("name", "The part has no name.", "Type what it is called in the trade.")
    limit = changes.get("life_limit_hours")
    if isinstance(limit, int) and limit <= 0:
        raise FieldRefused("life_limit_hours", "A life limit must be above zero.", "Leave it empty for none.")
    months = changes.get("shelf_life_months")
    if isinstance(months, int) and months <= 0:
        raise FieldRefused(
            "shelf_life_months", "A shelf life must be above zero.", "Leave it empty for none."
        )
    if limit is not None:
        if changes.get("life_limited") is False:
            raise FieldRefused(
                "life_limited", "A part with a life limit is life-limited.", "Take the limit away as well."
            )
        changes = {**changes, "life_limited": True}
    if changes.get("life_limited") is False:
        standing = session.scalar(
            select(LifeLimit.id).where(LifeLimit.part_id == part, LifeLimit.withdrawn_on.is_(None)).limit(1)
        )
        if standing is not None:
            raise FieldRefused(
                "life_limited", "Limits on this part's life stand.", "Withdraw each of those limits first."
            )
    if changes.get("life_limited") or changes.get("critical"):
        tracking = session.scalar(select(Part.tracking).where(Part.id == part))
        if tracking is Tracking.BATCH:
            raise FieldRefused(
                "critical" if changes.get("critical") else "life_limited",
                "A life-limited or critical part is always held as single pieces, and this one is held by"
                " batch.",
                "Add it as a part of its own that is held as pieces.",
            )
    return _change(session, EntryKind.CATALOGUE, "part", part, seen, changes, PART_COLUMNS, by)


def change_person(session: Session, person: int, seen: int, changes: Mapping[str, object], by: By) -> int:
    """Change a person's name or licence, or say that they work here no more; see ``change_part``.

    An empty licence is none.
    """
    if not str(changes.get("name", "name")).strip():
        raise FieldRefused("name", "The person has no name.", "Type it.")
    if changes.get("works_here") is False and person == by.person:
        raise FieldRefused("works_here", "Nobody strikes themselves off.", "Ask somebody else to.")
    licence = {
        column: str(changes[column] or "").strip() or None
        for column in ("licence_number", "licence_kind")
        if column in changes
    }
    return _change(
        session, EntryKind.PEOPLE, "person", person, seen, {**changes, **licence}, PERSON_COLUMNS, by
    )


def seen_of(session: Session, record: str, record_id: int) -> int:
    """The entry that last set a record, to be given back when it is changed."""
    table = TABLES[record]
    found: int | None = session.scalar(select(table.c.set_by).where(table.c.id == record_id))
    if found is None:
        raise Refused(f"There is no such {record_called(record)}.", "Look again.")
    return found


def _change(
    session: Session,
    kind: EntryKind,
    record: str,
    record_id: int,
    seen: int,
    changes: Mapping[str, object],
    allowed: frozenset[str],
    by: By,
) -> int:
    draft = begin_draft(session, kind, by)
    if not changes:
        raise Refused("Nothing is changed.", "Change something, or leave it.")
    strange = sorted(set(changes) - allowed)
    if strange:
        raise FieldRefused(strange[0], f"The {strange[0]} of a {record} can't be changed.", "Leave it.")
    refuse_stale(session, record, record_id, seen, changes)
    draft.set(record, record_id, **changes)
    return post(session, draft).number


def refuse_stale(
    session: Session, record: str, record_id: int, seen: int, wanted: Mapping[str, object] | None = None
) -> None:
    """Refuse a change to a record that another entry than the one ``seen`` has set since, naming who.

    Of what is ``wanted`` by column, it says what now stands there instead.
    """
    now_set_by = seen_of(session, record, record_id)
    if now_set_by == seen:
        return
    row = session.execute(
        select(Entry.happened_on, Person.name)
        .join(Person, Person.id == Entry.who)
        .where(Entry.number == now_set_by)
    ).one()
    differs = _both_values(session, record, record_id, seen, wanted or {})
    raise Refused(
        f"{row.name} changed this {record_called(record)} with entry {now_set_by} of"
        f" {row.happened_on.isoformat()}, after you looked{differs}.",
        "Look at it again, and make your change to what stands now.",
    )


def _both_values(
    session: Session, record: str, record_id: int, seen: int, wanted: Mapping[str, object]
) -> str:
    """``: quantity is now 3 off, and you have 4 off``, of what was set since the entry that was seen."""
    later = facts_of(session, record, [record_id], NOW).get(record_id, [])
    set_since = {column for _, number, values in later if number > seen for column in values}
    columns = [column for column in wanted if column in set_since]
    if not columns:
        return ""
    table = TABLES[record]
    now = session.execute(select(table).where(table.c.id == record_id)).one()._mapping
    names = column_names(session, [*wanted.items(), *now.items()])
    part = now.get("part_id")
    measure = session.scalar(select(Part.measure).where(Part.id == part)) if part is not None else None

    def words(column: str, value: object) -> str:
        name = names.get((column, value), "") if isinstance(value, int) else ""
        return value_words(column, value, name, measure or Measure.COUNT)

    said = [
        f"{column_words(column)} is now {words(column, now[column])}, and you have"
        f" {words(column, wanted[column])}"
        for column in columns
        if now[column] != wanted[column]
    ]
    return f": {'; '.join(said)}" if said else ""
