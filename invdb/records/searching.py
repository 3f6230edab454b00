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
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from invdb.records.word_sql import (
    begun_statement,
    counts_statement,
    gathering_statement,
    rows_statement,
    samples_statement,
    stops_statement,
)
from invdb.records.words import FOUND_KINDS, FindWord
from invdb.rules.finding import Query, Sought, one_slip, word_range

RARE_MAX = 1_000
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
    """The ranges of one word that hold rows of a kind, and about how many rows."""

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
        kinds = tuple(_begun(connection, FOUND_KINDS, others)) if others else FOUND_KINDS
        for kind, words in _present(connection, kinds, typed).items():
            for hit in _fitting(connection, query.corrected(i, words), (kind,), limit):
                found.setdefault((hit.kind, hit.ref), hit)
    return sorted(found.values(), key=lambda hit: hit.order)[:limit]


def _fitting(connection: Connection, query: Query, kinds: tuple[str, ...], limit: int) -> list[Hit]:
    if len(query.words) == 1:
        return _having_one(connection, query.words[0], kinds, limit)
    whole = [[word_range(form) for form in sorted(word.forms)] for word in query.words]
    ranges = [word.ranges() for word in query.words]
    found: list[Hit] = []
    finished: set[str] = set()
    for kind, words in _sampled(connection, kinds, whole).items():
        rows = _walked(connection, kind, words, None, limit)
        if rows is None:
            fits = _counted(connection, (kind,), ranges)[kind]
            every = _gathered(connection, kind, fits, query.longest, limit)
            if len(every) < limit:
                exact = _exact_among(connection, kind, query, [ref for _, ref in every])
                found += [Hit(kind, ref, "" if ref in exact else word) for word, ref in every]
                finished.add(kind)
                continue
            rows = _gathered(connection, kind, words, None, limit)
        found += [Hit(kind, ref, "") for _, ref in rows]
    exact_hits = {(hit.kind, hit.ref) for hit in found if hit.exact}
    if len(exact_hits) < limit:
        left = tuple(kind for kind in kinds if kind not in finished)
        for kind, words in _counted(connection, left, ranges).items():
            rows = _walked(connection, kind, words, query.longest, limit + len(exact_hits))
            if rows is None:
                rows = _gathered(connection, kind, words, query.longest, limit + len(exact_hits))
            found += [Hit(kind, ref, word) for word, ref in rows if (kind, ref) not in exact_hits]
            if sum(_RANK[hit.kind] <= _RANK[kind] for hit in found) >= limit:
                break
    return sorted(found, key=lambda hit: hit.order)[:limit]


def _exact_among(connection: Connection, kind: str, query: Query, refs: list[int]) -> set[int]:
    """Which of these records have each word of the query exactly."""
    forms = frozenset[str]().union(*(word.forms for word in query.words))
    rows = connection.execute(
        select(_WORD.c.ref, _WORD.c.word).where(
            _WORD.c.kind == kind, _WORD.c.ref.in_(refs), _WORD.c.word.in_(sorted(forms))
        )
    )
    own: dict[int, set[str]] = defaultdict(set)
    for ref, word in rows:
        own[ref].add(word)
    return {ref for ref, words in own.items() if all(word.forms & words for word in query.words)}


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


def _walked(
    connection: Connection, kind: str, words: list[Counted], lead: int | None, limit: int
) -> list[tuple[str, int]] | None:
    """The first records that have each of the words, by their least word for the leading one and by id.

    Without ``lead`` by id alone, which is the order of the rows of any one whole word. None where another
    word is rare, or where ``WALKED_MAX`` rows do not name enough records.
    """
    rarest = min(words, key=lambda word: word.rows)
    driver = rarest if lead is None else words[lead]
    if rarest.rows < RARE_MAX and driver is not rarest:
        return None
    stops = _stops(connection, kind, driver.ranges) if driver.rows > WALKED_MAX else {}
    # What few records have is looked up first, so that most are left out by one look.
    others = sorted((word for word in words if word is not driver), key=lambda word: word.rows)
    looked_up = [word.ranges for word in others]
    found: dict[int, str] = {}
    for _, word, ref in _first_rows(connection, (kind,), driver.ranges, limit, stops, looked_up):
        found[ref] = "" if lead is None else min(word, found.get(ref, word))
    rows = sorted((word, ref) for ref, word in found.items())
    if stops:
        # Beyond the first stop there may be records that were not walked to.
        sure = min(("" if lead is None else word, ref) for word, ref in stops.values())
        rows = [row for row in rows if row <= sure]
        if len(rows) < limit:
            return None
    return rows[:limit]


