"""The database itself keeps the ledger append-only, and holds what a row may never be."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, insert, select, text
from sqlalchemy.exc import DBAPIError, IntegrityError

from invdb.acts.check import check_store
from invdb.acts.papers import NewPaper, add_paper
from invdb.records.base import write_instant
from invdb.records.ledger import NO_HASH, Entry, LedgerHead
from invdb.records.triggers import LEDGER_TABLES
from invdb.rules.sealing import chain_hash
from invdb.terms import EntryKind, PaperKind
from tests.shop import Shop, postgres_shop, sqlite_shop

APPEND_ONLY = "only added to at its end"


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The workshop with pieces, a batch and a document, shared by these tests, which keep nothing."""
    folder = tmp_path_factory.mktemp("guards")
    with sqlite_shop(folder) if request.param == "sqlite" else postgres_shop() as opened:
        fill(opened)
        yield opened


@pytest.fixture(scope="module")
def on_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with sqlite_shop(tmp_path_factory.mktemp("guards")) as opened:
        fill(opened)
        yield opened


@pytest.fixture(scope="module")
def on_postgres() -> Iterator[Shop]:
    with postgres_shop() as opened:
        fill(opened)
        yield opened


def fill(shop: Shop) -> None:
    with shop.store.writing() as session:
        shop.book_in(session, shop.valve, pieces=2)
        shop.batch(session)
        add_paper(session, NewPaper(PaperKind.STATEMENT, "S 1", content=b"as found"), shop.by())


@pytest.fixture
def connection(shop: Shop) -> Iterator[Connection]:
    with shop.store.engine.connect() as opened:
        yield opened


def refused(connection: Connection, statement: str, words: str = APPEND_ONLY) -> None:
    with pytest.raises(DBAPIError, match=words):
        connection.execute(text(statement))


SOME_COLUMN = {
    "entry": "note",
    "entry_line": "quantity",
    "entry_fact": '"values"',
    "document_content": "size",
}


@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_no_row_of_the_ledger_is_updated(connection: Connection, table: str) -> None:
    assert connection.scalar(text(f"SELECT count(*) FROM {table}"))
    refused(connection, f"UPDATE {table} SET {SOME_COLUMN[table]} = {SOME_COLUMN[table]}")


@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_no_row_of_the_ledger_is_deleted(connection: Connection, table: str) -> None:
    refused(connection, f"DELETE FROM {table}")


@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_no_table_of_the_ledger_is_truncated(on_postgres: Shop, table: str) -> None:
    with on_postgres.store.engine.connect() as connection:
        refused(connection, f"TRUNCATE {table} CASCADE")


COPY = {
    "entry": "SELECT * FROM entry WHERE number = {number}",
    "entry_line": "SELECT * FROM entry_line WHERE entry_number = {number}",
    "entry_fact": "SELECT * FROM entry_fact WHERE entry_number = {number}",
    "document_content": "SELECT * FROM document_content",
}


@pytest.mark.parametrize(
    "verb", ["INSERT", "INSERT OR REPLACE", "INSERT OR IGNORE", "INSERT OR FAIL", "REPLACE"]
)
@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_sqlite_inserts_nothing_over_what_stands(on_sqlite: Shop, table: str, verb: str) -> None:
    with on_sqlite.store.engine.connect() as connection:
        number = connection.scalar(text("SELECT max(entry_number) FROM entry_line"))
        refused(connection, f"{verb} INTO {table} {COPY[table].format(number=number)}")


@pytest.mark.parametrize("verb", ["UPDATE OR REPLACE", "UPDATE OR IGNORE"])
@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_sqlite_updates_nothing_whatever_the_conflict_clause(on_sqlite: Shop, table: str, verb: str) -> None:
    with on_sqlite.store.engine.connect() as connection:
        refused(connection, f"{verb} {table} SET {SOME_COLUMN[table]} = {SOME_COLUMN[table]}")


def test_sqlite_replaces_nothing_though_its_own_deletions_fire_no_trigger(on_sqlite: Shop) -> None:
    with on_sqlite.store.engine.connect() as connection:
        refused(
            connection,
            "REPLACE INTO document_content SELECT sha256, size, 'x' FROM document_content",
        )
        connection.exec_driver_sql("PRAGMA recursive_triggers = ON")
        refused(connection, "REPLACE INTO entry SELECT * FROM entry WHERE number = 3")


