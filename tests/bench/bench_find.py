"""Find over 200,000 parts and 1,000,000 pieces, beside the same queries written by hand in sqlite3.

``python -m tests.bench.bench_find`` builds the store in a folder of its own, which takes some minutes and a
gigabyte, answers every line of ``find_queries.txt`` both ways, and prints the pooled percentiles.

The statements by hand are given all that can be known beforehand, which is not timed: the words as they are
kept, which of them is rarest, which kinds have all of them, and which of several ways to write each statement
was the quickest when tried. They read the same records, and the columns that are shown of them.
"""

from __future__ import annotations

import json
import math
import sqlite3
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine
from sqlalchemy.orm import Session

from invdb.acts.find import FOUND_MAX, find
from invdb.records.searching import SLIP_WORDS_MAX
from invdb.records.words import FOUND_KINDS
from invdb.rules.finding import Query, one_slip, readings, word_range
from invdb.rules.numbering import NumberKind, Verdict, format_number, read_number
from tests.bench.large_store import Size, build
from tests.bench.measure import Measure

QUERIES = Path(__file__).with_name("find_queries.txt")
ROUNDS = 3
LIMIT = FOUND_MAX + 1
RATIO_MAX = 2.0
SECONDS_MAX = 0.050
TRY_SECONDS_MAX = 0.3

Ranges = list[tuple[str, str]]
Ref = tuple[str, int]

AMONG = "IN (SELECT value FROM json_each(?))"
SHOWN = {
    "part": f"""
        SELECT id, house_number, name,
            (SELECT group_concat(number, ', ') FROM other_number WHERE part_id = part.id),
            EXISTS (SELECT 1 FROM hold WHERE part_id = part.id AND cleared_on IS NULL)
        FROM part WHERE id {AMONG}""",
    "piece": f"""
        SELECT s.id, s.tag, p.house_number, p.name, s.serial, s.condition, s.scope, l.name,
            EXISTS (SELECT 1 FROM hold WHERE piece_id = s.id AND cleared_on IS NULL)
            OR EXISTS (SELECT 1 FROM hold WHERE part_id = p.id AND cleared_on IS NULL)
        FROM piece s JOIN part p ON p.id = s.part_id JOIN place l ON l.id = s.place_id WHERE s.id {AMONG}""",
    "batch": f"""
        SELECT s.id, s.tag, p.house_number, p.name, s.maker_batch, s.condition, s.scope,
            (SELECT group_concat(l.name, ', ') FROM holding h JOIN place l ON l.id = h.place_id
                WHERE h.batch_id = s.id AND h.quantity > 0),
            EXISTS (SELECT 1 FROM hold WHERE batch_id = s.id AND cleared_on IS NULL)
            OR EXISTS (SELECT 1 FROM hold WHERE part_id = p.id AND cleared_on IS NULL)
        FROM batch s JOIN part p ON p.id = s.part_id WHERE s.id {AMONG}""",
    "place": f"""
        SELECT a.id, a.name, a.kind, a.bonded, b.name FROM place a LEFT JOIN place b ON b.id = a.parent_id
        WHERE a.id {AMONG}""",
    "pull": f"""
        SELECT p.id, p.number, e.name, o.group_name, o.name, p.asked_on, p.cancelled
        FROM pull p JOIN engine e ON e.id = p.engine_id JOIN position o ON o.id = p.position_id
        WHERE p.id {AMONG}""",
    "engine": f"""
        SELECT e.id, e.name, t.name, e.serial, e.use,
            EXISTS (SELECT 1 FROM hold WHERE engine_id = e.id AND cleared_on IS NULL)
        FROM engine e JOIN engine_type t ON t.id = e.engine_type_id WHERE e.id {AMONG}""",
    "engine_type": f"""
        SELECT t.id, t.name, t.layout, f.name FROM engine_type t LEFT JOIN firm f ON f.id = t.maker_firm_id
        WHERE t.id {AMONG}""",
    "document": f"SELECT id, reference, kind, title, dated_on FROM document WHERE id {AMONG}",
    "firm": f"SELECT id, name, role, town FROM firm WHERE id {AMONG}",
    "mod": f"""
        SELECT m.id, m.code, m.name, t.name FROM mod m JOIN engine_type t ON t.id = m.engine_type_id
        WHERE m.id {AMONG}""",
    "family": f"SELECT id, letters, name FROM family WHERE id {AMONG}",
}


