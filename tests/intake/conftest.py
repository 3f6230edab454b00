"""The invented workshop, read from its tables once and built into a store once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from invdb import store
from invdb.intake.build_workshop import build_workshop
from invdb.intake.workshop import Workshop, read_workshop
from invdb.store import Store

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def workshop() -> Workshop:
    return read_workshop()


@pytest.fixture(scope="session")
def harrowmere(workshop: Workshop, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The invented workshop's store, on the day its tables end; only to be read."""
    where = str(tmp_path_factory.mktemp("harrowmere") / "harrowmere.invdb")
    build_workshop(where, workshop)
    opened = store.open_store(where)
    opened.clock = lambda: NOON
    yield opened
    opened.close()