def _gathered(
    connection: Connection, kind: str, words: list[Counted], lead: int | None, limit: int
) -> list[tuple[str, int]]:
    """As `_walked`, by gathering every record that has the rarest word."""
    ordered = sorted(words, key=lambda word: word.rows)
    padded = [_padded(word.ranges) for word in ordered]
    statement = gathering_statement(
        None if lead is None else ordered.index(words[lead]),
        RARE_MAX <= ordered[1].rows < SIFTED_TO_PROBED * ordered[0].rows,
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
    statement = rows_statement(kinds, len(padded), tuple(map(len, padded_others)))
    bound: dict[str, Any] = _bound("fit", padded)
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
    rows = connection.execute(stops_statement(len(padded)), bound)
    return {i: (word, ref) for i, word, ref in rows}


def _sampled(connection: Connection, kinds: tuple[str, ...], words: list[Ranges]) -> dict[str, list[Counted]]:
    """For each kind that has all of these whole words, the spellings that there are, and about how many rows.

    The rows of a whole word are in order by id. If there are more than ``SAMPLED_MAX``, how far the ids have
    come by then tells about how many there are.
    """
    found = {}
    for kind, there in _begun(connection, kinds, words).items():
        ranges = _each_once(there)
        padded = _padded(ranges)
        statement, bound = samples_statement(kind, len(padded)), _bound("fit", padded)
        highest, *samples = connection.execute(statement, bound).one()
        rows = {
            some: count if ref is None else max(count, count * highest // max(ref, 1))
            for some, count, ref in zip(ranges, samples[::2], samples[1::2], strict=False)
        }
        found[kind] = [Counted(word, sum(rows[some] for some in word)) for word in there]
    return found


def _counted(connection: Connection, kinds: tuple[str, ...], words: list[Ranges]) -> dict[str, list[Counted]]:
    """For each kind that has all words, those ranges of each word that hold rows, and how many.

    Of a range no more than ``COUNTED_MAX`` rows are counted.
    """
    found = {}
    for kind, there in _begun(connection, kinds, words).items():
        ranges = _each_once(there)
        padded = _padded(ranges)
        counts = connection.execute(counts_statement(kind, len(padded)), _bound("fit", padded)).one()
        rows = dict(zip(ranges, counts, strict=False))
        found[kind] = [Counted(word, sum(rows[some] for some in word)) for word in there]
    return found


def _begun(connection: Connection, kinds: tuple[str, ...], words: list[Ranges]) -> dict[str, list[Ranges]]:
    """For each kind that has all words, those ranges of each word that hold rows."""
    if not kinds:
        return {}
    ranges = _each_once(words)
    padded = _padded(ranges)
    found = {}
    for kind, *begun in connection.execute(begun_statement(kinds, len(padded)), _bound("fit", padded)):
        there = {some for some, rows in zip(ranges, begun, strict=False) if rows}
        of_words = [[some for some in word if some in there] for word in words]
        if all(of_words):
            found[kind] = of_words
    return found


def _each_once(words: list[Ranges]) -> Ranges:
    return list(dict.fromkeys(some for word in words for some in word))


def _present(connection: Connection, kinds: Sequence[str], typed: str) -> dict[str, list[str]]:
    """The words one slip away from what was typed that there are, by kind.

    Of each kind the first ``SLIP_WORDS_MAX``. It is not asked about a slip at a place of the word if no word
    of the kind begins as was typed before that place, which leaves few of up to 2,400 possible words.
    """
    slips = one_slip(typed)
    if not kinds or not slips:
        return {}
    ranges = [sorted(slip.beginnings) for slip in slips]
    padded = _padded([some for of_slip in ranges for some in of_slip])
    places: dict[tuple[bool, ...], list[str]] = defaultdict(list)
    for kind, *begun in connection.execute(begun_statement(tuple(kinds), len(padded)), _bound("fit", padded)):
        there = iter(begun)
        places[tuple(any([next(there) for _ in of_slip]) for of_slip in ranges)].append(kind)
    listed = [", ".join(f"'{word}'" for word in slip.words) for slip in slips]
    # A word holds nothing but letters and digits, and to hand many over as bound values takes longer than to
    # look them up.
    assert all("".join(slip.words).isalnum() for slip in slips if slip.words)
    asked = []
    for possible, of_kinds in places.items():
        wanted = ", ".join(some for some, there in zip(listed, possible, strict=True) if some and there)
        if wanted:
            named = ", ".join(f"'{kind}'" for kind in of_kinds)
            asked.append(
                f"SELECT DISTINCT kind, word FROM word WHERE kind IN ({named}) AND word IN ({wanted})"
            )
    present: dict[str, list[str]] = defaultdict(list)
    if asked:
        for kind, word in sorted(tuple(row) for row in connection.exec_driver_sql(" UNION ALL ".join(asked))):
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
