"""Keys that are heard wherever in a part of the window the focus is."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Mapping
from functools import partial

from gui.widgets.deed_menu import sequence_of


def share_keys(part: tk.Misc, keys: Mapping[str, Callable[[], None]]) -> None:
    """Let each key, as written ("Ctrl+R"), be heard in the part and in all that it holds by now.

    A key that the part with the focus is bound to itself may be kept from being heard here.
    """
    tag = f"Keys{part}"
    for key, run in keys.items():
        part.bind_class(tag, sequence_of(key), partial(_done, run))
    _hear(part, tag)


def _hear(part: tk.Misc, tag: str) -> None:
    own, *rest = part.bindtags()
    part.bindtags((own, tag, *rest))
    for inside in part.winfo_children():
        _hear(inside, tag)


def _done(run: Callable[[], None], _event: object) -> str:
    run()
    return "break"
