"""What a worker is given of the window: a way to say how far it is, and to learn that it is to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable


class Stopped(Exception):
    """Raised inside a worker that was asked to stop; nobody is told, since somebody asked for it."""


class Job:
    """What a worker holds: where it says how far it is, and learns that it is to stop."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._stop_asked = False
        self._committing = False
        self._interrupt: Callable[[], None] | None = None
        self._latest: tuple[str, float | None] | None = None

    def progress(self, text: str, fraction: float | None = None) -> None:
        """Say what is being done and, if known, how far it is (0 to 1)."""
        self._latest = (text, fraction)

    def stopped(self) -> bool:
        """Whether somebody asked this job to stop."""
        return self._stop_asked

    def stop_here(self) -> None:
        """Leave by :class:`Stopped` if somebody asked; for a worker's loop."""
        if self._stop_asked:
            raise Stopped

    def interrupt_with(self, interrupt: Callable[[], None] | None) -> None:
        """What the Tk thread calls to break off a long read: a connection's own interrupt or cancel."""
        with self._lock:
            self._interrupt = interrupt
            if self._stop_asked:
                raise Stopped

    def commit_begins(self) -> None:
        """From here on a stop does nothing. Leaves by :class:`Stopped` if it was asked for before."""
        with self._lock:
            if self._stop_asked:
                raise Stopped
            self._committing = True
            self._interrupt = None

    def ask_to_stop(self) -> bool:
        """Ask; False if the commit has begun, and then nothing is done."""
        with self._lock:
            if self._committing:
                return False
            self._stop_asked = True
            if self._interrupt is not None:
                self._interrupt()
            return True

    def latest_progress(self) -> tuple[str, float | None] | None:
        """The last thing said by :meth:`progress`, or None."""
        return self._latest