Statement = tuple[str, list[str | int]]


@dataclass(frozen=True)
class ByHand:
    """The statements that answer one text, each with its kind, in the order in which they are needed.

    ``named`` looks up the one record with just that number of ours; ``present`` asks which words there are
    when a slip is to be undone; ``exact`` are all sent, ``others`` until enough records are found.
    """

    named: list[tuple[str, Statement]]
    present: list[Statement]
    exact: list[tuple[str, Statement]]
    others: list[tuple[str, Statement]]

    def answer(self, connection: sqlite3.Connection) -> list[Ref]:
        """Send them, and read what is shown of the first records."""
        for present in self.present:
            connection.execute(*present).fetchall()
        found: dict[Ref, None] = {}
        for kind, statement in [*self.named, *self.exact]:
            found.update(((kind, ref), None) for (ref,) in connection.execute(*statement))
        for kind, statement in self.others:
            if len(found) >= LIMIT:
                break
            found.update(
                ((kind, ref), None) for _, ref in connection.execute(*statement) if (kind, ref) not in found
            )
        first = list(found)[:FOUND_MAX]
        refs: dict[str, list[int]] = defaultdict(list)
        for kind, ref in first:
            refs[kind].append(ref)
        for kind, some in refs.items():
            connection.execute(SHOWN[kind], [json.dumps(some)]).fetchall()
        return first


def write_by_hand(connection: sqlite3.Connection, text: str) -> ByHand:
    """The quickest statements there are, chosen with all the knowledge and time it takes."""
    named = _named(text)
    empty = ByHand(named, [], [], [])
    for query in readings(text):
        written = _for_query(connection, query, FOUND_KINDS, empty)
        if written.answer(connection):
            return written
    written = empty
    query = readings(text)[0]
    for i, typed in enumerate(query.typed):
        variants = sorted({word for slip in one_slip(typed) for word in slip.words})
        others = [word.ranges() for word in (*query.words[:i], *query.words[i + 1 :])]
        kinds = [kind for kind in FOUND_KINDS if all(_filled(connection, kind, some) for some in others)]
        if not kinds or not variants:
            continue
        marks = [", ".join("?" * len(some)) for some in (kinds, variants)]
        asked = f"SELECT DISTINCT kind, word FROM word WHERE kind IN ({marks[0]}) AND word IN ({marks[1]})"
        present: Statement = (asked, [*kinds, *variants])
        written = replace(written, present=[*written.present, present])
        words: dict[str, list[str]] = defaultdict(list)
        for kind, word in connection.execute(f"{asked} ORDER BY kind, word", present[1]):
            words[kind].append(word)
        for kind in (kind for kind in FOUND_KINDS if kind in words):
            corrected = query.corrected(i, words[kind][:SLIP_WORDS_MAX])
            written = _for_query(connection, corrected, (kind,), written)
    return written


def _named(text: str) -> list[tuple[str, Statement]]:
    reading = read_number(text)
    unchecked = reading.verdict is Verdict.MISTYPED and not reading.check
    if reading.kind is None or not (reading.verdict is Verdict.RIGHT or unchecked):
        return []
    number = format_number(reading.prefix, reading.sequence) or ""
    kind, column = {
        NumberKind.HOUSE: ("part", "house_number"),
        NumberKind.PIECE: ("piece", "tag"),
        NumberKind.BATCH: ("batch", "tag"),
        NumberKind.PULL: ("pull", "number"),
    }[reading.kind]
    return [(kind, (f"SELECT id FROM {kind} WHERE {column} = ?", [number]))]


def _for_query(connection: sqlite3.Connection, query: Query, kinds: Sequence[str], so_far: ByHand) -> ByHand:
    exact, others = list(so_far.exact), list(so_far.others)
    for kind in kinds:
        fits = [_filled(connection, kind, word.ranges()) for word in query.words]
        if not all(fits):
            continue
        whole = [
            _filled(connection, kind, [word_range(form) for form in sorted(word.forms)])
            for word in query.words
        ]
        if all(whole):
            exact.append(
                (kind, _quickest(connection, _exact_ways(kind, _rarest_first(connection, kind, whole))))
            )
        ways = _other_ways(connection, kind, fits[query.longest], _rarest_first(connection, kind, fits))
        others.append((kind, _quickest(connection, ways)))
    return replace(so_far, exact=exact, others=others)


