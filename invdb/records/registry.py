"""Which tables facts may set, and how a fact's plain values become a row's."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import Date, ForeignKeyConstraint, Table
from sqlalchemy.sql.schema import Column, ScalarElementColumnDefault

from invdb.records import (
    builds,
    buying,
    catalogue,
    documents,
    doubts,
    engines,
    inspections,
    ledger,
    life,
    people,
    specs,
    stock,
    words,
    work,
)
from invdb.records.base import Base, Recorded, Word
from invdb.rules.folding import Plain
from invdb.terms import Refused

TEXT_LENGTH_MAX = 4000
# What people write at length; every other text is one line.
LONG_TEXTS = frozenset(
    {"note", "wording", "reason", "cleared_because", "why", "caution", "found", "allows", "method"}
    | {"inspection", "report", "wanted", "what_was_done", "ended_because"}
    | {"closed_because", "terms"}
)
# Two names that differ by one of these alone look the same; the joiners that letters need are not among them.
_UNSEEN = frozenset(
    "\u00ad\u200b\u200e\u200f\u2060\ufeff\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_LINE_BREAKS = str.maketrans(dict.fromkeys("\n\t\u2028\u2029", " "))

# Importing the modules is what fills the metadata.
_MODULES = (
    *(builds, buying, catalogue, documents, doubts, engines, inspections, ledger, life),
    *(people, specs, stock, words, work),
)
assert all(_MODULES)


def _recorded() -> dict[str, type[Recorded]]:
    classes = {mapper.local_table: mapper.class_ for mapper in Base.registry.mappers}
    return {
        table.name: cls
        for table, cls in classes.items()
        if isinstance(table, Table) and issubclass(cls, Recorded)
    }


RECORDED = _recorded()
TABLES: dict[str, Table] = {name: Base.metadata.tables[name] for name in RECORDED}
# Rows are made in an order in which every row comes after those that it points at.
MAKING_ORDER = {table.name: place for place, table in enumerate(Base.metadata.sorted_tables)}


def fact_columns(record: str) -> dict[str, Column[Any]]:
    """The columns of a recorded table that come from facts."""
    derived = RECORDED[record].derived_columns | {"id", "set_by"}
    return {column.name: column for column in TABLES[record].columns if column.name not in derived}


FACT_COLUMNS = {record: fact_columns(record) for record in RECORDED}
_DEFAULTS: dict[str, dict[str, Any]] = {
    record: {
        name: column.default.arg if isinstance(column.default, ScalarElementColumnDefault) else None
        for name, column in columns.items()
    }
    for record, columns in FACT_COLUMNS.items()
}


def clean_text(what: str, value: str) -> str:
    """Text as the ledger keeps it: NFC, outer spaces gone; refused when too long, and with characters that
    steer a screen or that nobody sees.
    """
    text = unicodedata.normalize("NFC", value).strip()
    for character in text:
        if character not in "\n\t" and unicodedata.category(character) in {"Cc", "Cs"}:
            raise Refused(
                f"The {what} holds the control character U+{ord(character):04X}.",
                "Type it again without that character.",
            )
        if character in _UNSEEN:
            raise Refused(
                f"The {what} holds the invisible character U+{ord(character):04X}.",
                "Type it again without that character.",
            )
    if len(text) > TEXT_LENGTH_MAX:
        raise Refused(
            f"The {what} is {len(text)} characters long.", f"Keep it under {TEXT_LENGTH_MAX:,} characters."
        )
    return text


def one_line(text: str) -> str:
    """A name or a number as it is kept: NFC, outer spaces gone, and a space for each line break."""
    return unicodedata.normalize("NFC", text).strip().translate(_LINE_BREAKS)


def to_plain(record: str, values: Mapping[str, object]) -> dict[str, Plain]:
    """A fact's values as the ledger's body spells them. KeyError for a column the record has not."""
    plain: dict[str, Plain] = {}
    for name, value in values.items():
        FACT_COLUMNS[record][name]
        breaks = isinstance(value, str) and name not in LONG_TEXTS
        kept = str(value).translate(_LINE_BREAKS) if breaks else value
        plain[name] = _plain(f"{record.replace('_', ' ')}'s {name.replace('_', ' ')}", kept)
    return plain


def _plain(what: str, value: object) -> Plain:
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, int):
        if not -(2**63) <= value < 2**63:
            raise Refused(f"The {what}, {value}, is far too large.", "Check the number.")
        return value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return clean_text(what, value)
    raise TypeError(f"{what}: {value!r} is no plain value")


def to_row(record: str, values: Mapping[str, Plain]) -> dict[str, Any]:
    """A whole row, less ``id``, ``set_by`` and derived columns, from the folded values of its facts."""
    row = dict(_DEFAULTS[record])
    for name, value in values.items():
        column = FACT_COLUMNS[record][name]
        if isinstance(value, str) and isinstance(column.type, Word):
            row[name] = column.type.words(value)
        elif isinstance(value, str) and isinstance(column.type, Date):
            row[name] = date.fromisoformat(value)
        else:
            row[name] = value
    return row


def pointing_at(record: str) -> list[tuple[str, str]]:
    """The recorded tables, and their columns set by facts, that point at rows of ``record``."""
    found = []
    for name, table in TABLES.items():
        for constraint in table.constraints:
            if isinstance(constraint, ForeignKeyConstraint) and constraint.referred_table.name == record:
                column = constraint.column_keys[0]
                if column in FACT_COLUMNS[name]:
                    found.append((name, column))
    return found
