"""Opening the window from the command line."""

from __future__ import annotations

from invdb.terms import Refused

_INSTEAD = "Give a command: `invdb --help` lists them."


def open_window(where: str | None) -> None:
    """Open the window on a store and stay until it is closed.

    Refused where there is no Tk, and where there is no screen.
    """
    try:
        from tkinter import TclError

        from gui.opening import run
    except ModuleNotFoundError as error:
        if error.name not in {"tkinter", "_tkinter"}:
            raise
        raise Refused("This Python has no Tk to draw a window with.", _INSTEAD) from error
    try:
        run(where)
    except TclError as error:
        if "display" not in str(error):
            raise
        raise Refused(f"There is no screen for a window: {error}.", _INSTEAD) from error