def _quickest(connection: sqlite3.Connection, ways: Iterable[Statement]) -> Statement:
    """The one that takes least time, of those that end within ``TRY_SECONDS_MAX``."""

    def seconds(way: Statement) -> float:
        began = time.perf_counter()
        _tried(connection, way)
        middle = time.perf_counter()
        rows = _tried(connection, way)
        return TRY_SECONDS_MAX if rows is None else min(middle - began, time.perf_counter() - middle)

    return min(ways, key=seconds)


def _tried(connection: sqlite3.Connection, statement: Statement) -> list[tuple[Any, ...]] | None:
    """The rows, or None if they take longer than ``TRY_SECONDS_MAX``."""
    stop_at = time.perf_counter() + TRY_SECONDS_MAX
    connection.set_progress_handler(lambda: time.perf_counter() > stop_at, 10_000)
    try:
        return connection.execute(*statement).fetchall()
    except sqlite3.OperationalError as error:
        if "interrupted" not in str(error):
            raise
        return None
    finally:
        connection.set_progress_handler(None, 0)


def _exact_ways(kind: str, words: list[Ranges]) -> Iterator[Statement]:
    """By the rows of the rarest word, which are in order by id where it is spelled one way."""
    for sift in (False, True):
        joined, of_others = _joined(kind, words[1:], sift)
        rows = f"SELECT d.word, d.ref FROM word d WHERE {{}}{joined} ORDER BY d.word, d.ref LIMIT {LIMIT}"
        yield _each(kind, words[0], "SELECT ref FROM", rows, of_others, "ORDER BY ref")


def _other_ways(
    connection: sqlite3.Connection, kind: str, longest: Ranges, words: list[Ranges]
) -> Iterator[Statement]:
    """By the longest word's rows in order, or by the rarest word's and then put in order."""
    others = [word for word in words if word is not longest]
    for sift in (False, True):
        joined, of_others = _joined(kind, others, sift)
        rows = (
            f"SELECT d.word, d.ref FROM word d WHERE {{}}{joined} ORDER BY d.word, d.ref LIMIT {{{{rows}}}}"
        )
        walk, bound = _each(kind, longest, "SELECT word, ref FROM", rows, of_others, "ORDER BY word, ref")
        walked = _tried(connection, (walk.format(rows=LIMIT * LIMIT), bound))
        if walked is not None:
            yield walk.format(rows=_rows_needed(walked)), bound
        if words[0] is not longest:
            said, of_longest = _within(longest, "l")
            joined, of_others = _joined(kind, words[1:], sift)
            rows = f"SELECT d.ref FROM word d WHERE {{}}{joined}"
            least = f"SELECT min(l.word) FROM word l WHERE l.kind = ? AND l.ref = rows.ref AND {said}"
            order = f"AS rows ORDER BY m, ref LIMIT {2 * LIMIT}"
            sort, bound = _each(
                kind, words[0], f"SELECT DISTINCT ({least}) m, ref FROM", rows, of_others, order
            )
            yield sort, [kind, *of_longest, *bound]


def _each(kind: str, ranges: Ranges, head: str, rows: str, bound: list[str | int], tail: str) -> Statement:
    """One statement over the rows of each range, since OR between ranges would read the whole kind."""
    of_ranges = " UNION ALL ".join(
        f"SELECT * FROM ({rows.format('d.kind = ? AND d.word >= ? AND d.word < ?')})" for _ in ranges
    )
    return f"{head} ({of_ranges}) {tail}", [end for ends in ranges for end in (kind, *ends, *bound)]


def _rows_needed(rows: Iterable[tuple[str, int]]) -> int:
    """How many rows name enough records beside those that are exact, of which there are fewer than enough."""
    different: set[int] = set()
    for count, (_, ref) in enumerate(rows, 1):
        different.add(ref)
        if len(different) >= 2 * LIMIT:
            return count
    return LIMIT * LIMIT


