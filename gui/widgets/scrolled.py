"""A frame that scrolls when what is in it is higher than the window."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk

from gui.theme import Theme, has_focus

WHEEL_PIXELS = 48
PAGE_STEPS = 4


class Scrolled(ttk.Frame):
    """Put widgets into ``inner``, and then :meth:`watch` them.

    With ``by_keys`` it is itself a stop of the Tab key when it has to scroll, for words without a field.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, *, by_keys: bool = False) -> None:
        super().__init__(parent)
        self._theme = theme
        self._by_keys = by_keys
        self._in_sight: tuple[tk.Misc, tk.Misc | None] | None = None
        self._watched: set[str] = set()
        self._canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=False)
        self._scroll = ttk.Scrollbar(self, orient="vertical", command=self._canvas.yview)
        self.inner = ttk.Frame(self._canvas)
        self._window = self._canvas.create_window(0, 0, window=self.inner, anchor="nw")
        self._canvas.configure(yscrollcommand=self._scroll.set)
        self._canvas.grid(row=0, column=0, sticky="nsew")
        self.rowconfigure(0, weight=1)
        self.columnconfigure(0, weight=1)
        self.inner.bind("<Configure>", lambda _event: self._fit())
        self._canvas.bind("<Configure>", lambda _event: self._fit())
        self._canvas.bind("<<ThemeChanged>>", lambda _event: self._colour(), add="+")
        for key, way in (("<Up>", -1), ("<Down>", 1), ("<Prior>", -PAGE_STEPS), ("<Next>", PAGE_STEPS)):
            self._canvas.bind(key, lambda _event, way=way: self._wheel(way))  # type: ignore[misc]
        self._canvas.bind("<FocusIn>", lambda _event: self._outline(True))
        self._canvas.bind("<FocusOut>", lambda _event: self._outline(False))
        self._colour()

    def set_width(self, width: int) -> None:
        """Ask for this width in pixels."""
        self._canvas.configure(width=width)

    def watch(self, widget: tk.Misc) -> None:
        """Let the wheel over the widget and all that is in it scroll; again when there is more in it."""
        if str(widget) not in self._watched:
            self._watched.add(str(widget))
            widget.bind("<MouseWheel>", lambda event: self._wheel(-1 if event.delta > 0 else 1), add="+")
            widget.bind("<Button-4>", lambda _event: self._wheel(-1), add="+")
            widget.bind("<Button-5>", lambda _event: self._wheel(1), add="+")
        for child in widget.winfo_children():
            self.watch(child)

    def see(self, widget: tk.Misc, beneath: tk.Misc | None = None) -> None:
        """Scroll just so far that the widget can be seen whole, and keep it so while what is above grows.

        What is said ``beneath`` it is seen too; if there is no room for both, the widget comes first.
        """
        self._in_sight = widget, beneath
        top = widget.winfo_rooty() - self.inner.winfo_rooty()
        last = widget if beneath is None or not beneath.winfo_ismapped() else beneath
        bottom = last.winfo_rooty() - self.inner.winfo_rooty() + last.winfo_height() + self._theme.px(24)
        height, seen = self.inner.winfo_height(), self._canvas.winfo_height()
        first = self._canvas.canvasy(0)
        if top < first or bottom - top > seen:
            self._canvas.yview_moveto(top / height)
        elif bottom > first + seen:
            self._canvas.yview_moveto((bottom - seen) / height)

    def _fit(self) -> None:
        width, height = self._canvas.winfo_width(), self.inner.winfo_reqheight()
        self._canvas.itemconfigure(self._window, width=width)
        self._canvas.configure(scrollregion=(0, 0, width, max(height, 1)))
        scrolls = height > self._canvas.winfo_height() > 1
        self._canvas.configure(takefocus=scrolls and self._by_keys)
        if scrolls:
            self._scroll.grid(row=0, column=1, sticky="ns")
            if self._in_sight is not None and self._in_sight[0].winfo_exists():
                self.see(*self._in_sight)
        else:
            self._scroll.grid_forget()
            self._canvas.yview_moveto(0)

    def _wheel(self, way: int) -> None:
        self._in_sight = None
        if self.inner.winfo_reqheight() > self._canvas.winfo_height():
            self._canvas.configure(yscrollincrement=self._theme.px(WHEEL_PIXELS))
            self._canvas.yview_scroll(way, "units")
            self._canvas.configure(yscrollincrement=0)

    def _outline(self, focused: bool) -> None:
        # A widget within the canvas tells it too when the focus comes to it.
        line = self._theme.px(1) if focused and has_focus(self._canvas) else 0
        self._canvas.configure(highlightthickness=line, highlightcolor=self._theme.palette.accent)

    def _colour(self) -> None:
        self._canvas.configure(background=self._theme.palette.ground)
