"""The foot of a form: what it has to say, and the buttons that fit just now."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk
from typing import Protocol

from gui.theme import Theme
from gui.widgets.tip import explain

WORDS_WIDTH = 420


class Footed(Protocol):
    """What the foot needs of its form."""

    def save(self) -> None:
        """Do the act."""

    def save_surely(self) -> None:
        """Do the act, whose question is answered."""

    def stop(self) -> None:
        """Ask it to stop."""

    def leave(self) -> None:
        """Leave, or ask."""

    def leave_anyway(self) -> None:
        """Leave."""

    def another_like_this(self) -> None:
        """Begin the next one."""

    def go_on_filling_in(self) -> None:
        """Go back to the field one was in."""


class FormFoot(ttk.Frame):
    """One line of words and a few buttons, different while filling in, asking, saving and when saved."""

    def __init__(self, parent: tk.Misc, theme: Theme, save_word: str, form: Footed, another: bool) -> None:
        super().__init__(parent)
        self._form = form
        self._another = another
        self._asking = False
        px = theme.px
        self._words = ttk.Label(self, wraplength=px(WORDS_WIDTH))
        self._words.bind("<Configure>", lambda event: self._words.configure(wraplength=event.width))
        self._bar = ttk.Progressbar(self, maximum=1.0, length=px(120))
        make = self._button
        self._save = make(save_word, form.save, "Save", "Ctrl+Enter", accent=True)
        self._leave = make("Leave", form.leave, "Leave; asks if anything would be lost", "Esc")
        self._stop = make("Stop", form.stop, "Stop before anything is written")
        self._stay = make("Stay", self.stay, "Stay and go on filling in", "Esc", accent=True)
        self._leave_anyway = make("Leave and lose it", form.leave_anyway, "Leave; what was typed is lost")
        self._surely = make("It is so", form.save_surely, "What it asks about is meant: do it", accent=True)
        self._change = make("Change it", self.stay, "Go back and change what was filled in", "Esc")
        self._another_button = make(
            "Another like this", form.another_like_this, "Keep what is alike and begin the next", accent=True
        )
        self._close = make("Close", form.leave, "Leave the form", "Esc")
        self._gap = px(8)
        self._buttons = [part for part in self.winfo_children() if isinstance(part, ttk.Button)]
        self.ready()

    def ready(self) -> None:
        """While it is filled in."""
        self._show("", self._save, self._leave)

    def refuse(self, sentence: str) -> None:
        """Say why it was not saved."""
        self._show(f"✕ {sentence}", self._save, self._leave, style="Refused.TLabel")

    def ask_to_leave(self) -> None:
        """Ask whether what was typed may be lost."""
        self._show("Leave, and lose what was filled in?", self._stay, self._leave_anyway)
        self._asking = True
        self._stay.focus_set()

    def ask_whether_so(self, question: str) -> None:
        """Ask whether what looks doubtful is meant."""
        self._show(f"? {question}", self._surely, self._change)
        self._asking = True
        self._change.focus_set()

    def ask_no_more(self) -> None:
        """Let go of a question, since one goes on filling in."""
        if self._asking:
            self.ready()

    def stay(self) -> bool:
        """Go back to filling in. False if nothing was being asked."""
        if not self._asking:
            return False
        self.ready()
        self._form.go_on_filling_in()
        return True

    def saving(self) -> None:
        """While the act is going on."""
        self._show("Saving …", self._stop)

    def progress(self, text: str, fraction: float | None) -> None:
        """How far the act is, from 0 to 1, or None if that is not known."""
        self._words.configure(text=text)
        if fraction is not None:
            self._bar.configure(value=fraction)
            self._bar.pack(side="left", padx=self._gap)

    def saved(self, sentence: str) -> None:
        """When it is done."""
        buttons = [self._another_button, self._close] if self._another else [self._close]
        self._show(f"✓ {sentence}", *buttons)
        buttons[0].focus_set()

    def words(self) -> str:
        """What it says just now."""
        return str(self._words.cget("text"))

    def _show(self, words: str, *buttons: ttk.Button, style: str = "TLabel") -> None:
        self._asking = False
        for part in (self._words, self._bar, *self._buttons):
            part.pack_forget()
        for button in buttons:
            button.pack(side="left", padx=(0, self._gap))
            # The tab order is the stacking order, and must be the order one sees.
            button.lift()
        self._words.configure(text=words, style=style)
        self._words.pack(side="left", fill="x", expand=True)

    def _button(
        self, word: str, run: Callable[[], object], hint: str, key: str = "", *, accent: bool = False
    ) -> ttk.Button:
        style = "Accent.TButton" if accent else "TButton"
        button = ttk.Button(self, text=word, command=run, style=style)
        explain(button, hint, key)
        return button