@pytest.mark.parametrize("table", LEDGER_TABLES)
def test_on_conflict_do_update_changes_nothing(shop: Shop, connection: Connection, table: str) -> None:
    key = {"entry": "number", "document_content": "sha256"}.get(table, "entry_number, ordinal")
    number = connection.scalar(text("SELECT max(entry_number) FROM entry_line"))
    column = SOME_COLUMN[table]
    refused(
        connection,
        f"INSERT INTO {table} {COPY[table].format(number=number)}"
        f" {'AND true' if 'WHERE' in COPY[table] else 'WHERE true'}"
        f" ON CONFLICT ({key}) DO UPDATE SET {column} = excluded.{column}",
    )


def next_entry(connection: Connection, **forged: Any) -> dict[str, Any]:
    """An entry that follows on, but for what is forged."""
    head = connection.execute(select(LedgerHead.number, LedgerHead.hash, LedgerHead.recorded_at)).one()
    row = {
        "number": head.number + 1,
        "kind": EntryKind.MOVED,
        "happened_on": head.recorded_at.date(),
        "recorded_at": head.recorded_at + timedelta(seconds=1),
        "who": 1,
        "note": "",
        "body": "{}",
        "previous_hash": head.hash,
    } | forged
    row.setdefault("hash", chain_hash(row["previous_hash"], row["body"]))
    return row


def test_an_entry_that_follows_on_is_let_in(connection: Connection) -> None:
    connection.execute(insert(Entry), [next_entry(connection)])


@pytest.mark.parametrize("step", [-1, 1, 1000])
def test_a_forged_number_is_refused(connection: Connection, step: int) -> None:
    number = next_entry(connection)["number"] + step
    with pytest.raises(DBAPIError, match=APPEND_ONLY):
        connection.execute(insert(Entry), [next_entry(connection, number=number)])


@pytest.mark.parametrize("previous", [NO_HASH, "f" * 64, ""])
def test_a_forged_previous_hash_is_refused(connection: Connection, previous: str) -> None:
    with pytest.raises(DBAPIError, match=APPEND_ONLY):
        connection.execute(insert(Entry), [next_entry(connection, previous_hash=previous)])


@pytest.mark.parametrize("seconds", [0, -5])
def test_an_instant_that_does_not_rise_is_refused(connection: Connection, seconds: int) -> None:
    last = connection.scalars(select(LedgerHead.recorded_at)).one()
    assert last is not None
    forged = next_entry(connection, recorded_at=last + timedelta(seconds=seconds))
    with pytest.raises(DBAPIError, match=APPEND_ONLY):
        connection.execute(insert(Entry), [forged])


def test_a_forged_hash_is_refused_by_postgresql(on_postgres: Shop) -> None:
    with on_postgres.store.engine.connect() as connection, pytest.raises(DBAPIError, match=APPEND_ONLY):
        connection.execute(insert(Entry), [next_entry(connection, hash="f" * 64)])


def test_a_forged_hash_on_sqlite_is_named_by_the_check(tmp_path: Path) -> None:
    with sqlite_shop(tmp_path) as shop:
        with shop.store.engine.begin() as connection:
            forged = next_entry(connection, hash="f" * 64)
            connection.execute(insert(Entry), [forged])
        differences = check_store(shop.store).differences
    said = f"The hash of entry {forged['number']} is not that of its text."
    assert said in [difference.what for difference in differences]


@pytest.mark.parametrize("table", ["entry_line", "entry_fact"])
@pytest.mark.parametrize("behind", ["an earlier entry", "an entry to come", "a gap"])
def test_nothing_is_slipped_in_behind_an_entrys_back(connection: Connection, table: str, behind: str) -> None:
    last = connection.scalars(select(LedgerHead.number)).one()
    number, ordinal = {
        "an earlier entry": (last - 1, 50),
        "an entry to come": (last + 1, 1),
        "a gap": (last, 50),
    }[behind]
    columns, values = {
        "entry_line": ("kind, piece_id, from_place_id, to_place_id, quantity", "'move', 1, 1, 2, 1"),
        "entry_fact": ('record, record_id, "values"', "'part', 1, '{}'"),
    }[table]
    refused(
        connection,
        f"INSERT INTO {table} (entry_number, ordinal, {columns}) VALUES ({number}, {ordinal}, {values})",
    )


