"""What a thing is for is told beside it, and stands in nobody's way."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from tkinter import ttk

import pytest

from gui.widgets.tip import explain
from tests.gui.desk import Desk


class Pair:
    """Two fields, one beneath the other; the upper one is explained and keeps every key and click."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.upper, self.lower = ttk.Entry(desk.root), ttk.Entry(desk.root)
        for field in (self.upper, self.lower):
            field.pack()
        for kept in ("<KeyPress>", "<ButtonPress>"):
            self.upper.bind(kept, lambda _event: "break")
        explain(self.upper, "How it comes back to the store")
        desk.root.update()

    def point(self) -> tk.Toplevel:
        """Point at the upper field until it is explained."""
        self.upper.event_generate("<Enter>", x=5, y=5, rootx=self.upper.winfo_rootx() + 5)
        tips = [each for each in self.desk.root.winfo_children() if isinstance(each, tk.Toplevel)]
        assert len(tips) == 1
        self.desk.until(tips[0].winfo_viewable)
        return tips[0]


@pytest.fixture
def pair(desk: Desk) -> Iterator[Pair]:
    yield Pair(desk)


def test_a_key_takes_the_tip_away_even_where_the_field_keeps_the_key(pair: Pair) -> None:
    pair.upper.focus_force()
    pair.desk.root.update()
    tip = pair.point()
    pair.desk.press("x")
    assert not tip.winfo_viewable()


def test_a_key_pressed_in_another_field_takes_the_tip_away_and_is_typed(pair: Pair) -> None:
    pair.lower.focus_force()
    pair.desk.root.update()
    tags = pair.lower.bindtags()
    tip = pair.point()
    pair.desk.press("x")
    assert not tip.winfo_viewable()
    assert pair.lower.get() == "x"
    assert pair.lower.bindtags() == tags, "nothing of the tip is left behind"


def test_a_click_takes_the_tip_away_even_where_the_field_keeps_the_click(pair: Pair) -> None:
    tip = pair.point()
    pair.desk.click(pair.upper, 5, 5)
    assert not tip.winfo_viewable()


def test_a_click_on_the_tip_goes_to_the_field_it_covers(pair: Pair) -> None:
    pair.upper.focus_force()
    tip = pair.point()
    tip.geometry(f"+{pair.lower.winfo_rootx()}+{pair.lower.winfo_rooty()}")
    pair.desk.root.update()
    words = tip.winfo_children()[0]
    x, y = pair.lower.winfo_rootx() + 4, pair.lower.winfo_rooty() + 4
    words.event_generate("<ButtonPress-1>", x=4, y=4, rootx=x, rooty=y)
    pair.desk.root.update()
    assert not tip.winfo_viewable()
    pair.desk.press("7")
    assert pair.lower.get() == "7"


def test_a_click_on_the_tip_presses_the_button_it_covers(pair: Pair) -> None:
    pressed: list[bool] = []
    button = ttk.Button(pair.desk.root, text="Return", command=lambda: pressed.append(True))
    button.pack()
    tip = pair.point()
    tip.geometry(f"+{button.winfo_rootx()}+{button.winfo_rooty()}")
    pair.desk.root.update()
    words = tip.winfo_children()[0]
    x, y = button.winfo_rootx() + 4, button.winfo_rooty() + 4
    for each in ("<ButtonPress-1>", "<ButtonRelease-1>"):
        words.event_generate(each, x=4, y=4, rootx=x, rooty=y)
    pair.desk.root.update()
    assert pressed == [True]
    assert not tip.winfo_viewable()
