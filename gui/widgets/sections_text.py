"""Headings with lines beneath them, to be read in full; it scrolls where there is more than there is room."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence

from gui.theme import BODY, STRONG, Theme
from gui.widgets.full_text import FullText

Sections = Sequence[tuple[str, Sequence[str]]]


class SectionsText(FullText):
    """Headings stand out, and what begins with a point goes on beneath its words."""

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(
            parent, theme, ground="ground", height=4, width=30, font=BODY, pady=theme.px(2), cursor="arrow",
            highlightthickness=theme.px(1),
        )  # fmt: skip
        self._text.tag_configure("heading", font=STRONG, spacing1=theme.px(7), spacing3=theme.px(2))
        self._text.tag_configure("point", lmargin2=theme.measure("• ", BODY))

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
