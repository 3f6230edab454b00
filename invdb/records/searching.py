"""Which records have the words of a query, in the order of listing, read from the table of words alone.

The order is: those that have every word exactly, by kind and id; then those in which a word only begins so,
by kind, the least of their words that fits the longest word of the query, and id. Each kind is read in that
order from its index, so that a query for what many have stops at the first few:

- for one word, the first rows of each kind's range;
- for several, kind by kind, where each of them has rows: at most ``WALKED_MAX`` rows of one word are walked
  in order and each record is looked at; of the rarest word where all are sought exactly, else of the longest.
  Where that does not name enough records, because the words are common one by one and hardly occur together,
  or where one word is rare, all records with the rarest word are gathered and sifted by the others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    BigInteger,
    ColumnElement,
    Connection,
    FromClause,
    Select,
    and_,
    bindparam,
    exists,
    func,
    literal,
    or_,
    select,
    union_all,
)
from sqlalchemy.sql import CompoundSelect

from invdb.records.base import PlainText
from invdb.records.words import FOUND_KINDS, FindWord
from invdb.rules.finding import Query, Sought, one_slip_variants, word_range

RARE_MAX = 1_000
COUNTED_MAX = 25_000
WALKED_MAX = 4_000
# To probe for a record's word costs about as much as to read through so many rows.
SIFTED_TO_PROBED = 6
SLIP_WORDS_MAX = 32

Ranges = list[tuple[str, str]]
Stops = dict[int, tuple[str, int]]

_WORD = FindWord.__table__
_RANK = {kind: rank for rank, kind in enumerate(FOUND_KINDS)}


@dataclass(frozen=True)
class Hit:
    """A record that has the words of a query.

    ``word`` is the least of its words that fits the longest one of the query, or nothing where the record
    has each word exactly.
    """

    kind: str
    ref: int
    word: str

    @property
    def exact(self) -> bool:
        """Whether the record has each word of the query as it was typed."""
        return not self.word

    @property
    def order(self) -> tuple[bool, int, str, int]:
        """The key of the order of listing."""
        return not self.exact, _RANK[self.kind], self.word, self.ref


@dataclass(frozen=True)
class Counted:
    """The ranges of one word that hold rows of a kind, and how many rows."""

    ranges: Ranges
    rows: int


def fitting(connection: Connection, query: Query, limit: int) -> list[Hit]:
    """The first records, at most ``limit``, that have every word of the query."""
    if not query.words:
        return []
    return _fitting(connection, query, FOUND_KINDS, limit)


def fitting_but_for_a_slip(connection: Connection, query: Query, limit: int) -> list[Hit]:
    """The first records that have every word of the query when one slip in it is undone."""
    found: dict[tuple[str, int], Hit] = {}
    for i, typed in enumerate(query.typed):
        others = [word.ranges() for word in (*query.words[:i], *query.words[i + 1 :])]
        kinds = tuple(_counted(connection, FOUND_KINDS, others)) if others else FOUND_KINDS
        for kind, words in _present(connection, kinds, one_slip_variants(typed)).items():
            for hit in _fitting(connection, query.corrected(i, words), (kind,), limit):
                found.setdefault((hit.kind, hit.ref), hit)
    return sorted(found.values(), key=lambda hit: hit.order)[:limit]


def _fitting(connection: Connection, query: Query, kinds: tuple[str, ...], limit: int) -> list[Hit]:
    if len(query.words) == 1:
        return _having_one(connection, query.words[0], kinds, limit)
    whole = [[word_range(form) for form in sorted(word.forms)] for word in query.words]
    found = [
        Hit(kind, ref, "")
        for kind, words in _counted(connection, kinds, whole).items()
        for _, ref in _having_all(connection, kind, words, None, limit)
    ]
    if len(found) >= limit:
        return sorted(found, key=lambda hit: hit.order)[:limit]
    exact = {(hit.kind, hit.ref) for hit in found}
    ranges = [word.ranges() for word in query.words]
    for kind, words in _counted(connection, kinds, ranges).items():
        rows = _having_all(connection, kind, words, query.longest, limit + len(exact))
        found += [Hit(kind, ref, word) for word, ref in rows if (kind, ref) not in exact]
        if len(found) >= limit:
            break
    return sorted(found, key=lambda hit: hit.order)[:limit]


def _having_one(connection: Connection, sought: Sought, kinds: tuple[str, ...], limit: int) -> list[Hit]:
    ranges = sought.ranges()
    starts = {low for low, _ in ranges}
    # A whole word at the start of its range is read first in any case.
    ranges += [word_range(form) for form in sorted(sought.forms) if form not in starts]
    found: dict[tuple[str, int], Hit] = {}
    for kind, word, ref in _first_rows(connection, kinds, ranges, limit):
        hit = Hit(kind, ref, "" if word in sought.forms else word)
        known = found.get((kind, ref))
        if known is None or hit.order < known.order:
            found[kind, ref] = hit
    return sorted(found.values(), key=lambda hit: hit.order)[:limit]


def _having_all(
    connection: Connection, kind: str, words: list[Counted], lead: int | None, limit: int
) -> list[tuple[str, int]]:
    """The first records that have each of the words, by their least word for the leading one and by id.

    Without ``lead`` by id alone, which is the order of the rows of any one whole word.
    """
    rarest = min(words, key=lambda word: word.rows)
    driver = rarest if lead is None else words[lead]
    # What few records have is looked up first, so that most are left out by one look.
    others = sorted((word for word in words if word is not driver), key=lambda word: word.rows)
    if rarest.rows >= RARE_MAX or driver is rarest:
        stops = _stops(connection, kind, driver.ranges) if driver.rows > WALKED_MAX else {}
        found: dict[int, str] = {}
        looked_up = [word.ranges for word in others]
        for _, word, ref in _first_rows(connection, (kind,), driver.ranges, limit, stops, looked_up):
            found[ref] = "" if lead is None else min(word, found.get(ref, word))
        rows = sorted((word, ref) for ref, word in found.items())
        if stops:
            # Beyond the first stop there may be records that were not walked to.
            sure = min(("" if lead is None else word, ref) for word, ref in stops.values())
            rows = [row for row in rows if row <= sure]
        if not stops or len(rows) >= limit:
            return rows[:limit]
    ordered = sorted(words, key=lambda word: word.rows)
    padded = [_padded(word.ranges) for word in ordered]
    statement = _gathering_statement(
        None if lead is None else ordered.index(driver),
        RARE_MAX <= ordered[1].rows < SIFTED_TO_PROBED * rarest.rows,
        tuple(map(len, padded)),
    )
    bound: dict[str, Any] = {"kind": kind, "count": limit}
    for i, some in enumerate(padded):
        bound |= _bound(f"fit{i}", some)
    return [(word, ref) for word, ref in connection.execute(statement, bound)]


def _first_rows(
    connection: Connection,
    kinds: tuple[str, ...],
    ranges: Ranges,
    limit: int,
    stops: Stops | None = None,
    others: Sequence[Ranges] = (),
) -> list[tuple[str, str, int]]:
    """Of each kind and range the first rows by word and id, enough for ``limit`` different records.

    No row beyond the range's stop, and only rows of records that have a word in each of ``others`` too. A
    record stands in as many rows as it has words in the range, so more are read when these do not suffice.
    """
    padded, padded_others = _padded(ranges), [_padded(some) for some in others]
    several = kinds if len(kinds) > 1 else ()
    statement = _rows_statement(several, len(padded), tuple(map(len, padded_others)))
    bound: dict[str, Any] = {"kind": kinds[0], **_bound("fit", padded)}
    for i, (_, high) in enumerate(padded):
        bound[f"stop_{i}_word"], bound[f"stop_{i}_ref"] = (stops or {}).get(i, (high, 0))
    for i, some in enumerate(padded_others):
        bound |= _bound(f"other{i}", some)
    count = limit
    while True:
        rows = connection.execute(statement, bound | {"count": count}).all()
        blocks: dict[int, list[int]] = defaultdict(list)
        for block, _, _, ref in rows:
            blocks[block].append(ref)
        if all(len(refs) < count or len(set(refs)) >= limit for refs in blocks.values()):
            return [(kind, word, ref) for _, kind, word, ref in rows]
        count *= 4


def _stops(connection: Connection, kind: str, ranges: Ranges) -> Stops:
    """The last row that is walked of each range that has more than ``WALKED_MAX``."""
    padded = _padded(ranges)
    bound: dict[str, Any] = {"kind": kind, "walked": WALKED_MAX - 1, **_bound("fit", padded)}
    rows = connection.execute(_stops_statement(len(padded)), bound)
    return {i: (word, ref) for i, word, ref in rows}


def _counted(connection: Connection, kinds: tuple[str, ...], words: list[Ranges]) -> dict[str, list[Counted]]:
    """For each kind that has all words, those ranges of each word that hold rows, and how many.

    Of a range no more than ``COUNTED_MAX`` rows are counted.
    """
    flat = [some for word in words for some in word]
    padded = _padded(flat)
    statement, bound = _counts_statement(len(padded)), _bound("fit", padded)
    found: dict[str, list[Counted]] = {}
    for kind in kinds:
        counts = iter(connection.execute(statement, {"kind": kind, **bound}).one())
        of_words = [[(next(counts), some) for some in word] for word in words]
        if all(any(rows for rows, _ in word) for word in of_words):
            found[kind] = [
                Counted([some for rows, some in word if rows], sum(rows for rows, _ in word))
                for word in of_words
            ]
    return found


def _present(connection: Connection, kinds: Sequence[str], words: Iterable[str]) -> dict[str, list[str]]:
    """Which of the words there are, by kind; of each kind the first ``SLIP_WORDS_MAX``."""
    present: dict[str, list[str]] = defaultdict(list)
    asked = (
        select(_WORD.c.kind, _WORD.c.word)
        .where(_WORD.c.kind.in_(kinds), _WORD.c.word.in_(sorted(words)))
        .distinct()
        .order_by(_WORD.c.kind, _WORD.c.word)
    )
    for kind, word in connection.execute(asked):
        if len(present[kind]) < SLIP_WORDS_MAX:
            present[kind].append(word)
    return present


def _padded(ranges: Ranges) -> Ranges:
    """Filled up with empty ranges to a power of two, so that there are few statements to prepare."""
    return ranges + [("", "")] * ((1 << (len(ranges) - 1).bit_length()) - len(ranges))


def _bound(name: str, ranges: Ranges) -> dict[str, str]:
    bound: dict[str, str] = {}
    for i, (low, high) in enumerate(ranges):
        bound[f"{name}_{i}_low"], bound[f"{name}_{i}_high"] = low, high
    return bound


def _within(words: FromClause, name: str, i: int) -> ColumnElement[bool]:
    low, high = bindparam(f"{name}_{i}_low", type_=PlainText), bindparam(f"{name}_{i}_high", type_=PlainText)
    return and_(words.c.word >= low, words.c.word < high)


def _has(kind: ColumnElement[str], ref: ColumnElement[int], name: str, ranges: int) -> ColumnElement[bool]:
    """That the record has a word in one of the ranges; each looked up by itself, in its index."""
    words = _WORD.alias()
    of_record = and_(words.c.kind == kind, words.c.ref == ref)
    return or_(*(exists().where(of_record, _within(words, name, i)) for i in range(ranges)))


@lru_cache(maxsize=200)
def _rows_statement(kinds: tuple[str, ...], ranges: int, others: tuple[int, ...]) -> CompoundSelect[Any]:
    blocks: list[Select[Any]] = []
    for kind in kinds or (bindparam("kind", type_=_WORD.c.kind.type),):
        for i in range(ranges):
            block = (
                select(literal(len(blocks)).label("block"), _WORD.c.kind, _WORD.c.word, _WORD.c.ref)
                .where(_WORD.c.kind == kind, _within(_WORD, "fit", i), _up_to_stop(i))
                .where(*(_has(_WORD.c.kind, _WORD.c.ref, f"other{j}", some) for j, some in enumerate(others)))
                .order_by(_WORD.c.word, _WORD.c.ref)
                .limit(bindparam("count"))
            )
            blocks.append(select(block.subquery()))
    return union_all(*blocks)


def _up_to_stop(i: int) -> ColumnElement[bool]:
    word, ref = bindparam(f"stop_{i}_word", type_=PlainText), bindparam(f"stop_{i}_ref", type_=BigInteger)
    return and_(_WORD.c.word <= word, or_(_WORD.c.word < word, _WORD.c.ref <= ref))


@lru_cache(maxsize=200)
def _stops_statement(ranges: int) -> CompoundSelect[Any]:
    kind = bindparam("kind", type_=_WORD.c.kind.type)
    blocks = [
        select(literal(i).label("block"), _WORD.c.word, _WORD.c.ref)
        .where(_WORD.c.kind == kind, _within(_WORD, "fit", i))
        .order_by(_WORD.c.word, _WORD.c.ref)
        .limit(1)
        .offset(bindparam("walked"))
        .subquery()
        for i in range(ranges)
    ]
    return union_all(*(select(block) for block in blocks))


@lru_cache(maxsize=200)
def _counts_statement(ranges: int) -> Select[Any]:
    kind = bindparam("kind", type_=_WORD.c.kind.type)
    rows = [
        select(literal(1).label("one"))
        .where(_WORD.c.kind == kind, _within(_WORD, "fit", i))
        .limit(COUNTED_MAX)
        for i in range(ranges)
    ]
    return select(*(select(func.count()).select_from(some.subquery()).scalar_subquery() for some in rows))


@lru_cache(maxsize=200)
def _gathering_statement(lead: int | None, sifted: bool, ranges: tuple[int, ...]) -> Select[Any]:
    """The words stand in the order of how rare they are, and all records with the first are gathered.

    ``sifted`` if those with the second are gathered too; for the other words each record is probed.
    """
    kind = bindparam("kind", type_=_WORD.c.kind.type)

    def refs(i: int) -> CompoundSelect[Any]:
        return union_all(
            *(
                select(_WORD.c.ref).where(_WORD.c.kind == kind, _within(_WORD, f"fit{i}", j))
                for j in range(ranges[i])
            )
        )

    having = refs(0).cte("having").prefix_with("MATERIALIZED")
    others = [
        having.c.ref.in_(refs(i)) if sifted and i == 1 else _has(kind, having.c.ref, f"fit{i}", some)
        for i, some in enumerate(ranges)
        if i > 0
    ]
    words = _WORD.alias()
    word: ColumnElement[str] = literal("")
    if lead is not None:
        fits = or_(*(_within(words, f"fit{lead}", i) for i in range(ranges[lead])))
        of_record = and_(words.c.kind == kind, words.c.ref == having.c.ref)
        word = select(func.min(words.c.word)).where(of_record, fits).scalar_subquery()
    return (
        select(word.label("word"), having.c.ref)
        .distinct()
        .where(*others)
        .order_by("word", having.c.ref)
        .limit(bindparam("count"))
    )
