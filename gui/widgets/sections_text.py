"""Headings with lines beneath them, to be read in full; it scrolls where there is more than there is room."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import ttk

from gui.theme import BODY, STRONG, Theme

Sections = Sequence[tuple[str, Sequence[str]]]


class SectionsText(ttk.Frame):
    """Where all of it is seen there is no bar; else it is a stop of the Tab key and scrolls by the keys."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent)
        self._theme = theme
        self._text = tk.Text(
            self, height=4, width=30, wrap="word", relief="flat", borderwidth=0, takefocus=False,
            state="disabled", font=BODY, padx=theme.px(8), pady=theme.px(2), cursor="arrow",
            highlightthickness=theme.px(1),
        )  # fmt: skip
        self._text.tag_configure("heading", font=STRONG, spacing1=theme.px(7), spacing3=theme.px(2))
        # What is wrapped goes on beneath its words, not beneath its point.
        self._text.tag_configure("point", lmargin2=theme.measure("• ", BODY))
        self._seen_whole = True
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._text.yview)
        self._text.configure(yscrollcommand=self._show_rest)
        self._text.pack(side="left", fill="both", expand=True)
        self.bind("<<ThemeChanged>>", lambda _event: self._colour())
        self._colour()

    def show(self, sections: Sections) -> None:
        """Show these, from their beginning unless they are what stands there already."""
        self._text.configure(state="normal")
        before = self.said()
        where = self._text.yview()[0]
        self._text.delete("1.0", "end")
        for heading, lines in sections:
            if heading:
                self._text.insert("end", f"{heading}\n", "heading")
            for line in lines:
                self._text.insert("end", f"{line}\n", "point" if line.startswith("•") else "")
        # Without the empty line that the last end of a line would begin.
        self._text.delete("end-2c", "end-1c")
        if self.said() == before:
            self._text.yview_moveto(where)
        self._text.configure(state="disabled")

    def see_heading(self, heading: str) -> None:
        """Scroll so that this heading is seen, with what stands beneath it."""
        found = self._text.search(heading, "1.0")
        if found:
            self._text.see("end")
            self._text.see(found)

    def said(self) -> str:
        """What is said."""
        return self._text.get("1.0", "end-1c")

    def _show_rest(self, first: float | str, last: float | str) -> None:
        self._scroll.set(first, last)
        whole = float(first) <= 0.0 and float(last) >= 1.0
        if whole is not self._seen_whole:
            # Only at a change: to configure a text lays it out anew, and that asks here again.
            self._seen_whole = whole
            self._text.configure(takefocus=not whole)
            if whole:
                self._scroll.pack_forget()
            else:
                self._scroll.pack(side="right", fill="y", before=self._text)

    def _colour(self) -> None:
        palette = self._theme.palette
        self._text.configure(
            background=palette.ground, foreground=palette.ink, highlightbackground=palette.ground,
            highlightcolor=palette.accent,
        )  # fmt: skip
