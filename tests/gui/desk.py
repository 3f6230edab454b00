"""A window to work at in a test: keys pressed where the focus is, and waiting until something is true."""

from __future__ import annotations

import time
import tkinter as tk
from collections.abc import Callable
from typing import Any

from gui.background import Background
from gui.theme import Theme

PATIENCE_SECONDS = 20.0
KEY_NAMES = {"/": "slash", ",": "comma", " ": "space", "-": "minus", ".": "period"}


class Desk:
    """A root window with its theme and its workers."""

    def __init__(self, *, dark: bool = False, scale: float = 1.0, size: str = "1000x700") -> None:
        self.root = tk.Tk()
        self.theme = Theme(self.root, dark=dark, scale=scale)
        self.background = Background(self.root)
        self.failures: list[str] = []
        self.background.on_failure = self.failures.append
        self.broken: list[BaseException] = []
        self.root.report_callback_exception = lambda _kind, broken, _where: self.broken.append(broken)
        self.root.geometry(f"{size}+0+0")
        self.root.update()
        self.root.focus_force()
        self.root.update()

    def until(self, true: Callable[[], object], patience: float = PATIENCE_SECONDS) -> None:
        """Let the window live until it is true; fail if it isn't so after ``patience`` seconds."""
        patience_ends = time.monotonic() + patience
        while not true():
            if time.monotonic() > patience_ends:
                raise AssertionError("waited in vain")
            self.root.update()
            time.sleep(0.002)
        self.root.update()

    def settle(self) -> None:
        """Let the window live until no worker is at work and everything is drawn."""
        self.root.update()
        self.until(lambda: not self.background.busy())

    def press(self, *keys: str) -> None:
        """Press keys, such as "<Down>" or "a", one after another where the focus is."""
        for key in keys:
            focus = self.root.focus_get()
            assert focus is not None, "the focus is nowhere"
            name = key if key.startswith("<") else f"<Key-{KEY_NAMES.get(key, key)}>"
            focus.event_generate(name)
            released = name.strip("<>").split("-")[-1]
            # The key may have closed what had the focus.
            if focus.winfo_exists():
                focus.event_generate(f"<KeyRelease-{released}>")
            self.root.update()

    def type(self, text: str) -> None:
        """Type letters and figures where the focus is."""
        self.press(*text)

    def click(self, widget: tk.Misc, x: float, y: float, *, times: int = 1, button: int = 1) -> None:
        """Click at that place of the widget."""
        place: Any = {"x": round(x), "y": round(y)}
        widget.event_generate("<Enter>", **place)
        widget.event_generate("<Motion>", **place)
        for _ in range(times):
            widget.event_generate(f"<ButtonPress-{button}>", **place)
            widget.event_generate(f"<ButtonRelease-{button}>", **place)
        self.root.update()

    def close(self) -> None:
        """Clear the desk; whatever went wrong in a handler comes out here."""
        self.background.close()
        self.root.destroy()
        assert not self.broken, self.broken
