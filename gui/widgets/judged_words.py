"""A judgement as it is read: its mark, its word and why, in the colour of its sign, wrapped to the room."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from gui.shown import Field
from gui.shown_inspection import Judgement
from gui.signs import sign
from gui.theme import CAPTION, Theme
from gui.widgets.editors import Editor

NO_JUDGEMENT = Judgement("")


class JudgedWords(ttk.Label):
    """Shows a judgement; with ``mark_only`` its mark alone, where the words stand elsewhere."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, *, mark_only: bool = False, small: bool = False
    ) -> None:
        super().__init__(parent, anchor="nw")
        self._theme, self._mark_only = theme, mark_only
        self.judgement = NO_JUDGEMENT
        if small:
            self.configure(font=CAPTION)
        if not mark_only:
            self.bind("<Configure>", lambda event: self.configure(wraplength=event.width))
        self.bind("<<ThemeChanged>>", lambda _event: self.show(self.judgement), add="+")

    def show(self, judgement: Judgement) -> None:
        """Show that."""
        self.judgement = judgement
        if not judgement.sign:
            self.configure(
                text="" if self._mark_only else judgement.words, foreground=self._theme.palette.ink
            )
            return
        shown = sign(judgement.sign)
        self.configure(
            text=shown.mark if self._mark_only else told_of(judgement),
            foreground=self._theme.palette.tone(shown.hue),
        )


class JudgedEditor(Editor):
    """A judgement among the fields of a form; nothing is filled in here."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self.words = JudgedWords(self, theme)
        self.words.pack(fill="x", pady=theme.px(6))

    def get(self) -> None:
        return None

    def set(self, value: Judgement | None) -> None:
        self.words.show(value or NO_JUDGEMENT)

    def raw(self) -> str:
        return ""

    def filled(self) -> bool:
        return True

    def focus_field(self) -> None:
        self.words.focus_set()


def told_of(judgement: Judgement) -> str:
    """``✕ out of limits: top across, 0.02 mm over …``; the sign's word is left out where it would double.

    That is before words that begin with it, and before a question, which asks all there is to ask.
    """
    shown = sign(judgement.sign)
    if not judgement.words:
        return shown.text
    if judgement.words.startswith(shown.word) or "?" in judgement.words:
        return f"{shown.mark} {judgement.words}"
    return f"{shown.text}: {judgement.words}"
