"""The words of a query name the same records, in the same order, as looking at every record would."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Connection, create_engine, event, insert
from sqlalchemy.pool import NullPool

from invdb.records import searching
from invdb.records.searching import Hit, fitting, fitting_but_for_a_slip
from invdb.records.words import FOUND_KINDS, FindWord
from invdb.rules.finding import Query, name_words, number_words, one_slip, readings

SIDES = ["inlet", "exhaust", "oil", "front", "Ölrückführ", "выпускной"]
THINGS = ["valve", "valve guide", "valve-seat", "piston", "tab washer", "tabwasher", "клапан", "pin"]
QUERIES = [
    "valve", "v", "1", "0", "pi", "inlet valve", "valve inlet", "exhaust inlet", "inlet 1", "p 1 valve",
    "tab washer", "tabwasher", "guide-valve-inlet", "A-1-2", "A 1 2", "a12", "oil 12", "olruckfuhr", "клап",
    "выпускнои клапан", "PI0012", "PI 12", "pi012 valve", "front pin 3", "valve guide valve", "1 2", "1 1 1",
    "nothing here", "valve zzz",
]  # fmt: skip
SLIPS = [
    "vlave",
    "inlet vlave",
    "inelt valve",
    "pistn",
    "piston fornt",
    "клпан",
    "pi0021",
    "a 1 22",
    "qqqqq",
    "va1ve",
]


Words = dict[tuple[str, int], set[str]]


def some_words(records: int, seed: int) -> Words:
    """Records of every kind, with names and numbers that share many words."""
    choice = random.Random(seed)
    words: Words = {}
    for ref in range(1, records + 1):
        kind = choice.choice((*FOUND_KINDS[:4], "part", "part", "piece"))
        number = f"{choice.choice(['PI', 'A', 'RO', 'LN'])}{choice.randrange(30):04d}-{choice.randrange(4)}"
        name = f"{choice.choice(SIDES)} {choice.choice(THINGS)}"
        bin_ = f"{choice.choice('AB')}-{choice.randrange(3)}-{choice.randrange(13):02d}"
        words[kind, ref] = number_words(number) | (name_words(name) if ref % 3 else number_words(bin_))
    return words


def order_by_looking_at_all(words: Words, query: Query) -> list[tuple[str, int, bool]]:
    """Records with every word of the query: exact ones by kind and id, then by their least fitting word."""
    exact, others = [], []
    longest = query.words[query.longest]
    for (kind, ref), own in words.items():
        rank = FOUND_KINDS.index(kind)
        fitting_words = [
            {word for word in own if any(low <= word < high for low, high in sought.ranges())}
            for sought in query.words
        ]
        if all(sought.forms & own for sought in query.words):
            exact.append((rank, ref))
        elif all(fitting_words):
            others.append((rank, min(fitting_words[query.words.index(longest)]), ref))
    return [(FOUND_KINDS[rank], ref, True) for rank, ref in sorted(exact)] + [
        (FOUND_KINDS[rank], ref, False) for rank, _, ref in sorted(others)
    ]


def named(hits: list[Hit]) -> list[tuple[str, int, bool]]:
    return [(hit.kind, hit.ref, hit.exact) for hit in hits]


@pytest.fixture
def words() -> Words:
    return some_words(800, seed=7)


@pytest.fixture
def connection(store_url: str, words: Words) -> Iterator[Connection]:
    """A database that holds these words and nothing else."""
    url = store_url if "://" in store_url else f"sqlite:///{Path(store_url)}"
    engine = create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        FindWord.metadata.create_all(connection, tables=[FindWord.metadata.tables["word"]])
        rows = [
            {"kind": kind, "ref": ref, "word": word} for (kind, ref), own in words.items() for word in own
        ]
        connection.execute(insert(FindWord), rows)
        yield connection


@pytest.fixture(params=["walked", "gathered", "as shipped"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """The bounds set so that even few records take each way of searching."""
    if request.param == "walked":
        monkeypatch.setattr(searching, "RARE_MAX", 1)
    elif request.param == "gathered":
        monkeypatch.setattr(searching, "RARE_MAX", 5)
        monkeypatch.setattr(searching, "WALKED_MAX", 3)
    return str(request.param)


@pytest.mark.parametrize("limit", [5, 2000])
def test_the_first_records_in_the_stated_order_are_found(
    connection: Connection, words: Words, way: str, limit: int
) -> None:
    found = 0
    for text in QUERIES:
        for query in readings(text):
            expected = order_by_looking_at_all(words, query)
            assert named(fitting(connection, query, limit)) == expected[:limit], text
            found += len(expected)
    assert found > 500


@pytest.mark.parametrize("limit", [3, 51])
def test_records_that_fit_but_for_one_slip_are_found(
    connection: Connection, words: Words, limit: int
) -> None:
    found = 0
    for text in SLIPS:
        query = readings(text)[0]
        expected = set()
        for i, typed in enumerate(query.typed):
            corrected = query.corrected(i, [word for slip in one_slip(typed) for word in slip.words])
            expected |= {(kind, ref) for kind, ref, _ in order_by_looking_at_all(words, corrected)}
        hits = fitting_but_for_a_slip(connection, query, limit)
        assert {(hit.kind, hit.ref) for hit in hits} <= expected, text
        assert len(hits) == min(limit, len(expected)), text
        assert hits == sorted(hits, key=lambda hit: hit.order)
        found += len(hits)
    assert found > 20


def test_a_word_that_many_records_have_more_than_once_is_read_on(connection: Connection) -> None:
    ref = 10_000
    rows = [{"kind": "part", "ref": ref + i % 9, "word": f"xy{i:03d}"} for i in range(540)]
    connection.execute(insert(FindWord), rows)
    hits = fitting(connection, readings("xy")[0], 8)
    assert named(hits) == [("part", ref + i, False) for i in range(8)]


def test_few_statements_are_sent_however_many_records_fit(connection: Connection) -> None:
    sent: dict[str, int] = defaultdict(int)

    def count(*_: object) -> None:
        sent["now"] += 1

    event.listen(connection, "before_cursor_execute", count)
    for text in QUERIES:
        for query in readings(text):
            sent["now"] = 0
            fitting(connection, query, 51)
            assert sent["now"] <= 2 + 4 * len(FOUND_KINDS), text
