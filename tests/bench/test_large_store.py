"""The store that the benchmarks measure in is a right one, and both ways of finding give the same."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from sqlalchemy.orm import Session
from sqlalchemy.pool import NullPool

from invdb.acts.find import find
from invdb.records.words import word_differences
from tests.bench.bench_find import committed_queries, percentile, write_by_hand
from tests.bench.large_store import Size, build

SMALL = Size(parts=600, pieces=3_000, batches=120, bins=60, documents=200, firms=250, pulls=20)


@pytest.fixture(scope="module")
def large_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The benchmark's store, small."""
    path = tmp_path_factory.mktemp("bench") / "large.invdb"
    build(path, SMALL)
    return path


def test_its_words_are_those_of_its_records(large_store: Path) -> None:
    engine = create_engine(f"sqlite:///{large_store}", poolclass=NullPool)
    with engine.connect() as connection:
        assert list(word_differences(connection)) == []


def test_the_statements_by_hand_find_what_ours_does(large_store: Path) -> None:
    queries = committed_queries()
    assert len(queries) == 500
    engine = create_engine(f"sqlite:///{large_store}", poolclass=NullPool)
    found = 0
    with Session(engine) as session, closing(sqlite3.connect(large_store)) as connection:
        for about, text in queries:
            ours = {(each.kind, each.ref) for each in find(session, text).found}
            assert set(write_by_hand(connection, text).answer(connection)) == ours, (about, text)
            found += len(ours)
    assert found > 500


def test_a_percentile_is_one_of_the_times() -> None:
    assert percentile([4.0, 1.0, 3.0, 2.0], 0.5) == 2.0
    assert percentile([4.0, 1.0, 3.0, 2.0], 0.95) == 4.0
