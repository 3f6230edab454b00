"""Opening the window: its frame first, and then what it shows."""

from __future__ import annotations

import subprocess
import sys
import tkinter as tk
from pathlib import Path

import pytest

from gui.opening import Opening
from gui.prefs import Prefs
from gui.shell import Shell
from tests.gui.desk import Desk
from tests.shop import sqlite_shop

pytestmark = pytest.mark.usefixtures("display")


class Opened(Desk):
    """A window that is being opened, as far as its frame."""

    def __init__(self, where: Path, prefs: Prefs) -> None:
        self.root = tk.Tk()
        self.shell = Shell(self.root, prefs)
        self.theme, self.background = self.shell.theme, self.shell.background
        self.broken: list[BaseException] = []
        self.root.report_callback_exception = lambda _kind, broken, _where: self.broken.append(broken)
        self.opening = Opening(str(where), prefs)
        self.opening.furnish(self.shell)

    def close(self) -> None:
        """Close it as a person would."""
        self.shell.close()
        self.opening.close()
        assert not self.broken, self.broken


def test_the_frame_is_drawn_by_what_loads_no_database() -> None:
    told = subprocess.run(
        [sys.executable, "-c", "import sys, gui.opening; print('sqlalchemy' in sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout == "False\n"


def test_the_frame_stands_before_the_views_and_the_views_follow(tmp_path: Path) -> None:
    with sqlite_shop(tmp_path) as shop:
        opened = Opened(Path(shop.store.where), Prefs(tmp_path / "window.json", scale=1.0))
        assert opened.root.winfo_ismapped()
        assert opened.shell.find is None
        opened.until(lambda: opened.shell.find is not None)
        opened.settle()
        opened.close()


def test_a_second_window_takes_the_store_that_is_open(tmp_path: Path) -> None:
    with sqlite_shop(tmp_path) as shop:
        opened = Opened(Path(shop.store.where), Prefs(tmp_path / "window.json", scale=1.0))
        opened.until(lambda: opened.shell.find is not None)
        opened.settle()
        house = opened.opening.house
        assert house is not None
        store = house.store
        opened.shell.close(again=True)
        opened.root = tk.Tk()
        opened.shell = Shell(opened.root, opened.opening.prefs)
        opened.theme, opened.background = opened.shell.theme, opened.shell.background
        opened.opening.furnish(opened.shell)
        opened.until(lambda: opened.shell.find is not None)
        opened.settle()
        assert opened.opening.house is house
        assert house.store is store
        opened.close()


def test_where_there_is_no_store_the_ways_to_begin_follow(tmp_path: Path) -> None:
    opened = Opened(tmp_path / "nothing.invdb", Prefs(tmp_path / "window.json", scale=1.0))
    opened.until(lambda: opened.opening.house is not None)
    opened.settle()
    words = [str(widget.cget("text")) for widget in _under(opened.root) if widget.winfo_class() == "TButton"]
    assert "Begin an empty store" in words
    opened.close()


def _under(widget: tk.Misc) -> list[tk.Misc]:
    return [widget, *(found for child in widget.winfo_children() for found in _under(child))]
