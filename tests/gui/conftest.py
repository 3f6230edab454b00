"""Every test in this folder opens its windows on the virtual screen."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.gui.desk import Desk


@pytest.fixture(autouse=True)
def on_the_virtual_screen(display: str) -> str:
    return display


@pytest.fixture
def desk(display: str) -> Iterator[Desk]:
    """A light window at 100 %."""
    opened = Desk()
    yield opened
    opened.close()
