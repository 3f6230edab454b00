"""Who sits at the window, in which store: what every view needs to read and to act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from invdb.acts.by import By
from invdb.store import Store
from invdb.terms import Refused


@dataclass
class Sitting:
    """The open store and the person at work, by id, name and licence; None and "" until somebody says
    who they are.

    A view calls ``posted`` on the Tk thread after each of its acts, so that the line beneath tells of it.
    """

    store: Store
    person: int | None = None
    name: str = ""
    licence: str = ""
    posted: Callable[[], None] = lambda: None

    def by(self, on: date | None = None, note: str = "") -> By:
        """Who does an act and when; Refused while nobody has said who they are."""
        if self.person is None:
            raise Refused("Nobody has said who is working.", "Choose your name at the top right.")
        return By(self.person, on, note)
