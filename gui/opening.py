"""Open the window at once, and load behind it what it shows.

The views, the acts and the database take far longer to load than a window takes to draw. So the frame is
drawn first, by what knows nothing of them, and a worker loads the rest while the window answers already.
"""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING

from gui import shell as shells
from gui.prefs import Prefs, settings_file
from gui.shell import Shell

if TYPE_CHECKING:
    from gui.app import House


def run(where: str | None = None, prefs: Prefs | None = None) -> None:
    """Open the window and stay until it is closed.

    ``where`` is the store's file or address; None takes the usual one, or where there is none yet, the one
    that was open last. Where there is none at all, the window offers ways to begin.
    """
    prefs = prefs if prefs is not None else Prefs.read(settings_file())
    opening = Opening(where, prefs)
    try:
        shells.run(prefs, opening.furnish)
    finally:
        opening.close()


class Opening:
    """What furnishes each window: the house, once it is loaded."""

    def __init__(self, where: str | None, prefs: Prefs) -> None:
        self.where = where
        self.prefs = prefs
        self.house: House | None = None

    def furnish(self, shell: Shell) -> None:
        """Give a fresh window its store and its views, or the ways to begin where there is none."""
        if self.house is not None:
            self.house.furnish(shell)
            return

        def loaded(app: ModuleType) -> None:
            self.house = app.House(self.where or app.store_to_open(self.prefs.store), self.prefs)
            self.house.furnish(shell)

        # Drawn before the worker begins, since the two share one interpreter.
        shell.root.update()
        shell.background.ask("program", lambda _job: _load(), loaded, doing="the program")

    def close(self) -> None:
        """Let go of the store."""
        if self.house is not None:
            self.house.close()


def _load() -> ModuleType:
    from gui import app

    return app
