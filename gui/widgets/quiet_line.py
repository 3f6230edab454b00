"""The one quiet line under every view: what was posted last and how to reverse it, and what is to be said."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.theme import Theme
from gui.widgets.tip import explain

SAID_MS = 8_000
# Kept free beside the words, for the buttons.
BESIDE = 210


class QuietLine(ttk.Frame):
    """Words at the left, with buttons when they ask something; what is being done at the right.

    A sentence said gives way to the last entry again after a while; a refusal stays until something else is
    said. ``on_stop`` is the Stop button beside long work.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, on_stop: Callable[[], None]) -> None:
        super().__init__(parent, style="Shade.TFrame", padding=theme.pad(12, 4))
        self._theme = theme
        self._timer = ""
        self._posted = "Nothing posted yet since the window opened."
        self._reverse: Callable[[], None] | None = None
        self._yes: Callable[[], None] = lambda: None
        self._no: Callable[[], None] = lambda: None
        px = theme.px
        self._words = ttk.Label(self, style="Shade.TLabel")
        self._reverse_button = ttk.Button(self, text="Reverse it", command=self.ask_to_reverse)
        explain(self._reverse_button, "Post an entry that undoes this one; both stay to be seen", "Ctrl+Z")
        self._yes_button = ttk.Button(self, style="Accent.TButton", command=lambda: self._answer(True))
        self._no_button = ttk.Button(self, command=lambda: self._answer(False))
        for button in (self._reverse_button, self._yes_button, self._no_button):
            button.bind("<Return>", lambda event: event.widget.invoke())
            button.bind("<Escape>", lambda _event: self._answer(False))
        self._stop = ttk.Button(self, text="Stop", command=on_stop)
        explain(self._stop, "Stop what is being worked out; what has begun to be written is finished")
        self._bar = ttk.Progressbar(self, maximum=1.0, length=px(110))
        self._doing = ttk.Label(self, style="ShadeDim.TLabel")
        self.columnconfigure(0, weight=0)
        self.columnconfigure(4, weight=1)
        self._words.grid(row=0, column=0, sticky="w", padx=(0, px(10)))
        # Keeps the line as high with a button as without, so that the view above does not jump.
        self.rowconfigure(0, minsize=self._stop.winfo_reqheight())
        self.bind("<Configure>", lambda event: self._words.configure(wraplength=event.width - px(BESIDE)))
        self._show_posted()

    def posted(self, sentence: str, reverse: Callable[[], None] | None) -> None:
        """Tell of the entry posted last, and offer to reverse it unless it cannot be."""
        self._posted, self._reverse = sentence, reverse
        self._show_posted()

    def say(self, sentence: str) -> None:
        """Say it for a while."""
        self._show(f"{sentence}", "Shade.TLabel")
        self._timer = self.after(SAID_MS, self._show_posted)

    def refuse(self, sentence: str) -> None:
        """Say what was refused or went wrong, until something else is said."""
        self._show(f"✕ {sentence}", "ShadeRefused.TLabel")

    def ask(
        self,
        question: str,
        yes: str,
        no: str,
        on_yes: Callable[[], None],
        on_no: Callable[[], None] = lambda: None,
    ) -> None:
        """Ask with two buttons; Escape is no."""
        self._show(question, "Shade.TLabel")
        self._yes, self._no = on_yes, on_no
        self._yes_button.configure(text=yes)
        self._no_button.configure(text=no)
        self._yes_button.grid(row=0, column=1, padx=(0, self._theme.px(6)))
        self._no_button.grid(row=0, column=2)
        self._no_button.focus_set()

    def ask_to_reverse(self) -> None:
        """Ask before reversing, since a reversal is itself never reversed."""
        if self._reverse is not None:
            self.ask(f"Reverse this? {self._posted}", "Reverse it", "Keep it", self._reverse)

    def busy(self, doing: list[str]) -> None:
        """Show what is being done, or nothing."""
        if doing:
            self._doing.configure(text=f"Working on {doing[0]} …")
            self._doing.grid(row=0, column=4, sticky="e", padx=(0, self._theme.px(8)))
            self._stop.grid(row=0, column=6)
        else:
            self._doing.grid_remove()
            self._stop.grid_remove()
            self._bar.grid_remove()

    def progress(self, text: str, fraction: float | None) -> None:
        """Show how far it is, from 0 to 1; "" takes it away."""
        if not text:
            self._bar.grid_remove()
            return
        self._doing.configure(text=text)
        if fraction is not None:
            self._bar.configure(value=fraction)
            self._bar.grid(row=0, column=5, padx=(0, self._theme.px(8)))

    def words(self) -> str:
        """What stands there just now."""
        return str(self._words.cget("text"))

    def _show(self, words: str, style: str) -> None:
        if self._timer:
            self.after_cancel(self._timer)
            self._timer = ""
        for button in (self._reverse_button, self._yes_button, self._no_button):
            button.grid_remove()
        self._words.configure(text=words, style=style)

    def _show_posted(self) -> None:
        self._show(self._posted, "ShadeDim.TLabel")
        if self._reverse is not None:
            self._reverse_button.grid(row=0, column=1)

    def _answer(self, yes: bool) -> None:
        answered = self._yes if yes else self._no
        self._show_posted()
        answered()
