"""Changing a store behind the program's back, with its guards off; nothing of it is kept."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, text

from invdb.records import triggers
from invdb.store import Store


@contextmanager
def behind_its_back(store: Store) -> Iterator[Connection]:
    """A connection on which neither triggers nor foreign keys hold, rolled back at the end."""
    with store.engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            # Foreign keys are switched between transactions only.
            connection.exec_driver_sql("ROLLBACK")
            connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
            connection.exec_driver_sql("BEGIN IMMEDIATE")
            triggers.drop(connection)
            try:
                yield connection
            finally:
                connection.exec_driver_sql("ROLLBACK")
                connection.exec_driver_sql("PRAGMA foreign_keys = ON")
                connection.exec_driver_sql("BEGIN")
        else:
            connection.execute(text("SET LOCAL session_replication_role = replica"))
            yield connection
