"""How Alembic reaches a store: over the connection that the caller has open, in the caller's transaction."""

from __future__ import annotations

from alembic import context

from invdb.records import registry
from invdb.records.base import Base

assert registry.TABLES
connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    render_as_batch=connection.dialect.name == "sqlite",
    compare_type=True,
)
context.run_migrations()
