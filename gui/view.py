"""What a view is to the window, and what the window is to a view."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from gui.background import Background
from gui.prefs import Prefs
from gui.theme import Theme

# Every view in its order on the rail; its number there is the key that goes to it.
ORDER = ("stores", "bench", "engines", "buying", "catalogue")


def number_of(name: str) -> int:
    """The number of a view, by its name, with Ctrl the key that goes to it."""
    return ORDER.index(name) + 1


@dataclass(frozen=True)
class Context:
    """What a view is given when it is built.

    ``say`` writes a sentence on the quiet line, ``refuse`` one that says what was refused. ``posted`` tells
    of the entry this person posted last and how to reverse it (None: it cannot be). ``progress`` shows how
    far long work is (0 to 1, or None), and "" that it is over. ``go_to`` shows another view and lets it open
    something.
    """

    theme: Theme
    background: Background
    prefs: Prefs
    say: Callable[[str], None]
    refuse: Callable[[str], None]
    posted: Callable[[str, Callable[[], None] | None], None]
    progress: Callable[[str, float | None], None]
    go_to: Callable[[str, Any], None]


class View(Protocol):
    """One view on the rail.

    ``name`` is one of :data:`ORDER`, ``word`` stands on the rail beside the drawn ``mark`` (one of
    gui.marks.MARKS), and ``help_text`` is what F1 shows: what one does here, and its keys, a line each.
    """

    name: str
    word: str
    mark: str
    help_text: str

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """Make the view's widgets once, when it is first shown; the window places what is returned."""

    def on_show(self) -> None:
        """The view has come to the front; what one was doing there still stands."""

    def on_refresh(self) -> None:
        """Read again what is shown, as F5 asks."""

    def open(self, ref: Any) -> None:
        """Show the thing that was found, or that another view sent here."""

    def unsaved(self) -> str:
        """What would be lost if the window closed, in a few words such as "the goods in form", or "".

        Asked only once the view is built.
        """
