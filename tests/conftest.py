"""What every test may ask for: a place for a store on either database, and a screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from invdb.store import Store
from tests.display import virtual_screen
from tests.postgres import drop_everything, fresh_postgres_url
from tests.shop import Shop, postgres_shop, sqlite_shop

settings.register_profile("ci", derandomize=True, max_examples=60, deadline=None)
settings.register_profile("thorough", max_examples=2000, deadline=None)
settings.load_profile("ci")


def pytest_unconfigure() -> None:
    drop_everything()


@pytest.fixture
def postgres_url() -> Iterator[str]:
    """The URL of an empty PostgreSQL database of this test's own."""
    with fresh_postgres_url() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a new store may be made: a file that does not exist yet, and an empty PostgreSQL database."""
    if request.param == "sqlite":
        yield str(tmp_path / "store.invdb")
        return
    with fresh_postgres_url() as url:
        yield url


@pytest.fixture(params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Shop]:
    """The small workshop of tests/shop.py, open, in a store of this test's own on either database."""
    with sqlite_shop(tmp_path) if request.param == "sqlite" else postgres_shop() as opened:
        yield opened


@pytest.fixture
def store(shop: Shop) -> Store:
    """The store of that workshop, for a test that needs none of its ids."""
    return shop.store


@pytest.fixture(scope="session")
def display() -> Iterator[str]:
    """The name of a virtual screen, which DISPLAY points at; one for each test process."""
    with virtual_screen() as name:
        yield name
