"""The migrations make exactly the tables that the models speak of, on both databases."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.operations import Operations
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Float, Numeric, Text, create_engine, inspect, text
from sqlalchemy.dialects import postgresql

from invdb import store as stores
from invdb.records import triggers
from invdb.records.base import Base
from invdb.records.registry import RECORDED, TABLES
from invdb.terms import EntryKind, LineKind
from tests.shop import Shop

assert TABLES, "importing the registry is what fills the metadata"


@contextmanager
def connected(url: str) -> Iterator[Connection]:
    engine = create_engine(url if "://" in url else f"sqlite:///{url}")
    with engine.connect() as connection:
        yield connection
    engine.dispose()


def schema(connection: Connection) -> dict[str, Any]:
    """Everything that a database says of its tables but the order of their columns."""
    seen = inspect(connection)
    return {
        table: {
            "columns": {
                column["name"]: (
                    str(column["type"].compile(connection.dialect)),
                    column["nullable"],
                    column["default"],
                    getattr(column["type"], "collation", None),
                )
                for column in seen.get_columns(table)
            },
            "key": (
                seen.get_pk_constraint(table)["name"],
                seen.get_pk_constraint(table)["constrained_columns"],
            ),
            "foreign keys": sorted(
                (
                    str(key["name"]),
                    key["constrained_columns"],
                    key["referred_table"],
                    key["referred_columns"],
                    sorted(key["options"].items()),
                )
                for key in seen.get_foreign_keys(table)
            ),
            "unique": sorted(
                (str(unique["name"]), unique["column_names"]) for unique in seen.get_unique_constraints(table)
            ),
            "checks": sorted(
                (str(check["name"]), re.sub(r"\s+", " ", check["sqltext"]))
                for check in seen.get_check_constraints(table)
            ),
            "indexes": sorted(
                (str(index["name"]), index["column_names"], index["unique"])
                for index in seen.get_indexes(table)
            ),
        }
        for table in seen.get_table_names()
        if table != "alembic_version"
    }


def upgrade_step_by_step(url: str) -> None:
    """Bring an empty database to the newest revision as a store that was opened by every program since."""
    with connected(url) as connection:
        script = ScriptDirectory.from_config(stores._alembic())
        for revision in reversed(list(script.walk_revisions())):
            command.upgrade(stores._alembic(connection), revision.revision)
            connection.commit()


def test_an_upgraded_store_has_the_schema_of_the_models(store_url: str) -> None:
    upgrade_step_by_step(store_url)
    with connected(store_url) as connection:
        upgraded = schema(connection)
        guards = triggers.missing_or_altered(connection)
        triggers.drop(connection)
        for table in upgraded | {"alembic_version": None}:
            connection.execute(
                text(
                    f'DROP TABLE "{table}" CASCADE'
                    if connection.dialect.name == "postgresql"
                    else f'DROP TABLE "{table}"'
                )
            )
        Base.metadata.create_all(connection)
        fresh = schema(connection)
    assert guards == []
    assert upgraded.keys() == fresh.keys()
    for table, wanted in fresh.items():
        assert upgraded[table] == wanted


def test_a_fresh_store_has_the_schema_of_an_upgraded_one(shop: Shop, request: pytest.FixtureRequest) -> None:
    with shop.store.engine.connect() as connection:
        fresh = schema(connection)
    upgrade_step_by_step(request.getfixturevalue("empty_url"))
    with connected(request.getfixturevalue("empty_url")) as connection:
        assert schema(connection) == fresh


@pytest.fixture
def empty_url(shop: Shop, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Where another store may be made, on the database that the workshop is on."""
    if shop.store.engine.dialect.name == "postgresql":
        return str(request.getfixturevalue("postgres_url"))
    return str(tmp_path_factory.mktemp("empty") / "empty.invdb")


def test_nothing_is_left_for_a_migration_to_do(shop: Shop) -> None:
    with shop.store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "render_as_batch": True})
        assert compare_metadata(context, Base.metadata) == []


def test_the_word_tables_hold_the_words_of_the_trade(shop: Shop) -> None:
    words = {"entry_kind": set(EntryKind), "line_kind": set(LineKind), "record_kind": set(RECORDED)}
    with shop.store.engine.connect() as connection:
        for table, wanted in words.items():
            assert set(connection.execute(text(f"SELECT word FROM {table}")).scalars()) == wanted


def test_no_column_holds_a_binary_float_and_every_text_is_compared_by_its_bytes() -> None:
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            assert not isinstance(column.type, (Float, Numeric)), column
            on_server = column.type.dialect_impl(postgresql.dialect())
            if isinstance(on_server, Text):
                assert on_server.collation == "C", column


def test_the_guards_are_taken_away_and_put_back_as_they_were_when_a_table_is_rebuilt(shop: Shop) -> None:
    with shop.store.engine.connect() as connection:
        before = schema(connection)
        triggers.drop(connection)
        assert triggers.missing_or_altered(connection)
        context = MigrationContext.configure(connection, opts={"target_metadata": Base.metadata})
        with (
            Operations.context(context) as operations,
            operations.batch_alter_table("setting", recreate="always"),
        ):
            pass
        triggers.make(connection)
        assert triggers.missing_or_altered(connection) == []
        assert schema(connection) == before
        if connection.dialect.name == "sqlite":
            assert connection.execute(text("PRAGMA foreign_key_check")).all() == []


def test_a_store_is_not_taken_back_to_an_older_form(shop: Shop) -> None:
    with shop.store.engine.connect() as connection, pytest.raises(NotImplementedError, match="backup"):
        command.downgrade(stores._alembic(connection), "base")