LINE = "kind, piece_id, batch_id, from_place_id, to_place_id, quantity, pull_line_id"
SHAPES = {
    "an unknown kind of line": ("'lend', 1, NULL, 1, 2, 1, NULL", "(?i)foreign key"),
    "a line of nothing": ("'move', NULL, NULL, 1, 2, 1, NULL", "ck_entry_line_one_thing"),
    "a line of two things": ("'move', 1, 1, 1, 2, 1, NULL", "ck_entry_line_one_thing"),
    "a move to where it was": ("'move', 1, NULL, 2, 2, 1, NULL", "ck_entry_line_shape"),
    "two of one piece": ("'move', 1, NULL, 1, 2, 2, NULL", "ck_entry_line_one_piece"),
    "a move of none": ("'move', NULL, 1, 1, 2, 0, NULL", "ck_entry_line_shape"),
    "a move of less than none": ("'move', NULL, 1, 1, 2, -4, NULL", "ck_entry_line_shape"),
    "a reservation for nobody": ("'reserve', NULL, 1, 2, 2, 4, NULL", "ck_entry_line_shape"),
    "a reservation of none": ("'reserve', NULL, 1, 2, 2, 0, 1", "ck_entry_line_shape"),
    "a reservation that moves": ("'reserve', NULL, 1, 2, 3, 4, 1", "ck_entry_line_shape"),
}


def put_line(connection: Connection, values: str) -> None:
    connection.execute(insert(Entry), [next_entry(connection)])
    columns = f"entry_number, ordinal, {LINE}"
    connection.execute(text(f"INSERT INTO entry_line ({columns}) SELECT max(number), 1, {values} FROM entry"))


@pytest.mark.parametrize("shape", SHAPES)
def test_the_database_lets_in_no_line_that_is(connection: Connection, shape: str) -> None:
    values, words = SHAPES[shape]
    with pytest.raises(IntegrityError, match=words):
        put_line(connection, values)


@pytest.mark.parametrize(
    "values",
    ["'move', 1, NULL, 1, 2, 1, NULL", "'reserve', NULL, 1, 2, 2, -4, 1", "'reserve', 1, NULL, 2, 2, 1, 1"],
)
def test_the_database_lets_in_a_line_of_the_right_shape(connection: Connection, values: str) -> None:
    put_line(connection, values)
    assert connection.scalar(text("SELECT max(entry_number) FROM entry_line")) == connection.scalar(
        text("SELECT max(number) FROM entry")
    )


def test_an_unknown_kind_of_record_is_refused(connection: Connection) -> None:
    connection.execute(insert(Entry), [next_entry(connection)])
    with pytest.raises(IntegrityError, match="(?i)foreign key"):
        connection.execute(
            text(
                'INSERT INTO entry_fact (entry_number, ordinal, record, record_id, "values")'
                " SELECT max(number), 1, 'widget', 1, '{}' FROM entry"
            )
        )


def test_an_unknown_kind_of_entry_is_refused(connection: Connection) -> None:
    row = next_entry(connection)
    columns = ", ".join(row)
    row |= {
        "kind": "given away",
        "happened_on": row["happened_on"].isoformat(),
        "recorded_at": write_instant(row["recorded_at"]),
    }
    values = ", ".join(str(value) if isinstance(value, int) else f"'{value}'" for value in row.values())
    with pytest.raises(IntegrityError, match="(?i)foreign key"):
        connection.execute(text(f"INSERT INTO entry ({columns}) VALUES ({values})"))


PLACE = "INSERT INTO place (id, kind, name, walking_order, bonded, note, set_by, piece_id) VALUES"
RULES = {
    "a piece is somewhere": ("UPDATE piece SET place_id = NULL", "(?i)null.*place_id"),
    "a piece is where there is a place": ("UPDATE piece SET place_id = 4711", "(?i)foreign key"),
    "a piece is one place at most": (
        f"{PLACE} (901, 'piece', 'In it', 0, (1 = 0), '', 1, 1), (902, 'piece', 'Too', 0, (1 = 0), '', 1, 1)",
        "place.piece_id",
    ),
    "no quantity is negative": ("UPDATE holding SET quantity = -1", "ck_holding_"),
    "no more is reserved than there is": (
        "UPDATE holding SET reserved = quantity + 1",
        "ck_holding_reserved",
    ),
    "no reservation is negative": ("UPDATE holding SET reserved = -1", "ck_holding_reserved"),
    "a holding is of a batch": ("UPDATE holding SET batch_id = 4711", "(?i)foreign key"),
    "a tag is given once": ("UPDATE piece SET tag = (SELECT min(tag) FROM piece)", "piece.tag"),
    "there is one head": (
        "INSERT INTO ledger_head (id, number, hash) VALUES (2, 1, '')",
        "ck_ledger_head_one_row",
    ),
    "a document stands behind one thing": (
        "INSERT INTO document_link (id, document_id, set_by) VALUES (9, 1, 1)",
        "ck_document_link_one_subject",
    ),
}


@pytest.mark.parametrize("rule", RULES)
def test_the_database_itself_holds_that(connection: Connection, rule: str) -> None:
    statement, words = RULES[rule]
    with pytest.raises(IntegrityError, match=words):
        connection.execute(text(statement))
