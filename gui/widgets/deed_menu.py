"""The menu of what may be done here, and how its keys are written."""

from __future__ import annotations

import sys
import tkinter as tk
from collections.abc import Callable, Mapping, Sequence
from functools import partial

from gui.shown import Deed

ROOM_AROUND = 3
SHIFT, CONTROL = 0x1, 0x4
# Windows tells Alt apart from the lock of the figures, which has the bit that Alt has elsewhere.
ALT = 0x20000 if sys.platform == "win32" else 0x20000 | 0x8
_WRITTEN = {"Return": "Enter", "Delete": "Del", "Insert": "Ins"}
_NAMED = {written: name for name, written in _WRITTEN.items()}


def key_as_written(event: tk.Event[tk.Misc]) -> str:
    """The event's key as a menu writes it, such as "Ctrl+R" or "F6"; "" if it would only type a letter."""
    state, name = int(event.state), event.keysym
    function_key = name[0] == "F" and name[1:].isdigit()
    if not (function_key or state & (CONTROL | ALT) or name in _WRITTEN):
        return ""
    parts = [word for bit, word in ((CONTROL, "Ctrl"), (ALT, "Alt"), (SHIFT, "Shift")) if state & bit]
    return "+".join([*parts, _WRITTEN.get(name, name.upper() if len(name) == 1 else name)])


def held(event: tk.Event[tk.Misc]) -> bool:
    """Whether the control key or the Alt key is held, so that the key is not meant by itself."""
    return bool(int(event.state) & (CONTROL | ALT))


def bind_deeds(widget: tk.Misc, deeds: Sequence[Deed]) -> None:
    """Let each deed be done by its key wherever the focus is within the widget's own bindings."""
    for deed in deeds:
        if deed.key:
            widget.bind(sequence_of(deed.key), partial(_done, deed.run), add="+")


def sequence_of(key: str) -> str:
    """Tk's name for a key as written: "Ctrl+R" becomes "<Control-r>"."""
    *before, last = key.split("+")
    named = {"Ctrl": "Control", "Alt": "Alt", "Shift": "Shift"}
    letter = _NAMED.get(last, last)
    if len(letter) == 1:
        letter = letter.upper() if "Shift" in before else letter.lower()
        letter = f"Key-{letter}"
    return "<" + "-".join([*(named[part] for part in before), letter]) + ">"


def pop_up(
    widget: tk.Misc,
    x: int,
    y: int,
    groups: Sequence[Sequence[Deed]],
    below: Mapping[str, Sequence[Deed]] | None = None,
) -> None:
    """Show a menu at that place of the screen: groups with lines between, then menus within the menu."""
    menu = tk.Menu(widget, tearoff=False, activeborderwidth=ROOM_AROUND)
    for group in groups:
        if group and menu.index("end") is not None:
            menu.add_separator()
        for deed in group:
            menu.add_command(label=deed.word, accelerator=deed.key, command=deed.run)
    for word, deeds in (below or {}).items():
        if deeds:
            inner = tk.Menu(menu, tearoff=False, activeborderwidth=ROOM_AROUND)
            for deed in deeds:
                inner.add_command(label=deed.word, accelerator=deed.key, command=deed.run)
            if menu.index("end") is not None:
                menu.add_separator()
            menu.add_cascade(label=word, menu=inner)
    # A menu destroyed at once would not do what was chosen in it.
    menu.bind("<Unmap>", lambda _event: menu.after(1_000, menu.destroy))
    menu.tk_popup(x, y)
    menu.grab_release()


def _done(run: Callable[[], None], _event: object) -> str:
    run()
    return "break"
