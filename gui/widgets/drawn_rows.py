"""Rows drawn on a canvas that scrolls: what lists of pictures share. Only the rows in sight are drawn."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Sequence
from tkinter import ttk

from gui.shown import Deed
from gui.theme import Theme
from gui.widgets.deed_menu import key_as_written, pop_up
from gui.widgets.row_stack import RowStack
from gui.widgets.tip import PartTips

WHEEL_PIXELS = 60
STEP_PIXELS = 26
MENU_INDENT = 40


class DrawnRows(ttk.Frame):
    """A subclass draws each row, answers what pointing at it tells, and says what may be done.

    ``pointed_x`` is how far across the pointer is, for a row that tells more than one thing.
    """

    def __init__(self, parent: tk.Misc, theme: Theme) -> None:
        super().__init__(parent)
        self.theme = theme
        self.stack = RowStack()
        self.pointed_x = 0
        self.canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=True)
        self.canvas.configure(width=theme.px(300), height=theme.px(120))
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._scrolled)
        self.canvas.grid(row=1, column=0, sticky="nsew")
        self.rowconfigure(1, weight=1)
        self.columnconfigure(0, weight=1)
        self._tips = PartTips(self.canvas)
        theme.draw_with(self.canvas, self.draw)
        self._listen()

    def draw_row(self, at: int) -> None:
        """Draw the row at that place, counted from 0."""
        raise NotImplementedError

    def draw_behind(self) -> None:
        """Draw what lies behind all rows."""

    def told_at(self, at: int) -> str:
        """What pointing at that row tells."""
        raise NotImplementedError

    def cursor(self) -> int:
        """Where one stands, counted from 0."""
        raise NotImplementedError

    def clicked(self, at: int, event: tk.Event[tk.Misc]) -> None:
        """Take a click on that row."""
        raise NotImplementedError

    def pressed(self, event: tk.Event[tk.Misc]) -> bool:
        """Take a key; False to leave it to others."""
        raise NotImplementedError

    def opened(self) -> None:
        """Go on with the row one stands on."""
        raise NotImplementedError

    def focused(self) -> None:
        """The keys come here from now on."""
        raise NotImplementedError

    def menu_chosen(self, at: int) -> None:
        """The menu was asked for at that row."""
        raise NotImplementedError

    def deeds(self) -> Sequence[Deed]:
        """What may be done with what is chosen."""
        raise NotImplementedError

    def lay(self, heights: Sequence[int]) -> None:
        """Have rows of these heights from now on, scrolled as far as before if there is as much."""
        self.stack = RowStack(heights, self.stack.offset)

    def draw(self) -> None:
        """Draw all that is in sight anew."""
        canvas = self.canvas
        canvas.configure(background=self.theme.palette.ground)
        canvas.delete("all")
        self.stack.show(canvas.winfo_height())
        first, last = self.stack.bar()
        self._scroll.set(first, last)
        if (first, last) == (0.0, 1.0):
            self._scroll.grid_remove()
        else:
            self._scroll.grid(row=1, column=1, sticky="ns")
        self.draw_behind()
        for at in self.stack.in_sight():
            self.draw_row(at)

    def target_of(self, event: tk.Event[tk.Misc]) -> int | None:
        """Which row a key that walks goes to, not yet held within the list; None for another key."""
        cursor = self.cursor()
        at = max(cursor, 0)
        return {
            "Up": cursor - 1,
            "Down": cursor + 1,
            "Prior": self.stack.page(at, -1) if self.stack.count else 0,
            "Next": self.stack.page(at, 1) if self.stack.count else 0,
            "Home": 0,
            "End": self.stack.count - 1,
        }.get(event.keysym)

    def done_by_key(self, event: tk.Event[tk.Misc]) -> bool:
        """Do the deed whose key this is, if any."""
        written = key_as_written(event)
        for deed in self.deeds() if written else ():
            if deed.key == written:
                deed.run()
                return True
        return False

    def _listen(self) -> None:
        canvas = self.canvas
        canvas.bind("<KeyPress>", lambda event: "break" if self.pressed(event) else None)
        canvas.bind("<Button-1>", self._clicked)
        canvas.bind("<Double-Button-1>", lambda _event: self.opened())
        canvas.bind("<Button-3>", self._menu_at)
        canvas.bind("<Motion>", self._moved)
        canvas.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        canvas.bind("<MouseWheel>", lambda event: self._wheel(-1 if event.delta > 0 else 1))
        canvas.bind("<Button-4>", lambda _event: self._wheel(-1))
        canvas.bind("<Button-5>", lambda _event: self._wheel(1))
        canvas.bind("<FocusIn>", lambda _event: self.focused())
        canvas.bind("<FocusOut>", lambda _event: self.draw())
        for keys in ("<Menu>", "<Shift-F10>"):
            canvas.bind(keys, lambda _event: self._menu_by_key())

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        at = self.stack.at(event.y)
        if at is not None:
            self.clicked(at, event)

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self.stack.at(event.y)
        self.pointed_x = event.x
        self._tips.pointed(event, self.told_at(at) if at is not None else "")

    def _wheel(self, way: int) -> str:
        self.stack.scroll_to(self.stack.offset + way * self.theme.px(WHEEL_PIXELS))
        self.draw()
        return "break"

    def _scrolled(self, how: str, amount: str, unit: str = "") -> None:
        if how == "moveto":
            self.stack.scroll_to(float(amount) * self.stack.height)
        else:
            step = self.canvas.winfo_height() if unit == "pages" else self.theme.px(STEP_PIXELS)
            self.stack.scroll_to(self.stack.offset + int(amount) * step)
        self.draw()

    def _menu_at(self, event: tk.Event[tk.Misc]) -> None:
        self.canvas.focus_set()
        at = self.stack.at(event.y)
        if at is not None:
            self.menu_chosen(at)
        self._menu(event.x_root, event.y_root)

    def _menu_by_key(self) -> str:
        y = self.stack.top_of(max(self.cursor(), 0)) if self.stack.count else 0
        self._menu(self.canvas.winfo_rootx() + self.theme.px(MENU_INDENT), self.canvas.winfo_rooty() + y)
        return "break"

    def _menu(self, x: int, y: int) -> None:
        deeds = self.deeds()
        if deeds:
            pop_up(self.canvas, x, y, [deeds])
