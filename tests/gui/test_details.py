"""The pane beside a list, and what pointing at a thing explains."""

from __future__ import annotations

import tkinter as tk
from datetime import date
from tkinter import ttk
from typing import Any

import pytest

from gui.shown import Deed, Field, FieldKind
from gui.signs import TEXT_CONTRAST_MIN, contrast
from gui.widgets.deed_menu import bind_deeds, sequence_of
from gui.widgets.details import Details
from gui.widgets.editors import DateEditor
from gui.widgets.form import Form
from gui.widgets.tip import explain
from tests.gui.desk import Desk


def texts(widget: tk.Misc) -> list[str]:
    found = [str(widget.cget("text"))] if widget.winfo_class() in ("TLabel", "TButton") else []
    return found + [text for part in widget.winfo_children() for text in texts(part)]


def shown(desk: Desk, moved: list[str]) -> Details:
    details = Details(desk.root, desk.theme)
    details.pack(fill="x")
    details.show(
        "T0007-4 exhaust valve",
        signs=["serviceable", "on hold"],
        facts=[("Origin", "salvaged from Linnet 118"), ("Papers", "release certificate 1177, " * 20)],
        deeds=[Deed("Move", lambda: moved.append("T0007-4"), "Ctrl+M")],
    )
    desk.root.update()
    return details


def test_it_shows_name_signs_in_words_and_facts(desk: Desk) -> None:
    said = texts(shown(desk, []))
    for words in (
        "T0007-4 exhaust valve",
        "✓ serviceable",
        "⊘ on hold",
        "Origin",
        "salvaged from Linnet 118",
    ):
        assert words in said
    assert desk.root.winfo_reqwidth() <= 1000, "long facts are wrapped, not cut off"


def test_another_thing_takes_the_place_of_the_first(desk: Desk) -> None:
    details = shown(desk, [])
    details.show("B-12", facts=[("Kind", "bin")])
    desk.root.update()
    assert [text for text in texts(details) if text] == ["B-12", "Kind", "bin"]


def test_its_buttons_do_and_take_enter(desk: Desk) -> None:
    moved: list[str] = []
    details = shown(desk, moved)
    button: Any = next(part for part in details._deed_row.winfo_children())
    button.invoke()
    button.focus_force()
    desk.root.update()
    desk.press("<Return>")
    assert moved == ["T0007-4"] * 2


def test_its_signs_can_be_read_when_the_theme_changes(desk: Desk) -> None:
    details = shown(desk, [])
    desk.theme.set_dark(True)
    desk.root.update()
    for part in details._sign_row.winfo_children():
        assert isinstance(part, ttk.Label)
        assert contrast(str(part.cget("foreground")), str(part.cget("background"))) >= TEXT_CONTRAST_MIN
        assert str(part.cget("background")) == desk.theme.palette.tint("#009e73") or "hold" in part.cget(
            "text"
        )


def tips(root: tk.Tk) -> list[str]:
    """The texts of the tooltips that can be seen."""
    found = []
    waiting: list[tk.Misc] = [root]
    while waiting:
        part = waiting.pop()
        waiting += part.winfo_children()
        if part.winfo_class() == "Message" and part.winfo_viewable():
            found.append(str(root.getvar(str(part.cget("textvariable")))))
    return found


def test_pointing_explains_with_the_key_and_leaving_ends_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.widgets.tip.DELAY_SECONDS", 0.0)
    button = ttk.Button(desk.root, text="Move")
    button.pack()
    explain(button, "Move it to another bin", "Ctrl+M")
    desk.root.update()
    assert tips(desk.root) == []
    button.event_generate("<Enter>", x=5, y=5)
    desk.until(lambda: tips(desk.root))
    assert tips(desk.root) == ["Move it to another bin  (Ctrl+M)"]
    button.event_generate("<Leave>")
    desk.until(lambda: not tips(desk.root))
    button.event_generate("<Enter>", x=5, y=5)
    desk.until(lambda: tips(desk.root))
    button.destroy()
    desk.root.update()
    assert tips(desk.root) == []


def test_a_field_with_a_hint_and_keys_of_its_own_explains_both_at_once(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.widgets.tip.DELAY_SECONDS", 0.0)
    ran = Field("on", "Ran on", FieldKind.DATE, start=date(2026, 3, 2), hint="The true day")
    form = Form(
        desk.root, desk.theme, desk.background, (ran,), lambda _job, _values: None,
        title="Log", on_saved=lambda _made: "", on_leave=lambda: None,
    )  # fmt: skip
    form.pack()
    desk.root.update()
    editor = form.editors["on"]
    assert isinstance(editor, DateEditor)
    entry = editor.entry
    entry.event_generate("<Enter>", x=5, y=5)
    desk.until(lambda: tips(desk.root))
    (said,) = tips(desk.root)
    assert said.startswith("The true day. ") and "by a day" in said


@pytest.mark.parametrize(
    ("key", "sequence"),
    [
        ("Ctrl+R", "<Control-Key-r>"),
        ("Ctrl+Shift+R", "<Control-Shift-Key-R>"),
        ("F6", "<F6>"),
        ("Del", "<Delete>"),
        ("Ctrl+Enter", "<Control-Return>"),
    ],
)
def test_keys_as_written_are_keys_as_bound(desk: Desk, key: str, sequence: str) -> None:
    done: list[str] = []
    assert sequence_of(key) == sequence
    bind_deeds(desk.root, [Deed("Move", lambda: done.append(key), key)])
    desk.root.focus_force()
    desk.root.event_generate(sequence)
    desk.root.update()
    assert done == [key]