def _joined(kind: str, others: list[Ranges], sift: bool) -> Statement:
    """That the record has the other words too: probed for, or the rarest of them looked up in a list."""
    said, bound = "", list[str | int]()
    for i, ranges in enumerate(others):
        within = _within(ranges, "o")
        if sift and i == 0:
            said += f" AND d.ref IN (SELECT o.ref FROM word o WHERE o.kind = ? AND {within[0]})"
            bound += [kind, *within[1]]
        else:
            said += (
                f" AND EXISTS (SELECT 1 FROM word o WHERE o.kind = d.kind AND o.ref = d.ref AND {within[0]})"
            )
            bound += within[1]
    return said, bound


def _within(ranges: Ranges, alias: str) -> Statement:
    said = " OR ".join(f"{alias}.word >= ? AND {alias}.word < ?" for _ in ranges)
    return f"({said})", [end for ends in ranges for end in ends]


def _filled(connection: sqlite3.Connection, kind: str, ranges: Ranges) -> Ranges:
    """Those of the ranges that have rows of the kind."""
    return [some for some in ranges if _count(connection, kind, [some], 1)]


def _rarest_first(connection: sqlite3.Connection, kind: str, words: list[Ranges]) -> list[Ranges]:
    return sorted(words, key=lambda ranges: _count(connection, kind, ranges, 10**9))


def _count(connection: sqlite3.Connection, kind: str, ranges: Ranges, most: int) -> int:
    statement = "SELECT count(*) FROM (SELECT 1 FROM word WHERE kind = ? AND word >= ? AND word < ? LIMIT ?)"
    return sum(
        int(connection.execute(statement, [kind, low, high, most]).fetchone()[0]) for low, high in ranges
    )


def committed_queries() -> list[tuple[str, str]]:
    """What each query is about, and its text."""
    lines = QUERIES.read_text(encoding="utf-8").splitlines()
    return [(about, text) for about, text in (line.split("\t") for line in lines if not line.startswith("#"))]


def percentile(seconds: list[float], share: float) -> float:
    """The nearest-rank percentile."""
    return sorted(seconds)[max(0, math.ceil(share * len(seconds)) - 1)]


def measure(path: Path) -> Iterator[Measure]:
    """Every query both ways, turn about, in a few rounds; all times of all rounds pooled."""
    engine = create_engine(f"sqlite:///{path}")
    ours: dict[str, list[float]] = defaultdict(list)
    reference: dict[str, list[float]] = defaultdict(list)
    with Session(engine) as session, closing(sqlite3.connect(path)) as connection:
        written = [(about, text, write_by_hand(connection, text)) for about, text in committed_queries()]
        for round_number in range(ROUNDS + 1):
            for about, text, by_hand in written:
                began = time.perf_counter()
                result = find(session, text)
                between = time.perf_counter()
                first = by_hand.answer(connection)
                ended = time.perf_counter()
                if round_number == 0:
                    # The first round warms both up, and shows that they do the same.
                    same = {(found.kind, found.ref) for found in result.found} == set(first)
                    if not same:
                        print(f"not the same: {text!r}, {len(result.found)} and {len(first)} records")
                    continue
                ours[about].append(between - began)
                reference[about].append(ended - between)
    engine.dispose()
    for about, times in ours.items():
        yield Measure(f"find, {about}, median", statistics.median(times), statistics.median(reference[about]))
    pooled, pooled_reference = sum(ours.values(), []), sum(reference.values(), [])
    for share in (0.5, 0.99):
        name = f"find, {share:.0%} of all"
        yield Measure(name, percentile(pooled, share), percentile(pooled_reference, share))
    yield Measure(
        "find, 95% of all",
        percentile(pooled, 0.95),
        percentile(pooled_reference, 0.95),
        ratio_max=RATIO_MAX,
        seconds_max=SECONDS_MAX,
    )


def main() -> int:
    """Measure in the large store named, or in one of its own; 0 if all is within what is promised."""
    within = True
    with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
        path = Path(*sys.argv[1:2] or (folder, "large.invdb"))
        if not path.exists():
            build(path, Size())
        for line in measure(path):
            print(line, flush=True)
            within &= line.within
    return 0 if within else 1


if __name__ == "__main__":
    raise SystemExit(main())
