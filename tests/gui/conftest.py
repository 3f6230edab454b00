"""Every test in this folder opens its windows on the virtual screen."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def on_the_virtual_screen(display: str) -> str:
    return display
