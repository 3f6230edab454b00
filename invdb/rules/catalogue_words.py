"""What a column of the catalogue is called, and its values in words, as a person would read of a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from invdb.rules.folding import Plain
from invdb.rules.life import hours_words
from invdb.rules.life_limits import amount_words, months_words
from invdb.rules.quantities import quantity_words
from invdb.terms import LifeMeasure, Measure

_CALLED = {
    "group_name": "group",
    "life_limit_hours": "life limit",
    "shelf_life_months": "shelf life",
    "from_on": "from",
    "until_on": "until",
    "mod_embodied": "that mod embodied",
    "family_id": "family",
}
# What comes first when a change is told; the rest follows by name.
_ORDER = (
    *("name", "part_id", "quantity", "renewed_always", "positions", "serial_from", "serial_to"),
    *("engine_type_id", "mod_id", "mod_embodied", "from_on", "until_on"),
)
# Columns by which a record is called already, so that they aren't told again when it is added.
_NAMING: Mapping[str, frozenset[str]] = {
    "part": frozenset(),
    "other_number": frozenset({"part_id", "number", "kind"}),
    "part_hazard": frozenset({"part_id", "hazard"}),
    "part_size": frozenset({"part_id", "size_class", "sequence"}),
    "life_limit": frozenset({"part_id", "amount", "measure", "since", "counted"}),
    "spec": frozenset({"part_id", "revision"}),
    "kit_line": frozenset({"engine_type_id", "group_name", "station", "sequence"}),
    "stand_in": frozenset({"part_id"}),
    "fit_limit": frozenset({"engine_type_id", "group_name", "name", "sequence"}),
    "document_link": frozenset({"part_id", "document_id"}),
}


@dataclass(frozen=True)
class FieldChange:
    """One column before and after, in words; ``was`` is '' where the record began with it."""

    name: str
    was: str
    becomes: str

    @property
    def words(self) -> str:
        """``quantity 2 off → 3 off``; ``quantity 2 off`` of what began with it."""
        return f"{self.name} {self.was} → {self.becomes}" if self.was else f"{self.name} {self.becomes}"


@dataclass(frozen=True)
class RecordChange:
    """What an entry did to one record of the catalogue, ``what``: added it, or changed fields of it."""

    what: str
    added: bool
    fields: tuple[FieldChange, ...]

    @property
    def words(self) -> str:
        """``kit line Linnet cylinder, exhaust springs: quantity 2 off → 3 off``."""
        said = "; ".join(field.words for field in self.fields)
        if self.added:
            return f"{self.what} added{f': {said}' if said else ''}"
        return f"{self.what}: {said}"


def column_words(column: str) -> str:
    """``life limit``, ``renewed always``: what a column is called."""
    return _CALLED.get(column, column.removesuffix("_id").replace("_", " "))


def value_words(column: str, value: object, name: str = "", measure: Measure = Measure.COUNT) -> str:
    """A value in words, ``none`` where there is none; of an id the ``name`` of what it points at.

    ``measure`` is that of a quantity's part.
    """
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name:
        return name
    if isinstance(value, int):
        match column:
            case "quantity":
                return quantity_words(value, measure)
            case "life_limit_hours":
                return hours_words(value)
            case "shelf_life_months":
                return months_words(value)
    return str(value)


def record_called(record: str) -> str:
    """``kit line``, ``stand-in``, ``hazard``: what one kind of record is called."""
    called = {"stand_in": "stand-in", "part_hazard": "hazard", "other_number": "number"}
    return called.get(record, record.replace("_", " "))


def record_words(record: str, values: Mapping[str, Plain], names: Mapping[tuple[str, int], str]) -> str:
    """What a record of the catalogue is called: ``kit line Linnet cylinder, exhaust valve``.

    ``names`` are those of what it points at, by column and id; of a stand-in by ``members`` and its own.
    """

    def named(column: str) -> str:
        value = values.get(column)
        return names.get((column, value), str(value)) if isinstance(value, int) else ""

    match record:
        case "part":
            return "the part"
        case "other_number":
            return f"{values.get('kind')} number {values.get('number')}"
        case "part_hazard":
            return f"hazard {values.get('hazard')}"
        case "part_size":
            return f"size {values.get('size_class')}"
        case "life_limit":
            amount = values.get("amount")
            assert isinstance(amount, int)
            measure = LifeMeasure(str(values.get("measure")))
            return f"life limit {amount_words(amount, measure)} since {values.get('since')}"
        case "spec":
            return f"specification {values.get('revision')}"
        case "kit_line":
            return f"kit line {named('engine_type_id')} {values.get('group_name')}, {values.get('station')}"
        case "stand_in":
            return f"stand-in {named('members')} for {named('part_id')}"
        case "fit_limit":
            return f"fit {values.get('name')}, {named('engine_type_id')} {values.get('group_name')}"
        case "document_link":
            return f"paper {named('document_id')}"
    raise ValueError(f"{record} is no record of a part")


def fields_changed(
    record: str,
    before: Mapping[str, Plain] | None,
    said: Mapping[str, Plain],
    names: Mapping[tuple[str, int], str],
    measure: Measure = Measure.COUNT,
) -> tuple[FieldChange, ...]:
    """What a fact changed, by column; ``before`` None: it began the record, and only what it has is told."""

    def words(column: str, value: object) -> str:
        name = names.get((column, value), "") if isinstance(value, int) else ""
        return value_words(column, value, name, measure)

    columns = sorted(
        said, key=lambda column: (_ORDER.index(column) if column in _ORDER else len(_ORDER), column)
    )
    if before is None:
        return tuple(
            FieldChange(column_words(column), "", words(column, said[column]))
            for column in columns
            if column not in _NAMING[record] and said[column] not in (None, "", False)
        )
    return tuple(
        FieldChange(column_words(column), words(column, before.get(column)), words(column, said[column]))
        for column in columns
        if before.get(column) != said[column]
    )
