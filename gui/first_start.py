"""What stands in the window when there is no store yet: three ways to begin."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.theme import Theme

WORDS_WIDTH = 420


class FirstStart(ttk.Frame):
    """Offers the sample workshop, an empty store, or one that is somewhere already."""

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        sample: Callable[[], None],
        empty: Callable[[], None],
        existing: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        px = theme.px
        middle = ttk.Frame(self)
        middle.place(relx=0.5, rely=0.45, anchor="center")
        ttk.Label(middle, text="There is no store yet", style="Title.TLabel").pack(anchor="w")
        ttk.Label(
            middle,
            text="A store is one file with a workshop's parts, pieces and engines, and every entry made.",
            style="Dim.TLabel",
            wraplength=px(WORDS_WIDTH),
        ).pack(anchor="w", pady=(px(4), px(18)))
        ways = (
            (
                "Look around the sample workshop",
                "An invented museum with three engine types and stock to try everything on.",
                sample,
            ),
            ("Begin an empty store", "For your own workshop. It begins with places and people.", empty),
            ("Open a store", "A file that is on this machine or on a shared folder.", existing),
        )
        self.buttons: list[ttk.Button] = []
        for word, told, run in ways:
            style = "TButton" if self.buttons else "Accent.TButton"
            button = ttk.Button(middle, text=word, command=run, style=style, width=32)
            button.bind("<Return>", lambda event: event.widget.invoke())
            button.pack(anchor="w")
            ttk.Label(middle, text=told, style="Dim.TLabel", wraplength=px(WORDS_WIDTH)).pack(
                anchor="w", pady=(px(2), px(14))
            )
            self.buttons.append(button)
        self._words = ttk.Label(middle, wraplength=px(WORDS_WIDTH))
        self._words.pack(anchor="w")

    def wait(self, text: str) -> None:
        """Say what is being made, and take no second press meanwhile."""
        for button in self.buttons:
            button.state(["disabled"])
        self._words.configure(text=text, style="TLabel")

    def refuse(self, sentence: str) -> None:
        """Say why it could not be done, and let another way be taken."""
        for button in self.buttons:
            button.state(["!disabled"])
        self._words.configure(text=f"✕ {sentence}", style="Refused.TLabel")
