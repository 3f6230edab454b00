"""Buttons for what may be done here, as many in a row as fit, as words in a paragraph."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import ttk

from gui.shown import Deed
from gui.theme import Theme, has_focus
from gui.widgets.tip import explain

GAP = 6


class DeedBar(ttk.Frame):
    """The first button is the one that is meant most; each tells its key when one points at it."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent, takefocus=False)
        self._theme = theme
        self.buttons: dict[str, ttk.Button] = {}
        self.bind("<Configure>", lambda _event: self._flow())

    def show(self, deeds: Sequence[Deed]) -> bool:
        """Show these; True if the focus was on a button that is gone."""
        if [deed.word for deed in deeds] == list(self.buttons):
            for deed in deeds:
                self.buttons[deed.word].configure(command=deed.run)
            return False
        leaves = any(has_focus(button) for button in self.buttons.values())
        for button in self.buttons.values():
            button.destroy()
        self.buttons = {}
        for deed in deeds:
            style = "TButton" if self.buttons else "Accent.TButton"
            button = ttk.Button(self, text=deed.word, command=deed.run, style=style)
            button.bind("<Return>", lambda event: event.widget.invoke())
            explain(button, deed.hint or deed.word, deed.key)
            self.buttons[deed.word] = button
        self._flow()
        return leaves

    def _flow(self) -> None:
        room, gap = self.winfo_width(), self._theme.px(GAP)
        left = top = height = 0
        for button in self.buttons.values():
            width, height = button.winfo_reqwidth(), button.winfo_reqheight()
            if left and left + width > room > 1:
                left, top = 0, top + height + gap
            button.place(x=left, y=top)
            left += width + gap
        self.configure(height=top + height if height else 1)
