"""The databases that the tests of records and acts run on are real, empty and apart from each other."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from tests.postgres import fresh_postgres_url, postgres_template


def put_in_a_drawer(url: str) -> None:
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("CREATE TABLE drawer (label TEXT NOT NULL)"))
        connection.execute(text("INSERT INTO drawer VALUES ('Ключи')"))
    engine.dispose()


def labels_in(url: str) -> list[str]:
    engine = create_engine(url)
    with engine.connect() as connection:
        found = list(connection.execute(text("SELECT label FROM drawer")).scalars())
    engine.dispose()
    return found


@pytest.mark.parametrize("round_number", [1, 2])
def test_each_test_begins_with_an_empty_postgresql_database(postgres_url: str, round_number: int) -> None:
    put_in_a_drawer(postgres_url)  # would fail the second time, were it the same database
    assert labels_in(postgres_url) == ["Ключи"]


def test_a_template_is_filled_once_and_its_copies_stay_apart() -> None:
    filled = []

    def fill(url: str) -> None:
        filled.append(url)
        put_in_a_drawer(url)

    with (
        fresh_postgres_url(postgres_template(fill)) as first,
        fresh_postgres_url(postgres_template(fill)) as second,
    ):
        engine = create_engine(first)
        with engine.begin() as connection:
            connection.execute(text("DELETE FROM drawer"))
        engine.dispose()
        assert labels_in(first) == []
        assert labels_in(second) == ["Ключи"]
    assert len(filled) == 1


def test_a_store_may_be_made_on_either_database(store_url: str) -> None:
    if store_url.startswith("postgresql+psycopg://"):
        engine = create_engine(store_url)
        with engine.connect() as connection:
            version = int(connection.execute(text("SHOW server_version_num")).scalar_one())
        engine.dispose()
        assert version >= 150000
    else:
        assert not Path(store_url).exists()
        assert Path(store_url).parent.is_dir()
