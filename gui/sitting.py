"""Who sits at the window, in which store: what every view needs to read and to act."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from typing import Any

from gui.job import Job
from invdb.acts.by import By
from invdb.store import Store
from invdb.terms import Refused


@dataclass
class Sitting:
    """The open store, the shop's time zone, and the person at work; None and "" until one says who it is.

    ``licence`` is the kind and the number of the person's licence, "" for none. A view calls ``posted`` on
    the Tk thread after each of its acts, so that the line beneath tells of it.
    """

    store: Store
    person: int | None = None
    name: str = ""
    licence: str = ""
    zone: tzinfo = UTC
    posted: Callable[[], None] = lambda: None

    def today(self) -> date:
        """The day that it is in the shop's own zone."""
        now = self.store.clock() if self.store.clock is not None else datetime.now(UTC)
        return now.astimezone(self.zone).date()

    @contextmanager
    def reading(self, job: Job) -> Iterator[Any]:
        """A session to read in on a worker, broken off at once when the job is asked to stop."""
        with self.store.reading() as session:
            job.interrupt_with(self.store.breaking_off(session))
            try:
                yield session
            finally:
                job.interrupt_with(None)

    def by(self, on: date | None = None, note: str = "") -> By:
        """Who does an act and when; Refused while nobody has said who they are."""
        if self.person is None:
            raise Refused("Nobody has said who is working.", "Choose your name at the top right.")
        return By(self.person, on, note)
