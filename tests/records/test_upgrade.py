"""A store that an older program made opens, is brought up to date, checks clean, and is gone on with."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from sqlalchemy import Boolean, Connection, Date, LargeBinary, MetaData, Table, create_engine, func, select

from invdb import store as stores
from invdb.acts.as_fitted import as_fitted
from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.fit import fit_pull
from invdb.acts.numbers import engine_named, person_named, pull_by_number, thing_by_tag
from invdb.acts.reverse import reverse
from invdb.acts.running import LogBegin, begin_log
from invdb.acts.status_sheet import status_sheet
from invdb.acts.trace import trace
from invdb.records import triggers
from invdb.records.base import Base
from invdb.records.life import Service
from invdb.records.stock import PullLine
from invdb.rules.build import fitted
from invdb.terms import RunningUse
from tests.shop import NOW, TODAY, Clock

# All rows of a small workshop as the program of the first revision wrote them: a pull issued, a piece on
# hold, a move reversed. A day is as ISO 8601 has it, and a document's content in hexadecimal digits.
ROWS = Path(__file__).with_name("store_0001.json")
LAST_HASH = "fafa383505213310e447bf557f32af8f3f62aa3eee93f4c5f8b4ba519d3499ac"


def as_kept(column: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(column.type, Boolean):
        return bool(value)
    if isinstance(column.type, Date):
        return date.fromisoformat(value)
    return bytes.fromhex(value) if isinstance(column.type, LargeBinary) else value


def write_rows(connection: Connection) -> None:
    """Fill the tables of the first revision, with the ledger's guards off for so long."""
    tables = json.loads(ROWS.read_text())
    seen = MetaData()
    seen.reflect(connection)
    triggers.drop(connection)
    connection.execute(seen.tables["ledger_head"].delete())
    for name in (each.name for each in Base.metadata.sorted_tables if each.name in tables):
        table: Table = seen.tables[name]
        columns = [table.columns[each] for each in tables[name]["columns"]]
        connection.execute(
            table.insert(),
            [
                {column.name: as_kept(column, value) for column, value in zip(columns, row, strict=True)}
                for row in tables[name]["rows"]
            ],
        )
    triggers.make(connection)


@pytest.fixture
def older(store_url: str) -> str:
    """Where a store of the first revision stands."""
    is_file = "://" not in store_url
    if is_file:
        stores._mark_as_ours(Path(store_url), store_url)
    engine = create_engine(f"sqlite:///{store_url}" if is_file else store_url)
    with engine.begin() as connection:
        command.upgrade(stores._alembic(connection), "0001")
        write_rows(connection)
    engine.dispose()
    return store_url


def test_an_older_store_is_brought_up_to_date_and_gone_on_with(older: str) -> None:
    store = stores.open_store(older)
    store.clock = Clock(NOW)
    try:
        report = check_store(store)
        assert (report.differences, report.entries, report.last_hash) == ((), 38, LAST_HASH)
        with store.reading() as session:
            engine = engine_named(session, "Linnet One")
            by = By(person_named(session, "Ada Farrow"), TODAY)
            pull = pull_by_number(session, "P00001-Q")
            assert fitted(as_fitted(session, engine)) == ()
            assert status_sheet(session, engine).totals.log_begun_on is None
            assert trace(session, "T00001-T").tag == "T00001-T"
            assert set(session.scalars(select(PullLine.fitted))) == {0}
        with store.writing() as session:
            begin_log(session, engine, LogBegin(1_000_00), by)
        with store.writing() as session:
            entry = fit_pull(session, pull, 1_000_00, by, use=RunningUse.FLIGHT)
        assert check_store(store).differences == ()
        with store.reading() as session:
            inside = {each.thing.piece for each in fitted(as_fitted(session, engine))}
            assert thing_by_tag(session, "T00001-T").piece in inside
            assert session.scalar(select(func.count()).select_from(Service)) == 1
        with store.writing() as session:
            reverse(session, entry, "the wrong engine", by)
        assert check_store(store).differences == ()
    finally:
        store.close()
