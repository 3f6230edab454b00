"""Which records have the words of a query, in the order of listing, read from the table of words alone.

The order is: those that have every word exactly, then the others; within each by kind, then by the least of
the record's words that fits the longest word of the query, then by id. So that a query for what many have
stops at the first few, each kind is read in that order from its index:

- a query of one word reads the first rows of each kind's range;
- of several words, each is counted first, up to ``RARE_MAX`` rows a kind. Where one of them is rarer, every
  record that has it is looked at; else the longest word's rows are walked in order and each is looked at
  until enough are found. Such a walk is as long as the longest word has rows in the kind where the words are
  common one by one and hardly occur together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    Select,
    and_,
    bindparam,
    case,
    exists,
    func,
    literal,
    or_,
    select,
    union,
    union_all,
)
from sqlalchemy.sql import CompoundSelect

from invdb.records.words import FOUND_KINDS, FindWord
from invdb.rules.finding import Query, Sought, one_slip_variants

RARE_MAX = 1_000
SLIP_WORDS_MAX = 32

Ranges = list[tuple[str, str]]

_WORD = FindWord.__table__
_RANK = {kind: rank for rank, kind in enumerate(FOUND_KINDS)}


@dataclass(frozen=True)
class Hit:
    """A record that has the words: its table and id, and whether it has each of them exactly."""

    kind: str
    ref: int
    exact: bool


def fitting(connection: Connection, query: Query, limit: int) -> list[Hit]:
    """The first records, at most ``limit``, that have every word of the query."""
    if not query.words:
        return []
    if len(query.words) == 1:
        return _having_word(connection, query.words[0], limit)
    found: list[Hit] = []
    counts = _counts(connection, query.words)
    for kind, of_words in counts.items():
        found += _having_words(connection, kind, query, of_words, limit)
    found.sort(key=lambda hit: not hit.exact)
    return found[:limit]
